package coverage

import (
	"math"

	"swathe/geom"
)

// reach knows where the robot's centre can go from where it started.
type reach interface {
	// line returns the floor that a cleaning line and side brushes can touch: a
	// mask over the grid's cells by their centres, and its area in m2, to a
	// fraction of a cell.
	line(t geom.Tool, side ...geom.SideBrush) ([]bool, float64)
	// body returns the same for the robot's outline.
	body() ([]bool, float64)
}

// discReach is the reach of a round robot. The free placements of its centre
// are the floor at least one radius from every edge; they are known by the
// cells in them and by points exactly on their border.
type discReach struct {
	g      *Grid
	radius float64
	free   []bool        // by cell centre, the part connected with the start
	rim    []geom.Point2 // on the border of that part, about one a cell
}

// rimReach is how far, in cells, a free placement may lie from a cell's centre
// for the cell to count as touching it. A little more than half a diagonal, so
// that a channel narrower than a cell still is a chain of neighbouring cells.
const rimReach = 0.75

// clearTol absorbs rounding in a distance that should equal the radius, m.
const clearTol = 1e-9

// newDiscReach finds the free placements that connect with the start; ok is
// false if there is none within slack of it.
//
// Connectedness is decided to much less than a cell: a cell whose centre is too
// close to an edge is pushed away from it to exactly one radius, and the cell
// is passable if that point is free and nearby. So a gap between two walls is
// open if and only if it is as wide as the robot, to within some 0.2 mm at
// 5 mm cells where the walls are thin, exactly where they are long.
func newDiscReach(g *Grid, r room, radius float64, start geom.Point2, slack float64) (*discReach, bool) {
	lo := geom.Point2{X: g.X0, Y: g.Y0}
	hi := geom.Point2{X: g.X0 + float64(g.Nx)*g.Cell, Y: g.Y0 + float64(g.Ny)*g.Cell}
	n := newNearby(r.boundary(), lo, hi, radius+2*g.Cell)
	passable := make([]bool, len(g.Flags)) // the cell touches a free placement
	centre := make([]bool, len(g.Flags))   // its centre is one
	rims := newRims(len(g.Flags))
	for k, f := range g.Flags {
		if f&FlagOpen == 0 {
			continue
		}
		c := g.Centre(k)
		d, _, at := n.near(c)
		if d >= radius-clearTol {
			centre[k], passable[k] = true, true
			if d < radius+rimReach*g.Cell {
				rims.set(k, push(c, at, d, radius))
			}
			continue
		}
		if d < radius-rimReach*g.Cell || d == 0 {
			continue
		}
		p := c
		for try := 0; try < 8 && d < radius-clearTol && d > 0; try++ {
			p = push(p, at, d, radius)
			d, _, at = n.near(p)
		}
		if d >= radius-1e-7 && p.Dist(c) <= rimReach*g.Cell {
			passable[k] = true
			rims.set(k, p)
		}
	}
	from := startCell(g, start, slack, passable, rims)
	if from < 0 {
		return nil, false
	}
	part := flood(g, passable, from)
	out := &discReach{g: g, radius: radius, free: make([]bool, len(g.Flags))}
	for k, in := range part {
		if !in {
			continue
		}
		out.free[k] = centre[k]
		if p, ok := rims.get(k); ok {
			out.rim = append(out.rim, p)
		}
	}
	return out, true
}

// rims holds at most one point a cell.
type rims struct {
	at  []int32 // index in pts, -1 if the cell has none
	pts []geom.Point2
}

func newRims(n int) *rims {
	r := &rims{at: make([]int32, n)}
	for i := range r.at {
		r.at[i] = -1
	}
	return r
}

func (r *rims) set(k int, p geom.Point2) {
	r.at[k] = int32(len(r.pts))
	r.pts = append(r.pts, p)
}

func (r *rims) get(k int) (geom.Point2, bool) {
	if r.at[k] < 0 {
		return geom.Point2{}, false
	}
	return r.pts[r.at[k]], true
}

// push moves p along the line from the foot at distance d to be at distance to.
func push(p, foot geom.Point2, d, to float64) geom.Point2 {
	if d == 0 || math.IsInf(d, 1) {
		return p
	}
	k := to / d
	return geom.Point2{X: foot.X + (p.X-foot.X)*k, Y: foot.Y + (p.Y-foot.Y)*k}
}

// startCell returns the passable cell whose free placement is nearest to the
// start and within slack of it, -1 if there is none.
func startCell(g *Grid, start geom.Point2, slack float64, passable []bool, rims *rims) int {
	i0, j0 := g.cellOf(start)
	reach := int(slack/g.Cell) + 2
	best, at := slack+g.Cell/2, -1
	for j := max(0, j0-reach); j <= min(g.Ny-1, j0+reach); j++ {
		for i := max(0, i0-reach); i <= min(g.Nx-1, i0+reach); i++ {
			k := j*g.Nx + i
			if !passable[k] {
				continue
			}
			d := g.Centre(k).Dist(start)
			if p, ok := rims.get(k); ok {
				d = math.Min(d, p.Dist(start))
			}
			if d < best {
				best, at = d, k
			}
		}
	}
	return at
}

// flood returns the cells that connect with cell from, corner to corner included.
func flood(g *Grid, passable []bool, from int) []bool {
	part := make([]bool, len(passable))
	part[from] = true
	todo := []int{from}
	for len(todo) > 0 {
		k := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		ci, cj := k%g.Nx, k/g.Nx
		for j := max(0, cj-1); j <= min(g.Ny-1, cj+1); j++ {
			for i := max(0, ci-1); i <= min(g.Nx-1, ci+1); i++ {
				if q := j*g.Nx + i; passable[q] && !part[q] {
					part[q] = true
					todo = append(todo, q)
				}
			}
		}
	}
	return part
}

// line: a disc may take any heading, so a point is touched if some placement is
// between the line's least and greatest distance from the centre. Free
// placements are connected, so their distances from a point are all those
// between the least and the greatest: only a point with every placement nearer
// than the line's least distance is lost.
func (d *discReach) line(t geom.Tool, side ...geom.SideBrush) ([]bool, float64) {
	r, l := t.Left-t.Width/2, t.Left+t.Width/2
	most := math.Hypot(t.Ahead, math.Max(math.Abs(r), math.Abs(l)))
	least := math.Abs(t.Ahead)
	if r > 0 {
		least = math.Hypot(t.Ahead, r)
	} else if l < 0 {
		least = math.Hypot(t.Ahead, l)
	}
	for _, b := range side {
		at := math.Hypot(b.Ahead, b.Left)
		most = math.Max(most, at+b.Reach)
		least = math.Min(least, math.Max(0, at-b.Reach))
	}
	return d.dilate(least, most)
}

func (d *discReach) body() ([]bool, float64) { return d.dilate(0, d.radius) }

// dilate returns the floor whose distances from the free placements include one
// between least and most.
func (d *discReach) dilate(least, most float64) ([]bool, float64) {
	g := d.g
	mask := make([]bool, len(g.Flags))
	// The nearest border point of each cell within most and a cell's diagonal.
	limit := most + 1.5*g.Cell
	near := make([]float32, len(g.Flags))
	who := make([]int32, len(g.Flags))
	for k := range near {
		near[k] = float32(limit * limit / (g.Cell * g.Cell))
		who[k] = -1
	}
	lim := limit / g.Cell
	for w, p := range d.rim {
		px, py := (p.X-g.X0)/g.Cell-0.5, (p.Y-g.Y0)/g.Cell-0.5
		for j := max(0, ceil(py-lim)); j <= min(g.Ny-1, int(py+lim)); j++ {
			dy := float64(j) - py
			h := lim*lim - dy*dy
			if h < 0 {
				continue
			}
			half := math.Sqrt(h)
			for i := max(0, ceil(px-half)); i <= min(g.Nx-1, int(px+half)); i++ {
				dx := float64(i) - px
				if q := float32(dx*dx + dy*dy); q < near[j*g.Nx+i] {
					near[j*g.Nx+i], who[j*g.Nx+i] = q, int32(w)
				}
			}
		}
	}
	inside := most <= d.radius // then all that it touches is open floor
	lost := d.tooNear(least)
	area := 0.0
	for k := range mask {
		c := g.Centre(k)
		if lost(c) {
			continue
		}
		open := g.Flags[k]&FlagOpen != 0
		switch {
		case d.free[k]:
			mask[k] = true
			area++
		case who[k] >= 0 && (open || inside):
			p := d.rim[who[k]]
			dist := c.Dist(p)
			mask[k] = open && dist <= most
			area += halfPlane((most-dist)/g.Cell, c.X-p.X, c.Y-p.Y)
		}
	}
	return mask, area * g.Cell * g.Cell
}

// tooNear returns a test for points that have every free placement nearer than
// least. There are none unless the free placements fit into a disc of that size.
func (d *discReach) tooNear(least float64) func(geom.Point2) bool {
	never := func(geom.Point2) bool { return false }
	lo, hi := ring(d.rim).bounds()
	if least == 0 || len(d.rim) == 0 || hi.X-lo.X > 2*least || hi.Y-lo.Y > 2*least {
		return never
	}
	return func(p geom.Point2) bool {
		for _, q := range d.rim {
			if q.Dist(p) >= least {
				return false
			}
		}
		return true
	}
}

// halfPlane returns the share of a unit square that lies on the near side of a
// straight border at signed distance d (in squares) beyond its centre, the
// border's normal being (nx, ny) at any length.
func halfPlane(d, nx, ny float64) float64 {
	n := math.Hypot(nx, ny)
	if n == 0 {
		return 1
	}
	a, b := math.Abs(nx)/n, math.Abs(ny)/n
	if a < b {
		a, b = b, a
	}
	// Along the normal the square is a trapezium: half-width (a+b)/2 at its
	// foot and (a-b)/2 at its top, 1/a high.
	foot, top := (a+b)/2, (a-b)/2
	x := math.Abs(d)
	var beyond float64 // area farther than x from the centre on one side
	switch {
	case x >= foot:
		beyond = 0
	case x <= top:
		beyond = 0.5 - x/a
	default:
		beyond = (foot - x) * (foot - x) / (2 * a * b)
	}
	if d >= 0 {
		return 1 - beyond
	}
	return beyond
}
