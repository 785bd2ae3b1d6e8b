package coverage

import (
	"cmp"
	"math"
	"slices"

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
	rims := &rims{}
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
	flood(g, passable, from)
	out := &discReach{g: g, radius: radius, free: centre}
	for k, in := range passable {
		if !in {
			centre[k] = false
		}
	}
	for n, k := range rims.cells {
		if passable[k] {
			out.rim = append(out.rim, rims.pts[n])
		}
	}
	return out, true
}

// rims holds at most one point a cell; they are put in by rising cells.
type rims struct {
	cells []int
	pts   []geom.Point2
}

func (r *rims) set(k int, p geom.Point2) {
	r.cells, r.pts = append(r.cells, k), append(r.pts, p)
}

func (r *rims) get(k int) (geom.Point2, bool) {
	n, ok := slices.BinarySearch(r.cells, k)
	if !ok {
		return geom.Point2{}, false
	}
	return r.pts[n], true
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

// flood keeps of a mask the cells that connect with cell from, which is one of
// them, corner to corner included. It goes by runs of cells along the rows.
func flood(g *Grid, mask []bool, from int) {
	type run struct{ row, from, to int32 } // cells from to to-1 of a row
	var runs []run
	rows := make([]int, g.Ny+1) // where each row's begin
	start := 0
	for j := range g.Ny {
		rows[j] = len(runs)
		row := mask[j*g.Nx : (j+1)*g.Nx]
		for i := 0; i < len(row); i++ {
			if !row[i] {
				continue
			}
			first := i
			for i < len(row) && row[i] {
				i++
			}
			if k := from - j*g.Nx; k >= first && k < i {
				start = len(runs)
			}
			runs = append(runs, run{int32(j), int32(first), int32(i)})
		}
	}
	rows[g.Ny] = len(runs)
	kept := make([]bool, len(runs))
	kept[start] = true
	for todo := []int{start}; len(todo) > 0; {
		at := runs[todo[len(todo)-1]]
		todo = todo[:len(todo)-1]
		for j := max(0, int(at.row)-1); j <= min(g.Ny-1, int(at.row)+1); j++ {
			beside := runs[rows[j]:rows[j+1]]
			k, _ := slices.BinarySearchFunc(beside, at.from, func(r run, x int32) int { return int(r.to - x) })
			for ; k < len(beside) && beside[k].from <= at.to; k++ {
				if n := rows[j] + k; !kept[n] {
					kept[n] = true
					todo = append(todo, n)
				}
			}
		}
	}
	for n, r := range runs {
		if !kept[n] {
			clear(mask[int(r.row)*g.Nx+int(r.from) : int(r.row)*g.Nx+int(r.to)])
		}
	}
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
	// The nearest border point of each cell within most and a cell's diagonal, row by
	// row, so that a hall takes no more memory than a room.
	lim := (most + 1.5*g.Cell) / g.Cell
	near, who := make([]float32, g.Nx), make([]int32, g.Nx)
	rim := make([]spot, len(d.rim)) // in cells, of centres
	order := make([]int32, len(d.rim))
	for w, p := range d.rim {
		rim[w] = spot{(p.X-g.X0)/g.Cell - 0.5, (p.Y-g.Y0)/g.Cell - 0.5}
		order[w] = int32(w)
	}
	slices.SortFunc(order, func(a, b int32) int { return cmp.Compare(rim[a].y, rim[b].y) })
	inside := most <= d.radius // then all that it touches is open floor
	lost := d.tooNear(least)
	area := 0.0
	for j, lo := 0, 0; j < g.Ny; j++ {
		for i := range near {
			near[i], who[i] = float32(lim*lim), -1
		}
		for lo < len(order) && rim[order[lo]].y < float64(j)-lim {
			lo++
		}
		for _, w := range order[lo:] {
			p := rim[w]
			dy := float64(j) - p.y
			if dy < -lim {
				break
			}
			h := lim*lim - dy*dy
			if h < 0 {
				continue
			}
			half := math.Sqrt(h)
			for i := max(0, ceil(p.x-half)); i <= min(g.Nx-1, int(p.x+half)); i++ {
				dx := float64(i) - p.x
				if q := float32(dx*dx + dy*dy); q < near[i] || q == near[i] && w < who[i] {
					near[i], who[i] = q, w
				}
			}
		}
		for i := range g.Nx {
			k := j*g.Nx + i
			if who[i] < 0 && !d.free[k] {
				continue
			}
			c := g.Centre(k)
			if lost(c) {
				continue
			}
			open := g.Flags[k]&FlagOpen != 0
			switch {
			case d.free[k]:
				mask[k] = true
				area++
			case open || inside:
				p := d.rim[who[i]]
				dist := c.Dist(p)
				mask[k] = open && dist <= most
				area += halfPlane((most-dist)/g.Cell, c.X-p.X, c.Y-p.Y)
			}
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
