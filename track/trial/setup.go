package trial

import (
	"errors"
	"fmt"
	"math"
	"math/rand"

	"swathe/geom"
	"swathe/track/preflight"
	"swathe/track/scene"
)

// Setup is a tester's set-up, in which recordings are to be drawn.
type Setup struct {
	Spec       geom.CameraSpec // the camera as surveyed
	Solution   *geom.Solution  // and as solved
	Plan       *geom.Plan
	Robot      geom.Robot
	FPS        float64               // frames a second of the recordings
	Appearance *preflight.Appearance // of the tester's recordings; nil, or nil in part: an ordinary room's
}

// Resurvey draws a camera from what the solution leaves open, and surveys it
// anew: each mark shows where the drawn camera puts it, off by the noise that
// the solution found and by the survey's own sigma, a height measured by tape
// off by that tape's. again is what a tester would solve from that. So the
// difference between the two is a survey's error, drawn from the right
// distribution. A lens that was given, or found from a board, is taken as exact.
func Resurvey(spec geom.CameraSpec, sol *geom.Solution, rng *rand.Rand) (truth *geom.Camera, again *geom.Solution, err error) {
	if spec.Board != nil && spec.Lens == nil {
		lens := sol.Camera.Lens
		spec.Lens = &lens
	}
	spec.Board, spec.Tapes = nil, nil
	opt := geom.DefaultSolveOptions()
	held := !math.IsNaN(spec.LensHeight) && math.Abs(spec.LensHeight-sol.Camera.Centre.Z) < opt.Outlier*opt.HeightSigma
	spec.LensHeight = math.NaN()
	marks := spec.Marks
	const tries = 20
	err = errors.New("a camera drawn this far off does not see its marks")
draws:
	for range tries {
		truth = sol.Perturbed(rng)
		spec.Marks = nil
		for _, r := range sol.Residuals {
			if r.Unused {
				continue
			}
			m := marks[r.Mark]
			lies := m.Floor
			lies.X += m.Sigma * rng.NormFloat64()
			lies.Y += m.Sigma * rng.NormFloat64()
			lies.Z += m.Sigma * rng.NormFloat64()
			px, ok := truth.Project(lies)
			if !ok {
				continue draws
			}
			m.Pixel = geom.Point2{X: px.X + sol.Noise*rng.NormFloat64(), Y: px.Y + sol.Noise*rng.NormFloat64()}
			spec.Marks = append(spec.Marks, m)
		}
		if held {
			spec.LensHeight = truth.Centre.Z + opt.HeightSigma*rng.NormFloat64()
		}
		if again, err = geom.SolveCamera(spec); err == nil {
			return truth, again, nil
		}
	}
	return nil, nil, fmt.Errorf("survey more marks, spread over the whole floor: a camera with these marks can't be solved in %d draws (%w)", tries, err)
}

// Drawing is a recording to be drawn, and the camera as its tester would have
// solved it.
type Drawing struct {
	Scene  scene.Scene
	Drive  scene.Drive
	Survey *geom.Solution
}

// DrawOptions say what is drawn.
type DrawOptions struct {
	Mapping bool    // a robot's first run in the room: edges, some way by chance, turns on the spot, lanes; else edges and lanes
	Seconds float64 // of driving, after which it goes home; edges that were begun are done first
	Seed    int64
}

// Validate says what is wrong with the options, or returns nil.
func (o DrawOptions) Validate() error {
	if !(o.Seconds >= 10 && o.Seconds <= 3600) {
		return fmt.Errorf("invalid length %g s of a drawn run; give 10 to 3600", o.Seconds)
	}
	return nil
}

// restTime is how long the robot stands before and after a drawn run, s.
const restTime = 4

// Draw makes a recording of a drive in the set-up.
func (s Setup) Draw(o DrawOptions) (*Drawing, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	if !(s.FPS > 0) {
		return nil, errors.New("a drawn recording needs a frame rate above 0")
	}
	truth, survey, err := Resurvey(s.Spec, s.Solution, rand.New(rand.NewSource(o.Seed)))
	if err != nil {
		return nil, err
	}
	run := scene.DefaultRunOptions(s.Robot)
	run.Rest, run.Stand, run.Limit = restTime, restTime, restTime+o.Seconds
	run.Pilot.Seed = uint64(o.Seed)
	drive := scene.MappedRun
	if o.Mapping {
		drive = scene.MappingRun
	}
	d := drive(s.Plan, s.Robot, run)
	d.Path = scene.OnAreas(d.Path, s.Plan)
	sc := scene.DefaultScene(truth, s.Plan, s.Robot)
	sc.Name, sc.Seed, sc.Path = s.Robot.Name, uint64(o.Seed), d.Path
	sc.Timing.FPS = s.FPS
	// A hall whose edges alone take longer is cut short.
	sc.Length = math.Floor(math.Min(d.Path.End(), 2*o.Seconds+2*restTime)*s.FPS) / s.FPS
	dress(&sc, s.Appearance)
	if err := sc.Validate(); err != nil {
		return nil, err
	}
	return &Drawing{Scene: sc, Drive: d, Survey: survey}, nil
}

// dress gives a scene the looks of the tester's recordings, as far as they are
// known.
func dress(s *scene.Scene, a *preflight.Appearance) {
	if a == nil {
		return
	}
	usual := s.Look.Floor.Color
	if a.Floor != nil {
		s.Look.Floor.Color = bgr(*a.Floor)
		// Things of which nothing is known keep their tone against the floor's.
		k := float32(a.Floor.Grey()) / grey(usual)
		s.Look.Wall = s.Look.Wall.Scale(k)
		for _, set := range [][]scene.BGR{s.Look.Obstacles, s.Look.Overhead} {
			for i := range set {
				set[i] = set[i].Scale(k)
			}
		}
		if a.FloorTexture != nil {
			// Planks at contrast 1 vary by some 11 % of their tone.
			s.Look.Floor.Contrast = math.Max(0, math.Min(1, *a.FloorTexture/(0.11*a.Floor.Grey()+1e-9)))
		}
	}
	pick := func(pieces []geom.Piece, set []scene.BGR) []scene.BGR {
		out := make([]scene.BGR, 0, len(pieces))
		for i, p := range pieces {
			c := set[i%len(set)]
			if t, ok := a.Pieces[p.Name]; ok {
				c = bgr(t)
			}
			out = append(out, c)
		}
		return out
	}
	if len(s.Plan.Obstacles) > 0 {
		s.Look.Obstacles = pick(s.Plan.Obstacles, s.Look.Obstacles)
	}
	if len(s.Plan.Overhead) > 0 {
		s.Look.Overhead = pick(s.Plan.Overhead, s.Look.Overhead)
	}
	if a.Top != nil {
		r := &s.Look.Robot
		r.Top = bgr(*a.Top)
		r.Side = r.Top.Scale(0.65)
		if a.TopTexture != nil {
			// The accents of the drawn top cover about an eighth of it, so
			// that its standard deviation is a third of their contrast.
			d := float32(3 * *a.TopTexture / r.Contrast)
			if g := grey(r.Top); g+d > 255 && g-d >= 0 {
				d = -d
			}
			r.Accent = scene.BGR{hold(r.Top[0] + d), hold(r.Top[1] + d), hold(r.Top[2] + d)}
		}
	}
	if a.Noise != nil {
		level := 0.6
		if a.Floor != nil {
			level = a.Floor.Grey() / 255
		}
		have := math.Sqrt(s.Sensor.Noise*s.Sensor.Noise + s.Sensor.Shot*s.Sensor.Shot*level)
		k := *a.Noise / have
		s.Sensor.Noise, s.Sensor.Shot = s.Sensor.Noise*k, s.Sensor.Shot*k
	}
}

func bgr(t preflight.Tone) scene.BGR {
	return scene.BGR{float32(t.Blue), float32(t.Green), float32(t.Red)}
}

func grey(c scene.BGR) float32 { return 0.114*c[0] + 0.587*c[1] + 0.299*c[2] }

func hold(v float32) float32 { return max(0, min(255, v)) }
