package coverage

import (
	"math"

	"swathe/geom"
)

// chordShare bounds, in cells, how far the chord of a turning line's arc may lie
// from the arc.
const chordShare = 0.02

// cell is the state of one cell while a path is swept: 8 bytes, because half of
// a sweep's time goes into fetching cells.
type cell struct {
	last   int32 // when last under the tool: travel in units of travelUnit; never if it was not
	passes uint16
	open   uint16 // 1 on open floor, else 0
}

// travelUnit is the resolution at which a cell remembers travel, m: a hundredth
// of a millimetre, so that 21 km fit. A path is known to a millimetre at best.
const travelUnit = 1e-5

// never is farther back than any robot's radius.
const never = math.MinInt32

// sweeper sweeps tools over a grid. Grid coordinates: cell centres at whole
// numbers, (0, 0) the lowest cell.
type sweeper struct {
	nx, ny int
	x0, y0 float64 // floor, m, of the centre of cell (0, 0)
	size   float64 // m
	inv    float64 // 1/size
	radius float64 // m of travel that end a pass
	cells  []cell
	first  []float32 // s, first time under the tool, where passes > 0
	log    *[]PassAt // gets every pass of open floor; nil: none

	rows []crossings // one a row, count 0 between quadrilaterals

	// The step that is being swept, from u = 0 to 1: travel in units of
	// travelUnit, time in s.
	from, length, limit, t0, dt float64

	// What the current step did, in open cells.
	newCells, passCells, sweptCells int
}

// crossings are the places where the four edges of a quadrilateral cross a row.
type crossings struct {
	n int
	x [4]float64 // column
	u [4]float64 // 0..1, when within the step the line is there
}

// spot is a point in grid coordinates.
type spot struct{ x, y float64 }

func newSweeper(g *Grid, radius float64) *sweeper {
	s := &sweeper{
		nx: g.Nx, ny: g.Ny, size: g.Cell, inv: 1 / g.Cell, radius: radius,
		x0: g.X0 + g.Cell/2, y0: g.Y0 + g.Cell/2,
		cells: make([]cell, g.Nx*g.Ny),
		first: make([]float32, g.Nx*g.Ny),
		rows:  make([]crossings, g.Ny),
	}
	for i := range s.cells {
		s.cells[i].open = uint16(g.Flags[i] & FlagOpen)
	}
	s.reset()
	return s
}

// reset forgets what was swept.
func (s *sweeper) reset() {
	for i := range s.cells {
		s.cells[i] = cell{last: never, open: s.cells[i].open}
	}
}

func (s *sweeper) toGrid(p geom.Point2) spot {
	return spot{(p.X - s.x0) * s.inv, (p.Y - s.y0) * s.inv}
}

// line returns the ends of the tool's line, right end first, at a pose.
func (s *sweeper) line(tool geom.Tool, x, y, sin, cos float64) (a, b spot) {
	r, l := tool.Left-tool.Width/2, tool.Left+tool.Width/2
	mx, my := x+cos*tool.Ahead, y+sin*tool.Ahead
	return s.toGrid(geom.Point2{X: mx - sin*r, Y: my + cos*r}),
		s.toGrid(geom.Point2{X: mx - sin*l, Y: my + cos*l})
}

// maxTurn returns the turn over which the chord of an arc of the given radius
// (m) stays within chordShare of a cell.
func (s *sweeper) maxTurn(radius float64) float64 {
	return 2 * math.Acos(math.Max(0, 1-chordShare*s.size/math.Max(radius, s.size)))
}

// toolReach returns the distance from the turning centre to the line's farther end.
func toolReach(t geom.Tool) float64 {
	return math.Hypot(t.Ahead, math.Abs(t.Left)+t.Width/2)
}

// run sweeps the tool, and the side brushes if any are given, along the path.
// steps may be nil; otherwise it gets what each interval did.
func (s *sweeper) run(pts []point, tool geom.Tool, side []geom.SideBrush, steps []Step) {
	area := s.size * s.size
	turn := s.maxTurn(toolReach(tool))
	for _, b := range side {
		turn = math.Min(turn, s.maxTurn(math.Hypot(b.Ahead, b.Left)))
	}
	var a, b spot
	var prev point
	for k, p := range pts {
		if p.gap || k == 0 {
			sin, cos := math.Sincos(p.h)
			a, b = s.line(tool, p.x, p.y, sin, cos)
			prev = p
			continue
		}
		if p.off {
			sin, cos := math.Sincos(p.h)
			a, b = s.line(tool, p.x, p.y, sin, cos)
			prev = p
			continue
		}
		n := 1
		if dh := math.Abs(p.h - prev.h); dh > turn {
			n = int(math.Ceil(dh / turn))
		}
		q := prev
		for m := 1; m <= n; m++ {
			r := p
			if m < n {
				u := float64(m) / float64(n)
				r.x, r.y, r.h = prev.x+u*(p.x-prev.x), prev.y+u*(p.y-prev.y), prev.h+u*(p.h-prev.h)
				r.s, r.t = prev.s+u*(p.s-prev.s), prev.t+u*(p.t-prev.t)
			}
			sin, cos := math.Sincos(r.h)
			a2, b2 := s.line(tool, r.x, r.y, sin, cos)
			s.quad(a, b, a2, b2, q.s, r.s, q.t, r.t)
			for _, br := range side {
				s.disc(br, q, r)
			}
			a, b, q = a2, b2, r
		}
		if steps != nil {
			st := &steps[p.step]
			st.NewM2 += float64(s.newCells) * area
			st.PassM2 += float64(s.passCells) * area
			st.SweptM2 += float64(s.sweptCells) * area
		}
		s.newCells, s.passCells, s.sweptCells = 0, 0, 0
		prev = p
	}
}

// quad sweeps the quadrilateral between the line a-b at the step's start and
// c-d at its end. By the even-odd rule a line that turns about a point of its
// own sweeps both triangles of the bow tie.
func (s *sweeper) quad(a, b, c, d spot, s0, s1, t0, t1 float64) {
	lo := math.Min(math.Min(a.y, b.y), math.Min(c.y, d.y))
	hi := math.Max(math.Max(a.y, b.y), math.Max(c.y, d.y))
	j0, j1 := max(0, ceil(lo)), min(s.ny, ceil(hi))
	if j0 >= j1 {
		return
	}
	s.from, s.length, s.limit = s0/travelUnit, (s1-s0)/travelUnit, s.radius/travelUnit
	s.t0, s.dt = t0, t1-t0
	s.edge(a, b, 0, 0)
	s.edge(c, d, 1, 1)
	s.edge(a, c, 0, 1)
	s.edge(b, d, 0, 1)
	for j := j0; j < j1; j++ {
		r := &s.rows[j]
		if r.n >= 2 {
			if r.n == 4 {
				r.sort()
				s.span(j, r.x[2], r.x[3], r.u[2], r.u[3])
			} else if r.x[0] > r.x[1] {
				r.x[0], r.x[1], r.u[0], r.u[1] = r.x[1], r.x[0], r.u[1], r.u[0]
			}
			s.span(j, r.x[0], r.x[1], r.u[0], r.u[1])
		}
		r.n = 0
	}
}

// ceil returns the least whole number that is not below x, for |x| < 2^31.
func ceil(x float64) int {
	i := int(x)
	if float64(i) < x {
		i++
	}
	return i
}

// edge notes where the edge p-q crosses rows. It starts from the lower end
// whichever comes first, so that two quadrilaterals agree on the edge they share.
func (s *sweeper) edge(p, q spot, up, uq float64) {
	if p.y > q.y {
		p, q, up, uq = q, p, uq, up
	}
	j0, j1 := max(0, ceil(p.y)), min(s.ny, ceil(q.y))
	if j0 >= j1 {
		return
	}
	inv := 1 / (q.y - p.y)
	slope, du := (q.x-p.x)*inv, (uq-up)*inv
	for j := j0; j < j1; j++ {
		r := &s.rows[j]
		dy := float64(j) - p.y
		k := r.n & 3
		r.x[k] = p.x + dy*slope
		r.u[k] = up + dy*du
		r.n = k + 1
	}
}

// sort orders four crossings by column.
func (r *crossings) sort() {
	for i := 1; i < 4; i++ {
		for k := i; k > 0 && r.x[k-1] > r.x[k]; k-- {
			r.x[k-1], r.x[k] = r.x[k], r.x[k-1]
			r.u[k-1], r.u[k] = r.u[k], r.u[k-1]
		}
	}
}

// span touches the cells of row j with centres in [xl, xr). The moment of each
// touch lies between ul and ur in proportion: exact for a line that only
// moves on, and within a twentieth of the step for one that turns by maxTurn.
func (s *sweeper) span(j int, xl, xr, ul, ur float64) {
	i0, i1 := max(0, ceil(xl)), min(s.nx, ceil(xr))
	if i0 >= i1 {
		return
	}
	k := (ur - ul) / (xr - xl)
	u := ul + (float64(i0)-xl)*k
	from, length, limit := s.from, s.length, s.limit
	base := j * s.nx
	row := s.cells[base+i0 : base+i1]
	pass, swept := 0, 0
	for i := range row {
		c := &row[i]
		at := from + u*length
		if at-float64(c.last) > limit {
			if c.passes == 0 {
				s.first[base+i0+i] = float32(s.t0 + u*s.dt)
				s.newCells += int(c.open)
			}
			if c.passes < math.MaxUint16 {
				c.passes++
			}
			pass += int(c.open)
			if s.log != nil && c.open != 0 {
				*s.log = append(*s.log, PassAt{int32(base + i0 + i), float32(s.t0 + u*s.dt)})
			}
		}
		swept += int(c.open)
		c.last = int32(at)
		u += k
	}
	s.passCells += pass
	s.sweptCells += swept
}

// split copies passes and first times of the open cells out of the sweeper.
func (s *sweeper) split() ([]uint16, []float32) {
	passes, first := make([]uint16, len(s.cells)), make([]float32, len(s.cells))
	for i := range s.cells {
		if s.swept(i) {
			passes[i], first[i] = s.cells[i].passes, s.first[i]
		} else {
			first[i] = float32(math.NaN())
		}
	}
	return passes, first
}
