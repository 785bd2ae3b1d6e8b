package stats

import (
	"math"
	"slices"
)

// EffectiveDF returns the effective degrees of freedom of a result to which
// independent inputs contribute standard uncertainties u with nu degrees of
// freedom each (Welch-Satterthwaite: JCGM 100:2008, G.4.1).
func EffectiveDF(u, nu []float64) float64 {
	var u2, sum float64
	for i := range u {
		u2 += u[i] * u[i]
		sum += math.Pow(u[i], 4) / nu[i]
	}
	if sum == 0 {
		return math.Inf(1)
	}
	return u2 * u2 / sum
}

// Symmetric returns the probabilistically symmetric coverage interval of Monte
// Carlo draws (JCGM 101:2008, 7.7): as much probability below it as above.
// Draws may hold +Inf ("never"); an end that falls there is +Inf. NaN draws are
// not allowed. None for fewer than 2 draws.
func Symmetric(draws []float64, level float64) Interval {
	if len(draws) < 2 {
		return NoInterval
	}
	v := slices.Clone(draws)
	slices.Sort(v)
	return Interval{Quantile(v, (1-level)/2), Quantile(v, (1+level)/2)}
}

// Quantile returns the p-quantile of sorted values, interpolated between the
// k-th at (k - 1/2)/n (Hazen; the steps of JCGM 101:2008, D.2, joined).
func Quantile(sorted []float64, p float64) float64 {
	n := len(sorted)
	if n == 0 {
		return math.NaN()
	}
	x := p*float64(n) - 0.5
	i := int(math.Floor(x))
	switch {
	case i < 0:
		return sorted[0]
	case i >= n-1:
		return sorted[n-1]
	}
	a, b := sorted[i], sorted[i+1]
	if f := x - float64(i); f > 0 && a != b {
		if math.IsInf(b, 1) {
			return b
		}
		return a + f*(b-a)
	}
	return a
}
