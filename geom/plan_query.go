package geom

import (
	"math"
	"sort"

	"github.com/paulmach/orb"
)

// InRing tells whether p lies in a simple polygon. The rule is half open: of
// two polygons that share an edge, a point on it lies in exactly one, because
// both take the same decision about the same edge.
func InRing(r []Point2, p Point2) bool {
	in := false
	n := len(r)
	for i, a := range r {
		if crosses(a, r[(i+1)%n], p) {
			in = !in
		}
	}
	return in
}

// crosses tells whether the ray from p along +x meets the edge a b. The edge
// is taken from its lower end in either sense, so that rounding is the same
// for both polygons that share it.
func crosses(a, b, p Point2) bool {
	if a.Y > b.Y {
		a, b = b, a
	}
	if p.Y < a.Y || p.Y >= b.Y {
		return false
	}
	return p.X < a.X+(p.Y-a.Y)*(b.X-a.X)/(b.Y-a.Y)
}

// inOrb is InRing without copying the ring.
func inOrb(r orb.Ring, p Point2) bool {
	in := false
	for i := 0; i+1 < len(r); i++ {
		if crosses(Point2{r[i][0], r[i][1]}, Point2{r[i+1][0], r[i+1][1]}, p) {
			in = !in
		}
	}
	return in
}

// NearestOn returns the point of the segment a b nearest to p, on the floor, m.
func NearestOn(a, b, p Point2) Point2 {
	d := b.Sub(a)
	k := d.X*d.X + d.Y*d.Y
	if k == 0 {
		return a
	}
	u := p.Sub(a)
	return lerp(a, b, math.Max(0, math.Min(1, (u.X*d.X+u.Y*d.Y)/k)))
}

// ringDistance is the distance from p to a polygon's boundary.
func ringDistance(r []Point2, p Point2) float64 {
	best := math.Inf(1)
	for i, a := range r {
		best = math.Min(best, NearestOn(a, r[(i+1)%len(r)], p).Dist(p))
	}
	return best
}

// RingFloorDistance is how far p lies from the floor within a polygon, m; 0 within it.
func RingFloorDistance(r []Point2, p Point2) float64 {
	if InRing(r, p) {
		return 0
	}
	return ringDistance(r, p)
}

// cutsOf returns where, as shares in [0, 1] and in order, the segment a b
// starts, ends, meets edges of ring and passes its corners.
func cutsOf(a, b Point2, ring []Point2) []float64 {
	cuts := []float64{0, 1}
	d := b.Sub(a)
	k := d.X*d.X + d.Y*d.Y
	for i, c := range ring {
		e := ring[(i+1)%len(ring)].Sub(c)
		u := c.Sub(a)
		if den := d.X*e.Y - d.Y*e.X; den != 0 {
			t, s := (u.X*e.Y-u.Y*e.X)/den, (u.X*d.Y-u.Y*d.X)/den
			if t > 0 && t < 1 && s >= 0 && s <= 1 {
				cuts = append(cuts, t)
			}
		}
		if t := (u.X*d.X + u.Y*d.Y) / k; t > 0 && t < 1 {
			cuts = append(cuts, t)
		}
	}
	sort.Float64s(cuts)
	return cuts
}

// Contains tells whether floor point p lies in the piece, half open: a point
// on an edge that two pieces share lies in exactly one.
func (pc Piece) Contains(p Point2) bool { return inOrb(pc.Outline, p) }

// Inside tells whether p lies in the room, half open as Piece.Contains.
func (p *Plan) Inside(q Point2) bool { return inOrb(p.Room, q) }

// Open tells whether p lies in the room and in no obstacle.
func (p *Plan) Open(q Point2) bool { return p.OpenFor(q, 0) }

// OpenFor tells whether p lies in the room, in no obstacle and under no
// overhead lower than the robot.
func (p *Plan) OpenFor(q Point2, robotHeight float64) bool {
	if !p.Inside(q) {
		return false
	}
	for _, o := range p.Obstacles {
		if o.Contains(q) {
			return false
		}
	}
	for _, o := range p.Overhead {
		if o.Height < robotHeight && o.Contains(q) {
			return false
		}
	}
	return true
}

// Blocking returns what a robot of this height (m) must go round: the
// obstacles, then the overheads that are lower than it.
func (p *Plan) Blocking(robotHeight float64) []Piece {
	out := append([]Piece(nil), p.Obstacles...)
	for _, o := range p.Overhead {
		if o.Height < robotHeight {
			out = append(out, o)
		}
	}
	return out
}

// Bounds returns the corners of the least box that holds the room.
func (p *Plan) Bounds() (low, high Point2) {
	low, high = Point2{math.Inf(1), math.Inf(1)}, Point2{math.Inf(-1), math.Inf(-1)}
	for _, q := range p.Room {
		low = Point2{math.Min(low.X, q[0]), math.Min(low.Y, q[1])}
		high = Point2{math.Max(high.X, q[0]), math.Max(high.Y, q[1])}
	}
	return low, high
}

// FloorHeight returns how high the surface on which a robot at p drives lies
// above the floor, m: the highest area that holds p, 0 outside all.
func (p *Plan) FloorHeight(q Point2) float64 {
	h := 0.0
	for _, a := range p.Areas {
		if a.Height > h && a.Contains(q) {
			h = a.Height
		}
	}
	return h
}

// WallName is what Near calls the room's own outline.
const WallName = "wall"

// Near is the nearest place of what a robot must go round.
type Near struct {
	Distance float64 // m, to the boundary, whichever side of it the point is on
	Point    Point2  // floor, m: the place on it
	Name     string  // of the piece, or WallName
	Wall     bool    // it is the room's outline
	Piece    int     // index into Blocking; -1 for the wall
	Edge     int     // number of the edge, counter-clockwise from the first corner
	Along    Point2  // unit vector along the edge, floor
}

// Nearest returns the nearest boundary, of the room or of what a robot of this
// height must go round. Of two at the same distance the wall counts, then the
// earlier piece.
func (p *Plan) Nearest(q Point2, robotHeight float64) Near {
	best := Near{Distance: math.Inf(1), Piece: -1}
	least := math.Inf(1) // squared: the root is for the last one only
	look := func(r orb.Ring, name string, wall bool, piece int) {
		for i := 0; i+1 < len(r); i++ {
			a, b := Point2{r[i][0], r[i][1]}, Point2{r[i+1][0], r[i+1][1]}
			c := NearestOn(a, b, q)
			u := c.Sub(q)
			if d := u.X*u.X + u.Y*u.Y; d < least {
				least = d
				best = Near{0, c, name, wall, piece, i, b.Sub(a)}
			}
		}
	}
	look(p.Room, WallName, true, -1)
	k := 0
	for _, o := range p.Obstacles {
		look(o.Outline, o.Name, false, k)
		k++
	}
	for _, o := range p.Overhead {
		if o.Height < robotHeight {
			look(o.Outline, o.Name, false, k)
			k++
		}
	}
	best.Distance = best.Point.Dist(q)
	best.Along = best.Along.Scale(1 / best.Along.Norm())
	return best
}

// Corner is a corner of the room.
type Corner struct {
	At    Point2  // floor, m
	Angle float64 // rad, of the room's inside: below pi for one to clean into, above for one that juts out
}

// straightCorner, rad: a corner that differs from a straight wall by less is
// no corner: one degree is 17 mm in a metre, the least that shows in a plan.
const straightCorner = math.Pi / 180

// Corners returns the corners of the room, counter-clockwise.
func (p *Plan) Corners() []Corner {
	r := RingCorners(p.Room)
	n := len(r)
	var out []Corner
	for i, b := range r {
		a, c := r[(i+n-1)%n], r[(i+1)%n]
		u, v := a.Sub(b), c.Sub(b)
		in := math.Atan2(v.X*u.Y-v.Y*u.X, u.X*v.X+u.Y*v.Y)
		if in < 0 {
			in += 2 * math.Pi
		}
		if math.Abs(in-math.Pi) >= straightCorner {
			out = append(out, Corner{b, in})
		}
	}
	return out
}
