// Package scene draws overhead recordings of a robot at work with a truth that
// is known exactly: for the demonstration, for `prove`, and for the tests of
// everything that looks at pixels.
//
// A Scene is a value that holds a camera, a plan, a robot, the path that the
// robot drives and all that else is in the picture. Render turns it into
// frames by casting rays: each pixel is an average over many rays through it,
// so that an edge lies where geom.Camera.Project puts it to a few hundredths
// of a pixel. The same Scene and Seed give the same bytes on any machine.
//
// Frames are those of package geom. Colours are blue, green, red from 0 to 255
// as the recording stores them; light is a factor on them.
//
// Nothing here imports the code that it is used to test, other than geom's
// camera: the truth is worked out by slow and obvious means of its own.
package scene

import (
	"errors"
	"fmt"
	"math"

	"swathe/geom"
)

// BGR is a colour: blue, green, red, 0 to 255.
type BGR [3]float32

// Grey returns the grey of the given level, 0 to 255.
func Grey(level float32) BGR { return BGR{level, level, level} }

// Scale returns the colour times a factor.
func (c BGR) Scale(k float32) BGR { return BGR{c[0] * k, c[1] * k, c[2] * k} }

// mix returns c + (d-c)*k.
func (c BGR) mix(d BGR, k float32) BGR {
	return BGR{c[0] + (d[0]-c[0])*k, c[1] + (d[1]-c[1])*k, c[2] + (d[2]-c[2])*k}
}

// Scene is all that a recording shows. Build it with DefaultScene and change
// what matters; Render validates it. A Scene is not changed by rendering.
type Scene struct {
	Name   string
	Seed   uint64 // of every random thing in the scene
	Camera *geom.Camera
	Plan   *geom.Plan
	Robot  geom.Robot
	Path   Path    // of the robot, from 0 to at least Length or held beyond its end
	Length float64 // s of recording

	NoRobot bool // nothing but the room and what else is in it

	Timing Timing
	Look   Look
	Light  Light
	Sensor Sensor

	People  []Person
	Pets    []Pet
	Balls   []Ball
	Movers  []Mover // things that are moved: shifted obstacles, test objects
	Nudges  []Nudge // the camera is another one from a time on
	Wobble  Wobble  // video stabilisation left on
	DoorSet []Door  // shadows that swing across the floor
}

// Timing is when the frames are taken.
type Timing struct {
	FPS        float64 // frames a second, on average
	Jitter     float64 // s, standard deviation of a frame's time about an even one
	DropShare  float64 // 0..1, share of the frames that the camera leaves out
	Exposure   float64 // s that the shutter is open, centred on the frame's time
	Readout    float64 // s from the first row to the last (rolling shutter), centred on the frame's time
	Interlaced bool    // odd rows are taken half a frame's time after the even ones
}

// Look is what things look like.
type Look struct {
	Floor         Surface
	Outside       *Surface // floor outside the room; nil: as inside
	WallHeight    float64  // m; 0: no wall is drawn
	WallThickness float64  // m
	Wall          BGR
	Obstacles     []BGR     // used in turn for the plan's obstacles
	Overhead      []BGR     // used in turn for the plan's overhead pieces
	Areas         []Surface // used in turn for the plan's areas that are a surface
	Robot         RobotLook
}

// RobotLook is what the robot looks like.
type RobotLook struct {
	Top      BGR
	Side     BGR
	Accent   BGR     // of ring, seam and buttons
	Contrast float64 // 0..1: how far the accents stand out; 0: featureless
	Rim      Rim     // of a round robot
	Gloss    float64 // 0..1: a bright reflection that stays with the light, not with the robot
	// Marker holds the cells of the marker on top, true for black, rows from
	// its top, with its black border; drawn where the robot has one.
	Marker [][]bool
}

// Rim is how far the rim of a round robot's top slopes, from a straight side
// (In 0) by a bevel to what is all but a dome, m: In towards the middle, Down
// from the top, less than radius and height.
type Rim struct{ In, Down float64 }

// Light is how the scene is lit.
type Light struct {
	// Toward is the direction to the lamp as seen from the floor: x, y for
	// every metre of height. A shadow falls the other way.
	Toward   geom.Point2
	Shadow   float64 // 0..1: how much darker a full cast shadow is
	Softness float64 // m of half-shadow for every metre of the caster's height
	Contact  float64 // 0..1: darkening of the floor right beside a body
	Ambient  float64 // 0..1: share of the light that reaches a side turned away
	Falloff  float64 // 0..1: how much darker the picture's corners are

	DriftShare  float64 // slow change of the light: amplitude, share
	DriftPeriod float64 // s
	Flashes     []Flash
	Lamps       []Lamp
	Flicker     float64 // share by which the light differs from frame to frame (standard deviation)
	Balances    []Balance
}

// Balance is what the camera's own exposure and white balance make of colours
// for a while: a factor on each of blue, green and red.
type Balance struct {
	Span geom.Span
	Gain BGR
}

// Flash lights everything for a moment.
type Flash struct {
	Span geom.Span
	Gain float64 // factor on the light
}

// Lamp is a lamp that is switched on or off during the recording: a pool of
// light about a point of the floor.
type Lamp struct {
	At   geom.Point2 // floor, m
	Size float64     // m, standard deviation of the pool
	Gain float64     // added light at its middle, share (negative: a lamp that goes out)
	On   geom.Span   // when it differs from the start
}

// Sensor is what the camera adds.
type Sensor struct {
	Noise float64 // grey levels, standard deviation in the dark
	Shot  float64 // grey levels, standard deviation that grows with light: at level 255
	Blur  float64 // px, standard deviation of the lens's blur
}

// Nudge replaces the camera from a time on: it was knocked.
type Nudge struct {
	From   float64
	Camera *geom.Camera
}

// Wobble is what a stabiliser does: it shifts and turns the picture.
type Wobble struct {
	Shift  float64 // px, amplitude
	Turn   float64 // rad, amplitude about the picture's middle
	Period float64 // s
}

// Door is a shadow whose edge swings about a hinge: dark on the left of the
// ray from the hinge at the angle.
type Door struct {
	Hinge    geom.Point2
	Angles   []TimedAngle // rad, interpolated
	Dark     float64      // 0..1
	Softness float64      // m, of the edge
	Width    float64      // rad, of the dark sector
	Reach    float64      // m
}

// TimedAngle is an angle at a time.
type TimedAngle struct{ T, Angle float64 }

// DefaultScene returns an ordinary recording of robot on plan seen by cam: a
// plank floor, soft light from one side, a camera's usual noise. The path is
// empty and must be given.
func DefaultScene(cam *geom.Camera, plan *geom.Plan, robot geom.Robot) Scene {
	return Scene{
		Name: "scene", Seed: 1, Camera: cam, Plan: plan, Robot: robot,
		Timing: Timing{FPS: 15, Exposure: 0.006},
		Look: Look{
			Floor:      Surface{Kind: Planks, Color: BGR{142, 158, 170}, Contrast: 0.5, Seed: 3},
			WallHeight: 0.22, WallThickness: 0.02, Wall: BGR{186, 194, 198},
			Obstacles: []BGR{{118, 128, 136}, {92, 74, 60}, {64, 92, 132}, {98, 116, 84}, {70, 70, 76}},
			Overhead:  []BGR{{150, 176, 196}, {196, 196, 190}},
			Areas:     []Surface{{Kind: Carpet, Color: BGR{104, 84, 96}, Contrast: 0.5, Seed: 9}},
			Robot:     RobotLook{Top: Grey(52), Side: Grey(34), Accent: BGR{150, 140, 134}, Contrast: 0.8, Gloss: 0.12},
		},
		Light: Light{
			Toward: geom.Point2{X: -0.35, Y: 0.25}, Shadow: 0.42, Softness: 0.18, Contact: 0.3,
			Ambient: 0.55, Falloff: 0.14, DriftShare: 0.01, DriftPeriod: 140,
		},
		Sensor: Sensor{Noise: 1.3, Shot: 1.8, Blur: 0.35},
	}
}

// Validate says what is wrong with the scene, or returns nil.
func (s *Scene) Validate() error {
	if s.Camera == nil || s.Plan == nil {
		return errors.New("scene: a camera and a plan are needed")
	}
	if s.Camera.Centre.Z < 0.5 {
		return fmt.Errorf("scene: the lens is %.2f m above the floor; a recording from above needs 0.5 m or more", s.Camera.Centre.Z)
	}
	top := s.Camera.Centre.Z - 0.05
	for _, o := range append(append([]geom.Piece{}, s.Plan.Obstacles...), s.Plan.Overhead...) {
		if o.Height > top {
			return fmt.Errorf("scene: %s is %.2f m high and would reach above the lens at %.2f m", o.Name, o.Height, s.Camera.Centre.Z)
		}
	}
	if s.Length <= 0 || math.IsNaN(s.Length) {
		return fmt.Errorf("scene: the length is %v s; give a positive one", s.Length)
	}
	t := s.Timing
	if t.FPS <= 0 || t.Jitter < 0 || t.DropShare < 0 || t.DropShare >= 1 || t.Exposure < 0 || t.Readout < 0 {
		return errors.New("scene: frame rate must be positive, jitter, exposure and readout not negative, the share of frames left out below 1")
	}
	if len(s.Path) == 0 && !s.NoRobot {
		return errors.New("scene: the robot has no path; give at least one pose, or set NoRobot")
	}
	if !s.NoRobot && (s.Robot.Height <= 0 || s.Robot.Reach() <= 0) {
		return errors.New("scene: the robot needs a size and a height above 0")
	}
	if r := s.Look.Robot.Rim; r != (Rim{}) && !(r.In > 0 && r.Down > 0 && r.In < s.Robot.Diameter/2 && r.Down < s.Robot.Height) {
		return errors.New("scene: a robot's rim slopes by more than 0, and by less than its radius and height; only a round one's does")
	}
	for i := 1; i < len(s.Path); i++ {
		if !(s.Path[i].T > s.Path[i-1].T) {
			return fmt.Errorf("scene: the path's times must rise; pose %d is at %.3f s after %.3f s", i, s.Path[i].T, s.Path[i-1].T)
		}
	}
	for _, n := range s.Nudges {
		if n.Camera == nil || n.Camera.Width != s.Camera.Width || n.Camera.Height != s.Camera.Height {
			return errors.New("scene: a nudged camera must have the frame size of the first")
		}
	}
	if s.Sensor.Noise < 0 || s.Sensor.Shot < 0 || s.Sensor.Blur < 0 || s.Sensor.Blur > 3 {
		return errors.New("scene: noise must not be negative, blur must lie between 0 and 3 px")
	}
	return nil
}
