package geom

import (
	"errors"
	"math"
	"math/rand"
	"strings"
	"testing"
)

func box(x0, y0, x1, y1 float64) []Point2 { return []Point2{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}} }

func piece(name string, h float64, pts []Point2) Piece {
	return Piece{Name: name, Height: h, Outline: toOrb(pts)}
}

func reversed(p []Point2) []Point2 {
	out := make([]Point2, len(p))
	for i, q := range p {
		out[len(p)-1-i] = q
	}
	return out
}

// testPlans are the awkward plans that every function's test loops over.
func testPlans(t testing.TB) map[string]*Plan {
	t.Helper()
	room := box(0, 0, 5, 4)
	ell := []Point2{{0, 0}, {5, 0}, {5, 2}, {2, 2}, {2, 4}, {0, 4}}
	comb := []Point2{{0, 0}, {6, 0}, {6, 3}, {5, 3}, {5, 1}, {4, 1}, {4, 3}, {3, 3}, {3, 1}, {2, 1}, {2, 3}, {0, 3}}
	type raw struct {
		room                []Point2
		obstacles, overhead []Piece
		areas, objects      []Piece
		dock                *Pose
	}
	raws := map[string]raw{
		"empty":             {room: room},
		"clockwise, closed": {room: append(reversed(room), reversed(room)[0])},
		"repeated corners":  {room: []Point2{{0, 0}, {0, 0}, {5, 0}, {5, 4}, {5, 4}, {0, 4}, {0, 0}}},
		"corner on a wall":  {room: []Point2{{0, 0}, {2, 0}, {5, 0}, {5, 4}, {0, 4}}},
		"ell":               {room: ell, obstacles: []Piece{piece("post", 0.5, box(1, 1, 1.2, 1.2))}},
		"comb":              {room: comb},
		"far from origin":   {room: box(-3000, 4000, -2995, 4003), obstacles: []Piece{piece("a", 1, box(-2998, 4001, -2997, 4002))}},
		"abutting": {room: room, obstacles: []Piece{piece("a", 0.4, box(1, 1, 2, 2)), piece("b", 0.4, box(2, 1, 3, 2)),
			piece("c", 0.4, box(2, 2, 3, 4)), piece("corner", 1.8, box(0, 3, 1, 4))}},
		"overlapping, nested": {room: room, obstacles: []Piece{piece("a", 0.4, box(1, 1, 3, 3)), piece("b", 0.4, reversed(box(2, 2, 4, 3.5))),
			piece("in a", 0.9, box(1.2, 1.2, 1.5, 1.5)), piece("same as a", 0.1, box(1, 1, 3, 3))}},
		"touching walls by a millimetre": {room: room, obstacles: []Piece{piece("sofa", 0.7, []Point2{{-0.0009, 1}, {1, 1}, {1, 2}, {-0.0009, 2}})}},
		"room filled":                    {room: room, obstacles: []Piece{piece("all", 1, room)}},
		"oblique": {room: []Point2{{0.3, 0}, {5, 0.7}, {4.1, 4.2}, {-0.4, 3.3}}, obstacles: []Piece{
			piece("tri", 0.4, []Point2{{1, 1}, {2.2, 1.4}, {1.3, 2.6}}), piece("star", 0.4, []Point2{{2, 2}, {2.5, 1.2}, {3, 2}, {3.8, 2.5}, {3, 2.6}, {2.5, 3.2}, {2.4, 2.5}})}},
		"all kinds": {room: room,
			obstacles: []Piece{piece("sofa", 0.4, box(1, 2, 2, 4)), piece("tower", 1.5, box(4, 3, 4.5, 3.5))},
			overhead:  []Piece{piece("table", 0.7, box(2.4, 1, 3.4, 2)), piece("low shelf", 0.08, box(0, 0, 0.4, 1)), piece("sill", 0.06, box(4.8, -0.5, 5.5, 1))},
			areas: []Piece{{Name: "rug", Kind: AreaSurface, Height: 0.015, Outline: toOrb(box(0.2, 0.2, 1, 1))},
				{Name: "half", Kind: AreaTarget, Outline: toOrb(box(-1, -1, 2.5, 6))}, {Name: "mat", Kind: AreaOffLimits, Height: 0.03, Outline: toOrb(box(0.8, 0.8, 1.4, 1.4))}},
			objects: []Piece{piece("sock", 0.03, box(0.5, 0.5, 0.7, 0.6))},
			dock:    &Pose{0.2, 1.5, 0}},
	}
	out := map[string]*Plan{}
	for name, r := range raws {
		p, err := NewPlan(PlanSpec{Name: name, Room: r.room, Obstacles: r.obstacles, Overhead: r.overhead, Areas: r.areas, TestObjects: r.objects, Dock: r.dock})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = p
	}
	return out
}

func TestPlanNormalised(t *testing.T) {
	for name, p := range inOrder(testPlans(t)) {
		rings := map[string][]Point2{"room": fromOrb(p.Room)}
		for _, g := range [][]Piece{p.Obstacles, p.Overhead, p.Areas, p.TestObjects} {
			for _, pc := range g {
				rings[pc.Name] = fromOrb(pc.Outline)
			}
		}
		for what, r := range rings {
			n := len(r) - 1
			if n < 3 || r[0] != r[n] || signedArea(r[:n]) <= 0 {
				t.Errorf("%s, %s: not closed and counter-clockwise: %v", name, what, r)
			}
			for i := 0; i < n; i++ {
				if r[i] == r[i+1] {
					t.Errorf("%s, %s: repeated corner", name, what)
				}
			}
		}
	}
}

func TestNewPlanRefuses(t *testing.T) {
	room := box(0, 0, 5, 4)
	nan := math.NaN()
	ell := []Point2{{0, 0}, {5, 0}, {5, 2}, {2, 2}, {2, 4}, {0, 4}}
	ok := piece("ok", 0.4, box(1, 1, 2, 2))
	kind := func(k string) Piece { p := ok; p.Kind = k; return p }
	cases := []struct {
		name      string
		room      []Point2
		obstacles []Piece
		overhead  []Piece
		areas     []Piece
		objects   []Piece
		dock      *Pose
		piece     string
		says      string
	}{
		{name: "two corners", room: []Point2{{0, 0}, {1, 0}, {0, 0}}, piece: "room", says: "at least 3"},
		{name: "no corners", piece: "room", says: "at least 3"},
		{name: "bow tie", room: []Point2{{0, 0}, {5, 4}, {5, 0}, {0, 4}}, piece: "room", says: "crosses or touches itself"},
		{name: "spike", room: []Point2{{0, 0}, {5, 0}, {8, 0}, {5, 0}, {5, 4}, {0, 4}}, piece: "room", says: "crosses or touches itself"},
		{name: "spike at the first corner", room: []Point2{{5, 0}, {5, 4}, {0, 4}, {0, 0}, {8, 0}}, piece: "room", says: "crosses or touches itself"},
		{name: "corner on an edge", room: []Point2{{0, 0}, {5, 0}, {5, 4}, {2, 0}, {0, 4}}, piece: "room", says: "crosses or touches itself"},
		{name: "corner twice", room: []Point2{{0, 0}, {2, 1}, {4, 0}, {4, 3}, {2, 1}, {0, 3}}, piece: "room", says: "crosses or touches itself"},
		{name: "a line", room: []Point2{{0, 0}, {1, 0}, {2, 0}}, piece: "room", says: ""},
		{name: "tiny", room: []Point2{{0, 0}, {1e-4, 0}, {0, 1e-4}}, piece: "room", says: "no area"},
		{name: "NaN", room: []Point2{{0, 0}, {nan, 0}, {5, 4}}, piece: "room", says: "corner 2"},
		{name: "millimetres", room: box(0, 0, 50000, 40000), piece: "room", says: "give metres"},
		{name: "outside", room: room, obstacles: []Piece{piece("sofa", 0.4, box(4, 3, 5.1, 4))}, piece: "sofa", says: "0.10 m outside the room"},
		{name: "outside by 2 mm", room: room, obstacles: []Piece{piece("sofa", 0.4, box(4, 3, 5.002, 4))}, piece: "sofa", says: "2.0 mm outside the room"},
		{name: "across a notch", room: ell, obstacles: []Piece{piece("sofa", 0.4, []Point2{{1, 2.5}, {1, 1}, {4, 1}, {4, 1.9}})}, piece: "sofa", says: "outside the room"},
		{name: "round the notch", room: []Point2{{0, 0}, {5, 0}, {5, 4}, {3, 4}, {2.5, 2}, {2, 4}, {0, 4}}, obstacles: []Piece{piece("sofa", 0.4, box(1, 1, 4, 3))}, piece: "sofa", says: "outside the room"},
		{name: "test object outside", room: room, objects: []Piece{piece("sock", 0, box(6, 1, 7, 2))}, piece: "sock", says: "outside the room"},
		{name: "area outside", room: room, areas: []Piece{{Name: "rug", Kind: AreaSurface, Outline: toOrb(box(5, 0, 7, 2))}}, piece: "rug", says: "wholly outside"},
		{name: "overhead outside", room: room, overhead: []Piece{piece("table", 1, box(6, 1, 7, 2))}, piece: "table", says: "wholly outside"},
		{name: "negative height", room: room, obstacles: []Piece{piece("sofa", -1, box(1, 1, 2, 2))}, piece: "sofa", says: "height is -1"},
		{name: "NaN height", room: room, obstacles: []Piece{piece("sofa", nan, box(1, 1, 2, 2))}, piece: "sofa", says: "height is NaN"},
		{name: "kind", room: room, areas: []Piece{kind("carpet")}, piece: "ok", says: `"carpet"`},
		{name: "no kind", room: room, areas: []Piece{ok}, piece: "ok", says: "surface, target or off_limits"},
		{name: "obstacle with a kind", room: room, obstacles: []Piece{kind(AreaTarget)}, piece: "ok", says: "only areas"},
		{name: "no name", room: room, obstacles: []Piece{piece("", 1, box(1, 1, 2, 2))}, piece: "obstacle 1", says: "no name"},
		{name: "same name", room: room, obstacles: []Piece{ok, ok}, piece: "ok", says: "rename one"},
		{name: "dock outside", room: room, dock: &Pose{-1, 1, 0}, piece: "dock", says: "outside the room"},
		{name: "dock NaN", room: room, dock: &Pose{1, 1, nan}, piece: "dock", says: "finite"},
		{name: "obstacle crosses itself", room: room, obstacles: []Piece{piece("sofa", 1, []Point2{{1, 1}, {2, 2}, {2, 1}, {1, 2}})}, piece: "sofa", says: "crosses"},
	}
	for _, c := range cases {
		p, err := NewPlan(PlanSpec{Name: "p", Room: c.room, Obstacles: c.obstacles, Overhead: c.overhead, Areas: c.areas, TestObjects: c.objects, Dock: c.dock})
		var pe *PlanError
		if !errors.As(err, &pe) || pe.Piece != c.piece || !strings.Contains(pe.Reason, c.says) || p != nil {
			t.Errorf("%s: %v, want a PlanError of %q with %q", c.name, err, c.piece, c.says)
		}
	}
}

func TestNewPlanLeavesArgumentsAlone(t *testing.T) {
	room := reversed(box(0, 0, 5, 4))
	ob := []Piece{piece("a", 1, reversed(box(1, 1, 2, 2)))}
	first, ring := room[0], ob[0].Outline.Clone()
	if _, err := NewPlan(PlanSpec{Name: "p", Room: room, Obstacles: ob}); err != nil {
		t.Fatal(err)
	}
	if room[0] != first || !ob[0].Outline.Equal(ring) {
		t.Error("arguments were changed")
	}
}

// Every point of a floor that is tiled belongs to exactly one tile, on shared
// edges and corners too.
func TestHalfOpen(t *testing.T) {
	seed := int64(9)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	hub := Point2{0.7, 0.3}
	rim := []Point2{{-2, -1.7}, {1.9, -2}, {2.3, 1.1}, {0.2, 2.4}, {-1.8, 1.9}}
	var tiles []Piece
	for i, a := range rim { // each turned the other way, and started elsewhere
		tri := []Point2{hub, a, rim[(i+1)%len(rim)]}
		if i%2 == 1 {
			tri = reversed(tri)
		}
		tiles = append(tiles, piece("t", 0, tri))
	}
	all := piece("all", 0, rim)
	check := func(p Point2) {
		n := 0
		for _, x := range tiles {
			if x.Contains(p) {
				n++
			}
		}
		want := 0
		if all.Contains(p) {
			want = 1
		}
		if n != want {
			t.Errorf("%v lies in %d tiles, want %d", p, n, want)
		}
	}
	check(hub)
	for i := 0; i < 4000; i++ {
		check(Point2{rng.Float64()*6 - 3, rng.Float64()*6 - 3})
		check(lerp(hub, rim[i%len(rim)], rng.Float64()))
		check(Point2{rng.Float64()*6 - 3, rim[i%len(rim)].Y})
	}
	// A 5 x 5 floor of unit cells: centres of a box from 1 to 4 are in it, and
	// its low edges are its own, its high ones not.
	b := piece("b", 0, box(1, 1, 4, 4))
	for _, c := range []struct {
		p    Point2
		want bool
	}{{Point2{1, 1}, true}, {Point2{1, 3}, true}, {Point2{3, 1}, true}, {Point2{4, 2}, false}, {Point2{2, 4}, false}, {Point2{4, 4}, false}, {Point2{2, 2}, true}} {
		if b.Contains(c.p) != c.want {
			t.Errorf("%v in the box: %v, want %v", c.p, !c.want, c.want)
		}
	}
}

// Laws of the queries, on every awkward plan: Open implies Inside; the share of
// random points that are open is the open area; the nearest boundary is as near
// as the nearest of many points along all of them, lies on it, and no open
// point's straight way to it meets anything else.
func TestPlanQueries(t *testing.T) {
	seed := int64(13)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for name, p := range inOrder(testPlans(t)) {
		low, high := p.Bounds()
		const n, height = 4000, 0.1
		open := 0
		for i := 0; i < n; i++ {
			q := Point2{low.X + rng.Float64()*(high.X-low.X), low.Y + rng.Float64()*(high.Y-low.Y)}
			o := p.OpenFor(q, height)
			if o {
				open++
			}
			if o && !(p.Inside(q) && p.Open(q)) {
				t.Fatalf("%s: %v is open but not inside", name, q)
			}
			if i > 200 {
				continue
			}
			near := p.Nearest(q, height)
			if math.Abs(near.Point.Dist(q)-near.Distance) > 1e-12 || math.Abs(near.Along.Norm()-1) > 1e-9 {
				t.Fatalf("%s: %+v of %v", name, near, q)
			}
			if near.Wall != (near.Name == WallName) || near.Wall != (near.Piece < 0) {
				t.Fatalf("%s: %+v", name, near)
			}
			brute := bruteNearest(p, q, height)
			if near.Distance > brute+1e-12 || near.Distance < brute-0.02 {
				t.Fatalf("%s: nearest of %v is %g, brute force %g", name, q, near.Distance, brute)
			}
			if o && near.Distance > 1e-6 && !p.OpenFor(lerp(q, near.Point, 0.999), height) {
				t.Fatalf("%s: the way from %v to its nearest boundary leaves the open floor", name, q)
			}
		}
		boxArea := (high.X - low.X) * (high.Y - low.Y)
		want := p.OpenAreaFor(height) / boxArea
		if got := float64(open) / n; math.Abs(got-want) > 4*math.Sqrt(want*(1-want)/n)+1e-12 {
			t.Errorf("%s: %.4f of random points are open, area says %.4f", name, got, want)
		}
		sum := 0.0
		corners := p.Corners()
		for _, c := range corners {
			sum += math.Pi - c.Angle
		}
		// A closed outline turns once.
		if math.Abs(sum-2*math.Pi) > 1e-9*float64(len(corners)+1) {
			t.Errorf("%s: corners turn by %g, want a whole turn", name, Degrees(sum))
		}
	}
}

func bruteNearest(p *Plan, q Point2, h float64) float64 {
	best := math.Inf(1)
	rings := [][]Point2{RingCorners(p.Room)}
	for _, o := range p.Blocking(h) {
		rings = append(rings, RingCorners(o.Outline))
	}
	for _, r := range rings {
		for i, a := range r {
			for k := 0; k <= 200; k++ {
				best = math.Min(best, lerp(a, r[(i+1)%len(r)], float64(k)/200).Dist(q))
			}
		}
	}
	return best
}

func TestPlanExamples(t *testing.T) {
	p := testPlans(t)["all kinds"]
	names := func(ps []Piece) (out []string) {
		for _, x := range ps {
			out = append(out, x.Name)
		}
		return
	}
	if got := strings.Join(names(p.Blocking(0.09)), " "); got != "sofa tower low shelf sill" {
		t.Errorf("a robot 0.09 m high must go round %q", got)
	}
	if got := strings.Join(names(p.Blocking(0.08)), " "); got != "sofa tower sill" {
		t.Errorf("a robot 0.08 m high passes under the low shelf: %q", got)
	}
	if n := p.Nearest(Point2{2.2, 3}, 0.09); n.Name != "sofa" || math.Abs(n.Distance-0.2) > 1e-12 || n.Point.Dist(Point2{2, 3}) > 1e-12 || math.Abs(n.Along.X) > 1e-12 {
		t.Errorf("nearest of (2.2, 3): %+v", n)
	}
	if n := p.Nearest(Point2{4.9, 2}, 0.09); !n.Wall || math.Abs(n.Distance-0.1) > 1e-12 {
		t.Errorf("nearest of (4.9, 2): %+v", n)
	}
	for _, c := range []struct {
		q    Point2
		want float64
	}{{Point2{0.5, 0.5}, 0.015}, {Point2{0.9, 0.9}, 0.03}, {Point2{1.2, 1.2}, 0.03}, {Point2{2, 1}, 0}, {Point2{4, 1}, 0}} {
		if got := p.FloorHeight(c.q); got != c.want {
			t.Errorf("floor at %v is %g m high, want %g", c.q, got, c.want)
		}
	}
	cs := testPlans(t)["ell"].Corners()
	if len(cs) != 6 {
		t.Errorf("an L has %d corners", len(cs))
	}
	for _, c := range cs {
		want := math.Pi / 2
		if c.At == (Point2{2, 2}) {
			want = 3 * math.Pi / 2
		}
		if math.Abs(c.Angle-want) > 1e-12 {
			t.Errorf("corner %v: %g degrees", c.At, Degrees(c.Angle))
		}
	}
	if got := len(testPlans(t)["corner on a wall"].Corners()); got != 4 {
		t.Errorf("a point along a wall counts as a corner: %d", got)
	}
	if p.RoomArea() != 20 || math.Abs(p.Obstacles[0].Area()-2) > 1e-12 {
		t.Error("areas")
	}
}
