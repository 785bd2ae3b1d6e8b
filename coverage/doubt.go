package coverage

import (
	"fmt"
	"math"
	"sort"

	"swathe/geom"
)

// doubt fills in how far a block's shares depend on the cells and on the
// tool's width.
func (m *measurer) doubt(b *Block, s *sweeper, t geom.Tool, side []geom.SideBrush) {
	nan := Shares{math.NaN(), math.NaN()}
	b.RasterShare, b.Wider, b.Narrower = math.NaN(), nan, nan
	if m.opt.Raster {
		b.RasterShare = ratio(s.rasterSigma(), m.openM2)
	}
	if m.opt.WidthStep == 0 {
		return
	}
	at := func(width float64) Shares {
		if width < 0 {
			return nan
		}
		w := t
		w.Width = width
		mask, reachM2 := m.reachOf(w, side...)
		covered, within := m.sweptBy(w, side).covered(mask)
		return Shares{ratio(math.Min(covered, m.openM2), m.openM2), ratio(math.Min(within, reachM2), reachM2)}
	}
	b.Wider, b.Narrower = at(t.Width+m.opt.WidthStep), at(t.Width-m.opt.WidthStep)
}

// sweptBy sweeps a tool over an empty floor.
func (m *measurer) sweptBy(t geom.Tool, side []geom.SideBrush) *sweeper {
	s := newUntimed(m.room.openGrid(m.opt.Cell), m.robot.Radius())
	s.run(m.pts, t, side, nil)
	return s
}

// covered returns the covered open floor, m2, and what of it lies within a mask.
func (s *sweeper) covered(mask []bool) (all, within float64) {
	n, in := 0, 0
	for k := range s.cells {
		if s.swept(k) {
			n++
			if mask != nil && mask[k] {
				in++
			}
		}
	}
	return float64(n) * s.size * s.size, float64(in) * s.size * s.size
}

func (s *sweeper) swept(k int) bool { return s.cells[k].passes() > 0 && s.cells[k].open() != 0 }

// rasterSigma returns the standard uncertainty of the covered area, m2, that
// its cells cause. Along a straight run of n cell sides the true border lies
// anywhere within a cell, alike for the whole run: n cells / sqrt(12). Runs are
// independent, so their squares add up. A border that slants a little is made
// of runs that err in turn, and is judged too badly rather than too well.
func (s *sweeper) rasterSigma() float64 {
	sum := 0.0
	// lines of cells along u; a side lies between a cell and the one after it in v.
	along := func(nu, nv, du, dv int) {
		for v := -1; v < nv; v++ {
			n, was := 0, 0
			for u := 0; u < nu; u++ {
				lo, hi := v >= 0 && s.swept(u*du+v*dv), v+1 < nv && s.swept(u*du+(v+1)*dv)
				now := 0
				if lo != hi {
					now = 1
					if hi {
						now = 2
					}
				}
				if now != was {
					sum += float64(n * n)
					n, was = 0, now
				}
				if now != 0 {
					n++
				}
			}
			sum += float64(n * n)
		}
	}
	along(s.nx, s.ny, 1, s.nx)
	along(s.ny, s.nx, s.nx, 1)
	return s.size * s.size * math.Sqrt(sum/12)
}

// maxAutoCells bounds what CellAuto may choose.
const maxAutoCells = 16 << 20

// chooseCell halves the cell until twice the raster's standard uncertainty of
// the headline tool's covered area is within AutoShare of it.
func (m *measurer) chooseCell() {
	for {
		s := m.sweptBy(m.robot.Tools[0], nil)
		covered, _ := s.covered(nil)
		if covered == 0 {
			return
		}
		share := 2 * s.rasterSigma() / covered
		if share <= m.opt.AutoShare {
			return
		}
		if m.opt.Cell/2 < m.opt.MinCell || m.cellCount(m.opt.Cell/2) > maxAutoCells {
			m.warnings = append(m.warnings, fmt.Sprintf(
				"Cells of %.3g mm give the covered area to %.2f %% (%.2f %% requested); finer cells were not allowed.",
				m.opt.Cell*1000, share*100, m.opt.AutoShare*100))
			return
		}
		m.opt.Cell /= 2
	}
}

// maybe returns the reachable cells that may have been swept without anybody
// seeing it; nil if there are none.
func (m *measurer) maybe(mask []bool, tool geom.Tool) []bool {
	if mask == nil {
		return nil
	}
	gaps := m.gaps()
	if len(gaps) == 0 && m.opt.Unseen == nil {
		return nil
	}
	out := make([]bool, len(mask))
	rho := toolReach(tool)
	for k, in := range mask {
		if !in {
			continue
		}
		if m.grid.Flags[k]&FlagUnseen != 0 {
			out[k] = true
			continue
		}
		c := m.grid.Centre(k)
		for _, g := range gaps {
			if g.from.Dist(c)+g.to.Dist(c) <= g.budget+2*rho {
				out[k] = true
				break
			}
		}
	}
	return out
}

// lostGap is a stretch in which the robot was lost: it left from, came to to,
// and can have travelled no further than budget between. Wherever it was, its
// distances from the two add up to no more than the budget.
type lostGap struct {
	from, to geom.Point2
	budget   float64 // m
}

// gaps lists the stretches of the recording in which the robot was lost (not
// those in which it was only carried): what it did before it was first seen and
// after it was last seen may have swept the floor as well.
func (m *measurer) gaps() []lostGap {
	ss := m.trace.Samples
	v := m.opt.LostSpeed
	if math.IsNaN(v) {
		v = m.usualTopSpeed()
	}
	var out []lostGap
	last := -1 // the last known sample
	lost := false
	add := func(a, b int) {
		var g lostGap
		switch {
		case a >= 0 && b >= 0:
			g = lostGap{pos(ss[a]), pos(ss[b]), v * (ss[b].T - ss[a].T)}
			g.budget = math.Max(g.budget, g.from.Dist(g.to))
		case a >= 0:
			g = lostGap{pos(ss[a]), pos(ss[a]), 2 * v * (ss[len(ss)-1].T - ss[a].T)}
		case b >= 0:
			g = lostGap{pos(ss[b]), pos(ss[b]), 2 * v * (ss[b].T - ss[0].T)}
		default:
			return
		}
		out = append(out, g)
	}
	for i, s := range ss {
		if s.Placed() {
			if lost {
				add(last, i)
			}
			last, lost = i, false
		} else if s.State != geom.Carried {
			lost = true
		}
	}
	if lost {
		add(last, -1)
	}
	return out
}

func pos(s geom.Sample) geom.Point2 { return geom.Point2{X: s.X, Y: s.Y} }

// usualTopSpeed returns the speed that the robot kept below for 95 % of the
// time in which it moved, m/s.
func (m *measurer) usualTopSpeed() float64 {
	type part struct{ v, dt float64 }
	var parts []part
	total := 0.0
	for k := 1; k < len(m.pts); k++ {
		p, q := m.pts[k-1], m.pts[k]
		if dt := q.t - p.t; !q.gap && dt > 0 && (q.s-p.s)/dt > m.opt.MovingSpeed {
			parts = append(parts, part{(q.s - p.s) / dt, dt})
			total += dt
		}
	}
	sort.Slice(parts, func(i, j int) bool { return parts[i].v < parts[j].v })
	sum := 0.0
	for _, p := range parts {
		if sum += p.dt; sum >= 0.95*total {
			return p.v
		}
	}
	return 0
}

// markUnknown flags the unknown cells that were not swept and returns their area.
func (m *measurer) markUnknown() float64 {
	if m.where == nil {
		return math.NaN()
	}
	n := 0
	for k, in := range m.unknown {
		if in && m.grid.Passes[k] == 0 {
			m.grid.Flags[k] |= FlagUnknown
			n++
		}
	}
	return float64(n) * m.grid.Cell * m.grid.Cell
}
