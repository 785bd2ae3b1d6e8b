package stats

import (
	"math"
	"testing"
)

// Holm's adjusted probabilities on published examples: the documentation of
// stdlib's padjust (stdlib.io/docs), and of the R package HDLSSkST's Holm, which
// says what of seven is rejected at 5 %.
func TestHolmPublished(t *testing.T) {
	got := Holm([]float64{0.319, 0.201, math.NaN(), 0.4, 0.374, 0.113})
	for i, want := range []float64{0.957, 0.804, math.NaN(), 0.957, 0.957, 0.565} {
		if math.IsNaN(want) != math.IsNaN(got[i]) || math.Abs(got[i]-want) > 1e-12 {
			t.Errorf("%d: got %g, want %g", i, got[i], want)
		}
	}
	for i, p := range Holm([]float64{0.50, 0.01, 0.001, 0.69, 0.02, 0.05, 0.0025}) {
		if (p < 0.05) != (i == 2 || i == 6) {
			t.Errorf("number %d has %g", i, p)
		}
	}
}

// The rank test on small groups: its smallest probability is SmallestRankP, and
// "never" is the largest value. {20, never, never} against {25, 25, 25}, counted
// by hand: the ranks are 1, 3 x 3, 5.5 x 2, and the first side's add up to 12,
// 1.5 off the middle. Of the 20 sums of three, 7 (3 ways), 9, 12 and 14 (3 ways)
// are as far off or farther: 8 of 20.
func TestRankTest(t *testing.T) {
	inf := math.Inf(1)
	if p := RankTest([]float64{1, 2, 3}, []float64{4, 5, inf}); math.Abs(p-SmallestRankP(3, 3)) > 1e-12 {
		t.Errorf("wholly apart: %g", p)
	}
	if p := RankTest([]float64{20, inf, inf}, []float64{25, 25, 25}); p != 0.4 {
		t.Errorf("one quick, two never: %g", p)
	}
	if p := RankTest([]float64{inf, inf}, []float64{inf, inf, inf}); p != 1 {
		t.Errorf("all never: %g", p)
	}
	if p := RankTest(nil, []float64{1}); !math.IsNaN(p) {
		t.Errorf("nothing: %g", p)
	}
	// The approximation for many runs against the count: 10 against 9 is still
	// counted, the same values with one more on each side are not.
	var a, b []float64
	for i := range 11 {
		a, b = append(a, float64(i)), append(b, float64(i)+2.5)
	}
	exact, normal := RankTest(a[:10], b[:9]), RankTest(a, b)
	t.Logf("10 against 9, counted: %.4f; 11 against 11, approximated: %.4f", exact, normal)
	if !(normal < exact && normal > exact/3) {
		t.Errorf("counted %g, approximated %g", exact, normal)
	}
}

// How many runs: the usual tables of the two-sample t-test have 17 a side for a
// difference of one standard deviation at 5 % and 80 %, 64 for half of one
// (values from memory; the formula with Student's quantiles may differ by one).
func TestRunsNeeded(t *testing.T) {
	near(t, "one standard deviation", RunsNeeded(1, 1, 0, 0.95, 0.8), 17, 1)
	near(t, "half of one", RunsNeeded(0.5, 1, 0, 0.95, 0.8), 64, 1)
	if n := RunsNeeded(1, 1, 0.4, 0.95, 0.8); !math.IsInf(n, 1) {
		t.Errorf("a common part of 0.4 leaves %g runs enough for a difference of 1", n)
	}
	if n := RunsNeeded(0, 1, 0, 0.95, 0.8); !math.IsNaN(n) {
		t.Errorf("no difference: %g runs", n)
	}
	if n := RunsNeeded(10, 1, 0, 0.95, 0.8); n != MinInterval {
		t.Errorf("ten standard deviations: %g runs", n)
	}
}
