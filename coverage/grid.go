package coverage

import (
	"math"
	"sort"

	"swathe/geom"
)

// cellOf returns the column and row of the cell that holds p; outside the grid
// they are out of range.
func (g *Grid) cellOf(p geom.Point2) (i, j int) {
	return int(math.Floor((p.X - g.X0) / g.Cell)), int(math.Floor((p.Y - g.Y0) / g.Cell))
}

// newGrid returns an empty grid that spans the room. Its origin is the room's
// lowest corner, so that walls on whole cells are exact.
func newGrid(room ring, cell float64) *Grid {
	lo, hi := room.bounds()
	// A room of 4.2 m is 840 cells of 5 mm although 4.2/0.005 is not a whole
	// number in binary: a millionth of a cell more is no further cell.
	const slack = 1e-6
	g := &Grid{X0: lo.X, Y0: lo.Y, Cell: cell}
	g.Nx = max(1, int(math.Ceil((hi.X-lo.X)/cell-slack)))
	g.Ny = max(1, int(math.Ceil((hi.Y-lo.Y)/cell-slack)))
	return g
}

// ring is a polygon's boundary, floor, m, not closed (the last corner joins the
// first).
type ring []geom.Point2

// ringOf turns a closed or open list of coordinate pairs, such as an orb.Ring,
// into a ring.
func ringOf[P ~[2]float64, R ~[]P](r R) ring {
	out := make(ring, 0, len(r))
	for _, p := range r {
		out = append(out, geom.Point2{X: p[0], Y: p[1]})
	}
	if n := len(out); n > 1 && out[0] == out[n-1] {
		out = out[:n-1]
	}
	return out
}

func (r ring) bounds() (lo, hi geom.Point2) {
	lo = geom.Point2{X: math.Inf(1), Y: math.Inf(1)}
	hi = geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range r {
		lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
		hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
	}
	return lo, hi
}

// contains tells whether p is inside, half-open like the cells.
func (r ring) contains(p geom.Point2) bool {
	in := false
	for i, a := range r {
		b := r[(i+1)%len(r)]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X >= crossX(a, b, p.Y) {
			in = !in
		}
	}
	return in
}

// crossX returns where the edge a-b crosses the height y. It gives the same
// number whichever end comes first, so that two polygons agree on an edge that
// they share.
func crossX(a, b geom.Point2, y float64) float64 {
	if a.Y > b.Y {
		a, b = b, a
	}
	return a.X + (y-a.Y)*((b.X-a.X)/(b.Y-a.Y))
}

// eachSpan calls fn for every row's runs of cells [i0, i1) whose centres are
// inside the ring, by the even-odd rule, clipped to the grid.
func (g *Grid) eachSpan(r ring, fn func(j, i0, i1 int)) {
	if len(r) < 3 {
		return
	}
	lo, hi := r.bounds()
	j0 := max(0, int(math.Ceil((lo.Y-g.Y0)/g.Cell-0.5)))
	j1 := min(g.Ny-1, int(math.Floor((hi.Y-g.Y0)/g.Cell-0.5)))
	var xs []float64
	for j := j0; j <= j1; j++ {
		y := g.Y0 + (float64(j)+0.5)*g.Cell
		xs = xs[:0]
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if (a.Y > y) != (b.Y > y) {
				xs = append(xs, crossX(a, b, y))
			}
		}
		sort.Float64s(xs)
		for k := 0; k+1 < len(xs); k += 2 {
			i0 := max(0, int(math.Ceil((xs[k]-g.X0)/g.Cell-0.5)))
			i1 := min(g.Nx, int(math.Ceil((xs[k+1]-g.X0)/g.Cell-0.5)))
			if i0 < i1 {
				fn(j, i0, i1)
			}
		}
	}
}

// setFlag sets the flag on every cell whose centre is inside the ring.
func (g *Grid) setFlag(r ring, flag uint8) {
	g.eachSpan(r, func(j, i0, i1 int) {
		row := g.Flags[j*g.Nx : (j+1)*g.Nx]
		for i := i0; i < i1; i++ {
			row[i] |= flag
		}
	})
}

// clearFlag is the inverse of setFlag.
func (g *Grid) clearFlag(r ring, flag uint8) {
	g.eachSpan(r, func(j, i0, i1 int) {
		row := g.Flags[j*g.Nx : (j+1)*g.Nx]
		for i := i0; i < i1; i++ {
			row[i] &^= flag
		}
	})
}

// room is the plan as one robot meets it.
type room struct {
	walls    ring
	blocks   []block // obstacles, and overhead things that are lower than the robot
	overhead []block // the overhead things that it passes beneath
}

// block is a named piece of the plan.
type block struct {
	name string
	ring ring
}

func roomOf(plan *geom.Plan, robotHeight float64) room {
	r := room{walls: ringOf(plan.Room)}
	for _, p := range plan.Obstacles {
		r.blocks = append(r.blocks, block{p.Name, ringOf(p.Outline)})
	}
	for _, p := range plan.Overhead {
		b := block{p.Name, ringOf(p.Outline)}
		if p.Height < robotHeight {
			r.blocks = append(r.blocks, b)
		} else {
			r.overhead = append(r.overhead, b)
		}
	}
	return r
}

// CommonFloor returns the area of a room less what stands on its floor, m2: the
// open floor of a robot that passes beneath all else, whatever its own height.
// Robots of all heights are compared on it.
func CommonFloor(plan *geom.Plan) float64 { return roomOf(plan, 0).openArea() }

// openGrid returns the grid with FlagOpen set on the open floor.
func (r room) openGrid(cell float64) *Grid {
	g := newGrid(r.walls, cell)
	g.Flags = make([]uint8, g.Nx*g.Ny)
	g.setFlag(r.walls, FlagOpen)
	for _, b := range r.blocks {
		g.clearFlag(b.ring, FlagOpen)
	}
	return g
}

// open tells whether a floor point is open floor.
func (r room) open(p geom.Point2) bool {
	if !r.walls.contains(p) {
		return false
	}
	for _, b := range r.blocks {
		if b.ring.contains(p) {
			return false
		}
	}
	return true
}
