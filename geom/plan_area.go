package geom

import (
	"math"
	"slices"
	"sort"
)

// span of the plan's edges, by slabs: the floor is cut into vertical slabs at
// every corner and crossing, so that within a slab no two edges cross and each
// strip between neighbours is a trapezoid that is wholly in or out of each
// polygon. Exact but for rounding, whatever overlaps or abuts what.

// planEdge is an edge from left to right.
type planEdge struct {
	a, b Point2
	of   int // polygon
}

func (e planEdge) at(x float64) float64 {
	return e.a.Y + (x-e.a.X)*(e.b.Y-e.a.Y)/(e.b.X-e.a.X)
}

// areaWhere returns the area of the points for which keep holds of the list
// that says in which of the simple polygons they lie. keep must not hold of
// points outside all of them.
func areaWhere(polys [][]Point2, keep func(in []bool) bool) float64 {
	var edges []planEdge
	var xs []float64
	for k, poly := range polys {
		for i, a := range poly {
			b := poly[(i+1)%len(poly)]
			xs = append(xs, a.X)
			switch {
			case a.X < b.X:
				edges = append(edges, planEdge{a, b, k})
			case a.X > b.X:
				edges = append(edges, planEdge{b, a, k})
			}
		}
	}
	for i, e := range edges {
		for _, f := range edges[i+1:] {
			if x, ok := crossing(e, f); ok {
				xs = append(xs, x)
			}
		}
	}
	sort.Float64s(xs)
	xs = slices.Compact(xs)
	in := make([]bool, len(polys))
	var active []planEdge
	total := 0.0
	for i := 0; i+1 < len(xs); i++ {
		l, r := xs[i], xs[i+1]
		mid := l + (r-l)/2
		if mid <= l || mid >= r {
			continue // neighbours of the arithmetic: no area between
		}
		active = active[:0]
		for _, e := range edges {
			if e.a.X <= l && e.b.X >= r {
				active = append(active, e)
			}
		}
		slices.SortFunc(active, func(e, f planEdge) int {
			switch u, v := e.at(mid), f.at(mid); {
			case u < v:
				return -1
			case u > v:
				return 1
			}
			return 0
		})
		clear(in)
		for k, e := range active {
			in[e.of] = !in[e.of]
			if k+1 < len(active) && keep(in) {
				// A straight edge's mean height over the slab is that at its middle.
				total += (active[k+1].at(mid) - e.at(mid)) * (r - l)
			}
		}
	}
	return total
}

// crossing returns where two edges cross, strictly inside both.
func crossing(e, f planEdge) (x float64, ok bool) {
	lo, hi := math.Max(e.a.X, f.a.X), math.Min(e.b.X, f.b.X)
	if lo >= hi {
		return 0, false
	}
	d0, d1 := e.at(lo)-f.at(lo), e.at(hi)-f.at(hi)
	if d0*d1 >= 0 {
		return 0, false
	}
	x = lo + (hi-lo)*d0/(d0-d1)
	return x, x > lo && x < hi
}

// OpenArea returns the open floor, m2: the room less its obstacles, what they
// cover twice counted once. Overheads take nothing from it; OpenAreaFor does
// it for a robot that is too high for some of them.
func (p *Plan) OpenArea() float64 { return p.OpenAreaFor(0) }

// OpenAreaFor is OpenArea less the overheads lower than the robot, m2.
func (p *Plan) OpenAreaFor(robotHeight float64) float64 {
	polys := [][]Point2{RingCorners(p.Room)}
	for _, pc := range p.Blocking(robotHeight) {
		polys = append(polys, RingCorners(pc.Outline))
	}
	return areaWhere(polys, func(in []bool) bool {
		return in[0] && !slices.Contains(in[1:], true)
	})
}

// RoomArea returns the area of the room, m2.
func (p *Plan) RoomArea() float64 { return math.Abs(signedArea(RingCorners(p.Room))) }

// Area returns the area of the piece, m2.
func (pc Piece) Area() float64 { return math.Abs(signedArea(RingCorners(pc.Outline))) }
