package doubt

import (
	"math"
	"sort"

	"swathe/geom"
)

// jitterTravel returns how much longer the path is by its own jitter than the
// way that was driven, m. The drawn noise is alike for seconds and adds no
// travel; what changes from one look to the next does: with a step d and an
// error of standard deviation s across it, d grows by s^2 / (2 d) on average
// (the mean of Rice's distribution, to first order).
//
// How much the path jitters is read from itself: where it is straight, its
// second differences across the travel are jitter alone. Of independent errors
// they have three times the variance of first differences. Most of a run is
// straight, so the median tells; turns do not move it.
func jitterTravel(t *geom.Trace) float64 {
	var steps, across []float64
	ss := t.Samples
	fine := func(i int) bool {
		return i >= 0 && i < len(ss) && ss[i].State == geom.Seen && t.Run.Contains(ss[i].T) && !math.IsNaN(ss[i].X)
	}
	for i := 1; i < len(ss); i++ {
		if !fine(i-1) || !fine(i) {
			continue
		}
		dx, dy := ss[i].X-ss[i-1].X, ss[i].Y-ss[i-1].Y
		d, dt := math.Hypot(dx, dy), ss[i].T-ss[i-1].T
		if d < stillSpeed*dt || d == 0 {
			continue
		}
		steps = append(steps, d)
		if fine(i+1) && math.Abs((ss[i+1].T-ss[i].T)-dt) < 0.2*dt {
			ex, ey := ss[i+1].X-2*ss[i].X+ss[i-1].X, ss[i+1].Y-2*ss[i].Y+ss[i-1].Y
			across = append(across, math.Abs(ex*dy-ey*dx)/d)
		}
	}
	if len(across) < 20 {
		return 0 // too short to tell
	}
	sort.Float64s(across)
	const median = 0.6745 // of |z|, z normal
	sd := across[len(across)/2] / median
	v := sd * sd / 3
	sum := 0.0
	for _, d := range steps {
		if d < 2*math.Sqrt(v) {
			sum += d // as good as all of it: the robot turns on the spot or creeps
		} else {
			sum += v / (2 * d)
		}
	}
	return sum
}
