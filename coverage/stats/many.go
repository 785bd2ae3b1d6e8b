package stats

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"
)

// Holm returns each probability made larger for the company that it keeps, so
// that among all of them the chance of one false difference stays at the level
// that they are judged by (S. Holm, "A simple sequentially rejective multiple
// test procedure", Scandinavian Journal of Statistics 6, 1979, 65-70). NaN is
// none of them and stays.
func Holm(p []float64) []float64 {
	out := slices.Clone(p)
	var order []int
	for i, v := range p {
		if !math.IsNaN(v) {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	most := 0.0
	for k, i := range order {
		most = math.Max(most, math.Min(1, float64(len(order)-k)*p[i]))
		out[i] = most
	}
	return out
}

// maxSplits bounds the splits that RankTest counts out one by one.
const maxSplits = 200000

// RankTest returns the two-sided probability of ranks as far apart as those of a
// and b if nothing but chance had split the values (the Wilcoxon rank-sum test).
// Values may be infinite ("never"); equal ones share the mean of their ranks.
// Up to maxSplits splits are counted out, beyond that it is the normal
// approximation with its correction for ties. NaN if one side is empty.
func RankTest(a, b []float64) float64 {
	n, m := len(a), len(b)
	if n == 0 || m == 0 {
		return math.NaN()
	}
	all := append(slices.Clone(a), b...)
	ranks := make([]float64, n+m) // twice the rank, a whole number
	for i, x := range all {
		less, equal := 0, 0
		for _, y := range all {
			if y < x {
				less++
			} else if y == x {
				equal++
			}
		}
		ranks[i] = float64(2*less + equal + 1)
	}
	sumOf := func(at []int) (s float64) {
		for _, i := range at {
			s += ranks[i]
		}
		return s
	}
	first := make([]int, n)
	for i := range first {
		first[i] = i
	}
	mid := float64(n * (n + m + 1)) // of twice the ranks' sum
	off := math.Abs(sumOf(first) - mid)
	if combin.GeneralizedBinomial(float64(n+m), float64(n)) <= maxSplits {
		far, of := 0, 0
		g := combin.NewCombinationGenerator(n+m, n)
		at := make([]int, n)
		for g.Next() {
			g.Combination(at)
			of++
			if math.Abs(sumOf(at)-mid) >= off-1e-9 {
				far++
			}
		}
		return float64(far) / float64(of)
	}
	sum2 := 0.0
	for _, r := range ranks {
		d := r - float64(n+m+1)
		sum2 += d * d
	}
	sd := math.Sqrt(float64(n*m) / float64((n+m)*(n+m-1)) * sum2)
	if sd == 0 {
		return 1
	}
	return math.Min(1, 2*distuv.UnitNormal.CDF(-math.Max(0, off-1)/sd))
}

// mostRuns is the largest number of runs that RunsNeeded names.
const mostRuns = 200

// RunsNeeded returns how many runs of each of two groups would show a difference
// d at the level, with the given power (0.8), if runs scatter by sd and the two
// have a standard uncertainty in common that no number of runs reduces. Infinite
// if mostRuns would not do. The smallest n with
// |d| >= (t_(1+level)/2 + t_power) sqrt(2 sd^2/n + common^2), t with 2 n - 2
// degrees of freedom: the usual formula of normal tests with Student's quantiles.
func RunsNeeded(d, sd, common, level, power float64) float64 {
	if !(math.Abs(d) > 0) || !(sd >= 0) {
		return math.NaN()
	}
	if !(common > 0) {
		common = 0
	}
	for n := MinInterval; n <= mostRuns; n++ {
		df := float64(2*n - 2)
		t := TQuantile((1+level)/2, df) + TQuantile(power, df)
		if math.Abs(d) >= t*math.Sqrt(2*sd*sd/float64(n)+common*common) {
			return float64(n)
		}
	}
	return math.Inf(1)
}
