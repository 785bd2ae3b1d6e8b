package coverage

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	sf "github.com/peterstace/simplefeatures/geom"

	"swathe/geom"
)

// The exact areas here are unions by peterstace/simplefeatures, an outside
// library, of polygons that the tests make on their own from the poses.

// long tells whether the long tests were asked for.
func long() bool { return os.Getenv("SWATHE_LONG") == "1" }

func polygon(t testing.TB, pts ...geom.Point2) sf.Geometry {
	t.Helper()
	var xy []float64
	for _, p := range append(pts, pts[0]) {
		xy = append(xy, p.X, p.Y)
	}
	p := sf.NewPolygon([]sf.LineString{sf.NewLineString(sf.NewSequence(xy, sf.DimXY))})
	if err := p.Validate(); err != nil {
		t.Fatalf("%v: %v", err, pts)
	}
	return p.AsGeometry()
}

// lineEnds returns the ends of a tool's line at a pose.
func lineEnds(p geom.Pose, w geom.Tool) (a, b geom.Point2) {
	return p.At(geom.Point2{X: w.Ahead, Y: w.Left - w.Width/2}), p.At(geom.Point2{X: w.Ahead, Y: w.Left + w.Width/2})
}

// sweptPolygons returns what a line sweeps between two poses that turn by little:
// a quadrilateral, or the two triangles of a bow tie.
func sweptPolygons(t testing.TB, p, q geom.Pose, w geom.Tool) []sf.Geometry {
	a, b := lineEnds(p, w)
	c, d := lineEnds(q, w)
	cross := func(o, u, v geom.Point2) float64 { return (u.X-o.X)*(v.Y-o.Y) - (u.Y-o.Y)*(v.X-o.X) }
	tri := func(out []sf.Geometry, u, v, w geom.Point2) []sf.Geometry {
		if math.Abs(cross(u, v, w)) > 1e-12 {
			out = append(out, polygon(t, u, v, w))
		}
		return out
	}
	// The lines cross if each has the other's ends at either side.
	if x, y := cross(a, b, c), cross(a, b, d); x*y < 0 {
		if v, z := cross(c, d, a), cross(c, d, b); v*z < 0 {
			at := c.Add(d.Sub(c).Scale(x / (x - y)))
			return tri(tri(nil, a, c, at), b, d, at)
		}
	}
	return tri(tri(nil, a, b, d), a, d, c)
}

// randomPath drives straights, arcs, reverses and spins inside a box, at least
// length m of them.
func randomPath(rng *rand.Rand, w, h, length float64) *pen {
	p := newPen(w*(0.3+0.4*rng.Float64()), h*(0.3+0.4*rng.Float64()), 2*math.Pi*rng.Float64())
	p.dt = 0.1
	for far := 0.0; far < length; {
		before, n := *p, len(p.ss)
		leg := 0.0
		switch rng.IntN(4) {
		case 0:
			leg = 0.3 + rng.Float64()
			p.drive(leg, 0.3, 0)
		case 1:
			leg = 0.3 + rng.Float64()
			p.drive(leg, 0.3, 3*(rng.Float64()-0.5))
		case 2:
			leg = 0.2 + 0.3*rng.Float64()
			p.drive(-leg, 0.3, 0)
		case 3:
			p.spin(4*(rng.Float64()-0.5), 1)
		}
		if p.pose.X < 0.4 || p.pose.Y < 0.4 || p.pose.X > w-0.4 || p.pose.Y > h-0.4 {
			ss := p.ss[:n]
			*p = before
			p.ss = ss
			p.spin(1, 1)
			leg = 0
		}
		far += leg
	}
	return p
}

// exactUnion returns the exact area that a line sweeps along a path, in a room
// less its obstacles, turns cut so that chords are within a micrometre or so.
func exactUnion(t testing.TB, tr *geom.Trace, w geom.Tool, plan *geom.Plan) float64 {
	var parts []sf.Geometry
	for i := 1; i < len(tr.Samples); i++ {
		a := tr.Samples[i-1].Pose()
		for i+1 < len(tr.Samples) && onward(a, tr.Samples[i].Pose(), tr.Samples[i+1].Pose()) {
			i++ // a straight stretch is one polygon
		}
		b := tr.Samples[i].Pose()
		n := max(1, int(math.Ceil(math.Abs(b.Heading-a.Heading)/0.04)))
		for k := 0; k < n; k++ {
			parts = append(parts, sweptPolygons(t, mix(a, b, float64(k)/float64(n)), mix(a, b, float64(k+1)/float64(n)), w)...)
		}
	}
	u := unionOf(t, parts)
	var err error
	room := polygon(t, ringOf(plan.Room)...)
	for _, o := range plan.Obstacles {
		if room, err = sf.Difference(room, polygon(t, ringOf(o.Outline)...)); err != nil {
			t.Fatal(err)
		}
	}
	if u, err = sf.Intersection(u, room); err != nil {
		t.Fatal(err)
	}
	return u.Area()
}

// unionOf joins neighbours, then their unions, and so on: all at once, the
// library was seen to lose polygons that hold others.
func unionOf(t testing.TB, parts []sf.Geometry) sf.Geometry {
	t.Helper()
	for len(parts) > 1 {
		var next []sf.Geometry
		for i := 0; i < len(parts); i += 2 {
			u := parts[i]
			if i+1 < len(parts) {
				var err error
				if u, err = sf.Union(u, parts[i+1]); err != nil {
					t.Fatal(err)
				}
			}
			next = append(next, u)
		}
		parts = next
	}
	return parts[0]
}

// onward tells whether c carries a straight drive from a to b on.
func onward(a, b, c geom.Pose) bool {
	u, v := geom.Point2{X: b.X - a.X, Y: b.Y - a.Y}, geom.Point2{X: c.X - b.X, Y: c.Y - b.Y}
	return a.Heading == b.Heading && b.Heading == c.Heading && u.X*v.X+u.Y*v.Y > 0 && math.Abs(u.X*v.Y-u.Y*v.X) < 1e-12
}

func mix(a, b geom.Pose, u float64) geom.Pose {
	return geom.Pose{X: a.X + u*(b.X-a.X), Y: a.Y + u*(b.Y-a.Y), Heading: a.Heading + u*(b.Heading-a.Heading)}
}

// randomRoom returns a four-cornered room with an obstacle.
func randomRoom(rng *rand.Rand) *geom.Plan {
	j := func(v float64) float64 { return v + 0.4*rng.Float64() }
	x, y := 0.6+1.5*rng.Float64(), 0.6+rng.Float64()
	return planOf([][2]float64{{-j(0), -j(0)}, {j(2.6), -j(0)}, {j(2.6), j(2)}, {-j(0), j(2)}},
		piece("box", [][2]float64{{x, y}, {x + 0.3, y + 0.1}, {x + 0.2, y + 0.5}, {x - 0.1, y + 0.3}}))
}

// Random rooms and paths against the exact union: 0.2 % at 5 mm cells, 0.1 % at
// the automatic cell (every tenth room). 200 rooms; with SWATHE_LONG=1 500, all at both.
func TestSweepAgainstExactUnion(t *testing.T) {
	const seed = 20240
	n, every := 100, 10
	if long() {
		n, every = 500, 1
	}
	t.Logf("seed %d, %d rooms", seed, n)
	rng := rand.New(rand.NewPCG(seed, 1))
	worst, worstAuto, sum, finest := 0.0, 0.0, 0.0, 1.0
	for i := 0; i < n; i++ {
		plan := randomRoom(rng)
		tool := geom.Tool{Name: "brush", Width: 0.15 + 0.2*rng.Float64(), Ahead: 0.2 * (rng.Float64() - 0.5), Left: 0.1 * (rng.Float64() - 0.5)}
		robot := geom.Robot{Diameter: 0.34, Height: 0.1, Tools: []geom.Tool{tool}}
		tr := randomPath(rng, 3, 2.4, 4).trace()
		want := exactUnion(t, tr, tool, plan)
		opt := at(0.005)
		m := &measurer{trace: tr, plan: plan, robot: robot, opt: opt, room: roomOf(plan, robot.Height), pts: pathOf(tr, nil)}
		m.openM2 = m.room.openArea()
		got, _ := m.sweptBy(tool, nil).covered(nil)
		e := math.Abs(got-want) / want
		worst, sum = math.Max(worst, e), sum+e*e
		if e > 0.002 {
			t.Errorf("room %d: covered %.6f m2 at 5 mm, exact %.6f: off by %.3f %%", i, got, want, 100*e)
		}
		if i%every != 0 {
			continue
		}
		m.chooseCell()
		got, _ = m.sweptBy(tool, nil).covered(nil)
		e = math.Abs(got-want) / want
		worstAuto, finest = math.Max(worstAuto, e), math.Min(finest, m.opt.Cell)
		if e > 0.001 {
			t.Errorf("room %d: covered %.6f m2 at the automatic %.2f mm, exact %.6f: off by %.3f %%", i, got, 1000*m.opt.Cell, want, 100*e)
		}
	}
	t.Logf("5 mm: worst %.4f %% (allowed 0.2 %%), rms %.4f %%; automatic (down to %.2f mm): worst %.4f %% (allowed 0.1 %%)",
		100*worst, 100*math.Sqrt(sum/float64(n)), finest*1000, 100*worstAuto)
}

// capsulePolygons returns the points within r of an edge, as polygons whose arcs
// are circumscribed (outside true) or inscribed.
func capsulePolygon(t testing.TB, a, b geom.Point2, r float64, outside bool) sf.Geometry {
	const n = 64 // corners of each half circle
	if outside {
		r /= math.Cos(math.Pi / n / 2)
	}
	dir := math.Atan2(b.Y-a.Y, b.X-a.X)
	var pts []geom.Point2
	for _, end := range []struct {
		c    geom.Point2
		from float64
	}{{b, dir - math.Pi/2}, {a, dir + math.Pi/2}} {
		for k := 0; k <= n; k++ {
			s, c := math.Sincos(end.from + math.Pi*float64(k)/n)
			pts = append(pts, geom.Point2{X: end.c.X + r*c, Y: end.c.Y + r*s})
		}
	}
	return polygon(t, pts...)
}

// The reach of discs against exact erosion and dilation: the room less every
// edge's capsule (erosion), then the union of capsules of what is left
// (dilation). Polygons stand in for circles, and their error is below 0.01 %.
func TestReachAgainstExactErosionAndDilation(t *testing.T) {
	const seed = 7
	n := 6
	if long() {
		n = 100
	}
	t.Logf("seed %d, %d rooms", seed, n)
	rng := rand.New(rand.NewPCG(seed, 1))
	worst := 0.0
	for i := 0; i < n; i++ {
		plan := randomRoom(rng)
		radius := 0.12 + 0.08*rng.Float64()
		tool := geom.Tool{Width: 0.12 + 0.06*rng.Float64(), Ahead: 0.05 * rng.Float64()}
		r := roomOf(plan, 0.1)
		free := polygon(t, r.walls...)
		var err error
		diff := func(g sf.Geometry) {
			if free, err = sf.Difference(free, g); err != nil {
				t.Fatal(err)
			}
		}
		for _, b := range r.blocks {
			diff(polygon(t, b.ring...))
		}
		for _, w := range r.boundary() {
			diff(capsulePolygon(t, w.a, w.b, radius, true))
		}
		start := geom.Point2{X: 0.25, Y: 0.25}
		part := partAt(t, free, start)
		grow := func(by float64) float64 {
			parts := []sf.Geometry{part.AsGeometry()}
			seq := part.ExteriorRing().Coordinates()
			rings := []sf.Sequence{seq}
			for k := 0; k < part.NumInteriorRings(); k++ {
				rings = append(rings, part.InteriorRingN(k).Coordinates())
			}
			for _, seq := range rings {
				for k := 1; k < seq.Length(); k++ {
					a, b := seq.GetXY(k-1), seq.GetXY(k)
					parts = append(parts, capsulePolygon(t, geom.Point2{X: a.X, Y: a.Y}, geom.Point2{X: b.X, Y: b.Y}, by, false))
				}
			}
			return unionOf(t, parts).Area()
		}
		d, ok := newDiscReach(r.openGrid(0.005), r, radius, start, 0.05)
		if !ok {
			t.Fatalf("room %d: the start is not free", i)
		}
		_, got := d.line(tool)
		want := grow(toolReach(tool))
		e := math.Abs(got-want) / want
		worst = math.Max(worst, e)
		if e > 0.001 {
			t.Errorf("room %d: line reaches %.6f m2, exact %.6f: off by %.3f %%", i, got, want, 100*e)
		}
	}
	t.Logf("worst %.4f %% (allowed 0.1 %%)", 100*worst)
}

// partAt returns the polygon of a geometry that holds the point.
func partAt(t testing.TB, g sf.Geometry, p geom.Point2) sf.Polygon {
	t.Helper()
	pt := sf.NewPoint(sf.Coordinates{XY: sf.XY{X: p.X, Y: p.Y}}).AsGeometry()
	for _, q := range g.Dump() {
		if q.IsPolygon() && sf.Intersects(q, pt) {
			return q.MustAsPolygon()
		}
	}
	t.Fatal("no part holds the start")
	return sf.Polygon{}
}
