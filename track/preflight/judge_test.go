package preflight

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"swathe/geom"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
)

// drawn returns a drawn recording and pictures spread over it.
func drawn(t *testing.T, name string, n int, change func(*scene.Scene)) (*scenetest.Trait, []*sight.Picture) {
	t.Helper()
	tr, ok := scenetest.FindTrait(name)
	if !ok {
		t.Fatalf("there is no drawn recording %q", name)
	}
	if change != nil {
		change(&tr.Scene)
	}
	r, err := scene.NewRenderer(&tr.Scene)
	if err != nil {
		t.Fatal(err)
	}
	w, h := tr.Scene.Camera.Width, tr.Scene.Camera.Height
	bgr := make([]byte, 3*w*h)
	var out []*sight.Picture
	for k := range n {
		i := k * len(r.Times()) / n
		r.Draw(i, bgr)
		out = append(out, sight.FromBGR(bgr, w, h, r.Times()[i], nil))
	}
	return &tr, out
}

func judge(t *testing.T, tr *scenetest.Trait, robot geom.Robot, pics []*sight.Picture, ref *sight.Plane) *Finding {
	t.Helper()
	f, err := Judge(sight.NewSetup(tr.Survey, tr.Scene.Plan, robot, 0), tr.Scene.Plan, pics, ref, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func warned(f *Finding, part string) bool {
	for _, w := range f.Warnings {
		if strings.Contains(w, part) {
			return true
		}
	}
	return false
}

// An ordinary recording calls for no warning, and its looks are those that it
// was drawn with.
func TestOrdinary(t *testing.T) {
	tr, pics := drawn(t, "plain", 9, nil)
	f := judge(t, tr, tr.Scene.Robot, pics, nil)
	if len(f.Warnings) > 0 {
		t.Errorf("warned of %q", f.Warnings)
	}
	if f.Robot.Found != len(pics) {
		t.Errorf("the robot was found in %d of %d frames", f.Robot.Found, len(pics))
	}
	if f.Camera.Px != nil {
		t.Errorf("the camera is said to have moved by %g px with nothing to hold it against", *f.Camera.Px)
	}
	near := func(what string, v *float64, want, tol float64) {
		if v == nil || math.Abs(*v-want) > tol {
			t.Errorf("%s: %s, want %g +- %g", what, show(v), want, tol)
			return
		}
		t.Logf("%s: %.2f, drawn with %g", what, *v, want)
	}
	floor := f.Looks.Floor.Grey()
	near("floor, grey level", &floor, 158, 25) // falloff and half-shadows darken it
	near("top, grey level", f.Robot.TopGrey, 52, 15)
	s := tr.Scene.Sensor
	near("noise, grey levels", f.Noise, math.Sqrt(s.Noise*s.Noise+s.Shot*s.Shot*0.6), 0.8)
	near("diameter over entry", f.Size.Ratio, 1, 0.008)
}

// A robot that is not as wide as its entry says is told, with its width.
func TestOtherSize(t *testing.T) {
	tr, pics := drawn(t, "plain", 9, nil)
	ratios := []float64{0.95, 1.2}
	if os.Getenv("SWATHE_LONG") != "" {
		ratios = append(ratios, 0.8)
	}
	for _, k := range ratios {
		robot := tr.Scene.Robot
		robot.Diameter /= k // the entry
		f := judge(t, tr, robot, pics, nil)
		if f.Size.Ratio == nil {
			t.Errorf("robot %g times as wide as its entry: nothing was found out (found in %d frames)", k, f.Robot.Found)
			continue
		}
		t.Logf("robot %.2f times as wide as entered: shows %.4f +- %.4f (bound 0.01)", k, *f.Size.Ratio, *f.Size.Sigma)
		if math.Abs(*f.Size.Ratio-k) > 0.01 {
			t.Errorf("robot %g times as wide as its entry is said to be %.4f times as wide", k, *f.Size.Ratio)
		}
		if !warned(f, "its entry says") {
			t.Errorf("robot %g times as wide as its entry: no warning among %q", k, f.Warnings)
		}
	}
}

func show(v *float64) string {
	if v == nil {
		return "not measured"
	}
	return fmt.Sprintf("%.4g", *v)
}

// What is wrong with light, contrast or camera is told, each by itself.
func TestWarnings(t *testing.T) {
	for _, c := range []struct {
		name, trait, want string
		change            func(*scene.Scene)
	}{
		{"dark", "plain", "too dark", func(s *scene.Scene) {
			s.Look.Floor.Color = s.Look.Floor.Color.Scale(0.15)
			s.Look.Robot.Top = scene.Grey(120)
		}},
		{"clipped", "plain", "clipped to white", func(s *scene.Scene) {
			s.Light.Lamps = []scene.Lamp{{At: geom.Point2{X: 1, Y: 1}, Size: 0.5, Gain: 1.2, On: geom.Span{From: -1, To: 1e9}}}
		}},
		{"alike", "plain", "of 6 frames", func(s *scene.Scene) {
			s.Look.Floor = scene.Surface{Kind: scene.Plain, Color: scene.Grey(150), Contrast: 0.3, Seed: 3}
			// At grey level 153 it is still found, in 5 of 6 frames and to 2.4 mm.
			s.Look.Robot.Top, s.Look.Robot.Side, s.Look.Robot.Contrast = scene.Grey(151), scene.Grey(147), 0.6
			s.Light.Shadow, s.Light.Contact, s.Light.Ambient = 0.05, 0, 0.9
		}},
		{"featureless", "featureless", "without markings", nil},
		{"changing", "plain", "light changes", func(s *scene.Scene) { s.Light.DriftShare, s.Light.DriftPeriod = 0.35, 30 }},
		{"no robot", "plain", "found in none", func(s *scene.Scene) { s.NoRobot = true }},
	} {
		tr, pics := drawn(t, c.trait, 6, c.change)
		f := judge(t, tr, tr.Scene.Robot, pics, nil)
		if !warned(f, c.want) {
			t.Errorf("%s: no warning with %q among %q (robot in %d of %d)", c.name, c.want, f.Warnings, f.Robot.Found, f.Frames)
		}
	}
}

// A camera that was knocked since its survey is noticed by how much.
func TestMovedSinceSurvey(t *testing.T) {
	tr, pics := drawn(t, "nudged_a_little", 9, func(s *scene.Scene) { s.Nudges = nil })
	s := tr.Scene
	s.NoRobot = true
	move := func(px float64) *sight.Plane {
		cam := geom.NewCamera(tr.Survey.Width, tr.Survey.Height, tr.Survey.Lens, tr.Survey.R, tr.Survey.Centre)
		cam.Lens.Cx += px
		s.Camera, s.Nudges = cam, nil
		r, err := scene.NewRenderer(&s)
		if err != nil {
			t.Fatal(err)
		}
		bgr := make([]byte, 3*cam.Width*cam.Height)
		r.Draw(0, bgr)
		p := sight.FromBGR(bgr, cam.Width, cam.Height, 0, nil)
		return &p.Y
	}
	for _, px := range []float64{0, 2.5} {
		f := judge(t, tr, tr.Scene.Robot, pics, move(px))
		if f.Camera.Px == nil || math.Abs(*f.Camera.Px-px) > 0.5 {
			t.Errorf("moved by %g px: found %s px", px, show(f.Camera.Px))
		}
		if warned(f, "survey the marks again if this grows") != (px > 0) {
			t.Errorf("moved by %g px: warnings %q", px, f.Warnings)
		}
	}
}

// A frame is judged by what it shows: how far apart in time the frames lie says
// nothing of whether the robot is in them, also where it is only just seen.
func TestFramesFarApart(t *testing.T) {
	tr, pics := drawn(t, "plain", 9, func(s *scene.Scene) {
		s.Look.Floor = scene.Surface{Kind: scene.Plain, Color: scene.Grey(150), Contrast: 0.3, Seed: 3}
		s.Look.Robot.Top, s.Look.Robot.Side, s.Look.Robot.Contrast = scene.Grey(153), scene.Grey(147), 0.6
		s.Light.Shadow, s.Light.Contact, s.Light.Ambient = 0.05, 0, 0.9
	})
	set := sight.NewSetup(tr.Survey, tr.Scene.Plan, tr.Scene.Robot, 0)
	var own []*sight.Picture
	for _, p := range pics {
		own = append(own, p.Clone())
	}
	bg := sight.Learn(&set, own, nil)
	var first []hit
	for i, apart := range []float64{0.1, 1, 10, 1000} {
		for k := range pics {
			pics[k].T = apart * float64(k)
		}
		found, _ := look(set, bg, pics, &clock{})
		t.Logf("%g s apart: found in %d of %d", apart, len(found), len(pics))
		if i == 0 {
			first = found
		}
		if len(found) != len(first) || len(found) < len(pics)/2 {
			t.Errorf("found in %d of %d frames that are %g s apart, in %d that are %g s apart", len(found), len(pics), apart, len(first), 0.1)
		}
	}
}

// Where nothing is the robot beyond doubt, the width that fits best is told all
// the same, with its score and the frame with it: of a robot much smaller than
// its entry, of one that hardly differs from the floor, and of none at all.
func TestBestSize(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*scene.Scene, *geom.Robot)
		best   bool
	}{
		{"much smaller", func(_ *scene.Scene, r *geom.Robot) { r.Diameter *= 1.45 }, true},
		{"no robot", func(s *scene.Scene, _ *geom.Robot) { s.NoRobot = true }, false},
	} {
		robot := geom.Robot{}
		tr, pics := drawn(t, "plain", 6, func(s *scene.Scene) {
			robot = s.Robot
			c.change(s, &robot)
		})
		f := judge(t, tr, robot, pics, nil)
		b := f.Size.Best
		if (b != nil) != c.best {
			t.Fatalf("%s: best size %+v", c.name, b)
		}
		if b == nil {
			continue
		}
		t.Logf("%s: %+v", c.name, *b)
		if b.Ratio < 1-0.01*searchSpan-1e-9 || b.Ratio > 1+0.01*searchSpan+1e-9 || !(b.Score > 0 && b.Score <= 1) || b.In != 6 {
			t.Errorf("%s: best size %+v", c.name, *b)
		}
		if b.Sure != 0 {
			t.Errorf("%s: a wrong size is called sure in %d frames, with a score of %.2f", c.name, b.Sure, b.Score)
		}
		if p := tr.Scene.Path.At(b.T); math.Hypot(p.X-b.X, p.Y-b.Y) > robot.Radius() {
			t.Errorf("%s: fits best at (%.2f, %.2f) m at %.1f s, where the robot is at (%.2f, %.2f)", c.name, b.X, b.Y, b.T, p.X, p.Y)
		}
	}
}

// By its time it answers with what it has, and says how far it got; the frames
// that it did look at are spread over the recording.
func TestJudge(t *testing.T) {
	tr, pics := drawn(t, "plain", 6, nil)
	set := sight.NewSetup(tr.Survey, tr.Scene.Plan, tr.Scene.Robot, 0)
	f, err := Judge(set, tr.Scene.Plan, pics, nil, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	if f.Frames != 0 || !strings.Contains(f.Cut, "0 of 6 frames") || f.Size.Ratio != nil || f.Light.FloorGrey == nil {
		t.Errorf("with no time left: %d frames, cut short %q, size %v, floor %v", f.Frames, f.Cut, f.Size, f.Light.FloorGrey)
	}
	if warned(f, "found in none") {
		t.Errorf("a robot that was not looked for is said not to be found: %q", f.Warnings)
	}
	for n := range 40 {
		o := strewn(n)
		seen := map[int]bool{}
		for _, i := range o {
			seen[i] = true
		}
		if len(o) != n || len(seen) != n {
			t.Errorf("%d frames are looked at in the order %v", n, o)
		}
	}
}

func TestTooFew(t *testing.T) {
	if _, err := Judge(sight.Setup{}, nil, nil, nil, time.Time{}); err == nil {
		t.Error("a recording without frames was judged")
	}
}
