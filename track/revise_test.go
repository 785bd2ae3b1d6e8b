package track

import (
	"testing"

	"swathe/track/sight"
)

// What a look that is made again says counts where nothing was found before, or where it
// settles what was in doubt; what the run decided otherwise always does.
func TestRevise(t *testing.T) {
	before := func() *reading {
		return &reading{sightings: []sight.Sighting{{T: 1, Frame: 10, Found: true, X: 1}, {T: 2, Frame: 20}}}
	}
	for _, c := range []struct {
		name string
		say  sight.Sighting
		want [2]float64 // x by look, 0 where nothing is found
	}{
		{"again, where it was found", sight.Sighting{T: 1, Again: true, Found: true, X: 3}, [2]float64{1, 0}},
		{"again, where it was in doubt", sight.Sighting{T: 1, Again: true, Settles: true, Found: true, X: 3}, [2]float64{3, 0}},
		{"again, where nothing was found", sight.Sighting{T: 2, Again: true, Found: true, X: 3}, [2]float64{1, 3}},
		{"decided otherwise", sight.Sighting{T: 1, Revised: true}, [2]float64{0, 0}},
		{"of no look", sight.Sighting{T: 1.5, Revised: true, Found: true, X: 3}, [2]float64{1, 0}},
	} {
		r := before()
		r.revise(c.say)
		for i, s := range r.sightings {
			if s.X != c.want[i] || s.Found != (c.want[i] != 0) || s.Frame != 10*(i+1) {
				t.Errorf("%s: look %d says found %v at %g, frame %d; want %g", c.name, i, s.Found, s.X, s.Frame, c.want[i])
			}
		}
	}
}
