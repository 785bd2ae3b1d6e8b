package courses

import (
	"bytes"
	"context"
	"image/png"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
	"swathe/track/trial"
)

// seenProps draws a course, looks at its pixels, and tells what became of its
// test objects.
func seenObjects(t *testing.T, s *scene.Scene, cam *geom.Camera) ([]conduct.ObjectResult, []sight.ObjectSight) {
	t.Helper()
	begun := time.Now()
	opt := track.DefaultOptions()
	looked, err := trial.Look(context.Background(), s, trial.Entry{Robot: s.Robot, Camera: cam, Rate: opt.Rate})
	if err != nil {
		t.Fatal(err)
	}
	job := track.Job{Camera: cam, Plan: s.Plan, Robot: s.Robot, Start: math.NaN(), End: math.NaN()}
	tr, _, err := track.Link(looked.Sightings, job, s.Length, opt)
	if err != nil {
		t.Fatal(err)
	}
	got := told(t, s, tr, looked.TestObjects)
	t.Logf("%s: %.1f s", s.Name, time.Since(begun).Seconds())
	return got, looked.TestObjects
}

// told is what became of test objects, from a path and what was seen of them.
func told(t *testing.T, s *scene.Scene, tr *geom.Trace, seen []sight.ObjectSight) []conduct.ObjectResult {
	t.Helper()
	copt := coverage.DefaultOptions()
	copt.Cell, copt.WidthStep = 0.01, 0
	cov, err := coverage.Measure(tr, s.Plan, s.Robot, copt)
	if err != nil {
		t.Fatal(err)
	}
	var sights []geom.ObjectSight
	for _, p := range seen {
		sights = append(sights, p.ObjectSight)
	}
	got, err := conduct.FindTestObjects(tr, s.Plan, s.Robot, cov, sights, conduct.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// small has a short run before four things: one 0.30 m high that is pushed by
// 100 mm, one that is shoved aside, one that is passed at 40 mm
// and one that is never approached.
func small(t *testing.T) scenetest.Course {
	t.Helper()
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "small", Room: box(0, 0, 2.4, 1.5)})
	if err != nil {
		t.Fatal(err)
	}
	robot := geom.Robot{Name: "pipit", Diameter: 0.34, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02}}}
	cam := scene.Overhead(560, 360, geom.Lens{Fx: 360, Fy: 360, Cx: 279.5, Cy: 179.5},
		scene.Hang{Centre: geom.Point3{X: 1.1, Y: 0.7, Z: 2.5}, Tilt: geom.Radians(2), Toward: 0.5, Turn: 0})
	o := scene.DefaultPilotOptions()
	o.Speed, o.Wander = 0.3, 0
	p := scene.NewPilot(plan, robot, geom.Pose{X: 0.4, Y: 0.7}, o)
	p.Pause(2)
	p.Straight(1.2)
	p.Pause(0.6)
	p.Straight(-0.5)
	p.Pause(0.8)
	d := p.Drive()
	c := scenetest.Course{Trait: scenetest.Trait{Name: "small", Scene: scene.DefaultScene(cam, plan, robot), Drive: d}}
	c.Scene.Path, c.Scene.Length, c.Scene.Timing.FPS = d.Path, d.Path.End(), 10
	c.TestObjects = c.Scene.PutTestObjects([]scene.TestObject{
		{Name: "tall", Outline: scene.Box(0.1, 0.1), Height: 0.30, Color: scene.BGR{60, 70, 170}, At: geom.Pose{X: 1.6 + 0.17 + 0.05 - 0.1, Y: 0.7}, Nature: scene.Slides},
		{Name: "toy", Outline: scene.Box(0.06, 0.06), Height: 0.06, Color: scene.BGR{200, 120, 60}, At: geom.Pose{X: 1.0, Y: 0.7 + 0.17 + 0.03 + 0.04}, Nature: scene.Slides},
		{Name: "sock", Outline: scene.Box(0.1, 0.06), Height: 0.03, Color: scene.BGR{60, 150, 90}, At: geom.Pose{X: 0.9, Y: 0.7 - 0.17 - 0.018, Heading: 0.4}, Nature: scene.Slides},
		{Name: "cord", Outline: scene.Box(0.4, 0.025), Height: 0.008, Color: scene.BGR{40, 40, 44}, At: geom.Pose{X: 2.0, Y: 0.2, Heading: 0.3}, Nature: scene.Flat},
	})
	return c
}

// The thing 0.30 m high was pushed by 100 mm. Its top, taken to lie on the
// floor, would read 100 mm x 2.5/(2.5 - 0.30) = 113.6 mm: computed from the
// similar triangles below the lens.
func TestSeenObjectsSmall(t *testing.T) { judgeSeen(t, small(t)) }

// The same from a file, through the eye.
func TestSeenObjectsInAFile(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	c := small(t)
	file := filepath.Join(t.TempDir(), "pipit_single_1.mp4")
	if err := scene.RenderTo(context.Background(), &c.Scene, scene.EyeEncoder{Path: eye}, file, nil); err != nil {
		t.Fatal(err)
	}
	job := track.Job{Files: []string{file}, Camera: c.Scene.Camera, Plan: c.Scene.Plan, Robot: c.Scene.Robot, Start: math.NaN(), End: math.NaN()}
	res, err := track.Measure(context.Background(), eye, job, track.DefaultOptions(), nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(res.TestObjects) != len(c.TestObjects) {
		t.Fatalf("%d test objects told of, %d drawn", len(res.TestObjects), len(c.TestObjects))
	}
	for _, p := range res.TestObjects {
		for side, data := range map[string][]byte{"before": p.Before, "after": p.After} {
			img, err := png.Decode(bytes.NewReader(data))
			if err != nil {
				t.Errorf("the picture of %s %s: %v", p.Name, side, err)
			} else if b := img.Bounds(); b.Dx() < 60 || b.Dy() < 60 {
				t.Errorf("the picture of %s %s is %d x %d px", p.Name, side, b.Dx(), b.Dy())
			}
		}
	}
	judge(t, c, told(t, &c.Scene, res.Trace, res.TestObjects), res.TestObjects)
}

// Things that nothing touched are never said to have been touched, whatever
// light, camera or people do.
func TestUntouchedObjects(t *testing.T) {
	if os.Getenv("SWATHE_LONG") != "1" {
		t.Skip("long; set SWATHE_LONG=1")
	}
	for i, tr := range scenetest.Traits() {
		if tr.Long || tr.Expect != scenetest.ExpectPath || !slices.Contains(hardForObjects, tr.Name) {
			continue
		}
		t.Run(tr.Name, func(t *testing.T) {
			seed := int64(5 + i)
			t.Logf("seed %d", seed)
			rng := rand.New(rand.NewSource(seed))
			c := scenetest.Course{Trait: tr}
			c.Scene.Timing.FPS = 10
			base := *c.Scene.Plan
			movers := c.Scene.Movers
			lo, hi := base.Bounds()
			var objects []scene.TestObject
			for len(objects) < 5 {
				k := len(objects)
				p := scene.TestObject{Name: []string{"sock", "toy", "cord", "brick", "cup"}[k], Nature: scene.Slides,
					Outline: [][]geom.Point2{scene.Box(0.1, 0.06), scene.Box(0.06, 0.06), scene.Box(0.35, 0.03), scene.Box(0.12, 0.08), scene.Box(0.07, 0.07)}[k],
					Height:  []float64{0.03, 0.06, 0.008, 0.06, 0.09}[k],
					Color:   []scene.BGR{{60, 160, 90}, {200, 120, 60}, {40, 40, 44}, {70, 90, 160}, {190, 190, 120}}[k],
					At:      geom.Pose{X: lo.X + 0.2 + (hi.X-lo.X-0.4)*rng.Float64(), Y: lo.Y + 0.2 + (hi.Y-lo.Y-0.4)*rng.Float64(), Heading: rng.Float64()}}
				apart := true
				for _, q := range objects {
					apart = apart && math.Hypot(p.At.X-q.At.X, p.At.Y-q.At.Y) > 0.3
				}
				if !apart || !base.Open(geom.Point2{X: p.At.X, Y: p.At.Y}) || base.Nearest(geom.Point2{X: p.At.X, Y: p.At.Y}, 0.1).Distance < 0.2 {
					continue
				}
				s := c.Scene
				if w := s.PutTestObjects([]scene.TestObject{p}); w[0].ClearanceM < 0.02 {
					continue
				}
				objects = append(objects, p)
			}
			c.Scene.Plan, c.Scene.Movers = &base, slices.Clone(movers)
			c.TestObjects = c.Scene.PutTestObjects(objects)
			judgeSeen(t, c)
		})
	}
}

// hardForProps are the recordings whose light, camera or visitors might make a
// test object seem to move.
var hardForObjects = []string{"plain", "light_drift", "lamp_out", "lamp_switched", "flicker", "hard_shadow", "door_shadow", "person_middle", "person_end", "pet",
	"carried", "nudged_a_little", "stabilised", "square_front", "tilt_35", "fisheye", "noisy", "carpet", "hidden_short", "rolling_shutter", "interlaced"}

func TestSeenObjectCourses(t *testing.T) {
	if os.Getenv("SWATHE_LONG") != "1" {
		t.Skip("long; set SWATHE_LONG=1")
	}
	for _, c := range scenetest.Courses() {
		if c.TestObjects == nil {
			continue
		}
		t.Run(c.Name, func(t *testing.T) { judgeSeen(t, c) })
	}
}

// judgeSeen holds what was seen of a course's test objects against what was drawn.
func judgeSeen(t *testing.T, c scenetest.Course) {
	cam := c.Survey
	if cam == nil {
		cam = c.Scene.Camera
	}
	got, seen := seenObjects(t, &c.Scene, cam)
	judge(t, c, got, seen)
}

func judge(t *testing.T, c scenetest.Course, got []conduct.ObjectResult, seen []sight.ObjectSight) {
	t.Helper()
	defer func() {
		for i := 0; t.Failed() && i < len(seen); i++ {
			dump(t, &c.Scene, seen[i])
		}
	}()
	for i, w := range c.TestObjects {
		g := got[i]
		t.Logf("%s %s: %s %s (drawn %s), clearance %.1f mm (%.1f), moved %.1f mm (%.1f), first contact %.2f s (%.2f), %d contacts (%d), reaction at %.2f m %s, by hand %v",
			c.Name, w.Name, g.Outcome, g.Reason, w.Outcome, g.ClearanceM*1000, w.ClearanceM*1000, g.MovedM*1000, w.MovedM*1000, g.FirstS, w.FirstContact, len(g.Contacts), len(w.Contacts), g.ReactionM, g.Reaction, g.ByHand)
		if hand := c.Name == "test_objects_by_hand"; hand != (len(g.ByHand) > 0) {
			t.Errorf("%s: moved by hand: %v", w.Name, g.ByHand)
		}
		if w.Name == "taken" {
			continue // the truth is drawn as if it had lain there to the end
		}
		if g.Outcome != w.Outcome {
			t.Errorf("%s: %q, drawn %q", w.Name, g.Outcome, w.Outcome)
		}
		if !(math.Abs(g.ClearanceM-w.ClearanceM) <= 0.01) || !(math.Abs(g.MovedM-w.MovedM) <= 0.01) {
			t.Errorf("%s: clearance %.1f mm (drawn %.1f), moved %.1f mm (drawn %.1f), allowed 10", w.Name, g.ClearanceM*1000, w.ClearanceM*1000, g.MovedM*1000, w.MovedM*1000)
		}
		if math.IsNaN(g.FirstS) != math.IsNaN(w.FirstContact) || math.Abs(g.FirstS-w.FirstContact) > 1 {
			t.Errorf("%s: first contact at %.2f s, drawn at %.2f", w.Name, g.FirstS, w.FirstContact)
		}
	}
}

// dump shows a track beside what was drawn.
func dump(t *testing.T, s *scene.Scene, p sight.ObjectSight) {
	t.Logf("%s seen %v %s present %v", p.Name, p.Seen, p.Reason, p.Present)
	for _, m := range s.Movers {
		if m.Name == p.Name {
			for _, k := range p.Track {
				w := m.Path.At(k.T)
				t.Logf("   %6.2f  %.4f %.4f %5.1f   drawn %.4f %.4f %5.1f   off %.1f mm", k.T, k.X, k.Y, geom.Degrees(k.Turn), w.X, w.Y, geom.Degrees(w.Heading-m.Path[0].Heading), 1000*math.Hypot(k.X-w.X, k.Y-w.Y))
			}
		}
	}
}
