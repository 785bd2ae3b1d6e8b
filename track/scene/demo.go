package scene

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"swathe/geom"
)

// demoRun is one recording of the demonstration.
type demoRun struct {
	layout, robot, phase string
	trial                int
	seed                 uint64
	limit                float64 // s, when it gives up its lanes and goes home
}

// demoRuns are the demonstration's recordings, in the order they are made.
var demoRuns = []demoRun{
	{"empty", "rowan", "mapping", 1, 3, 120},
	{"empty", "rowan", "mapped", 1, 5, 120},
	{"cluttered", "wagtail", "mapping", 1, 7, 120},
	{"cluttered", "wagtail", "mapped", 1, 9, 120},
}

// demoLab is the made-up laboratory of the demonstration.
type demoLab struct {
	camera *geom.Camera
	marks  []geom.Mark
	plans  map[string]*geom.Plan
	robots map[string]geom.Robot
	looks  map[string]RobotLook
}

func newDemoLab() *demoLab {
	room := Outline([][2]float64{{0, 0}, {2.6, 0}, {2.6, 1.9}, {0, 1.9}})
	dock := geom.Pose{X: 0.2, Y: 0.95}
	l := &demoLab{
		// A wide lens that bends lines a little, hung not quite level.
		camera: Overhead(960, 540, geom.Lens{Fx: 548, Fy: 548, Cx: 479.5, Cy: 269.5, Dist: [5]float64{-0.11, 0.018}},
			Hang{Centre: geom.Point3{X: 1.25, Y: 0.86, Z: 2.55}, Tilt: geom.Radians(3.5), Toward: geom.Radians(70), Turn: geom.Radians(1.8)}),

		plans: map[string]*geom.Plan{
			"empty": {Name: "empty", Room: room, Dock: &dock},
			"cluttered": {Name: "cluttered", Room: room, Dock: &dock,
				Obstacles: []geom.Piece{
					{Name: "sofa", Outline: Outline([][2]float64{{1.75, 1.45}, {2.6, 1.45}, {2.6, 1.9}, {1.75, 1.9}}), Height: 0.42},
					{Name: "stool", Outline: Outline([][2]float64{{0.85, 0.55}, {1.15, 0.55}, {1.15, 0.85}, {0.85, 0.85}}), Height: 0.38},
				},
				Overhead: []geom.Piece{
					{Name: "side_table", Outline: Outline([][2]float64{{1.8, 0.45}, {2.15, 0.45}, {2.15, 0.81}, {1.8, 0.81}}), Height: 0.5},
				},
			},
		},
		robots: map[string]geom.Robot{
			"rowan": {Name: "rowan", Diameter: 0.35, Height: 0.095,
				Tools: []geom.Tool{{Name: "brush", Width: 0.23, Ahead: 0.02}}},
			"wagtail": {Name: "wagtail", Diameter: 0.33, Height: 0.085,
				Tools: []geom.Tool{{Name: "brush", Width: 0.21, Ahead: 0.03}, {Name: "pad", Width: 0.26, Ahead: -0.09}}},
		},
		looks: map[string]RobotLook{
			"rowan":   {Top: Grey(50), Side: Grey(33), Accent: BGR{150, 142, 136}, Contrast: 0.8, Gloss: 0.15},
			"wagtail": {Top: BGR{222, 224, 222}, Side: BGR{176, 178, 178}, Accent: BGR{70, 66, 64}, Contrast: 0.8, Gloss: 0.1},
		},
	}
	l.marks = Marks(l.camera, MarkPoints(l.plans["cluttered"], 4, 4, 0.5), 0.25, 17)
	return l
}

// Outline makes a ring of corners.
var Outline = ringOf(geom.Ring)

// ringOf takes corners as pairs of numbers to what ring makes of points.
func ringOf[R any](ring func([]geom.Point2) R) func([][2]float64) R {
	return func(corners [][2]float64) R {
		pts := make([]geom.Point2, len(corners))
		for i, c := range corners {
			pts[i] = geom.Point2{X: c[0], Y: c[1]}
		}
		return ring(pts)
	}
}

// scene returns the scene of one run and what was driven in it.
func (l *demoLab) scene(r demoRun) (Scene, Drive) {
	plan, robot := l.plans[r.layout], l.robots[r.robot]
	o := DefaultRunOptions(robot)
	o.Rest, o.Stand = 6, 4.5
	o.Pilot.Seed, o.Pilot.Speed, o.Pilot.Accel = r.seed, 0.45, 1
	o.Spacing = 0.95 * robot.Tools[0].Width
	o.Pilot.TurnRate = geom.Radians(130)
	o.Limit = r.limit
	run := MappedRun
	if r.phase == "mapping" {
		run = MappingRun
	}
	d := run(plan, robot, o)
	s := DefaultScene(l.camera, plan, robot)
	s.Name, s.Seed, s.Path = fmt.Sprintf("%s_%s_%d", r.robot, r.phase, r.trial), r.seed, d.Path
	s.Length = math.Floor(d.Path.End())
	s.Look.Robot = l.looks[r.robot]
	// Fewer frames are sooner drawn; a path wants ten a second.
	s.Timing.FPS = 12
	s.Light.DriftShare, s.Light.DriftPeriod = 0.03, 170
	// Someone presses the button and leaves; someone looks in at the end.
	dock := *plan.Dock
	first := NewPerson(Path{At(0, dock.X-0.42, dock.Y, 0), At(2.6, dock.X-0.42, dock.Y, 0), At(3.4, dock.X-0.5, dock.Y, 170), At(5.5, dock.X-2.4, dock.Y+0.3, 170)})
	first.Touch = []Touching{{Span: geom.Span{From: 0.9, To: 2.1}, At: geom.Point3{X: dock.X, Y: dock.Y, Z: robot.Height + 0.03}}}
	end := s.Length
	last := NewPerson(Path{At(end-3, dock.X-2.2, dock.Y-0.5, 15), At(end-0.8, dock.X-0.55, dock.Y-0.1, 10), At(end+1, dock.X-0.55, dock.Y-0.1, 10)})
	last.Shirt = BGR{70, 88, 150}
	s.People = []Person{first, last}
	return s, d
}

// MakeDemo writes a made-up laboratory into dir, which is made if need be:
// lab.yaml, its recordings, and the truth about them in dir/truth. Recordings
// that are there already are made anew. progress, if not nil, is told the
// frames done of all frames, and what is being made.
func MakeDemo(ctx context.Context, dir string, enc Encoder, progress func(done, total int, what string)) error {
	l := newDemoLab()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(l.yaml()), 0o644); err != nil {
		return err
	}
	scenes, drives := make([]Scene, len(demoRuns)), make([]Drive, len(demoRuns))
	total, done := 0, 0
	for i, r := range demoRuns {
		scenes[i], drives[i] = l.scene(r)
		total += len(scenes[i].Frames())
	}
	for i, r := range demoRuns {
		s := &scenes[i]
		what := r.layout + "/" + s.Name
		file := filepath.Join(dir, "recordings", r.layout, s.Name+".mp4")
		err := RenderTo(ctx, s, enc, file, func(n, _ int) {
			if progress != nil {
				progress(done+n, total, what)
			}
		})
		if err != nil {
			os.Remove(file)
			return fmt.Errorf("%s: %w", what, err)
		}
		done += len(s.Frames())
		truth := NewTruth(s, drives[i])
		truth.Sweep = NewSweep(s, s.Robot.Tools[0], truth.Run, 0.0025)
		if err := WriteTruth(filepath.Join(dir, "truth", r.layout, s.Name), truth); err != nil {
			return err
		}
	}
	return nil
}

// yaml is the laboratory as a tester would write it down.
func (l *demoLab) yaml() string {
	var b strings.Builder
	b.WriteString("# A made-up laboratory: its recordings are drawn, and truth/ holds what is true of them.\ncameras:\n  ceiling:\n")
	fmt.Fprintf(&b, "    frame: [%d, %d]\n    height: %.2f\n    marks:\n", l.camera.Width, l.camera.Height, l.camera.Centre.Z)
	for _, m := range l.marks {
		if m.Floor.Z == 0 {
			fmt.Fprintf(&b, "      - {floor: [%.2f, %.2f], pixel: [%.2f, %.2f]}\n", m.Floor.X, m.Floor.Y, m.Pixel.X, m.Pixel.Y)
		} else {
			fmt.Fprintf(&b, "      - {floor: [%.2f, %.2f, %.2f], pixel: [%.2f, %.2f]}\n", m.Floor.X, m.Floor.Y, m.Floor.Z, m.Pixel.X, m.Pixel.Y)
		}
	}
	a, _ := l.camera.Project(geom.Point3{X: 0.4, Y: 0.3})
	c, _ := l.camera.Project(geom.Point3{X: 2.4, Y: 0.3})
	fmt.Fprintf(&b, "    tapes:\n      - {pixels: [[%.1f, %.1f], [%.1f, %.1f]], length: 2}\n", a.X, a.Y, c.X, c.Y)
	b.WriteString("layouts:\n")
	for _, name := range []string{"empty", "cluttered"} {
		p := l.plans[name]
		fmt.Fprintf(&b, "  %s:\n    camera: ceiling\n    room: %s\n", name, corners(ring(p.Room)))
		fmt.Fprintf(&b, "    dock: {at: [%g, %g], heading: %g}\n", p.Dock.X, p.Dock.Y, geom.Degrees(p.Dock.Heading))
		for _, kind := range []struct {
			name   string
			pieces []geom.Piece
		}{{"obstacles", p.Obstacles}, {"overhead", p.Overhead}} {
			if len(kind.pieces) > 0 {
				fmt.Fprintf(&b, "    %s:\n", kind.name)
			}
			for _, o := range kind.pieces {
				fmt.Fprintf(&b, "      %s: {outline: %s, height: %g}\n", o.Name, corners(ring(o.Outline)), o.Height)
			}
		}
	}
	b.WriteString("robots:\n")
	for _, name := range []string{"rowan", "wagtail"} {
		r := l.robots[name]
		fmt.Fprintf(&b, "  %s:\n    diameter: %g\n    height: %g\n    tools:\n", name, r.Diameter, r.Height)
		for _, t := range r.Tools {
			fmt.Fprintf(&b, "      %s: {width: %g, ahead: %g}\n", t.Name, t.Width, t.Ahead)
		}
	}
	return b.String()
}

func corners(r []geom.Point2) string {
	parts := make([]string, len(r))
	for i, p := range r {
		parts[i] = fmt.Sprintf("[%g, %g]", p.X, p.Y)
	}
	return "[" + strings.Join(parts, ", ") + "]"
}
