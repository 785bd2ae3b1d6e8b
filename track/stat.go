package track

import (
	"math"

	"swathe/geom"
)

// circularMedian returns the angle from which the weighted absolute
// differences are least, searched among the mean direction and its
// neighbourhood: robust where the angles crowd about one direction.
func circularMedian(a, w []float64) float64 {
	var s, c float64
	for i := range a {
		s += w[i] * math.Sin(a[i])
		c += w[i] * math.Cos(a[i])
	}
	m := math.Atan2(s, c)
	// A few rounds of reweighting towards the median.
	for round := 0; round < 30; round++ {
		var num, den float64
		for i := range a {
			d := geom.WrapAngle(a[i] - m)
			k := w[i] / math.Max(math.Abs(d), 1e-3)
			num += k * d
			den += k
		}
		if den == 0 {
			break
		}
		step := num / den
		m += step
		if math.Abs(step) < 1e-6 {
			break
		}
	}
	return geom.WrapAngle(m)
}
