package trial

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/track/scene/scenetest"
)

// Normal errors with a right sigma keep LeastWithin2 in all but a few of a
// thousand recordings, also where the errors at a place are all one and the
// survey's is one for all places; of those with a sigma half as wide few keep it
// where the survey's part is small.
func TestLeastWithin2(t *testing.T) {
	const seed, runs = 5, 2000
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for _, c := range []struct {
		common, sigma float64 // share of the survey; sigma as told, over the right one
		from, to      float64 // share of recordings that keep the bound
	}{{0, 1, 0.995, 1}, {0, 0.5, 0, 0.05}, {0.2, 1, 0.995, 1}, {0.2, 0.5, 0, 0.25}, {0.7, 1, 0.995, 1}, {0.7, 0.25, 0, 0.5}, {0.7, 2, 1, 1}} {
		kept, least := 0, scenetest.LeastWithin2(25, c.common)
		for range runs {
			var in Places
			x, y := math.Sqrt(c.common)*r.NormFloat64(), math.Sqrt(c.common)*r.NormFloat64()
			for k := range 25 {
				ex, ey := x+math.Sqrt(1-c.common)*r.NormFloat64(), y+math.Sqrt(1-c.common)*r.NormFloat64()
				for range 1 + r.IntN(60) {
					in.Add(2*placeApart*float64(k), 0, math.Abs(ex) <= 2*c.sigma, math.Abs(ey) <= 2*c.sigma)
				}
			}
			share, n := in.Share()
			if n != 25 {
				t.Fatalf("%d places, there are 25", n)
			}
			if share >= least-1e-9 {
				kept++
			}
		}
		got := float64(kept) / runs
		t.Logf("the survey's share %g, sigma %g of the right one: %.4f of %d recordings keep %.3f", c.common, c.sigma, got, runs, least)
		if got < c.from || got > c.to {
			t.Errorf("the survey's share %g, sigma %g of the right one: %.4f of the recordings keep the bound, %.3f to %.3f should", c.common, c.sigma, got, c.from, c.to)
		}
	}
}
