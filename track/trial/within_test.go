package trial

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Normal errors with a right sigma keep LeastWithin2 in all but a few of a
// thousand recordings, also where the errors at a place are all one; of those with
// a sigma half as wide hardly one keeps it.
func TestLeastWithin2(t *testing.T) {
	const seed, runs = 5, 2000
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for _, c := range []struct {
		sigma    float64 // as told, over the right one
		from, to float64 // share of recordings that keep the bound
	}{{1, 0.995, 1}, {0.5, 0, 0.05}, {2, 1, 1}} {
		kept := 0
		for range runs {
			var in Places
			for k := range 25 {
				ex, ey := r.NormFloat64(), r.NormFloat64()
				for range 1 + r.IntN(60) {
					in.Add(2*placeApart*float64(k), 0, math.Abs(ex) <= 2*c.sigma, math.Abs(ey) <= 2*c.sigma)
				}
			}
			share, n := in.Share()
			if n != 25 {
				t.Fatalf("%d places, there are 25", n)
			}
			if share >= LeastWithin2(n) {
				kept++
			}
		}
		got := float64(kept) / runs
		t.Logf("sigma %g of the right one: %.4f of %d recordings keep %.3f", c.sigma, got, runs, LeastWithin2(25))
		if got < c.from || got > c.to {
			t.Errorf("sigma %g of the right one: %.4f of the recordings keep the bound, %.3f to %.3f should", c.sigma, got, c.from, c.to)
		}
	}
}
