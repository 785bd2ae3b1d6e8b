package coverage

import (
	"math"

	"swathe/geom"
)

// chordShare bounds, in cells, how far the chord of a turning line's arc may lie
// from the arc.
const chordShare = 0.02

// cell is the state of one cell while a path is swept, in one word because
// fetching and storing cells is what a sweep's time goes into:
//
//	bits 32..63  when last under the tool: travel in units of travelUnit; never
//	             if it was not
//	bit  16      set on open floor
//	bits  0..15  passes
//
// Read as one number it is that travel in ticks, 2^-32 of a unit, and a little
// more, so that the age of a cell is one subtraction.
type cell int64

const (
	onePass  = cell(1)
	openCell = cell(1) << 16
)

// travelUnit is the resolution at which a cell remembers travel, m: a fiftieth
// of a millimetre, so that longest fits; a longer path is remembered more
// coarsely. A path is known to a millimetre at best.
const (
	travelUnit = 2e-5
	unitTicks  = 1 << 32
	longest    = 1 << 30 * travelUnit // m
)

// never, in units, is farther back than any robot's radius.
const never = -1 << 29

func newCell(open bool) cell {
	c := cell(never) * unitTicks
	if open {
		c |= openCell
	}
	return c
}

func (c cell) passes() uint16 { return uint16(c) }
func (c cell) open() int      { return int(c >> 16 & 1) }

// age returns how far, in ticks, the robot has come since the cell was last
// under the tool, when its travel is at.
func (c cell) age(at int64) int64 { return at - int64(c) }

// older returns the cell, last under the tool age later.
func (c cell) older(age int64) cell { return c + cell(age)&^(unitTicks-1) }

// sweeper sweeps tools over a grid. Grid coordinates: cell centres at whole
// numbers, (0, 0) the lowest cell.
type sweeper struct {
	nx, ny  int
	x0, y0  float64 // floor, m, of the centre of cell (0, 0)
	size    float64 // m
	inv     float64 // 1/size
	radius  float64 // m of travel that end a pass
	cells   []cell
	first   []float32 // s, first time under the tool, where passes > 0; of no meaning if untimed
	untimed bool
	log     *[]PassAt // gets every pass of open floor; nil: none

	// The step that is being swept, from u = 0 to 1: travel in ticks, time in s.
	from, length, t0, dt float64
	perMetre             float64 // ticks
	limit                int64   // ticks of travel that end a pass

	// What the current step did, in open cells, where that is asked for.
	counts                          bool
	newCells, passCells, sweptCells int
}

// spot is a point in grid coordinates.
type spot struct{ x, y float64 }

func newSweeper(g *Grid, radius float64) *sweeper {
	s := newUntimed(g, radius)
	s.first, s.untimed = make([]float32, len(s.cells)), false
	return s
}

// newUntimed returns a sweeper that does not note when cells were first swept: in a
// hall a third of the memory.
func newUntimed(g *Grid, radius float64) *sweeper {
	s := &sweeper{
		nx: g.Nx, ny: g.Ny, size: g.Cell, inv: 1 / g.Cell, radius: radius,
		x0: g.X0 + g.Cell/2, y0: g.Y0 + g.Cell/2,
		cells: make([]cell, g.Nx*g.Ny),
		first: make([]float32, g.Nx), untimed: true, // a row to write to
	}
	for i := range s.cells {
		s.cells[i] = newCell(g.Flags[i]&FlagOpen != 0)
	}
	s.remember(0)
	return s
}

// remember makes ready for a path of the given length, m.
func (s *sweeper) remember(length float64) {
	s.perMetre = unitTicks / travelUnit * math.Min(1, longest/length)
	s.limit = int64(s.radius * s.perMetre)
}

// reset forgets what was swept.
func (s *sweeper) reset() {
	for i := range s.cells {
		s.cells[i] = newCell(s.cells[i].open() != 0)
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
	s.counts = steps != nil
	if len(pts) > 0 {
		s.remember(pts[len(pts)-1].s)
	}
	turn := s.maxTurn(toolReach(tool))
	for _, b := range side {
		turn = math.Min(turn, s.maxTurn(math.Hypot(b.Ahead, b.Left)))
	}
	sin, cos, heading := 0.0, 0.0, math.NaN()
	place := func(p *point) (a, b spot) {
		if p.h != heading { // most of a path is straight
			sin, cos = math.Sincos(p.h)
			heading = p.h
		}
		return s.line(tool, p.x, p.y, sin, cos)
	}
	var from point // where the tool's line lies, from a to b
	var a, b spot
	sweepTo := func(to *point) {
		n := 1
		if dh := math.Abs(to.h - from.h); dh > turn {
			n = int(math.Ceil(dh / turn))
		}
		q := from
		for m := 1; m <= n; m++ {
			r := *to
			if m < n {
				r = between(&from, to, float64(m)/float64(n))
			}
			c, d := place(&r)
			s.quad(a, b, c, d, &q, &r)
			for _, br := range side {
				s.disc(br, q, r)
			}
			a, b, q = c, d, r
		}
		from = *to
	}
	straight := newStretch(chordShare*s.size, toolReach(tool), turn)
	waiting := false // the point before k has not been swept to
	for k := range pts {
		p := &pts[k]
		if waiting && (p.gap || p.off || !straight.takes(&from, p)) {
			sweepTo(&pts[k-1])
			waiting = false
		}
		if p.gap || p.off || k == 0 {
			a, b = place(p)
			from = *p
			continue
		}
		if steps == nil {
			if !waiting {
				straight.begin()
				waiting = straight.takes(&from, p)
			}
			if !waiting { // it turns, or comes to rest
				sweepTo(p)
			}
			continue
		}
		sweepTo(p)
		st := &steps[p.step]
		st.NewM2 += float64(s.newCells) * area
		st.PassM2 += float64(s.passCells) * area
		st.SweptM2 += float64(s.sweptCells) * area
		s.newCells, s.passCells, s.sweptCells = 0, 0, 0
	}
	if waiting {
		sweepTo(&pts[len(pts)-1])
	}
}

// split returns passes and first times of the open cells; the times are the
// sweeper's own from then on, so that whoever sweeps on with it gives it others.
func (s *sweeper) split() ([]uint16, []float32) {
	passes := make([]uint16, len(s.cells))
	for i := range s.cells {
		if s.swept(i) {
			passes[i] = s.cells[i].passes()
		} else {
			s.first[i] = float32(math.NaN())
		}
	}
	return passes, s.first
}
