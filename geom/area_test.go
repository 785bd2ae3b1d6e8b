package geom

import (
	"errors"
	"math"
	"math/rand"
	"os"
	"testing"

	sf "github.com/peterstace/simplefeatures/geom"
)

// sfPoly makes a polygon of the outside geometry library.
func sfPoly(t testing.TB, pts []Point2) sf.Geometry {
	var xy []float64
	for _, p := range append(append([]Point2(nil), pts...), pts[0]) {
		xy = append(xy, p.X, p.Y)
	}
	g := sf.NewPolygon([]sf.LineString{sf.NewLineString(sf.NewSequence(xy, sf.DimXY))})
	if err := g.Validate(); err != nil {
		t.Fatalf("not a simple polygon: %v", err)
	}
	return g.AsGeometry()
}

// outsideOpenArea is the open floor by github.com/peterstace/simplefeatures.
func outsideOpenArea(t testing.TB, p *Plan, h float64) float64 {
	g := sfPoly(t, RingCorners(p.Room))
	for _, o := range p.Blocking(h) {
		d, err := sf.Difference(g, sfPoly(t, RingCorners(o.Outline)))
		if err != nil {
			t.Fatal(err)
		}
		g = d
	}
	return g.Area()
}

func TestOpenAreaAgainstOutside(t *testing.T) {
	for name, p := range inOrder(testPlans(t)) {
		for _, h := range []float64{0, 0.07, 0.1, 2} {
			got, want := p.OpenAreaFor(h), outsideOpenArea(t, p, h)
			if math.Abs(got-want) > 1e-8 {
				t.Errorf("%s, robot %g m high: %.10f m2, outside library %.10f", name, h, got, want)
			}
		}
	}
	if got := testPlans(t)["all kinds"].OpenArea(); math.Abs(got-(20-2-0.25)) > 1e-12 {
		t.Errorf("all kinds: %g m2, want 17.75", got)
	}
	seed := int64(17)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	worst := 0.0
	for i := 0; i < 150; i++ {
		room := randomPolygon(rng, Point2{2.5, 2}, 3.5)
		var ob []Piece
		for k := 0; k < 1+rng.Intn(8); k++ {
			r := randomPolygon(rng, Point2{1.5 + 2*rng.Float64(), 1 + 2*rng.Float64()}, 1)
			if i%3 == 0 { // on a lattice: abutting, coincident and crossing edges
				x, y := 1.5+0.5*float64(rng.Intn(4)), 1+0.5*float64(rng.Intn(4))
				r = box(x, y, x+0.5*float64(1+rng.Intn(2)), y+0.5*float64(1+rng.Intn(2)))
			}
			ob = append(ob, piece(string(rune('a'+k)), 1, r))
		}
		p, err := NewPlan(PlanSpec{Name: "random", Room: room})
		if err != nil {
			t.Fatal(err)
		}
		p.Obstacles = ob // some reach out of the room: that must not matter here
		d := math.Abs(p.OpenArea() - outsideOpenArea(t, p, 0))
		worst = math.Max(worst, d)
		if d > 1e-8 {
			t.Errorf("draw %d: %.10f m2, outside library %.10f", i, p.OpenArea(), outsideOpenArea(t, p, 0))
		}
	}
	t.Logf("150 random rooms: bound 1e-8 m2, worst %.1e m2", worst)
}

// randomPolygon is star-shaped about c, so simple.
func randomPolygon(rng *rand.Rand, c Point2, r float64) []Point2 {
	n := 3 + rng.Intn(9)
	out := make([]Point2, n)
	for i := range out {
		s, co := math.Sincos(2 * math.Pi * (float64(i) + 0.8*rng.Float64()) / float64(n))
		d := r * (0.4 + 0.6*rng.Float64())
		out[i] = Point2{c.X + d*co, c.Y + d*s}
	}
	return out
}

func FuzzNewPlan(f *testing.F) {
	if files, err := os.ReadDir("testdata/fuzz/FuzzNewPlan"); err != nil || len(files) == 0 {
		f.Fatalf("the corpus is gone: %v", err)
	}
	f.Fuzz(func(t *testing.T, room, ob []byte) {
		p, err := NewPlan(PlanSpec{Name: "fuzz", Room: fuzzRing(room), Obstacles: []Piece{piece("o", 0.3, fuzzRing(ob))}})
		if err != nil {
			var pe *PlanError
			if !errors.As(err, &pe) || pe.Reason == "" {
				t.Fatalf("untyped error %v", err)
			}
			return
		}
		// An obstacle lies in its room but for a millimetre, so the open floor
		// is the difference but for that along its outline. (The outside
		// library is no oracle here: its Difference of the two slivers in
		// corpus file "sliver" is empty.)
		got, want := p.OpenArea(), p.RoomArea()-p.Obstacles[0].Area()
		ring := RingCorners(p.Obstacles[0].Outline)
		if got < want-1e-9 || got > want+1e-9+2*WallTolerance*perimeter(ring) {
			t.Fatalf("open area %g, room less obstacle %g", got, want)
		}
		low, high := p.Bounds()
		near := p.Nearest(Point2{(low.X + high.X) / 2, (low.Y + high.Y) / 2}, 0.1)
		if math.IsInf(near.Distance, 0) || math.IsNaN(near.Distance) {
			t.Fatalf("nearest %+v", near)
		}
	})
}

// fuzzRing reads pairs of bytes as decimetres; an odd last byte is left.
func fuzzRing(b []byte) []Point2 {
	var out []Point2
	for i := 0; i+1 < len(b) && len(out) < 24; i += 2 {
		out = append(out, Point2{float64(int8(b[i])) / 10, float64(int8(b[i+1])) / 10})
	}
	return out
}
