package stats

import (
	"math"

	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"
)

// MinInterval is the least number of values for which this program gives an
// interval of their mean: with two the interval is 9 s wide on either side and
// says less than the two values themselves.
const MinInterval = 3

// MeanSD returns the mean and the standard deviation (n - 1) of v. Values are
// summed as offsets from the first, so that a small scatter about a large mean
// keeps its digits. Mean: NaN of no value; sd: NaN of fewer than two.
func MeanSD(v []float64) (mean, sd float64) {
	if len(v) == 0 {
		return math.NaN(), math.NaN()
	}
	n := float64(len(v))
	sum := 0.0
	for _, x := range v {
		sum += x - v[0]
	}
	off := sum / n
	if len(v) == 1 {
		return v[0], math.NaN()
	}
	// The second sum corrects for the rounding of the mean (Chan, Golub and
	// LeVeque, "Algorithms for computing the sample variance", 1983).
	var s2, s1 float64
	for _, x := range v {
		d := x - v[0] - off
		s2 += d * d
		s1 += d
	}
	return v[0] + off, math.Sqrt(math.Max(0, (s2-s1*s1/n)/(n-1)))
}

// TQuantile returns the value that Student's t with nu degrees of freedom (any
// positive number) stays below with probability p; NaN outside 0 < p < 1.
func TQuantile(p, nu float64) float64 {
	if !(p > 0 && p < 1) || !(nu > 0) {
		return math.NaN()
	}
	if math.IsInf(nu, 1) {
		return distuv.UnitNormal.Quantile(p)
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p)
}

// tTwoSided returns the probability of |t| or more.
func tTwoSided(t, nu float64) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.CDF(-math.Abs(t))
}

// Interval is a closed interval; NaN ends: there is none.
type Interval struct{ Lo, Hi float64 }

// NoInterval is the interval that could not be given.
var NoInterval = Interval{math.NaN(), math.NaN()}

// Known tells whether both ends are numbers.
func (i Interval) Known() bool { return !math.IsNaN(i.Lo) && !math.IsNaN(i.Hi) }

// Contains tells whether v lies in the interval. A NaN end is open: what is
// known only from one side is bounded only from there.
func (i Interval) Contains(v float64) bool { return !(v < i.Lo) && !(v > i.Hi) }

// Difference is how much the mean of one group exceeds that of another.
type Difference struct {
	Value    float64 // mean of the second less mean of the first
	Ratio    float64 // mean of the second / mean of the first; NaN where that is 0
	SE       float64 // standard error of Value
	DF       float64 // degrees of freedom
	Interval Interval
	P        float64 // two-sided
	Pairs    int     // number of pairs; 0: not paired
	RankP    float64 // smallest two-sided probability that a test by ranks could give with so few values
}

func noDifference() Difference {
	n := math.NaN()
	return Difference{n, n, n, n, NoInterval, n, 0, n}
}

// Welch returns the difference of two groups of separate values (B. L. Welch,
// "The generalization of 'Student's' problem when several different population
// variances are involved", Biometrika 34, 1947, 28-35). common is what more
// values do not reduce; with it the degrees of freedom are those of JCGM
// 100:2008, G.4, which without it are Welch's. Standard error, interval and
// probability need MinInterval values in each group; with less there is the
// difference of the means alone.
func Welch(a, b []float64, common Part, level float64) Difference {
	d := noDifference()
	ma, sa := MeanSD(a)
	mb, sb := MeanSD(b)
	d.Value, d.Ratio = mb-ma, ratio(mb, ma)
	d.RankP = SmallestRankP(len(a), len(b))
	if len(a) < MinInterval || len(b) < MinInterval || sa == 0 && sb == 0 {
		return d // no scatter at all: nothing to judge the difference by
	}
	na, nb := float64(len(a)), float64(len(b))
	d.SE, d.DF = sum(Part{sa / math.Sqrt(na), na - 1}, Part{sb / math.Sqrt(nb), nb - 1}, common)
	d.finish(level)
	return d
}

// Paired returns the mean of b[i] - a[i], each pair measured under the same
// circumstances; the slices are equally long. common as for Welch.
func Paired(a, b []float64, common Part, level float64) Difference {
	d := noDifference()
	if len(a) != len(b) || len(a) == 0 {
		return d
	}
	diff := make([]float64, len(a))
	for i := range a {
		diff[i] = b[i] - a[i]
	}
	m, s := MeanSD(diff)
	ma, _ := MeanSD(a)
	mb, _ := MeanSD(b)
	d.Value, d.Ratio, d.Pairs = m, ratio(mb, ma), len(a)
	d.RankP = SmallestSignP(len(a))
	if len(a) < MinInterval || s == 0 {
		return d
	}
	d.SE, d.DF = sum(Part{s / math.Sqrt(float64(len(a))), float64(len(a) - 1)}, common)
	d.finish(level)
	return d
}

func (d *Difference) finish(level float64) {
	h := TQuantile((1+level)/2, d.DF) * d.SE
	d.Interval = Interval{d.Value - h, d.Value + h}
	d.P = tTwoSided(d.Value/d.SE, d.DF)
}

func ratio(a, b float64) float64 {
	if b == 0 {
		return math.NaN()
	}
	return a / b
}

// SmallestRankP returns the smallest two-sided probability that any test by
// ranks or permutation can give for n against m values without ties: the two
// extreme orders among all C(n+m, n). With 3 against 3 it is 0.10.
func SmallestRankP(n, m int) float64 {
	if n < 1 || m < 1 {
		return math.NaN()
	}
	return math.Min(1, 2/combin.GeneralizedBinomial(float64(n+m), float64(n)))
}

// SmallestSignP is SmallestRankP of n pairs whose signs are flipped: 2 / 2^n.
func SmallestSignP(n int) float64 {
	if n < 1 {
		return math.NaN()
	}
	return math.Min(1, 2/math.Pow(2, float64(n)))
}

// Wilson returns the score interval of a share of which k of n were seen
// (Newcombe, Statistics in Medicine 17, 1998, 857-872, method 3).
func Wilson(k, n int, level float64) Interval {
	if n < 1 || k < 0 || k > n {
		return NoInterval
	}
	z := distuv.UnitNormal.Quantile((1 + level) / 2)
	fn, p := float64(n), float64(k)/float64(n)
	mid := p + z*z/(2*fn)
	half := z * math.Sqrt(p*(1-p)/fn+z*z/(4*fn*fn))
	out := Interval{(mid - half) / (1 + z*z/fn), (mid + half) / (1 + z*z/fn)}
	// Exact at the ends, where rounding leaves 1e-17.
	if k == 0 {
		out.Lo = 0
	}
	if k == n {
		out.Hi = 1
	}
	return out
}
