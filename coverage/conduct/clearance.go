package conduct

import (
	"math"

	"swathe/geom"
)

// clearance returns how far the body's outline is from what it must go round,
// m (negative: into it), and the boundary that is nearest.
func (r *run) clearance(p geom.Pose) (float64, geom.Near) {
	at := geom.Point2{X: p.X, Y: p.Y}
	height := r.robot.Height
	if r.robot.Round() {
		n := r.plan.Nearest(at, height)
		d := n.Distance
		if !r.plan.OpenFor(at, height) {
			d = -d
		}
		return d - r.robot.Diameter/2, n
	}
	// Of a body with corners, the nearest of its corners to the boundary, and of
	// the boundary's corners to it.
	best, near := math.Inf(1), geom.Near{}
	body := make([]geom.Point2, len(r.robot.Outline))
	for i, b := range r.robot.Outline {
		body[i] = p.At(b)
		n := r.plan.Nearest(body[i], height)
		d := n.Distance
		if !r.plan.OpenFor(body[i], height) {
			d = -d
		}
		if d < best {
			best, near = d, n
		}
	}
	corners := geom.RingCorners(r.plan.Room)
	for _, b := range r.plan.Blocking(height) {
		corners = append(corners, geom.RingCorners(b.Outline)...)
	}
	for _, c := range corners {
		if d := ringGap(body, c); d < best {
			best, near = d, r.plan.Nearest(c, height)
		}
	}
	return best, near
}

// ringGap is the distance from p to a polygon, m; negative inside it.
func ringGap(ring []geom.Point2, p geom.Point2) float64 {
	best, in := math.Inf(1), false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		best = math.Min(best, footOn(a, b, p).Dist(p))
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)*(b.X-a.X)/(b.Y-a.Y) {
			in = !in
		}
	}
	if in {
		return -best
	}
	return best
}

// footOn returns the point of the segment a b that is nearest to p.
func footOn(a, b, p geom.Point2) geom.Point2 {
	d := b.Sub(a)
	k := d.X*d.X + d.Y*d.Y
	if k == 0 {
		return a
	}
	u := p.Sub(a)
	return a.Add(d.Scale(math.Max(0, math.Min(1, (u.X*d.X+u.Y*d.Y)/k))))
}

// OutlineGap returns the smallest distance between two outlines (floor, m, not
// closed, either sense), 0 where they overlap or touch; law: it is symmetric.
func OutlineGap(a, b []geom.Point2) float64 {
	best := math.Inf(1)
	for _, p := range a {
		best = math.Min(best, ringGap(b, p))
	}
	for _, p := range b {
		best = math.Min(best, ringGap(a, p))
	}
	if best > 0 && crossing(a, b) {
		return 0
	}
	return math.Max(0, best)
}

// crossing tells whether any edges of two outlines cross.
func crossing(a, b []geom.Point2) bool {
	side := func(p, q, r geom.Point2) float64 { return (q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X) }
	for i, p := range a {
		q := a[(i+1)%len(a)]
		for j, u := range b {
			v := b[(j+1)%len(b)]
			if side(p, q, u)*side(p, q, v) < 0 && side(u, v, p)*side(u, v, q) < 0 {
				return true
			}
		}
	}
	return false
}

// discGap returns the distance between a disc and an outline, m, 0 where they
// overlap; inside is how far the outline's point nearest to the disc's centre
// lies within the disc.
func discGap(c geom.Point2, radius float64, ring []geom.Point2) float64 {
	return math.Max(0, ringGap(ring, c)-radius)
}
