package geom

import (
	"math"
	"math/rand"
	"testing"
)

// By similar triangles: a box from x = 1.0 to 1.2, 0.5 m high, under a lens
// 2.5 m above the origin hides the floor behind it up to 1.2 x 2.5/(2.5 - 0.5)
// = 1.5; a table 0.7 m high from x = 1 to 2 hides the floor from
// 1 x 2.5/1.8 = 1.3889 to 2.7778, and the top of a robot, 0.1 m high, from
// 1 x 2.4/1.8 = 1.3333 to 2.6667.
func TestHiddenExamples(t *testing.T) {
	cam := straightDown(2.5, 300)
	room := box(-5, -4, 5, 4)
	low, err := NewPlan(PlanSpec{Name: "box", Room: room, Obstacles: []Piece{piece("box", 0.5, box(1, -1, 1.2, 1))}})
	if err != nil {
		t.Fatal(err)
	}
	table, err := NewPlan(PlanSpec{Name: "table", Room: room, Overhead: []Piece{piece("table", 0.7, box(1, -1, 2, 1))}})
	if err != nil {
		t.Fatal(err)
	}
	both, err := NewPlan(PlanSpec{Name: "both", Room: room, Obstacles: low.Obstacles, Overhead: table.Overhead})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		plan *Plan
		p    Point3
		by   string
	}{
		{low, Point3{0.999, 0, 0}, ""}, {low, Point3{1, 0, 0}, ""}, {low, Point3{1.001, 0, 0}, "box"},
		{low, Point3{1.1, 0, 0.499}, "box"}, {low, Point3{1.1, 0, 0.5}, ""}, {low, Point3{1.1, 0, 0.6}, ""},
		{low, Point3{1.499, 0, 0}, "box"}, {low, Point3{1.501, 0, 0}, ""},
		{low, Point3{1.499, 0, 0.01}, ""}, {low, Point3{0, 0, 0}, ""}, {low, Point3{-1.1, 0, 0}, ""},
		{table, Point3{1.388, 0, 0}, ""}, {table, Point3{1.390, 0, 0}, "table"}, {table, Point3{2.777, 0, 0}, "table"}, {table, Point3{2.779, 0, 0}, ""},
		{table, Point3{1.332, 0, 0.1}, ""}, {table, Point3{1.334, 0, 0.1}, "table"}, {table, Point3{2.666, 0, 0.1}, "table"}, {table, Point3{2.668, 0, 0.1}, ""},
		{table, Point3{1.5, 0, 0.7}, ""}, {table, Point3{1.5, 0, 1}, ""},
		{both, Point3{1.45, 0, 0}, "box"}, {both, Point3{1.6, 0, 0}, "table"},
	} {
		hidden, by := Hidden(cam, c.plan, c.p)
		if by != c.by || hidden != (c.by != "") {
			t.Errorf("%s, %v: hidden %v by %q, want %q", c.plan.Name, c.p, hidden, by, c.by)
		}
	}
	// The camera's picture ends at x = 960 px x 2.5 m/300 px = 8 m and y = 4.5 m.
	if s, _ := SightOf(cam, low, Point3{8.1, 0, 0}); s != OutOfFrame {
		t.Errorf("beyond the picture: %v", s)
	}
	v, err := UnseenArea(cam, low, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	// The shadow: from 1.2 to 1.5, widening from 2 m (at x = 1) by 1 m a metre
	// up to x = 1.2 x 1.25 and y = 1.25: a trapezoid bounded by the lines from
	// the lens past the corners (1, 1) and (1.2, 1), see below.
	want := shadowOf(t)
	if math.Abs(v.UnseenM2-want) > 0.01 {
		t.Errorf("unseen %.4f m2, want %.4f", v.UnseenM2, want)
	}
	if math.Abs(v.OpenM2-low.OpenArea()) > 0.02 || v.UnderM2 != 0 {
		t.Errorf("open %.4f m2, exactly %.4f; under %g", v.OpenM2, low.OpenArea(), v.UnderM2)
	}
	v, err = UnseenArea(cam, table, 0.01)
	if err != nil {
		t.Fatal(err)
	}
	// A sheet's shadow is the sheet, grown by 2.5/1.8.
	if want := 2 * math.Pow(2.5/1.8, 2); math.Abs(v.UnderM2-want) > 0.02 || v.UnseenM2 != 0 {
		t.Errorf("under %.4f m2, want %.4f; unseen %g", v.UnderM2, want, v.UnseenM2)
	}
	for _, cell := range []float64{0, -1, math.NaN(), 1e-6} {
		if _, err := UnseenArea(cam, low, cell); err == nil {
			t.Errorf("cells of %g m were taken", cell)
		}
	}
}

// shadowOf the box of TestHiddenExamples is the union of its base and its top
// seen from the lens (grown by 2.5/2.0 = 1.25 about the nadir), joined: their
// convex hull, less the base.
func shadowOf(t *testing.T) float64 {
	t.Helper()
	var o Outline
	b := box(1, -1, 1.2, 1)
	for _, p := range box(1, -1, 1.2, 1) {
		b = append(b, p.Scale(1.25))
	}
	o.convex(b)
	return signedArea(o.hull) - 0.4
}

// The slow obvious version: walk along the line of sight in small steps and ask
// at each whether it is inside a prism, and at each crossing of a sheet whether
// it passes through. On every awkward plan.
func TestHiddenBrute(t *testing.T) {
	seed := int64(23)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	differ, n := 0, 0
	for name, plan := range inOrder(testPlans(t)) {
		low, high := plan.Bounds()
		for i := 0; i < 120; i++ {
			lens := Point3{low.X + rng.Float64()*(high.X-low.X), low.Y + rng.Float64()*(high.Y-low.Y), 0.3 + 2.5*rng.Float64()}
			cam := NewCamera(640, 480, Lens{Brown, 400, 400, 320, 240, [5]float64{}}, lookAt(lens, Point2{lens.X + 0.1, lens.Y}, 0), lens)
			p := Point3{low.X + rng.Float64()*(high.X-low.X), low.Y + rng.Float64()*(high.Y-low.Y), 0.2 * rng.Float64()}
			got, by := Hidden(cam, plan, p)
			if got != (by != "") {
				t.Fatalf("%s: hidden %v by %q", name, got, by)
			}
			n++
			if got != bruteHidden(lens, plan, p) {
				differ++
				// Only a line that grazes a corner by less than a step may differ.
				if again, _ := Hidden(cam, plan, Point3{p.X + 0.004, p.Y + 0.004, p.Z}); again == got {
					if again, _ = Hidden(cam, plan, Point3{p.X - 0.004, p.Y - 0.004, p.Z}); again == got {
						if again, _ = Hidden(cam, plan, Point3{p.X - 0.004, p.Y + 0.004, p.Z}); again == got {
							t.Errorf("%s: lens %v, %v: hidden %v by %q, brute force says otherwise", name, lens, p, got, by)
						}
					}
				}
			}
		}
	}
	t.Logf("%d of %d lines differ, by grazing", differ, n)
}

func bruteHidden(lens Point3, plan *Plan, p Point3) bool {
	const steps = 3000
	at := func(t float64) Point3 {
		return Point3{lens.X + t*(p.X-lens.X), lens.Y + t*(p.Y-lens.Y), lens.Z + t*(p.Z-lens.Z)}
	}
	for i := 0; i < steps; i++ {
		q, r := at(float64(i)/steps), at(float64(i+1)/steps)
		for _, o := range plan.Obstacles {
			if q.Z < o.Height && q.Z >= 0 && o.Contains(Point2{q.X, q.Y}) {
				return true
			}
		}
		for _, o := range plan.Overhead {
			if q.Z > o.Height && r.Z <= o.Height && p.Z < o.Height {
				m := at((float64(i) + (q.Z-o.Height)/(q.Z-r.Z)) / steps)
				if o.Contains(Point2{m.X, m.Y}) {
					return true
				}
			}
		}
	}
	return false
}

// On every awkward plan: the cells add up, and no cell is seen and not open.
func TestUnseenAreaLaws(t *testing.T) {
	for name, plan := range inOrder(testPlans(t)) {
		low, high := plan.Bounds()
		lens := Point3{(low.X + high.X) / 2, (low.Y + high.Y) / 2, 2.6}
		cam := NewCamera(1280, 720, Lens{Brown, 500, 500, 639.5, 359.5, [5]float64{-0.1, 0.01}}, lookAt(lens, Point2{lens.X + 0.01, lens.Y}, 0), lens)
		v, err := UnseenArea(cam, plan, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		n := map[Sight]int{}
		for r := 0; r < v.Rows; r++ {
			for c := 0; c < v.Cols; c++ {
				q := Point2{low.X + (float64(c)+0.5)*0.05, low.Y + (float64(r)+0.5)*0.05}
				if (v.At(c, r) == NotOpen) == plan.Open(q) {
					t.Fatalf("%s: cell %d, %d is %v", name, c, r, v.At(c, r))
				}
				n[v.At(c, r)]++
			}
		}
		a := 0.05 * 0.05
		if math.Abs(v.UnseenM2-a*float64(n[Behind]+n[OutOfFrame])) > 1e-9 || math.Abs(v.UnderM2-a*float64(n[Under])) > 1e-9 ||
			math.Abs(v.OpenM2-a*float64(n[InView]+n[Behind]+n[Under]+n[OutOfFrame])) > 1e-9 {
			t.Errorf("%s: the areas are not those of the cells", name)
		}
		if math.Abs(v.OpenM2-plan.OpenArea()) > 0.05*25 {
			t.Errorf("%s: open %.3f m2, exactly %.3f", name, v.OpenM2, plan.OpenArea())
		}
	}
}

func BenchmarkUnseenArea(b *testing.B) {
	plan := testPlans(b)["all kinds"]
	lens := Point3{2.5, 2, 2.6}
	cam := NewCamera(1280, 720, Lens{Brown, 500, 500, 639.5, 359.5, [5]float64{-0.1, 0.01}}, lookAt(lens, Point2{2.51, 2}, 0), lens)
	for b.Loop() {
		if _, err := UnseenArea(cam, plan, 0.01); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkNearest(b *testing.B) {
	plan := testPlans(b)["all kinds"]
	for b.Loop() {
		plan.Nearest(Point2{2.1, 1.3}, 0.09)
	}
}
