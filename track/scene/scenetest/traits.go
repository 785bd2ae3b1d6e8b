// Package scenetest draws recordings with one trait of real ones each, of known
// events, and by chance, with their truth and what a measurement of them must
// keep to. Tests alone import it.
package scenetest

import (
	"math"

	"swathe/geom"
	"swathe/track/scene"
)

// Bounds is what a measurement of a recording must keep to.
type Bounds struct {
	PathRMS    float64 // m, where the robot is in sight
	Path95     float64 // m, 95 % of the positions
	HeadingRMS float64 // rad; NaN: the top gives none
	StartEnd   float64 // s, for the run's start and its end
	InSigma    bool    // hidden for long: instead of PathRMS, the truth within 2 sigma there
	Lost       float64 // share of the samples in sight that may be lost
}

// What a measurement must say instead of giving a path.
const (
	ExpectPath        = ""             // a path
	ExpectNoRobot     = "no robot"     // there is none
	ExpectNeverMoved  = "never moved"  // it stands all the time
	ExpectCameraMoved = "camera moved" // by too much to be put right
)

// Trait is a recording with one trait of real ones, its truth, and what must
// come out of it.
type Trait struct {
	Name   string
	Why    string
	Scene  scene.Scene
	Drive  scene.Drive
	Entry  *geom.Robot  // as somebody entered it; nil: as it is
	Survey *geom.Camera // as it hung when its marks were surveyed
	Marks  []geom.Mark  // with 0.25 px of noise
	Bounds Bounds
	Expect string   // one of the Expect constants
	At     float64  // s, when what Expect says happens; NaN if it has no time
	Encode []string // ffmpeg's arguments for its output; nil: the usual ones
	Mark   []string // ffmpeg's arguments for a second pass that only marks the file; nil: none
	Long   bool     // takes more than a few seconds to draw or measure
	// NoHeight: nobody measured how high the lens hangs.
	NoHeight bool
}

// Truth works out what is true of the trait's recording.
func (t *Trait) Truth() *scene.Truth { return scene.NewTruth(&t.Scene, t.Drive) }

// stage is where the traits' recordings are made: one room, one camera, one
// robot, each changed by the trait that needs it changed.
type stage struct {
	plan  geom.Plan
	robot geom.Robot
	cam   *geom.Camera
}

func newStage() stage {
	room := scene.Outline([][2]float64{{0, 0}, {3, 0}, {3, 2.2}, {0, 2.2}})
	return stage{
		plan: geom.Plan{Name: "stage", Room: room,
			Obstacles: []geom.Piece{{Name: "crate", Outline: scene.Outline([][2]float64{{2.55, 1.75}, {3, 1.75}, {3, 2.2}, {2.55, 2.2}}), Height: 0.4}}},
		robot: geom.Robot{Name: "heron", Diameter: 0.34, Height: 0.095, Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02}}},
		cam:   stageCamera(800, 450),
	}
}

// stageCamera sees the stage in a picture of the given size.
func stageCamera(w, h int) *geom.Camera {
	f := 0.57 * float64(w)
	// A squarer picture sees more of the floor above and below.
	return scene.Overhead(w, h, geom.Lens{Fx: f, Fy: f, Cx: float64(w-1) / 2, Cy: float64(h-1) / 2, Dist: [5]float64{-0.1, 0.015}},
		scene.Hang{Centre: geom.Point3{X: 1.45, Y: 1.0, Z: 2.6}, Tilt: geom.Radians(4), Toward: geom.Radians(60), Turn: geom.Radians(-1.5)})

}

// tour is the drive of most traits: rest, a few lanes with turns on the spot,
// an arc, a reverse, rest.
func (g stage) tour(rest, drive, stand float64) scene.Drive {
	o := scene.DefaultPilotOptions()
	o.Speed = 0.3
	p := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, o)
	p.Pause(rest)
	g.loop(p, rest+drive)
	p.Pause(stand)
	return p.Drive()
}

// loop drives about the stage until the given time.
func (g stage) loop(p *scene.Pilot, until float64) {
	for k := 0; p.Time() < until; k++ {
		p.Goto(geom.Point2{X: 0.5, Y: 1.7 - 0.1*float64(k)})
		if p.ArcFree(0.22, geom.Radians(-170)) {
			p.Arc(0.22, geom.Radians(-170))
		}
		if p.StraightFree(-0.12) {
			p.Straight(-0.12)
		}
		if p.Time() > until {
			break
		}
		p.Goto(geom.Point2{X: 2.1, Y: 1.5})
		p.Goto(geom.Point2{X: 2.6, Y: 0.4 + 0.1*float64(k)})
		if p.Time() > until {
			break
		}
		p.Turn(geom.Radians(200))
		p.Goto(geom.Point2{X: 0.9, Y: 0.75})
		p.Goto(geom.Point2{X: 0.4, Y: 0.35})
	}
}

// trait returns an ordinary recording of a drive on the stage.
func (g stage) trait(name, why string, d scene.Drive) Trait {
	plan := g.plan
	s := scene.DefaultScene(g.cam, &plan, g.robot)
	s.Name, s.Path = name, d.Path
	for _, c := range name {
		s.Seed = s.Seed*31 + uint64(c)
	}
	s.Length = math.Floor(d.Path.End()*s.Timing.FPS) / s.Timing.FPS
	return Trait{
		Name: name, Why: why, Scene: s, Drive: d, Survey: g.cam,
		Marks:  scene.Marks(g.cam, scene.MarkPoints(&plan, 4, 4, 0.5), 0.25, s.Seed),
		Bounds: Bounds{PathRMS: 0.003, Path95: 0.008, HeadingRMS: geom.Radians(2), StartEnd: 0.5},
		At:     math.NaN(),
	}
}

// remark takes the marks anew after the camera or the plan was changed.
func (t *Trait) remark(cam *geom.Camera) {
	t.Scene.Camera, t.Survey = cam, cam
	t.Marks = scene.Marks(cam, scene.MarkPoints(t.Scene.Plan, 4, 4, 0.5), 0.25, t.Scene.Seed)
}

// Traits returns the recordings that a measurement is held against: each has
// one trait that recordings of real rooms have. They are made anew at each
// call; drawing them is the caller's.
func Traits() []Trait {
	var out []Trait
	add := func(t Trait, change func(t *Trait)) {
		if change != nil {
			change(&t)
		}
		out = append(out, t)
	}
	lookTraits(add)
	lightTraits(add)
	peopleTraits(add)
	hiddenTraits(add)
	cameraTraits(add)
	timingTraits(add)
	codedTraits(add)
	emptyTraits(add)
	return out
}

// FindTrait returns the trait of the given name; ok is false if there is none.
func FindTrait(name string) (t Trait, ok bool) {
	for _, t := range Traits() {
		if t.Name == name {
			return t, true
		}
	}
	return Trait{}, false
}

type adder func(t Trait, change func(t *Trait))

func lookTraits(add adder) {
	g := newStage()
	usual := g.tour(3, 24, 3)
	add(g.trait("plain", "an ordinary recording: the bounds must hold here before anywhere else", usual), nil)
	add(g.trait("rest_first", "the robot stands for the first minute: a background taken then has it in it", g.tour(60, 20, 2)), func(t *Trait) { t.Long = true })
	add(g.trait("rest_last_third", "the robot stands for the last third", g.tour(2, 26, 15)), nil)
	add(g.trait("rest_last_minute", "the robot stands for the last minute, longer than it drove", g.tour(2, 20, 60)), func(t *Trait) { t.Long = true })
	add(g.trait("black_on_dark", "a black robot on a dark floor", usual), func(t *Trait) {
		t.Scene.Look.Floor = scene.Surface{Kind: scene.Planks, Color: scene.BGR{58, 66, 76}, Contrast: 0.6, Seed: 5}
		t.Scene.Look.Robot = scene.RobotLook{Top: scene.Grey(32), Side: scene.Grey(22), Accent: scene.Grey(88), Contrast: 0.7, Gloss: 0.1}
	})
	add(g.trait("white_on_pale", "a white robot on a pale floor, at rest at first", g.tour(10, 24, 3)), func(t *Trait) {
		t.Scene.Look.Floor = scene.Surface{Kind: scene.Tiles, Color: scene.BGR{196, 202, 206}, Contrast: 0.3, Seed: 5}
		t.Scene.Look.Robot = scene.RobotLook{Top: scene.BGR{224, 226, 226}, Side: scene.BGR{196, 198, 198}, Accent: scene.Grey(120), Contrast: 0.7, Gloss: 0.1}
	})
	add(g.trait("shiny", "a bright reflection on the top that stays with the lamp while the robot turns", usual), func(t *Trait) {
		t.Scene.Look.Robot.Gloss = 0.8
	})
	add(g.trait("featureless", "a plain top: no heading from it, so travel must serve, and no angle be made up", usual), func(t *Trait) {
		t.Scene.Look.Robot.Contrast, t.Scene.Look.Robot.Gloss = 0, 0
		t.Bounds.HeadingRMS = math.NaN()
	})
	add(g.trait("carpet", "a fine pile that moves under the encoder's noise", usual), func(t *Trait) {
		t.Scene.Look.Floor = scene.Surface{Kind: scene.Carpet, Color: scene.BGR{120, 128, 140}, Contrast: 0.9, Seed: 5}
	})
	add(g.trait("noisy", "a poor sensor in poor light", usual), func(t *Trait) {
		t.Scene.Sensor.Noise, t.Scene.Sensor.Shot = 4, 4
	})
	o := scene.DefaultPilotOptions()
	o.Keep, o.Wander = 0.012, 0
	w := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, o)
	w.Pause(3)
	w.Edges()
	w.Pause(3)
	add(g.trait("along_walls", "it goes along every wall, in the walls' shadow and close to their tone", w.Drive()), nil)
	small := g
	small.robot.Diameter, small.robot.Height = 0.2, 0.07
	add(small.trait("small", "under 25 px in radius: no heading from the top", small.tour(3, 24, 3)), func(t *Trait) { t.Bounds.HeadingRMS = math.NaN() })
	front := g
	front.robot.Diameter = 0
	front.robot.Outline = dShape(0.17)
	add(front.trait("square_front", "a robot that is not round: flat at the front", front.tour(3, 24, 3)), nil)
	spin := g
	p := scene.NewPilot(&spin.plan, spin.robot, geom.Pose{X: 0.9, Y: 0.9}, scene.DefaultPilotOptions())
	p.Pause(5)
	p.Turn(2 * 2 * math.Pi)
	p.Pause(1)
	spin.loop(p, 32)
	p.Pause(3)
	add(spin.trait("spin_first", "it turns on the spot before it drives: that is the start of the run", p.Drive()), nil)
	rug := g
	rug.plan.Areas = []geom.Piece{{Name: "rug", Outline: scene.Outline([][2]float64{{1.2, 0.2}, {2.4, 0.2}, {2.4, 1.3}, {1.2, 1.3}}), Kind: geom.AreaSurface, Height: 0.015}}
	d := rug.tour(3, 30, 3)
	d.Path = scene.OnAreas(d.Path, &rug.plan)
	add(rug.trait("rug", "a rug 15 mm thick lifts the robot", d), nil)
}

// dShape is a body that is round behind and square ahead, of half-width r.
func dShape(r float64) []geom.Point2 {
	out := []geom.Point2{{X: r, Y: -r}, {X: r, Y: r}}
	for k := 0; k <= 24; k++ {
		s, c := math.Sincos(math.Pi/2 + math.Pi*float64(k)/24)
		out = append(out, geom.Point2{X: r * c, Y: r * s})
	}
	return out
}

func lightTraits(add adder) {
	g := newStage()
	usual := g.tour(3, 24, 3)
	add(g.trait("light_drift", "the daylight comes and goes by a quarter", usual), func(t *Trait) {
		t.Scene.Light.DriftShare, t.Scene.Light.DriftPeriod = 0.25, 37
	})
	add(g.trait("flash", "flashes that light everything up", usual), func(t *Trait) {
		t.Scene.Light.Flashes = []scene.Flash{{Span: geom.Span{From: 8, To: 8.12}, Gain: 1.7}, {Span: geom.Span{From: 15.5, To: 15.6}, Gain: 1.5}, {Span: geom.Span{From: 15.8, To: 15.9}, Gain: 1.6}}
	})
	add(g.trait("lamp_switched", "a lamp beside the room is switched on, and off again", usual), func(t *Trait) {
		t.Scene.Light.Lamps = []scene.Lamp{{At: geom.Point2{X: 2.4, Y: 0.5}, Size: 0.9, Gain: 0.4, On: geom.Span{From: 9, To: 20}}}
	})
	add(g.trait("lamp_out", "the light goes down by a third for good", usual), func(t *Trait) {
		t.Scene.Light.Lamps = []scene.Lamp{{At: geom.Point2{X: 1.5, Y: 1.1}, Size: 6, Gain: -0.33, On: geom.Span{From: 12, To: 1e9}}}
	})
	add(g.trait("flicker", "a lamp that flickers with the mains", usual), func(t *Trait) { t.Scene.Light.Flicker = 0.02 })
	add(g.trait("hard_shadow", "a low hard lamp: a long dark shadow goes with the robot", usual), func(t *Trait) {
		t.Scene.Light.Toward = geom.Point2{X: 0.9, Y: -0.7}
		t.Scene.Light.Shadow, t.Scene.Light.Softness = 0.65, 0.05
	})
	add(g.trait("door_shadow", "a door opens and its shadow swings over the floor", usual), func(t *Trait) {
		t.Scene.DoorSet = []scene.Door{{Hinge: geom.Point2{X: 3, Y: 0.1}, Dark: 0.35, Softness: 0.06, Width: geom.Radians(50), Reach: 1.7,
			Angles: []scene.TimedAngle{{T: 0, Angle: geom.Radians(60)}, {T: 7, Angle: geom.Radians(60)}, {T: 10, Angle: geom.Radians(125)}, {T: 17, Angle: geom.Radians(125)}, {T: 19, Angle: geom.Radians(60)}}}}
	})
}
