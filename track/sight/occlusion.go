package sight

import (
	"math"

	"swathe/geom"
)

// occlusion remembers which places of the floor, and of the robot's top, the
// plan's things hide from the lens. Asked point by point that would cost more
// than the fit; so it is kept on a grid, worked out cell by cell when first
// asked for. A cell counts as hidden if anything within a cell's width is: the
// edge of a thing that hides is no edge of the robot.
type occlusion struct {
	cam    *geom.Camera
	plan   *geom.Plan
	lo     geom.Point2
	cell   float64
	nx, ny int
	levels [2]float64 // heights, m
	known  [2][]uint8 // 0 not asked, 1 in view, 2 hidden
	none   bool       // nothing in the plan can hide anything
}

func newOcclusion(cam *geom.Camera, plan *geom.Plan, height float64, lo, hi geom.Point2) *occlusion {
	o := &occlusion{cam: cam, plan: plan, levels: [2]float64{0, height}, none: len(plan.Obstacles)+len(plan.Overhead) == 0}
	m := height + 0.5 // the robot reaches beyond the bounds of its centre
	o.lo = geom.Point2{X: lo.X - m, Y: lo.Y - m}
	w, h := hi.X-lo.X+2*m, hi.Y-lo.Y+2*m
	o.cell = math.Max(0.01, math.Sqrt(w*h/4e6))
	o.nx, o.ny = int(w/o.cell)+1, int(h/o.cell)+1
	if !o.none {
		for i := range o.known {
			o.known[i] = make([]uint8, o.nx*o.ny)
		}
	}
	return o
}

func (o *occlusion) hidden(p geom.Point3) bool {
	if o.none {
		return false
	}
	k := 0
	if p.Z > o.levels[1]/2 {
		k = 1
	}
	ix, iy := int((p.X-o.lo.X)/o.cell), int((p.Y-o.lo.Y)/o.cell)
	if ix < 0 || iy < 0 || ix >= o.nx || iy >= o.ny {
		return false
	}
	v := &o.known[k][iy*o.nx+ix]
	if *v == 0 {
		*v = 1
		c := geom.Point3{X: o.lo.X + (float64(ix)+0.5)*o.cell, Y: o.lo.Y + (float64(iy)+0.5)*o.cell, Z: o.levels[k]}
		for _, d := range [5][2]float64{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			q := geom.Point3{X: c.X + d[0]*o.cell, Y: c.Y + d[1]*o.cell, Z: c.Z}
			if hid, _ := geom.Hidden(o.cam, o.plan, q); hid && !o.inside(c) {
				*v = 2
				break
			}
		}
	}
	return *v == 2
}

// inside tells whether a point lies within an obstacle as surveyed: a robot
// that touches it, or has pushed it, is not hidden by being there.
func (o *occlusion) inside(p geom.Point3) bool {
	for i := range o.plan.Obstacles {
		if ob := &o.plan.Obstacles[i]; ob.Height > p.Z && ob.Contains(geom.Point2{X: p.X, Y: p.Y}) {
			return true
		}
	}
	return false
}
