package track

import (
	"fmt"
	"math"

	"swathe/track/sight"
)

// Bounds of what swathe-eye may say: beyond them it is broken, whatever the
// recording shows.
const (
	longest  = 1e6 // s, of a run's recordings: eleven days
	farthest = 1e4 // m, of a place from the room's corner
	mostSaid = 4e6 // frames looked at: four days at 10 a second
)

// checkSighting refuses what can't be: swathe-eye decodes files of anybody, and a
// fault there should not become a figure.
func checkSighting(s *sight.Sighting, before []sight.Sighting) error {
	switch {
	case !(s.T >= 0 && s.T <= longest):
		return fmt.Errorf("swathe-eye tells of a frame at %g s", s.T)
	case !s.Revised && !s.Again && len(before) > 0 && s.T < before[len(before)-1].T:
		return fmt.Errorf("swathe-eye tells of a frame at %g s after one at %g s", s.T, before[len(before)-1].T)
	case len(before) >= mostSaid:
		return fmt.Errorf("swathe-eye tells of more than %.0f frames", float64(mostSaid))
	case s.Found && math.Hypot(s.X, s.Y) > farthest:
		return fmt.Errorf("at %.1f s swathe-eye sees the robot %g m away", s.T, math.Hypot(s.X, s.Y))
	case s.Cov[0] < 0 || s.Cov[2] < 0:
		return fmt.Errorf("at %.1f s swathe-eye gives a place a negative variance", s.T)
	}
	return nil
}

// checkTurn does the same for what it says of the robot's top.
func checkTurn(t *sight.Turn) error {
	if math.Hypot(t.Beside[0], t.Beside[1]) > farthest || t.BesideVar < 0 {
		return fmt.Errorf("at %.1f s swathe-eye sees the robot's centre %g m beside its outline, give or take the root of %g m^2", t.T, math.Hypot(t.Beside[0], t.Beside[1]), t.BesideVar)
	}
	return nil
}
