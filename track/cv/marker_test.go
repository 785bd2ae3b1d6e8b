//go:build cgo && customenv

package cv

import (
	"bytes"
	"image/color"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"swathe/geom"
	"swathe/report/figure"
	"swathe/track/scene"
	"swathe/track/sight"
)

// Every dictionary draws, and what is drawn is found again with its number and
// its corners where they were drawn.
func TestMarkerRoundTrip(t *testing.T) {
	for _, name := range dictionaries {
		for _, id := range []int{0, 7, 29} {
			m, err := NewMarkerFinder(name, id)
			if err != nil {
				t.Fatal(err)
			}
			cell := 12
			side := m.Cells() * cell
			pix, err := m.Draw(side)
			if err != nil {
				t.Fatal(err)
			}
			p := sight.NewPlane(side+6*cell, side+6*cell)
			for i := range p.Pix {
				p.Pix[i] = 255
			}
			for y := 0; y < side; y++ {
				copy(p.Pix[(y+3*cell)*p.Stride+3*cell:], pix[y*side:(y+1)*side])
			}
			c, ok := m.Find(&p, geom.Point2{}, geom.Point2{X: 9999, Y: 9999}, float64(side))
			if !ok {
				t.Errorf("%s %d was not found", name, id)
			}
			a, b := float64(3*cell)-0.5, float64(3*cell+side)-0.5
			for k, want := range [4]geom.Point2{{X: a, Y: a}, {X: b, Y: a}, {X: b, Y: b}, {X: a, Y: b}} {
				if d := c[k].Dist(want); !(d < 0.3) {
					t.Errorf("%s %d: corner %d is %.2f px off", name, id, k, d)
				}
			}
			// Another number is not taken for it.
			m.ID = 1
			if _, ok := m.Find(&p, geom.Point2{}, geom.Point2{X: 9999, Y: 9999}, float64(side)); ok {
				t.Errorf("%s %d was taken for 1", name, id)
			}
			m.Close()
		}
	}
}

// The sheet that is printed shows the marker that was asked for, at its size.
func TestMarkerSheet(t *testing.T) {
	for _, c := range []struct {
		dictionary string
		id         int
		side       float64
	}{{"4x4_50", 7, 0.08}, {"apriltag_36h11", 300, 0.11}} {
		m, err := NewMarkerFinder(c.dictionary, c.id)
		if err != nil {
			t.Fatal(err)
		}
		defer m.Close()
		rows, err := m.Rows()
		if err != nil {
			t.Fatal(err)
		}
		sheet, err := figure.Marker(figure.MarkerSheet{Dictionary: c.dictionary, ID: c.id, Cells: rows, Side: c.side})
		if err != nil {
			t.Fatal(err)
		}
		var file bytes.Buffer
		if err := sheet.Write(&file, "png"); err != nil {
			t.Fatal(err)
		}
		if dir := os.Getenv("SWATHE_PICTURES"); dir != "" {
			os.WriteFile(filepath.Join(dir, "marker_"+c.dictionary+".png"), file.Bytes(), 0o644)
		}
		img, err := png.Decode(&file)
		if err != nil {
			t.Fatal(err)
		}
		p := sight.NewPlane(img.Bounds().Dx(), img.Bounds().Dy())
		for i := range p.Pix {
			g := color.GrayModel.Convert(img.At(i%p.W, i/p.W)).(color.Gray)
			p.Pix[i] = g.Y
		}
		if math.Abs(float64(p.W)/300*25.4-210) > 0.1 || math.Abs(float64(p.H)/300*25.4-297) > 0.1 {
			t.Errorf("the sheet is %d x %d px, no A4 at 300 dpi", p.W, p.H)
		}
		const pxPerM = 300 / 0.0254
		corners, ok := m.Find(&p, geom.Point2{}, geom.Point2{X: 9999, Y: 9999}, c.side*pxPerM)
		if !ok {
			t.Fatalf("%s %d is not found on its own sheet", c.dictionary, c.id)
		}
		for k := range corners {
			if got := corners[k].Dist(corners[(k+1)%4]) / pxPerM; math.Abs(got-c.side) > 0.0002 {
				t.Errorf("%s %d: side %d is %.2f mm on the sheet, want %.2f", c.dictionary, c.id, k, 1000*got, 1000*c.side)
			}
		}
	}
	for _, side := range []float64{0, 0.005, 0.2, math.NaN()} {
		if _, err := figure.Marker(figure.MarkerSheet{Dictionary: "x", Cells: [][]bool{{true, true, true}, {true, true, true}, {true, true, true}}, Side: side}); err == nil {
			t.Errorf("a side of %g m was accepted", side)
		}
	}
}

func TestMarkerRefuses(t *testing.T) {
	for _, c := range []struct {
		name string
		id   int
	}{{"4x4_51", 1}, {"", 0}, {"4x4_50", 50}, {"4x4_50", -1}, {"apriltag_16h5", 30}} {
		if m, err := NewMarkerFinder(c.name, c.id); err == nil {
			m.Close()
			t.Errorf("%s %d was accepted", c.name, c.id)
		}
	}
	m, err := NewMarkerFinder("4x4_50", 7)
	if err != nil {
		t.Fatal(err)
	}
	defer m.Close()
	if _, err := m.Draw(100); err == nil {
		t.Error("100 px are no whole number of 6 cells")
	}
	// Planes that OpenCV would choke on are answered here.
	for _, p := range []sight.Plane{{}, {W: 4, H: 4, Stride: 4, Pix: make([]uint8, 16)}, {W: 100, H: 100, Stride: 100, Pix: make([]uint8, 50)}, {W: 10, H: 1, Stride: 10, Pix: make([]uint8, 10)}} {
		if _, ok := m.Find(&p, geom.Point2{X: -50, Y: -50}, geom.Point2{X: 1e9, Y: 1e9}, 40); ok {
			t.Errorf("a marker in a plane of %d x %d", p.W, p.H)
		}
	}
	p := sight.NewPlane(200, 200)
	for _, box := range [][4]float64{{math.NaN(), 0, 50, 50}, {180, 180, 20, 20}, {500, 500, 600, 600}} {
		if _, ok := m.Find(&p, geom.Point2{X: box[0], Y: box[1]}, geom.Point2{X: box[2], Y: box[3]}, 40); ok {
			t.Error("a marker in a black picture")
		}
	}
}

// lookAt is a camera at a place that looks at a point of the floor, turned
// about its axis by roll.
func lookAt(w, h int, lens geom.Lens, at geom.Point3, to geom.Point2, roll float64) *geom.Camera {
	d := [3]float64{to.X - at.X, to.Y - at.Y, -at.Z}
	n := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
	d = [3]float64{d[0] / n, d[1] / n, d[2] / n}
	s, c := math.Sincos(roll)
	// Right: across the axis, level but for the roll.
	right := [3]float64{c, s, 0}
	k := right[0]*d[0] + right[1]*d[1]
	right = [3]float64{right[0] - k*d[0], right[1] - k*d[1], -k * d[2]}
	m := math.Sqrt(right[0]*right[0] + right[1]*right[1] + right[2]*right[2])
	right = [3]float64{right[0] / m, right[1] / m, right[2] / m}
	down := [3]float64{d[1]*right[2] - d[2]*right[1], d[2]*right[0] - d[0]*right[2], d[0]*right[1] - d[1]*right[0]}
	return geom.NewCamera(w, h, lens, [3][3]float64{right, down, d}, at)
}

// A marker drawn on a robot's top, seen in perspective through a lens, with
// noise: heading to 1 degree (root mean square), place to 2 mm, and errors that
// the stated sigma covers.
func TestMarkerPose(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	brown := geom.Lens{Model: geom.Brown, Fx: 640, Fy: 640, Cx: 640, Cy: 360, Dist: [5]float64{-0.2, 0.04}}
	wide := geom.Lens{Model: geom.Fisheye, Fx: 480, Fy: 480, Cx: 640, Cy: 360, Dist: [5]float64{0.01}}
	for _, c := range []struct {
		name       string
		cam        *geom.Camera
		dictionary string
		side       float64
	}{
		{"straight down", lookAt(1280, 720, brown, geom.Point3{X: 2, Y: 1.5, Z: 2.7}, geom.Point2{X: 2.001, Y: 1.5}, 0.1), "4x4_50", 0.10},
		{"tilted by 25 degrees", lookAt(1280, 720, brown, geom.Point3{X: 2, Y: 0.2, Z: 2.7}, geom.Point2{X: 2, Y: 1.46}, 0), "apriltag_36h11", 0.14},
		{"fisheye", lookAt(1280, 720, wide, geom.Point3{X: 2, Y: 1.5, Z: 2.5}, geom.Point2{X: 2.001, Y: 1.5}, 2), "4x4_50", 0.12},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := NewMarkerFinder(c.dictionary, 7)
			if err != nil {
				t.Fatal(err)
			}
			defer m.Close()
			mk := geom.Marker{Dictionary: c.dictionary, ID: 7, Side: c.side, Height: 0.095, Ahead: 0.03, Left: -0.02, Turn: geom.Radians(30)}
			robot := geom.Robot{Name: "linden", Diameter: 0.34, Height: 0.095, Tools: []geom.Tool{{Width: 0.18}}, Marker: &mk}
			plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 3}, {X: 0, Y: 3}}})
			if err != nil {
				t.Fatal(err)
			}
			s := scene.DefaultScene(c.cam, plan, robot)
			s.Timing = scene.Timing{FPS: 10}
			if s.Look.Robot.Marker, err = m.Rows(); err != nil {
				t.Fatal(err)
			}
			rng := rand.New(rand.NewPCG(seed, 2))
			const n = 10
			for k := 0; k < n; k++ {
				s.Path = append(s.Path, scene.TimedPose{T: float64(k) / 10, Pose: geom.Pose{X: 0.9 + 2.2*rng.Float64(), Y: 0.7 + 1.6*rng.Float64(), Heading: 2 * math.Pi * rng.Float64()}})
			}
			s.Length = n / 10.0
			r, err := scene.NewRenderer(&s)
			if err != nil {
				t.Fatal(err)
			}
			bgr := make([]byte, c.cam.Width*c.cam.Height*3)
			p := sight.NewPlane(c.cam.Width, c.cam.Height)
			var turn2, place2, chi, worst float64
			seen := 0
			for k := 0; k < n; k++ {
				r.Draw(k, bgr)
				for i := range p.Pix {
					p.Pix[i] = uint8((uint(bgr[3*i])*29 + uint(bgr[3*i+1])*150 + uint(bgr[3*i+2])*77) >> 8)
				}
				want := s.Path[k].Pose
				near := geom.Point2{X: want.X + 0.02*rng.NormFloat64(), Y: want.Y + 0.02*rng.NormFloat64()}
				fix, ok := m.Pose(&sight.Picture{Y: p}, c.cam, mk, &near)
				if !ok {
					continue
				}
				if k < 2 { // in the whole picture, as when the robot is lost
					all, ok := m.Pose(&sight.Picture{Y: p}, c.cam, mk, nil)
					if !ok || math.Hypot(all.X-fix.X, all.Y-fix.Y) > 0.003 {
						t.Errorf("frame %d: in the whole picture (%v) it is elsewhere: %+v, %+v", k, ok, all, fix)
					}
				}
				seen++
				e := geom.Degrees(geom.WrapAngle(fix.Heading - want.Heading))
				d := math.Hypot(fix.X-want.X, fix.Y-want.Y)
				turn2 += e * e
				place2 += d * d
				worst = math.Max(worst, math.Abs(e))
				chi += e * e / math.Pow(geom.Degrees(fix.SigmaH), 2)
				if math.Abs(fix.Side/c.side-1) > 0.05 {
					t.Errorf("frame %d: its side shows as %.4f m", k, fix.Side)
				}
			}
			turn, place := math.Sqrt(turn2/float64(seen)), math.Sqrt(place2/float64(seen))
			t.Logf("seen %d of %d; heading %.2f degrees rms, %.2f at worst; place %.2f mm rms; (error/sigma)^2 %.2f", seen, n, turn, worst, 1000*place, chi/float64(seen))
			if seen < n-1 {
				t.Errorf("seen in %d of %d pictures", seen, n)
			}
			if !(turn <= 1 && worst <= 2.5 && place <= 0.002) {
				t.Errorf("heading %.2f degrees rms and %.2f at worst, place %.2f mm: more than 1, 2.5 and 2", turn, worst, 1000*place)
			}
			if chi/float64(seen) > 3 {
				t.Errorf("the stated sigma is too small: (error/sigma)^2 is %.1f on average", chi/float64(seen))
			}
		})
	}
}
