package film

import (
	"bytes"
	"cmp"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"swathe/geom"
	"swathe/track/paint"
	"swathe/track/sight"
)

// slanted is a camera with a lens, 2.6 m up and tilted by 20 degrees.
func slanted(w, h int) *geom.Camera {
	s, c := math.Sincos(geom.Radians(20))
	f := 0.5 * float64(w)
	lens := geom.Lens{Model: geom.Brown, Fx: f, Fy: f, Cx: float64(w) / 2, Cy: float64(h) / 2, Dist: [5]float64{-0.22, 0.05, 0.001, -0.0005}}
	return geom.NewCamera(w, h, lens, [3][3]float64{{1, 0, 0}, {0, -c, -s}, {0, s, -c}}, geom.Point3{X: 2, Y: 0.6, Z: 2.6})
}

// testPane is a room with a chest in it and a rug, and a brush that cleans it row
// by row, each cell at its own time, some of them twice.
func testPane(t testing.TB, w, h int) (Pane, []Pass) {
	t.Helper()
	square := func(x0, y0, x1, y1 float64) []geom.Point2 {
		return []geom.Point2{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
	}
	piece := func(name string, height float64, corners []geom.Point2) geom.Piece {
		q := geom.Piece{Name: name, Height: height}
		for _, c := range corners {
			q.Outline = append(q.Outline, [2]float64{c.X, c.Y})
		}
		return q
	}
	chest, rug := piece("chest", 0.5, square(1.2, 1.5, 1.8, 2)), piece("rug", 0.02, square(2.4, 0.4, 3.4, 1.2))
	rug.Kind = geom.AreaSurface
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: square(0, 0, 4, 3), Obstacles: []geom.Piece{chest}, Areas: []geom.Piece{rug}})
	if err != nil {
		t.Fatal(err)
	}
	p := Pane{Camera: *slanted(w, h), Plan: *plan, Robot: geom.Robot{Diameter: 0.34, Height: 0.1, Tools: []geom.Tool{{Width: 0.2}}},
		X0: 0, Y0: 0, Cell: 0.02, Nx: 200, Ny: 150, Log: "log"}
	var log []Pass
	for k := 0; k < p.Nx*p.Ny; k++ {
		i, j := k%p.Nx, k/p.Nx
		x, y := (float64(i)+0.5)*p.Cell, (float64(j)+0.5)*p.Cell
		if x < 0.1 || y < 0.1 || x > 3.8 || y > 2.8 || x > 1.2 && x < 1.8 && y > 1.5 && y < 2 {
			continue
		}
		log = append(log, Pass{int32(k), float32(10 + y/0.2*9 + x)})
	}
	slices.SortFunc(log, func(a, b Pass) int { return cmp.Compare(a.T, b.T) })
	return p, log
}

// Painted pixels agree with the map of passes projected through the camera: at
// 20 random times the cells that are clean by then are drawn corner by corner
// into the picture by another way, and no painted pixel lies more than 2 px
// from them, nor one of them from a painted pixel.
func TestPaintedFloorIsWhereItWasCleaned(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 4))
	const w, h = 640, 360
	pane, log := testPane(t, w, h)
	r := NewPainter(pane, log, w, h, "")
	cam := slanted(w, h)
	worst, painted := 0.0, 0
	for k := 0; k < 20; k++ {
		at := 10 + 140*rng.Float64()
		c := paint.New(w, h, make([]uint8, w*h*3))
		r.Paint(c, at)
		// What must be painted and what may be: they differ where the edge of
		// what the chest hides runs, by pieces of cells a quarter of a pixel wide.
		must, may := make([]bool, w*h), make([]bool, w*h)
		oracle := paint.New(w, h, make([]uint8, w*h*3))
		for _, q := range log {
			if float64(q.T) > at {
				continue
			}
			x, y := float64(int(q.Cell)%pane.Nx)*pane.Cell, float64(int(q.Cell)/pane.Nx)*pane.Cell
			z := pane.Plan.FloorHeight(geom.Point2{X: x + pane.Cell/2, Y: y + pane.Cell/2})
			visible := func(x, y float64) bool {
				hid, _ := geom.Hidden(cam, &pane.Plan, geom.Point3{X: x, Y: y, Z: z})
				return !hid
			}
			// corners returns how many corners of a square show.
			corners := func(x, y, side float64) (n int) {
				for _, d := range [4][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
					if visible(x+d[0]*side, y+d[1]*side) {
						n++
					}
				}
				return n
			}
			square := func(x, y, side float64, shows int) {
				var poly []geom.Point2
				for _, d := range [4][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}} {
					px, ok := cam.Project(geom.Point3{X: x + d[0]*side, Y: y + d[1]*side, Z: z})
					if !ok {
						t.Fatal("a cell does not show")
					}
					poly = append(poly, px)
				}
				oracle.Spans(poly, func(y, x0, x1 int) {
					for x := x0; x < x1; x++ {
						may[y*w+x] = true
						must[y*w+x] = must[y*w+x] || shows == 4
					}
				})
			}
			switch n := corners(x, y, pane.Cell); n {
			case 0:
			case 4:
				square(x, y, pane.Cell, n)
			default:
				const pieces = 8
				side := pane.Cell / pieces
				for i := range pieces * pieces {
					px, py := x+float64(i%pieces)*side, y+float64(i/pieces)*side
					if n := corners(px, py, side); n > 0 {
						square(px, py, side, n)
					}
				}
			}
		}
		got := make([]bool, w*h)
		for i := range got {
			got[i] = c.Pix[3*i] != 0
			if got[i] {
				painted++
			}
		}
		worst = math.Max(worst, math.Max(farthest(got, may, w, h), farthest(must, got, w, h)))
	}
	t.Logf("%d pixels painted, at most %.2f px off", painted, worst)
	if painted < 100000 || worst > 2 {
		t.Errorf("%d pixels painted, up to %.2f px off; want 2 px at most", painted, worst)
	}
}

// farthest is the greatest distance, up to 9 px, of a set pixel of a from the
// nearest of b.
func farthest(a, b []bool, w, h int) float64 {
	worst := 0.0
	for i, on := range a {
		if !on || b[i] {
			continue
		}
		best := 9.0
		for dy := -5; dy <= 5; dy++ {
			for dx := -5; dx <= 5; dx++ {
				x, y := i%w+dx, i/w+dy
				if x >= 0 && y >= 0 && x < w && y < h && b[y*w+x] {
					best = math.Min(best, math.Hypot(float64(dx), float64(dy)))
				}
			}
		}
		worst = math.Max(worst, best)
	}
	return worst
}

// Going back in time takes paint away; more passes get the next colour; the
// robot is never painted over.
func TestPaintInTime(t *testing.T) {
	const w, h = 320, 180
	pane, _ := testPane(t, w, h)
	cell := int32(75*pane.Nx + 120) // (2.41, 1.51)
	log := []Pass{{cell, 1}, {cell, 2}, {cell, 3}, {cell, 4}, {cell, 5}}
	pane.Cell, pane.Nx, pane.Ny = 0.5, 8, 6
	cell = 3*8 + 4 // x 2..2.5, y 1.5..2
	for i := range log {
		log[i].Cell = cell
	}
	pane.Path = []Spot{{T: 0, X: 0.4, Y: 0.4, Seen: true}, {T: 10, X: 0.4, Y: 0.4, Seen: true}, {T: 10.5, X: 2.25, Y: 1.75, Seen: true}, {T: 11, X: 2.25, Y: 1.75, Seen: true}}
	r := NewPainter(pane, log, w, h, "")
	px, _ := slanted(w, h).Project(geom.Point3{X: 2.25, Y: 1.75})
	at := 3 * (int(math.Round(px.Y))*w + int(math.Round(px.X)))
	see := func(t float64) [3]uint8 {
		c := paint.New(w, h, bytes.Repeat([]byte{90}, w*h*3))
		r.Paint(c, t)
		return [3]uint8(c.Pix[at : at+3])
	}
	bare := [3]uint8{90, 90, 90}
	if see(0.5) != bare {
		t.Error("painted before it was cleaned")
	}
	seen := map[[3]uint8]bool{}
	for _, s := range []float64{1, 2, 3, 4} {
		seen[see(s)] = true
	}
	if len(seen) != 4 || seen[bare] {
		t.Errorf("four numbers of passes have the colours %v", seen)
	}
	if see(5) != see(4) {
		t.Error("five passes differ from four")
	}
	if see(0.5) != bare {
		t.Error("going back left paint")
	}
	if see(10.8) != bare {
		t.Error("the robot was painted over")
	}
}

func TestVeilCoversWhatMoves(t *testing.T) {
	const w, h, factor = 320, 240, 4
	rng := rand.New(rand.NewPCG(1, 1))
	pix := make([]uint8, w*h*3)
	for i := range pix {
		pix[i] = uint8(rng.IntN(256))
	}
	mask := sight.NewPlane(w/factor, h/factor)
	for y := 20; y < 40; y++ { // px 80..160 down, 40..80 across
		for x := 10; x < 20; x++ {
			mask.Pix[y*mask.Stride+x] = 255
		}
	}
	v := NewVeil(w, h)
	v.Note(&mask, factor, 2)
	draw := func(at float64) []uint8 {
		c := paint.New(w, h, append([]uint8(nil), pix...))
		v.Draw(c, at)
		return c.Pix
	}
	got := draw(2)
	same := 0
	for y := 80; y < 160; y++ {
		for x := 40; x < 80; x++ {
			if got[3*(y*w+x)] == pix[3*(y*w+x)] {
				same++
			}
		}
	}
	if same > 40*80/50 { // by chance some keep their value
		t.Errorf("%d pixels of a person still show", same)
	}
	for i := 3 * 120; i < len(pix); i += w * 3 { // column 120 is far from it
		if got[i] != pix[i] {
			t.Fatal("what stands still was covered")
		}
	}
	if !bytes.Equal(draw(2.6), got) {
		t.Error("the veil fell at once")
	}
	if !bytes.Equal(draw(3.5), pix) {
		t.Error("the veil stayed for ever")
	}
}

func TestSpecRefuses(t *testing.T) {
	good := func() Spec {
		p, _ := testPane(t, 320, 180)
		p.Files, p.Crop = []string{"a.mp4"}, [4]int{0, 0, 320, 180}
		return Spec{Out: "x.mp4", Width: 320, Height: 180, FPS: 30, Speed: 1, Length: 10, Panes: []Pane{p}}
	}
	s := good()
	if err := s.Validate(); err != nil {
		t.Fatal(err)
	}
	if n := s.Frames(); n != 301 {
		t.Errorf("%d frames in 10 s at 30 a second, want 301", n)
	}
	for i, spoil := range []func(*Spec){
		func(s *Spec) { s.Out = "" }, func(s *Spec) { s.Width = 321 }, func(s *Spec) { s.FPS = math.NaN() }, func(s *Spec) { s.Speed = 0 },
		func(s *Spec) { s.Length = math.Inf(1) }, func(s *Spec) { s.Panes = nil }, func(s *Spec) { s.Panes = append(s.Panes, s.Panes[0], s.Panes[0]) },
		func(s *Spec) { s.Panes[0].Crop[2] = 400 }, func(s *Spec) { s.Panes[0].Cell = 0 }, func(s *Spec) { s.Panes[0].Files = nil },
	} {
		s := good()
		spoil(&s)
		if s.Validate() == nil {
			t.Errorf("spec %d was accepted", i)
		}
	}
}

func TestLogFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "log")
	want := []Pass{{0, 0.5}, {7, 1e4}, {3, 20000.25}}
	if err := WriteLog(file, want); err != nil {
		t.Fatal(err)
	}
	got, err := ReadLog(file, 8)
	if err != nil || len(got) != 3 || got[1] != want[1] || got[2] != want[2] {
		t.Errorf("got %v, %v", got, err)
	}
	if _, err := ReadLog(file, 7); err == nil || !strings.Contains(err.Error(), "not in the raster") {
		t.Errorf("a cell beyond the raster: %v", err)
	}
	os.WriteFile(file, []byte("odd"), 0o644)
	if _, err := ReadLog(file, 8); err == nil {
		t.Error("a torn file was read")
	}
}

func TestClockAndWords(t *testing.T) {
	for s, want := range map[float64]string{0: "0:00", -3: "0:00", 59.99: "0:59", 61: "1:01", 3600: "1:00:00", 5025.5: "1:23:45"} {
		if got := Clock(s); got != want {
			t.Errorf("Clock(%g) is %s, want %s", s, got, want)
		}
	}
	p, _ := testPane(t, 320, 180)
	p.Title, p.Start = "linden, mapping run 1", 5
	p.Shares = []Share{{5, 0}, {10, 0.4}, {15, 0.99999}}
	p.Notes = []Note{{8, 12, strings.Repeat("it turned on the spot ", 9)}}
	w, err := NewWriter(&Spec{Width: 320, Height: 180, Speed: 16, Panes: []Pane{p}}, 0)
	if err != nil {
		t.Fatal(err)
	}
	for at, want := range map[float64]float64{0: 0, 10: 0.4, 12: 0.4, 99: 0.99999} {
		if got := w.shareAt(at); got != want {
			t.Errorf("share at %g s is %g, want %g", at, got, want)
		}
	}
	// Rounded down as it runs; from the run's end on it is what the pictures say.
	w.pane.Final, w.pane.End = "100.0 %", 15
	for at, want := range map[float64]string{14.9: "40.0 % of reachable floor", 15: "100.0 % of reachable floor", 99: "100.0 % of reachable floor"} {
		if got := w.shareText(at); got != want {
			t.Errorf("at %g s the film says %q, want %q", at, got, want)
		}
	}
	c := paint.New(320, 180, make([]uint8, 320*180*3))
	w.Write(c, 10)
	bright := 0
	for i := 0; i < len(c.Pix); i += 3 {
		if c.Pix[i] > 200 {
			bright++
		}
	}
	if bright < 150 {
		t.Errorf("only %d bright pixels: are there words?", bright)
	}
	// Nothing is written beyond the pane's own part.
	c = paint.New(640, 180, make([]uint8, 640*180*3))
	if w, err = NewWriter(&Spec{Width: 640, Height: 180, Speed: 16, Panes: []Pane{p, p}}, 0); err != nil {
		t.Fatal(err)
	}
	w.Write(c, 10)
	for y := 0; y < 180; y++ {
		for x := 320; x < 640; x++ {
			if c.Pix[3*(y*640+x)] != 0 {
				t.Fatalf("words at (%d, %d), in the other pane", x, y)
			}
		}
	}
}

// BenchmarkPaint is the painting of one 1280 x 720 frame whose floor is half
// clean.
func BenchmarkPaint(b *testing.B) {
	pane, log := testPane(b, 1280, 720)
	pane.Path = []Spot{{T: 70, X: 1, Y: 1, Seen: true}, {T: 70.5, X: 1.1, Y: 1, Seen: true}, {T: 71, X: 1.2, Y: 1, Seen: true}}
	pane.Tail = 15
	r := NewPainter(pane, log, 1280, 720, "")
	w, err := NewWriter(&Spec{Width: 1280, Height: 720, Speed: 1, Panes: []Pane{pane}}, 0)
	if err != nil {
		b.Fatal(err)
	}
	c := paint.New(1280, 720, make([]uint8, 1280*720*3))
	for b.Loop() {
		r.Paint(c, 70.9)
		w.Write(c, 70.9)
	}
}
