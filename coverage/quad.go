package coverage

import "math"

// far is more than any grid has cells, and so little that a double still tells
// a billionth of a cell from it.
const far = 1 << 22

// ceil returns the least whole number that is not below x, for |x| < far,
// without a branch that half of all rows would take.
func ceil(x float64) int { return far - int(far-x) }

// edge is a straight line over rows j0 <= j < j1, from its lower end up
// whichever of its ends is named first, so that quadrilaterals agree on the
// edges that they share.
type edge struct {
	x, y   float64 // the lower end
	slope  float64 // columns a row
	u, du  float64 // when within the step the tool is there, 0..1: at the lower end, and more a row
	j0, j1 int
}

func (s *sweeper) edge(p, q spot, up, uq float64) edge {
	if p.y > q.y {
		p, q, up, uq = q, p, uq, up
	}
	e := edge{x: p.x, y: p.y, u: up, j0: max(0, ceil(p.y)), j1: min(s.ny, ceil(q.y))}
	if e.j0 < e.j1 {
		inv := 1 / (q.y - p.y)
		e.slope, e.du = (q.x-p.x)*inv, (uq-up)*inv
	}
	return e
}

// at returns where the edge crosses row j, and when.
func (e *edge) at(j int) (x, u float64) {
	dy := float64(j) - e.y
	return e.x + dy*e.slope, e.u + dy*e.du
}

// quad sweeps the quadrilateral between the line a-b at pose p and c-d at pose
// q. By the even-odd rule a line that turns about a point of its own sweeps
// both triangles of the bow tie.
func (s *sweeper) quad(a, b, c, d spot, p, q *point) {
	s.from, s.length = p.s*s.perMetre, (q.s-p.s)*s.perMetre
	s.t0, s.dt = p.t, q.t-p.t
	es := [4]edge{s.edge(a, b, 0, 0), s.edge(c, d, 1, 1), s.edge(a, c, 0, 1), s.edge(b, d, 0, 1)}
	// Between two neighbouring ends of edges the same edges cross all rows: two
	// of them mostly, else all four.
	j, end := s.ny, 0
	for i := range es {
		if es[i].j0 < es[i].j1 {
			j, end = min(j, es[i].j0), max(end, es[i].j1)
		}
	}
	for j < end {
		next := end
		var on [4]*edge
		n := 0
		for i := range es {
			switch e := &es[i]; {
			case e.j0 > j:
				next = min(next, e.j0)
			case e.j1 > j:
				on[n] = e
				n++
				next = min(next, e.j1)
			}
		}
		switch n {
		case 2:
			s.strip(on[0], on[1], j, next)
		case 4:
			s.bowTie(&es, j, next)
		}
		j = next
	}
}

// strip sweeps rows j0 <= j < j1 between two edges.
func (s *sweeper) strip(e, f *edge, j0, j1 int) {
	for j := j0; j < j1; j++ {
		xe, ue := e.at(j)
		xf, uf := f.at(j)
		if xe > xf {
			xe, ue, xf, uf = xf, uf, xe, ue
		}
		s.span(j, xe, xf, ue, uf)
	}
}

// bowTie sweeps rows j0 <= j < j1, which all four edges cross.
func (s *sweeper) bowTie(es *[4]edge, j0, j1 int) {
	for j := j0; j < j1; j++ {
		var x, u [4]float64
		for i := range es {
			x[i], u[i] = es[i].at(j)
			for k := i; k > 0 && x[k-1] > x[k]; k-- {
				x[k-1], x[k], u[k-1], u[k] = x[k], x[k-1], u[k], u[k-1]
			}
		}
		s.span(j, x[0], x[1], u[0], u[1])
		s.span(j, x[2], x[3], u[2], u[3])
	}
}

// span touches the cells of row j with centres in [xl, xr). The moment of each
// touch lies between ul and ur in proportion: exact for a line that only moves
// on; for one that turns by maxTurn within a twentieth of the step, and within
// half of it in the rows that the line lies along.
func (s *sweeper) span(j int, xl, xr, ul, ur float64) {
	l, r := max(0, ceil(xl)), min(s.nx, ceil(xr))
	if l >= r {
		return
	}
	per := (ur - ul) / (xr - xl)
	u := ul + (float64(l)-xl)*per
	at, step := int64(s.from+s.length*u), int64(s.length*per)
	t, later := s.t0+s.dt*u, s.dt*per
	base := j*s.nx + l
	row := s.cells[base : base+r-l]
	if s.counts || s.log != nil {
		for i := range row {
			s.touch(base+i, at, at, t+float64(i)*later)
			at += step
		}
		return
	}
	first := s.first[:r-l]
	if !s.untimed {
		first = s.first[base : base+r-l]
	}
	limit := s.limit
	for i, c := range row {
		age := c.age(at)
		if age > limit {
			switch c.passes() {
			case 0:
				first[i] = float32(t + float64(i)*later)
				c += onePass
			case math.MaxUint16: // no more can be counted
			default:
				c += onePass
			}
		}
		row[i] = c.older(age)
		at += step
	}
}

// touch notes that the tool was over cell k from travel in to travel out, in
// ticks, from time t on.
func (s *sweeper) touch(k int, in, out int64, t float64) {
	c := &s.cells[k]
	open := c.open()
	age := c.age(out)
	if c.age(in) > s.limit {
		if c.passes() == 0 {
			if !s.untimed {
				s.first[k] = float32(t)
			}
			s.newCells += open
		}
		if c.passes() != math.MaxUint16 {
			*c += onePass
		}
		s.passCells += open
		if s.log != nil && open != 0 {
			*s.log = append(*s.log, PassAt{int32(k), float32(t)})
		}
	}
	s.sweptCells += open
	*c = c.older(max(0, age))
}
