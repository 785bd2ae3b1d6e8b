package scene

import (
	"bytes"
	"image"
	"math"
	"testing"

	"swathe/geom"
)

// discRays is a shortcut; it must see what the general way sees.
func TestQuickRaysAgree(t *testing.T) {
	s := DefaultScene(tilted(), &geom.Plan{Room: rect(0, 0, 4, 3)}, geom.Robot{Diameter: 0.34, Height: 0.095})
	s.Path = Path{{Pose: geom.Pose{X: 0.5, Y: 0.5}}, {T: 20, Pose: geom.Pose{X: 3.5, Y: 1.4, Heading: 40}}}
	s.Look.Robot.Gloss = 0.5
	s.Length = 20
	p := newPainter(newWorld(&s, s.Camera))
	p.draw(7.3)
	worst, n := 0.0, 0
	for _, pat := range []*pattern{&p.some, &p.fine} {
		for j := 0; j < p.h; j++ {
			for i := 0; i < p.w; i++ {
				if !(image.Point{X: i, Y: j}).In(p.actors[0].box) || p.kind[j*p.w+i] != clear {
					continue
				}
				c, _ := p.cell(i, j)
				ink := pixelInk{under: BGR{100, 120, 140}, light: 1, still: -1}
				a, _ := p.rays(pat, &c, j*p.w+i, []int{0}, &ink)
				b := p.discRays(pat, &c, ink.under)
				for k := range a {
					worst = math.Max(worst, math.Abs(float64(a[k]-b[k])))
				}
				n++
			}
		}
	}
	t.Logf("%d pixels, worst difference %.4f grey levels", n, worst)
	if n < 1000 || worst > 0.01 {
		t.Errorf("worst difference %.4f grey levels over %d pixels; want <= 0.01 over 1000 or more", worst, n)
	}
}

// The same scene gives the same bytes, whichever frame was drawn before it and
// however many were drawn at once; another seed gives others.
func TestSameSeedSameBytes(t *testing.T) {
	s, _ := newDemoLab().scene(demoRun{"empty", "rowan", "mapped", 1, 5, 10})
	s.Camera, s.Timing.FPS = lookDown(320, 180, 1.3, 0.95, 2.5, 190), 15
	s.People = []Person{NewPerson(Path{At(0, 0.5, -0.5, 90), At(8, 1.5, 1.5, 90)})}
	s.Length = 6
	var all [][]byte
	if err := Render(t.Context(), &s, func(f Frame) error {
		all = append(all, append([]byte(nil), f.BGR...))
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if len(all) != len(s.Frames()) {
		t.Fatalf("%d frames, want %d", len(all), len(s.Frames()))
	}
	r, err := NewRenderer(&s)
	if err != nil {
		t.Fatal(err)
	}
	one := make([]byte, len(all[0]))
	for _, n := range []int{40, 3, 77, 3, 60} {
		r.Draw(n, one)
		if !bytes.Equal(one, all[n]) {
			t.Errorf("frame %d differs when drawn by itself", n)
		}
	}
	s2 := s
	s2.Seed++
	r2, err := NewRenderer(&s2)
	if err != nil {
		t.Fatal(err)
	}
	r2.Draw(40, one)
	if bytes.Equal(one, all[40]) {
		t.Error("another seed gives the same frame")
	}
}

// What moved on leaves nothing behind: after the robot has gone the picture is
// that of the empty room.
func TestNothingIsLeftBehind(t *testing.T) {
	s := DefaultScene(tilted(), litteredPlan(), geom.Robot{Diameter: 0.34, Height: 0.095})
	s.Sensor = Sensor{Blur: 0.35}
	s.Light.DriftShare = 0
	s.Path = Path{{Pose: geom.Pose{X: 0.5, Y: 0.5}}, {T: 20, Pose: geom.Pose{X: 3.0, Y: 1.4, Heading: 40}}}
	s.People = []Person{NewPerson(Path{At(0, 0.5, -0.5, 90), At(8, 1.5, 1.5, 90)})}
	s.Pets = []Pet{{Walk: Path{At(0, 1.5, 0.5, 90), At(8, 1.5, 1.5, 90)}, Size: 0.4}}
	s.Length = 20
	w := newWorld(&s, s.Camera)
	p := newPainter(w)
	for _, at := range []float64{0, 2, 5, 9, 3, 7} {
		p.draw(at)
	}
	s.NoRobot, s.People, s.Pets = true, nil, nil
	p.draw(10)
	for i := range p.buf {
		if p.buf[i] != w.bg[i] {
			t.Fatalf("value %d (column %d, row %d) is %d, the empty room's is %d", i, i/3%w.w, i/3/w.w, p.buf[i], w.bg[i])
		}
	}
}

// A robot beneath a table top is not seen, and one before it is; at the
// table's edge the edge is where the camera puts it.
func TestTableTopHides(t *testing.T) {
	cam := lookDown(600, 400, 2, 1.5, 2.5, 400)
	pose := geom.Pose{X: 2.4, Y: 1.5}
	s := bare(cam, geom.Robot{Diameter: 0.34, Height: 0.095}, pose)
	s.Plan.Overhead = []geom.Piece{{Name: "table", Outline: rect(2.37, 1.2, 3, 1.9), Height: 0.6}}
	a := share(drawAt(t, &s, 0)[0])
	// The top's chord in the row through the middle runs from the robot's left
	// side to the table's edge.
	left, _ := cam.Project(geom.Point3{X: 2.4 - 0.17, Y: 1.5, Z: 0})
	edge, _ := cam.Project(geom.Point3{X: 2.37, Y: 1.5, Z: 0.6})
	row := int(math.Round(edge.Y))
	sum := 0.0
	for i := range cam.Width {
		sum += a[row*cam.Width+i]
	}
	t.Logf("seen %.3f px, want %.3f px", sum, edge.X-left.X)
	if math.Abs(sum-(edge.X-left.X)) > 0.1 {
		t.Errorf("%.3f px of the robot are seen beside the table, want %.3f", sum, edge.X-left.X)
	}
}

// A test object 0.30 m tall pushed by 100 mm shows a top that moved by 113.6 mm as
// the floor would have it: H/(H-h) under a camera 2.5 m up (pinhole
// parallax, computed from the closed form).
func TestTallThingsMoveFurther(t *testing.T) {
	cam := lookDown(600, 400, 2, 1.5, 2.5, 400)
	centre := func(x float64) float64 {
		s := bare(cam, geom.Robot{Diameter: 0.34, Height: 0.095}, geom.Pose{X: 9, Y: 9})
		s.NoRobot = true
		box := []geom.Point2{{X: -0.05, Y: -0.05}, {X: 0.05, Y: -0.05}, {X: 0.05, Y: 0.05}, {X: -0.05, Y: 0.05}}
		// Only its top is bright: ambient light alone would light the sides too.
		s.Light = Light{}
		s.Movers = []Mover{{Outline: box, Height: 0.3, Color: Grey(240), Path: Path{{Pose: geom.Pose{X: x, Y: 1.5}}}}}
		a := share(drawAt(t, &s, 0)[0])
		m, n := 0.0, 0.0
		for i, v := range a {
			m += v * float64(i%cam.Width)
			n += v
		}
		return m / n
	}
	moved := (centre(2.2) - centre(2.1)) * 2.5 / 400
	t.Logf("the top moved by %.2f mm on the floor's scale, want 113.64", 1000*moved)
	if math.Abs(moved-0.1*2.5/2.2) > 0.0001 {
		t.Errorf("the top moved by %.3f mm, want 113.636 within 0.1", 1000*moved)
	}
}
