package trial

import (
	"context"
	"math"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/sight"
)

// hardStage is a small room under a small picture, in which the hard scenes
// below are played.
type hardStage struct {
	plan  geom.Plan
	robot geom.Robot
	cam   *geom.Camera
}

func newHardStage() hardStage {
	plan, err := geom.NewPlan("stage", []geom.Point2{{X: 0, Y: 0}, {X: 3, Y: 0}, {X: 3, Y: 2.2}, {X: 0, Y: 2.2}}, nil, nil, nil, nil, nil)
	if err != nil {
		panic(err)
	}
	f := 0.57 * 640
	return hardStage{
		plan:  *plan,
		robot: geom.Robot{Name: "heron", Diameter: 0.34, Height: 0.095, Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02}}},
		cam: scene.Overhead(640, 400, geom.Lens{Fx: f, Fy: f, Cx: 319.5, Cy: 199.5, Dist: [5]float64{-0.1, 0.015}},
			geom.Point3{X: 1.45, Y: 1.05, Z: 2.6}, geom.Radians(4), geom.Radians(60), geom.Radians(-1.5)),
	}
}

// pilot begins at rest in a corner.
func (h *hardStage) pilot(rest float64) *scene.Pilot {
	p := scene.NewPilot(&h.plan, h.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(rest)
	return p
}

// lanes drives to and fro until a time, with turns on the spot.
func lanes(p *scene.Pilot, until float64) {
	for k := 0; ; k++ {
		for _, q := range []geom.Point2{{X: 0.45, Y: 1.7 - 0.1*float64(k)}, {X: 1.2, Y: 1.7 - 0.1*float64(k)}, {X: 2.5, Y: 0.5 + 0.1*float64(k)}, {X: 0.6, Y: 0.6}} {
			if t, _ := p.Now(); t > until {
				return
			}
			p.Goto(q)
		}
	}
}

func (h *hardStage) scene(name string, d scene.Drive, fps float64) scene.Scene {
	s := scene.DefaultScene(h.cam, &h.plan, h.robot)
	s.Name, s.Path, s.Timing.FPS, s.Seed = name, d.Path, fps, 77
	s.Length = math.Floor(d.Path.End()*fps) / fps
	return s
}

// seenOf looks at a scene and links what was seen.
func seenOf(t *testing.T, s *scene.Scene) (*geom.Trace, []sight.Sighting, []string, error) {
	t.Helper()
	opt := track.DefaultOptions()
	seen, err := Look(context.Background(), s, s.Robot, nil, nil, opt.Rate, nil)
	if err != nil {
		t.Fatal(err)
	}
	tr, warnings, err := track.Link(seen.Sightings, track.Job{Camera: s.Camera, Plan: s.Plan, Robot: s.Robot, Start: math.NaN(), End: math.NaN()}, s.Length, opt)
	return tr, seen.Sightings, warnings, err
}

func describe(t *testing.T, s *scene.Scene, d scene.Drive, tr *geom.Trace, looks []sight.Sighting, warnings []string) Score {
	t.Helper()
	sc := Judge(tr, scene.NewTruth(s, d), s.Path)
	state := map[geom.State]int{}
	src := map[geom.HeadingSource]int{}
	worst := 0.0
	for _, q := range tr.Samples {
		state[q.State]++
		src[q.Source]++
		if !math.IsNaN(q.Heading) {
			worst = math.Max(worst, math.Abs(geom.WrapAngle(q.Heading-s.Path.At(q.T).Heading)))
		}
	}
	t.Logf("%s: %v %v; path RMS %.2f mm, seen %.2f, max %.0f; heading RMS %.1f, travel %.1f, worst %.0f degrees (within 1, 2 sigma %.2f); lost in sight %.3f, start %+.2f end %+.2f; %q", s.Name, state, src,
		1e3*sc.PathRMS, 1e3*sc.SeenRMS, 1e3*sc.Max, geom.Degrees(sc.HeadingRMS), geom.Degrees(sc.TravelRMS), geom.Degrees(worst), sc.HeadingIn, sc.LostSight, sc.StartErr, sc.EndErr, warnings)
	if os.Getenv("PROBE_ALL") != "" {
		for _, q := range tr.Samples {
			p := s.Path.At(q.T)
			t.Logf("%.2f %v %v h %.0f (%.0f) +- %.0f, off %.1f mm +- %.1f", q.T, q.State, q.Source, geom.Degrees(geom.WrapAngle(q.Heading)), geom.Degrees(geom.WrapAngle(p.Heading)), geom.Degrees(q.SigmaH), 1e3*math.Hypot(q.X-p.X, q.Y-p.Y), 1e3*q.Sigma)
		}
	}
	n := 0
	for _, q := range looks {
		if q.Person != nil {
			if n++; os.Getenv("PROBE_WHO") != "" {
				t.Logf("   %.2f a person, %.2f m2, %.2f m off", q.T, q.Person.Area, q.Person.Gap)
			}
		}
	}
	t.Logf("   a person in %d of %d looks, ended %s", n, len(looks), tr.Ended)
	for _, g := range tr.Reasons {
		t.Logf("   %.1f-%.1f %v: %s", g.From, g.To, g.State, g.Reason)
	}
	return sc
}

func TestProbe(t *testing.T) {
	only := os.Getenv("PROBE")
	if only == "" {
		t.Skip("tries scenes by name: PROBE=NAME")
	}
	run := func(name string, make func() (scene.Scene, scene.Drive)) {
		if only != "all" && only != name {
			return
		}
		t.Run(name, func(t *testing.T) {
			s, d := make()
			tr, looks, w, err := seenOf(t, &s)
			if err != nil {
				why := map[string]int{}
				for _, l := range looks {
					why[l.Why]++
				}
				t.Logf("%s: %v %v", name, err, why)
				return
			}
			describe(t, &s, d, tr, looks, w)
		})
	}
	fork := []geom.Point2{{X: 0.17, Y: -0.16}, {X: 0.17, Y: -0.07}, {X: 0.02, Y: -0.07}, {X: 0.02, Y: 0.07}, {X: 0.17, Y: 0.07}, {X: 0.17, Y: 0.16}, {X: -0.15, Y: 0.16}, {X: -0.15, Y: -0.16}}
	run("fork", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		h.robot.Diameter, h.robot.Outline = 0, fork
		p := h.pilot(2)
		lanes(p, 18)
		p.Pause(2)
		d := p.Drive()
		return h.scene("fork", d, 10), d
	})
	run("fork_plain", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		h.robot.Diameter, h.robot.Outline = 0, fork
		p := h.pilot(2)
		lanes(p, 18)
		p.Pause(2)
		d := p.Drive()
		s := h.scene("fork_plain", d, 10)
		s.Look.Robot.Contrast, s.Look.Robot.Gloss = 0, 0
		return s, d
	})
	run("square", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		h.robot.Diameter, h.robot.Outline = 0, []geom.Point2{{X: 0.15, Y: -0.15}, {X: 0.15, Y: 0.15}, {X: -0.15, Y: 0.15}, {X: -0.15, Y: -0.15}}
		p := h.pilot(2)
		lanes(p, 18)
		p.Pause(2)
		d := p.Drive()
		s := h.scene("square", d, 10)
		s.Look.Robot.Contrast, s.Look.Robot.Gloss = 0, 0
		return s, d
	})
	rests := func(name string, rest, drive, stand float64) {
		run(name, func() (scene.Scene, scene.Drive) {
			h := newHardStage()
			p := h.pilot(rest)
			lanes(p, rest+drive)
			p.Pause(stand)
			d := p.Drive()
			return h.scene(name, d, 8), d
		})
	}
	rests("rest80first", 80, 16, 4)
	rests("rest80last", 4, 16, 80)
	rests("rest95first", 120, 8, 1)
	rests("rest95last", 1, 8, 120)
	run("rest_middle", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(2)
		lanes(p, 8)
		p.Pause(90)
		lanes(p, 108)
		p.Pause(2)
		d := p.Drive()
		return h.scene("rest_middle", d, 8), d
	})
	run("balance", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(3)
		lanes(p, 30)
		p.Pause(3)
		d := p.Drive()
		s := h.scene("balance", d, 10)
		s.Light.Balances = []scene.Balance{{Span: geom.Span{From: 9, To: 16}, Gain: scene.BGR{0.72, 0.95, 1.2}}, {Span: geom.Span{From: 20, To: 99}, Gain: scene.BGR{1.2, 0.9, 0.75}}}
		return s, d
	})
	run("exposure", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(3)
		lanes(p, 30)
		p.Pause(3)
		d := p.Drive()
		s := h.scene("exposure", d, 10)
		s.Light.Balances = []scene.Balance{{Span: geom.Span{From: 9, To: 16}, Gain: scene.BGR{0.35, 0.35, 0.35}}, {Span: geom.Span{From: 20, To: 99}, Gain: scene.BGR{1.45, 1.45, 1.45}}}
		return s, d
	})
	run("exposure_burnt", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(3)
		lanes(p, 30)
		p.Pause(3)
		d := p.Drive()
		s := h.scene("exposure_burnt", d, 10)
		s.Light.Balances = []scene.Balance{{Span: geom.Span{From: 9, To: 16}, Gain: scene.BGR{1.9, 1.6, 1.75}}}
		return s, d
	})
	run("burnt_out", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(3)
		lanes(p, 30)
		p.Pause(3)
		d := p.Drive()
		s := h.scene("burnt_out", d, 10)
		s.Light.Balances = []scene.Balance{{Span: geom.Span{From: 9, To: 18}, Gain: scene.BGR{2.4, 1.9, 2.2}}}
		return s, d
	})
	run("dark", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(3)
		lanes(p, 30)
		p.Pause(3)
		d := p.Drive()
		s := h.scene("dark", d, 10)
		s.Light.Balances = []scene.Balance{{Span: geom.Span{From: 9, To: 18}, Gain: scene.BGR{0.12, 0.1, 0.1}}}
		return s, d
	})
	run("plain_stands", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(6)
		lanes(p, 14)
		p.Pause(8)
		lanes(p, 30)
		p.Pause(5)
		d := p.Drive()
		s := h.scene("plain_stands", d, 10)
		s.Look.Robot.Contrast, s.Look.Robot.Gloss = 0, 0
		return s, d
	})
	run("to_and_fro", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(2)
		p.Turn(geom.Radians(-60))
		for range 5 {
			p.Straight(0.9)
			p.Straight(-0.9)
			p.Turn(geom.Radians(5))
		}
		p.Pause(2)
		d := p.Drive()
		return h.scene("to_and_fro", d, 10), d
	})
	for _, name := range []string{"carried", "carried_off", "touched", "person_start", "person_middle", "pet", "ball", "door_shadow", "lamp_switched", "hard_shadow", "shifted_obstacle"} {
		run(name, func() (scene.Scene, scene.Drive) {
			tr, _ := scene.FindTrait(name)
			return tr.Scene, tr.Drive
		})
	}
	run("walk_past", func() (scene.Scene, scene.Drive) {
		h := newHardStage()
		p := h.pilot(2)
		lanes(p, 24)
		p.Pause(2)
		d := p.Drive()
		s := h.scene("walk_past", d, 10)
		q, u := d.Path.At(8), d.Path.At(15)
		w := func(t float64, x, y, deg float64) scene.TimedPose {
			return scene.TimedPose{T: t, Pose: geom.Pose{X: x, Y: y, Heading: geom.Radians(deg)}}
		}
		s.People = []scene.Person{
			scene.NewPerson(scene.Path{w(5, q.X-0.3, q.Y-3, 90), w(8, q.X, q.Y-0.1, 90), w(11, q.X+0.2, q.Y+3, 90)}),
			scene.NewPerson(scene.Path{w(12, u.X-3, u.Y-0.3, 0), w(14.6, u.X-0.25, u.Y-0.3, 0), w(15.6, u.X+0.3, u.Y-0.3, 0), w(18, u.X+3, u.Y, 0)}),
		}
		return s, d
	})
}
