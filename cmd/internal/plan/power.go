package plan

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// Power is how likely n trials of each of two robots show a difference of their
// means, by Student's two-sided test at 5 %.
type Power struct {
	Scatter    float64  `json:"scatter"`    // standard deviation between runs of one robot
	Difference float64  `json:"difference"` // of the means, in the same unit
	Rows       []Chance `json:"rows"`
	Trials80   int      `json:"trials_80"` // smallest number with a chance of 80 %; 0: more than 10,000
	Trials90   int      `json:"trials_90"`
}

// Chance is that of one number of trials.
type Chance struct {
	Trials int     `json:"trials"`
	Power  float64 `json:"power"`
}

const significance = 0.05

// maxTrials bounds the search; whoever needs more needs another method.
const maxTrials = 10000

// NewPower works out the chances; scatter must be above 0 and difference not 0.
func NewPower(scatter, difference float64) (Power, error) {
	if !(scatter > 0) || math.IsInf(scatter, 0) {
		return Power{}, fmt.Errorf("the standard deviation is %g; it should be above 0: the standard deviation between runs of one robot", scatter)
	}
	if difference == 0 || math.IsNaN(difference) || math.IsInf(difference, 0) {
		return Power{}, fmt.Errorf("the difference is %g; it should be the smallest that you want to detect, above 0", difference)
	}
	d := math.Abs(difference) / scatter
	p := Power{Scatter: scatter, Difference: difference, Trials80: trialsFor(d, 0.8), Trials90: trialsFor(d, 0.9)}
	for _, n := range []int{2, 3, 4, 5, 6, 8, 10, 15, 20, 30} {
		p.Rows = append(p.Rows, Chance{n, PowerOf(float64(n), d)})
	}
	return p, nil
}

// trialsFor returns the smallest number of trials each with at least the power;
// 0 if it is more than maxTrials. Power grows with the number.
func trialsFor(d, power float64) int {
	low, high := 1, 2
	for PowerOf(float64(high), d) < power {
		if high >= maxTrials {
			return 0
		}
		low, high = high, min(2*high, maxTrials)
	}
	for high-low > 1 {
		if mid := (low + high) / 2; PowerOf(float64(mid), d) >= power {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

// PowerOf returns the probability that Student's two-sided test at 5 % tells two
// groups of n (any number above 1) apart whose means differ by d standard deviations: that of a
// noncentral t with 2n-2 degrees of freedom and noncentrality d sqrt(n/2) beyond
// the critical value. It is integrated over the pooled standard deviation u
// (in units of the true one): given u, the test is one of a normal variable.
func PowerOf(n, d float64) float64 {
	if !(n > 1) {
		return math.NaN()
	}
	nu := 2*n - 2
	shift := d * math.Sqrt(n/2)
	critical := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(1 - significance/2)
	chi := distuv.ChiSquared{K: nu}
	density := func(u float64) float64 { return 2 * nu * u * chi.Prob(nu*u*u) }
	// Beyond these quantiles of u lies 1e-12 of its mass.
	low, high := math.Sqrt(chi.Quantile(1e-12)/nu), math.Sqrt(chi.Quantile(1-1e-12)/nu)
	beyond := func(u float64) float64 {
		return distuv.UnitNormal.Survival(critical*u-shift) + distuv.UnitNormal.CDF(-critical*u-shift)
	}
	return quad.Fixed(func(u float64) float64 { return density(u) * beyond(u) }, low, high, 200, quad.Legendre{}, 0)
}
