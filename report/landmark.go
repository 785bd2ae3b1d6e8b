package report

import (
	"math"

	"swathe/geom"
)

// landmarkReach is how near a thing must be to say where a place is, m: about
// a robot's width.
const landmarkReach = 0.4

// landmark says where on the floor a place is, by what stands there: "at the
// dock", "under the tabletop", "left of the cabinet", "on the rug", or the part
// of the room. Left, right, above and below are those of the plan. Empty if
// the place is not known; a nil plan gives the part of no room, so it is empty too.
func landmark(plan *geom.Plan, x, y float64) string {
	if plan == nil || math.IsNaN(x) || math.IsNaN(y) {
		return ""
	}
	p := geom.Point2{X: x, Y: y}
	if d := plan.Dock; d != nil && math.Hypot(d.X-x, d.Y-y) < landmarkReach {
		return "at the dock"
	}
	for _, o := range plan.Overhead {
		if o.Contains(p) {
			return "under the " + o.Name
		}
	}
	best, far := "", landmarkReach
	for _, group := range [][]geom.Piece{plan.Obstacles, plan.TestObjects} {
		for _, o := range group {
			low, high := box(o)
			// Outside its box at one side or two; the wider gap names the side.
			dx := math.Max(low.X-x, x-high.X)
			dy := math.Max(low.Y-y, y-high.Y)
			if gap := math.Hypot(math.Max(dx, 0), math.Max(dy, 0)); gap >= far {
				continue
			} else {
				far = gap
			}
			switch {
			case dx <= 0 && dy <= 0:
				best = "beside the " + o.Name
			case dx >= dy && x < low.X:
				best = "left of the " + o.Name
			case dx >= dy:
				best = "right of the " + o.Name
			case y < low.Y:
				best = "below the " + o.Name
			default:
				best = "above the " + o.Name
			}
		}
	}
	if best != "" {
		return best
	}
	for _, a := range plan.Areas {
		if a.Contains(p) {
			return "on the " + a.Name
		}
	}
	low, high := plan.Bounds()
	third := func(v, lo, hi float64) int { return min(2, max(0, int(3*(v-lo)/(hi-lo)))) }
	return [3][3]string{
		{"at the bottom left of the room", "at the bottom of the room", "at the bottom right of the room"},
		{"at the left of the room", "in the middle of the room", "at the right of the room"},
		{"at the top left of the room", "at the top of the room", "at the top right of the room"},
	}[third(y, low.Y, high.Y)][third(x, low.X, high.X)]
}

// box is the smallest upright rectangle round a piece.
func box(pc geom.Piece) (low, high geom.Point2) {
	low, high = geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, c := range geom.RingCorners(pc.Outline) {
		low.X, low.Y = math.Min(low.X, c.X), math.Min(low.Y, c.Y)
		high.X, high.Y = math.Max(high.X, c.X), math.Max(high.Y, c.Y)
	}
	return low, high
}
