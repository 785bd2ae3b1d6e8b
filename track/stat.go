package track

import (
	"math"
	"slices"

	"swathe/geom"
)

// quantile returns the q-th quantile (0..1) of v, interpolated; NaN if empty.
// It sorts v.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	p := q * float64(len(v)-1)
	i := int(p)
	if i+1 >= len(v) {
		return v[len(v)-1]
	}
	return v[i] + (p-float64(i))*(v[i+1]-v[i])
}

// middleOf returns the median of v, which it sorts.
func middleOf(v []float64) float64 { return quantile(v, 0.5) }

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
