package figure

import (
	"gonum.org/v1/plot/vg/recorder"

	"swathe/geom"
)

// PlanView tells where the floor lies on the pictures of a plan that carry no
// words (Labels None): floor point (x, y) shows at column x0 + k (cos x - sin y)
// and row y0 - k (sin x + cos y) for the turn in opt, pixels from the top left.
// What is laid over such a picture, say a robot that moves, is placed by it.
func PlanView(plan *geom.Plan, opt Options) (k, x0, y0 float64, err error) {
	opt.Labels = None
	if err := opt.Validate(); err != nil {
		return 0, 0, 0, err
	}
	s := newSheet(new(recorder.Canvas), opt)
	v, _ := s.planSheet(planPart{corners(plan.Room)}, "", "", "", "", nil)
	return v.k, v.ox, float64(opt.Height) - v.oy, nil
}
