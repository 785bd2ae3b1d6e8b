package coverage

import (
	"math"

	"swathe/geom"
)

// areas returns the figures of each of the plan's areas.
func (m *measurer) areas() []Area {
	out := make([]Area, 0, len(m.plan.Areas))
	for _, p := range m.plan.Areas {
		r := ringOf(p.Outline)
		a := m.areaShares(r)
		a.Name, a.Kind = p.Name, p.Kind
		m.timeIn(&a, r)
		a.EnteredM2, a.DepthM, a.EnteredS = math.NaN(), math.NaN(), math.NaN()
		if p.Kind == geom.AreaOffLimits {
			m.intrusion(&a, r)
		}
		out = append(out, a)
	}
	return out
}

// areaShares measures the coverage of the area's open floor.
func (m *measurer) areaShares(r ring) Area {
	g := m.grid
	var open, reach, covered, passes, both int
	g.eachSpan(r, func(j, i0, i1 int) {
		for k := j*g.Nx + i0; k < j*g.Nx+i1; k++ {
			if g.Flags[k]&FlagOpen == 0 {
				continue
			}
			open++
			in := g.Flags[k]&FlagReachable != 0
			if in {
				reach++
			}
			if g.Passes[k] > 0 {
				covered++
				passes += int(g.Passes[k])
				if in {
					both++
				}
			}
		}
	})
	cell := g.Cell * g.Cell
	a := Area{
		OpenM2: float64(open) * cell, ReachableM2: float64(reach) * cell, CoveredM2: float64(covered) * cell,
		CoveredShare:   ratio(float64(covered), float64(open)),
		ReachableShare: ratio(float64(both), float64(reach)),
		MeanPasses:     ratio(float64(passes), float64(covered)),
	}
	if m.where == nil {
		a.ReachableM2, a.ReachableShare = math.NaN(), math.NaN()
	}
	return a
}

// timeIn measures time and speed with the centre in the area.
func (m *measurer) timeIn(a *Area, r ring) {
	far := 0.0
	for k := 1; k < len(m.pts); k++ {
		p, q := m.pts[k-1], m.pts[k]
		if q.gap || !r.contains(geom.Point2{X: (p.x + q.x) / 2, Y: (p.y + q.y) / 2}) {
			continue
		}
		a.TimeS += q.t - p.t
		far += q.s - p.s
	}
	a.MeanSpeedMPS = ratio(far, a.TimeS)
}

// bodyCorners is into how many corners a round body is cut for being stamped.
const bodyCorners = 96

// intrusion measures how much the body was in an area that it should keep out of.
func (m *measurer) intrusion(a *Area, r ring) {
	a.EnteredM2, a.DepthM, a.EnteredS = 0, 0, 0
	g := m.grid
	lo, hi := r.bounds()
	far := m.robot.Reach()
	body := m.robot.Body(bodyCorners)
	floor := make([]bool, len(g.Flags))
	for k := range m.pts {
		q := m.pts[k]
		if q.x < lo.X-far || q.x > hi.X+far || q.y < lo.Y-far || q.y > hi.Y+far {
			continue
		}
		pose := geom.Pose{X: q.x, Y: q.y, Heading: q.h}
		depth := m.depth(pose, body, r)
		if depth <= 0 {
			continue
		}
		a.DepthM = math.Max(a.DepthM, depth)
		if k > 0 && !q.gap {
			a.EnteredS += q.t - m.pts[k-1].t
		}
		stamp := make(ring, len(body))
		for i, b := range body {
			stamp[i] = pose.At(b)
		}
		g.eachSpan(stamp, func(j, i0, i1 int) {
			for c := j*g.Nx + i0; c < j*g.Nx+i1; c++ {
				floor[c] = true
			}
		})
	}
	g.eachSpan(r, func(j, i0, i1 int) {
		for c := j*g.Nx + i0; c < j*g.Nx+i1; c++ {
			if floor[c] && g.Flags[c]&FlagOpen != 0 {
				a.EnteredM2 += g.Cell * g.Cell
			}
		}
	})
}

// depth returns how far the body at a pose reaches into the ring past the
// nearest of its edges, m; 0 or less if it does not.
func (m *measurer) depth(pose geom.Pose, body []geom.Point2, r ring) float64 {
	c := geom.Point2{X: pose.X, Y: pose.Y}
	if m.robot.Round() {
		if d := r.distance(c); r.contains(c) {
			return m.robot.Radius() + d
		} else {
			return m.robot.Radius() - d
		}
	}
	deep := 0.0
	for _, b := range body {
		if p := pose.At(b); r.contains(p) {
			deep = math.Max(deep, r.distance(p))
		}
	}
	return deep
}

// dwell returns for every cell of the grid for how long, s, the body stood over
// it. Each interval counts where the body is at its middle. Rows are summed from
// what begins and ends in them, so the cost is the body's rows, not its cells.
func (m *measurer) dwell() []float32 {
	g := m.grid
	w := g.Nx + 1
	diff := make([]float64, w*g.Ny)
	body := m.robot.Body(bodyCorners)
	stamp := make(ring, len(body))
	for k := 1; k < len(m.pts); k++ {
		p, q := m.pts[k-1], m.pts[k]
		if q.gap {
			continue
		}
		dt := q.t - p.t
		pose := geom.Pose{X: (p.x + q.x) / 2, Y: (p.y + q.y) / 2, Heading: (p.h + q.h) / 2}
		add := func(j, i0, i1 int) {
			diff[j*w+i0] += dt
			diff[j*w+i1] -= dt
		}
		if m.robot.Round() {
			g.eachDiscRow(geom.Point2{X: pose.X, Y: pose.Y}, m.robot.Radius(), add)
			continue
		}
		for i, b := range body {
			stamp[i] = pose.At(b)
		}
		g.eachSpan(stamp, add)
	}
	out := make([]float32, g.Nx*g.Ny)
	for j := 0; j < g.Ny; j++ {
		sum := 0.0
		for i := 0; i < g.Nx; i++ {
			sum += diff[j*w+i]
			// What begins and ends leaves a rounding error behind.
			if sum > 1e-6 {
				out[j*g.Nx+i] = float32(sum)
			}
		}
	}
	return out
}

// eachDiscRow calls fn for every row's cells [i0, i1) with centres in a disc.
func (g *Grid) eachDiscRow(c geom.Point2, radius float64, fn func(j, i0, i1 int)) {
	px, py, rad := (c.X-g.X0)/g.Cell-0.5, (c.Y-g.Y0)/g.Cell-0.5, radius/g.Cell+discSlack
	for j := max(0, ceil(py-rad)); j <= min(g.Ny-1, int(math.Floor(py+rad))); j++ {
		dy := float64(j) - py
		w := math.Sqrt(math.Max(0, rad*rad-dy*dy))
		if i0, i1 := max(0, ceil(px-w)), min(g.Nx-1, int(math.Floor(px+w))); i0 <= i1 {
			fn(j, i0, i1+1)
		}
	}
}
