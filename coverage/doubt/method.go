package doubt

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Method says in words how intervals were found, with how many draws, and how
// far so many settle their ends.
func (r *Result) Method() string {
	return fmt.Sprintf("Propagation of distributions by a Monte Carlo method (JCGM 101:2008): the uncertain inputs were drawn %d times, "+
		"and the run was measured with each draw; an interval leaves out %.3g %% of the draws at each end. JCGM 101 advises 10^4/(1 - p) draws or more, here %.0f; "+
		"%d give the ends of an interval to about %.0f %% of its half-width.",
		r.Draws, 50*(1-r.Level), 1e4/(1-r.Level), r.Draws, 100*endError(r.Draws, r.Level))
}

// endError returns the standard error of an interval's end, as a share of the
// half-width, where the draws are normal: of a quantile at p that is
// sqrt(p (1-p) / M) over the density there.
func endError(draws int, level float64) float64 {
	p := (1 - level) / 2
	z := distuv.UnitNormal.Quantile(p)
	return math.Sqrt(p*(1-p)/float64(draws)) / distuv.UnitNormal.Prob(z) / math.Abs(z)
}
