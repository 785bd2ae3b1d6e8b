package trial

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
)

// In twenty rooms by chance somebody walks past the robot, which drives on: nobody
// is said to have moved it. Daily TestHardToSee holds one such room.
func TestSomebodyWalksPast(t *testing.T) {
	if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("SWATHE_LONG is not set")
	}
	const rooms = 20
	measured := 0
	for seed := uint64(401); seed <= 400+rooms; seed++ {
		r := rand.New(rand.NewPCG(seed, 0x3a55))
		in := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
		tr := scenetest.ByChance(seed)
		s := &tr.Scene
		truth := tr.Truth()
		s.Length = math.Min(s.Length, truth.Run.From+14)
		at := truth.Run.From + in(4, 10)
		q, side, speed, toward := s.Path.At(at), in(0.25, 0.6), in(0.6, 1.2), in(0, 2*math.Pi)
		sin, cos := math.Sincos(toward)
		step := func(dt float64) scene.TimedPose {
			return scene.TimedPose{T: at + dt, Pose: geom.Pose{X: q.X - side*sin + speed*dt*cos, Y: q.Y + side*cos + speed*dt*sin, Heading: toward}}
		}
		p := scene.NewPerson(scene.Path{step(-4), step(4)})
		s.People, s.Pets, s.Balls = []scene.Person{p}, nil, nil
		trace, _, warnings, err := seenOf(t, s)
		if err != nil {
			t.Logf("seed %d: %v", seed, err)
			continue
		}
		measured++
		carried := 0
		for _, x := range trace.Samples {
			if x.State == geom.Carried {
				carried++
			}
		}
		t.Logf("seed %d: past at %.1f s, %.2f m beside it, %.1f m/s; carried in %d of %d samples; %q", seed, at, side, speed, carried, len(trace.Samples), warnings)
		if carried > 0 {
			t.Errorf("seed %d: somebody who walks past is said to move it in %d samples", seed, carried)
		}
	}
	if measured < rooms*3/4 {
		t.Errorf("only %d of %d rooms were measured", measured, rooms)
	}
}
