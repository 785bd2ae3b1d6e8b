package coverage

import (
	"math"
	"sort"

	"swathe/geom"
)

// stillSpeed, m/s: a robot slower than this stands, and the path says so; what
// it would jitter is no part of the run's.
const stillSpeed = 0.005

// jitterOf returns the variance, m2, of what the path's own jitter adds to a
// step from one look to the next, across the travel.
//
// It is read from the path itself: where that is straight, its second
// differences across the travel are jitter alone. Of independent errors they
// have three times the variance of first differences. Most of a run is
// straight, so the median tells; turns do not move it. 0 for a path too short
// to tell.
func jitterOf(t *geom.Trace) float64 {
	var across []float64
	ss := t.Samples
	for i := 1; i+1 < len(ss); i++ {
		d, dt := jitterStep(t, i)
		_, next := jitterStep(t, i+1)
		if d == 0 || !(math.Abs(next-dt) < 0.2*dt) {
			continue
		}
		dx, dy := ss[i].X-ss[i-1].X, ss[i].Y-ss[i-1].Y
		ex, ey := ss[i+1].X-2*ss[i].X+ss[i-1].X, ss[i+1].Y-2*ss[i].Y+ss[i-1].Y
		across = append(across, math.Abs(ex*dy-ey*dx)/d)
	}
	if len(across) < 20 {
		return 0
	}
	sort.Float64s(across)
	const median = 0.6745 // of |z|, z normal
	sd := across[len(across)/2] / median
	return sd * sd / 3
}

// jitterStep returns length and time of the step that ends at sample i, if the
// robot was seen at both its ends and moved; else 0 and the time, NaN where
// there was no look.
func jitterStep(t *geom.Trace, i int) (d, dt float64) {
	a, b := &t.Samples[i-1], &t.Samples[i]
	for _, s := range []*geom.Sample{a, b} {
		if s.State != geom.Seen || !t.Run.Contains(s.T) || math.IsNaN(s.X) {
			return 0, math.NaN()
		}
	}
	d, dt = math.Hypot(b.X-a.X, b.Y-a.Y), b.T-a.T
	if d < stillSpeed*dt {
		return 0, dt
	}
	return d, dt
}

// unjittered returns, for every interval of the trace, by what its length is
// multiplied to take off the travel that the path's jitter adds. A step of
// length D with errors of variance v on each axis of it is found longer, by
// v / (2 D) on average (the mean of Rice's distribution, to first order):
// sqrt(d^2 - v) is right to that order where d is some four standard deviations
// or more. Shorter steps, of a robot that creeps or turns on the spot, are taken
// together until it has gone as far as that. What has not when a longer step
// follows is all jitter within two standard deviations.
func unjittered(t *geom.Trace) []float64 {
	v := jitterOf(t)
	out := make([]float64, len(t.Samples)-1)
	own := func(d2 float64) float64 { // the length, of a squared one as found
		if d2 < 4*v {
			return 0
		}
		return math.Sqrt(d2 - v)
	}
	for i := 0; i < len(out); {
		out[i] = 1
		d, _ := jitterStep(t, i+1)
		if v == 0 || d == 0 {
			i++
			continue
		}
		if d*d >= 16*v {
			out[i] = own(d*d) / d
			i++
			continue
		}
		a, j, sum, gone := &t.Samples[i], i, 0.0, 0.0
		for ; j < len(out) && gone < 16*v; j++ {
			d, dt := jitterStep(t, j+1)
			if math.IsNaN(dt) || d*d >= 16*v {
				break
			}
			b := &t.Samples[j+1]
			sum, gone = sum+math.Hypot(b.X-t.Samples[j].X, b.Y-t.Samples[j].Y), (b.X-a.X)*(b.X-a.X)+(b.Y-a.Y)*(b.Y-a.Y)
		}
		for k := i; k < j; k++ {
			out[k] = own(gone) / sum
		}
		i = j
	}
	return out
}
