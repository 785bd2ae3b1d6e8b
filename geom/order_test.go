package geom

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

func TestMedian(t *testing.T) {
	inf := math.Inf(1)
	for _, c := range []struct {
		v    []float64
		want float64
	}{{nil, math.NaN()}, {[]float64{3}, 3}, {[]float64{4, 1}, 2.5}, {[]float64{5, 1, 3}, 3}, {[]float64{inf, 1, inf, 2}, inf}, {[]float64{inf, inf}, inf}, {[]float64{2, 2, 2, 2}, 2}} {
		if got := Median(c.v); got != c.want && !(math.IsNaN(got) && math.IsNaN(c.want)) {
			t.Errorf("of %v it is %g, should be %g", c.v, got, c.want)
		}
	}
}

// The order is held against sorting, the ends of quantiles against gonum's.
func TestOrderAgainstSorting(t *testing.T) {
	const seed = 7
	rng := rand.New(rand.NewPCG(seed, 1))
	for round := range 2000 {
		v := make([]float64, 1+rng.IntN(40))
		for i := range v {
			v[i] = float64(rng.IntN(12)) - 5 // many alike
		}
		was, sorted := slices.Clone(v), slices.Sorted(slices.Values(v))
		n := len(v)
		if got, want := Median(v), (sorted[(n-1)/2]+sorted[n/2])/2; got != want {
			t.Fatalf("seed %d, round %d: the median of %v is %g, said to be %g", seed, round, v, want, got)
		}
		if lo, hi := Quantile(v, 0), Quantile(v, 1); lo != stat.Quantile(0, stat.Empirical, sorted, nil) || hi != stat.Quantile(1, stat.Empirical, sorted, nil) {
			t.Fatalf("seed %d, round %d: from %g to %g, sorted %v", seed, round, lo, hi, sorted)
		}
		for k := range n {
			if q := Quantile(v, float64(k)/math.Max(1, float64(n-1))); math.Abs(q-sorted[k]) > 1e-9 {
				t.Fatalf("seed %d, round %d: the %d. of %v is said to be %g", seed, round, k, sorted, q)
			}
		}
		if !slices.Equal(v, was) {
			t.Fatalf("seed %d, round %d: %v became %v", seed, round, was, v)
		}
		k := rng.IntN(n)
		if got := Select(v, k); got != sorted[k] {
			t.Fatalf("seed %d, round %d: the %d. of %v is said to be %g", seed, round, k, sorted, got)
		}
	}
}
