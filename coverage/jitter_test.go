package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/geom"
)

// White jitter of a known size on straight lanes, with stands between: the
// distance is the way driven, not the longer one of the path, to three tenths of what
// the jitter adds; nothing is taken off a path without any. The steps' distances
// sum to the run's.
func TestDistanceWithoutJitter(t *testing.T) {
	const seed = 8
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	for _, c := range []struct{ sd, fps float64 }{{0, 10}, {0.0003, 10}, {0.001, 10}, {0.002, 10}, {0.0005, 30}} {
		p := newPen(0.5, 0.5, 0)
		p.dt = 1 / c.fps
		for lane := 0; lane < 8; lane++ {
			p.drive(3, 0.3, 0).drive(0.1*math.Pi, 0.2, math.Pi*float64(1-lane%2*2))
		}
		p.wait(10)
		tr := p.trace()
		own := motionOf(tr, pathOf(tr, nil), 0.02, nil).DistanceM
		for i := range tr.Samples {
			s := &tr.Samples[i]
			s.State = geom.Seen
			s.X, s.Y = s.X+c.sd*rng.NormFloat64(), s.Y+c.sd*rng.NormFloat64()
		}
		// A robot that stands is held where it is by the tracker.
		for i := len(tr.Samples) - int(9*c.fps); i < len(tr.Samples); i++ {
			tr.Samples[i].X, tr.Samples[i].Y = tr.Samples[i-1].X, tr.Samples[i-1].Y
		}
		raw := motionOf(tr, pathOf(tr, nil), 0.02, nil).DistanceM
		res := measure(t, tr, planOf(rect(0, 0, 5, 4)), bar(0.3, 0, 0), at(0.05))
		sum := 0.0
		for _, s := range res.Steps {
			sum += s.DistanceM
		}
		within(t, "steps", sum, res.Motion.DistanceM, 1e-9)
		within(t, "less and left", res.Motion.DistanceM+res.Motion.JitterM, raw, 1e-9)
		within(t, "distance", res.Motion.DistanceM, own, 0.3*(raw-own)+0.001)
	}
}
