package doubt

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"swathe/coverage/stats"
)

// The error of an interval's ends, from the formula, is what 2,000 repeated
// intervals of normal draws scatter by.
func TestEndError(t *testing.T) {
	const seed, draws = 5, 200
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	var ends []float64
	for range 2000 {
		v := make([]float64, draws)
		for i := range v {
			v[i] = rng.NormFloat64()
		}
		ends = append(ends, stats.Symmetric(v, 0.95).Hi)
	}
	_, sd := stats.MeanSD(ends)
	got, want := endError(draws, 0.95), sd/1.96
	t.Logf("by the formula %.4f of the half-width, by drawing %.4f", got, want)
	if math.Abs(got/want-1) > 0.15 { // the formula holds in the limit
		t.Errorf("%g, want %g", got, want)
	}
	m := (&Result{Draws: draws, Level: 0.95}).Method()
	for _, part := range []string{"drawn 200 times", "here 200000", "about 10 %", "2.5 %"} {
		if !strings.Contains(m, part) {
			t.Errorf("%q says nothing of %q", m, part)
		}
	}
}
