package trial

import (
	"bytes"
	"math"
	"math/rand"
	"testing"

	"swathe/geom"
	"swathe/track/preflight"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
)

func usual(t *testing.T) Setup {
	t.Helper()
	tr, ok := scenetest.FindTrait("plain")
	if !ok {
		t.Fatal("there is no plain recording")
	}
	c := tr.Survey
	spec := geom.CameraSpec{Name: "ceiling", Width: c.Width, Height: c.Height, LensHeight: c.Centre.Z, Marks: tr.Marks}
	sol, err := geom.SolveCamera(spec)
	if err != nil {
		t.Fatal(err)
	}
	return Setup{Spec: spec, Solution: sol, Plan: tr.Scene.Plan, Robot: tr.Scene.Robot, FPS: 15}
}

// The error that a drawn survey makes on the floor is the one that the solution
// says it leaves open: over many draws the two agree.
func TestResurvey(t *testing.T) {
	s := usual(t)
	const seed, draws = 11, 60
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	var got, want, n float64
	for range draws {
		truth, again, err := Resurvey(s.Spec, s.Solution, rng)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range []geom.Point3{{X: 0.4, Y: 0.4, Z: 0.1}, {X: 1.5, Y: 1.1, Z: 0.1}, {X: 2.4, Y: 0.6, Z: 0.1}, {X: 0.6, Y: 1.9, Z: 0.1}} {
			px, ok := truth.Project(p)
			if !ok {
				t.Fatalf("%v does not show", p)
			}
			q, ok := again.Camera.Floor(px, p.Z)
			if !ok {
				t.Fatalf("%v shows no floor", px)
			}
			sigma := s.Solution.FloorSigma(p)
			got, want, n = got+math.Pow(q.X-p.X, 2)+math.Pow(q.Y-p.Y, 2), want+2*sigma*sigma, n+1
		}
	}
	r := math.Sqrt(got / want)
	t.Logf("the survey's error is %.2f mm, the solution says %.2f mm: ratio %.2f (bounds 0.75 and 1.35)", 1000*math.Sqrt(got/n), 1000*math.Sqrt(want/n), r)
	if r < 0.75 || r > 1.35 {
		t.Errorf("ratio %.2f", r)
	}
}

// The same seed draws the same camera, survey, drive and picture, another seed
// others.
func TestDrawIsRepeatable(t *testing.T) {
	s := usual(t)
	draw := func(seed int64, mapping bool) (*Drawing, []byte) {
		d, err := s.Draw(DrawOptions{Mapping: mapping, Seconds: 20, Seed: seed})
		if err != nil {
			t.Fatal(err)
		}
		b, err := d.Picture(6)
		if err != nil {
			t.Fatal(err)
		}
		return d, b
	}
	a, pa := draw(3, true)
	b, pb := draw(3, true)
	c, pc := draw(4, true)
	m, _ := draw(3, false)
	if a.Survey.Camera.Centre != b.Survey.Camera.Centre || !bytes.Equal(pa, pb) {
		t.Error("the same seed drew two recordings")
	}
	if a.Survey.Camera.Centre == c.Survey.Camera.Centre || bytes.Equal(pa, pc) {
		t.Error("two seeds drew the same recording")
	}
	if a.Scene.Camera.Centre == a.Survey.Camera.Centre {
		t.Error("the camera that is drawn with is the one that is measured with")
	}
	if a.Drive.Path.End() <= m.Drive.Path.End() {
		t.Errorf("a mapping run of %.0f s is no longer than a mapped one of %.0f s", a.Drive.Path.End(), m.Drive.Path.End())
	}
}

// The looks of the tester's recordings are drawn: judged again, they come out.
func TestDress(t *testing.T) {
	s := usual(t)
	grey := func(g float64) *preflight.Tone { return &preflight.Tone{Blue: g, Green: g, Red: g} }
	noise, texture := 3.0, 12.0
	s.Appearance = &preflight.Appearance{Floor: grey(90), Top: grey(170), Noise: &noise, TopTexture: &texture,
		Pieces: map[string]preflight.Tone{"crate": {Blue: 30, Green: 30, Red: 200}}}
	d, err := s.Draw(DrawOptions{Seconds: 10, Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	l := d.Scene.Look
	if l.Floor.Color != scene.Grey(90) || l.Robot.Top != scene.Grey(170) || l.Obstacles[0] != (scene.BGR{30, 30, 200}) {
		t.Errorf("floor %v, top %v, crate %v", l.Floor.Color, l.Robot.Top, l.Obstacles[0])
	}
	at := d.Scene.Sensor.Noise*d.Scene.Sensor.Noise + d.Scene.Sensor.Shot*d.Scene.Sensor.Shot*90/255
	if math.Abs(math.Sqrt(at)-noise) > 1e-6 {
		t.Errorf("noise of %.2f grey levels on the floor, want %g", math.Sqrt(at), noise)
	}
	if k := l.Robot.Accent[1] - 170; math.Abs(float64(k)) < 20 {
		t.Errorf("the top's markings differ by %.0f grey levels only", k)
	}
}

func TestDrawRefuses(t *testing.T) {
	s := usual(t)
	if _, err := s.Draw(DrawOptions{Seconds: 1, Seed: 1}); err == nil {
		t.Error("a run of a second was drawn")
	}
	s.FPS = 0
	if _, err := s.Draw(DrawOptions{Seconds: 20, Seed: 1}); err == nil {
		t.Error("a recording without a frame rate was drawn")
	}
}
