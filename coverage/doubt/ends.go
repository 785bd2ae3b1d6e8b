package doubt

import (
	"math"
	"math/rand"

	"swathe/geom"
)

// endOf is what is not known of the run's start or end.
type endOf struct {
	rest bool    // the robot was seen at rest beyond it
	way  float64 // m, from the place of that rest
}

// restSpan is how far beyond an end of the run the place of rest is sought, s.
const restSpan = 0.5

// endsOf looks beyond both ends of the run. A run begins when the robot has left
// its place by some millimetres, and ends when it comes as near to its last one
// (contract); what it drove until then, and after, is seen in the path.
func endsOf(t *geom.Trace) (start, end endOf) {
	at := func(from float64, dir int) endOf {
		var in, out *geom.Sample
		i := 0
		if dir < 0 {
			i = len(t.Samples) - 1
		}
		for ; i >= 0 && i < len(t.Samples); i += dir {
			s := &t.Samples[i]
			past := float64(dir) * (s.T - from) // beyond the end by so much, s
			if past <= 1e-9 {
				in = s
				continue
			}
			if s.State != geom.Seen || past > restSpan {
				break
			}
			out = s
		}
		if in == nil || out == nil || in.State != geom.Seen {
			return endOf{}
		}
		return endOf{true, math.Hypot(out.X-in.X, out.Y-in.Y)}
	}
	if t.Started == geom.StartedAtRest {
		start = at(t.Run.From, -1)
	}
	if t.Ended == geom.EndedStood || t.Ended == geom.EndedDocked {
		end = at(t.Run.To, 1)
	}
	return start, end
}

// late is by how many looks more, at most, a rest is seen to end late, as a move has
// to stand clear of what a look is known to: over 80 drawn runs both ends of the run
// lie 1.3 looks outside of those measured in the mean, over 45 encoded rooms 1.2; for
// being seen at looks alone it would be 1.
const late = 0.3

// draw returns by how much the run reached farther than measured, s. At a rest it
// did: by up to one look, as it is seen at looks alone, and by up to late more.
func (e endOf) draw(look float64, rng *rand.Rand) float64 {
	a, b := rng.Float64(), rng.Float64()
	if e.rest {
		return look * (a + late*b)
	}
	return look * (2*a - 1)
}
