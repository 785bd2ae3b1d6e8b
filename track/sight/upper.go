package sight

import (
	"math"

	"swathe/geom"
)

// A body seen from the side shows two edges there: that of its base, which is
// the outline, and that of its top's rim within it. Where the side is as dark as
// the shadow at its foot only the rim is to be seen; where it is as bright as
// the top, only the base. Both are looked for: a ray of the outline stands on an
// edge if either is there.

// leastGap is the distance between the two edges (px) from which they are told
// apart. Nearer ones are one edge in the picture, which lies anywhere between
// them: there the outline is held to that band only, and counts slackWeight.
const (
	leastGap    = 1.6
	slackWeight = 0.3
)

// addUpper appends to the outline the rim of the top where that lies within it,
// and notes for each of its points which point of the base it belongs to.
func (f *Fitter) addUpper(at geom.Pose, floor float64) {
	pts := f.outl.Points
	f.base = len(pts)
	f.twins = f.twins[:0]
	f.gap, f.slack = f.gap[:0], f.slack[:0]
	for range pts {
		f.gap, f.slack = append(f.gap, 0), append(f.slack, 0)
	}
	for k := 0; k < f.base; k++ {
		p := &pts[k]
		if p.Top || p.Corner || p.Source.Z > floor+1e-9 {
			continue
		}
		src := p.Source
		src.Z = floor + f.Robot.OutlineHeight()
		px, j, ok := f.Cam.ProjectJac(src)
		if !ok {
			continue
		}
		gap := p.Normal.X*(p.Px.X-px.X) + p.Normal.Y*(p.Px.Y-px.Y)
		if gap < leastGap {
			f.slack[k] = math.Max(0, gap)
			continue
		}
		q := geom.OutlinePoint{Px: px, Normal: p.Normal, Source: src, Body: p.Body, Top: true}
		q.Jac[0][0], q.Jac[0][1] = j[0][0], j[0][1]
		q.Jac[1][0], q.Jac[1][1] = j[1][0], j[1][1]
		if !f.Robot.Round() {
			ax, ay := -(src.Y - at.Y), src.X-at.X
			q.Jac[0][2] = j[0][0]*ax + j[0][1]*ay
			q.Jac[1][2] = j[1][0]*ax + j[1][1]*ay
		}
		f.outl.Points = append(f.outl.Points, q)
		pts = f.outl.Points
		f.gap[k] = gap
		f.gap, f.slack = append(f.gap, gap), append(f.slack, 0)
		f.twins = append(f.twins, k)
	}
}

// within is how far along its normal ray k may look for its own edge, px: half
// way to the other one.
func (f *Fitter) within(k int, reach float64) (lo, hi float64) {
	lo, hi = -reach, reach
	if g := f.gap[k] / 2; g > 0 && g < reach {
		if k < f.base {
			lo = -g
		} else {
			hi = g
		}
	}
	return lo, hi
}

// off is how far the edge of ray k lies from the outline moved by d, px, and how
// much it counts.
func (f *Fitter) off(k int, d [3]float64) (e, weight float64) {
	r := &f.rays[k]
	e = r.e - (r.jx*d[0] + r.jy*d[1] + r.jh*d[2])
	g := f.slack[k]
	if g == 0 {
		return e, 1
	}
	if e < 0 {
		e = math.Min(0, e+g)
	}
	return e, slackWeight
}
