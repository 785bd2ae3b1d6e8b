package main

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/queue"
	"swathe/geom"
	"swathe/report/docs"
	"swathe/track"
)

// The numbers in the help pages are made here: settings from their defaults,
// what follows from a formula by the formula, each with its source.
func TestNumbersOfThePages(t *testing.T) {
	s := lab.DefaultSettings()
	// Reachable floor of a disc of radius R with a line w wide, a ahead, in an
	// empty room: all but its corners. Every wall is reached to R - r, where
	// r = hypot(w/2, a) is how far the line reaches from the centre; r < R, so a
	// strip R - r wide stays, and at each corner what a quarter disc of radius r leaves.
	const R, w, a, x, y = 0.17, 0.18, 0.02, 5.0, 4.0
	r := math.Hypot(w/2, a)
	reached := (x-2*(R-r))*(y-2*(R-r)) - (4-math.Pi)*r*r
	// A robot's top 9 cm higher than entered, 2 m from the foot of a lens at 2.5 m,
	// by similar triangles.
	shift := 2 * 0.09 / (2.5 - 0.09)
	// Of 20 orders of three against three, two are as extreme as the most extreme.
	ranks := 2.0 / 20
	for page, numbers := range map[string][]string{
		"figures": {
			fmt.Sprintf("reaches %.1f %%", 100*reached/(x*y)),
			fmt.Sprintf("stands for %.0f s or more, within %.0f mm and %.0f degrees", s.Conduct.PauseTime, 1000*s.Conduct.PauseDrift, geom.Degrees(s.Conduct.PauseTurn)),
			fmt.Sprintf("turns on the spot by %.0f degrees", geom.Degrees(s.Conduct.SpinTurn)),
			fmt.Sprintf("moved by less than %.0f mm", 1000*s.Conduct.MovedDistance),
			fmt.Sprintf("within %.0f mm and %.0f degrees", 1000*s.Coverage.FollowDistance, geom.Degrees(s.Coverage.FollowAngle)),
			fmt.Sprintf("least_seen (%.0f %% by default)", 100*s.LeastSeen),
		},
		"comparing": {
			fmt.Sprintf("%d times", s.Uncertainty.Draws),
			fmt.Sprintf("%.0f mm and %.0f mm", 1000*s.Uncertainty.WidthTol, 1000*s.Uncertainty.OffsetTol),
			fmt.Sprintf("furniture: %.0f mm", 1000*s.Uncertainty.OutlineSigma),
			fmt.Sprintf("smallest p is %.0f %%", 100*ranks),
		},
		"cautions": {
			fmt.Sprintf("by %.0f mm in the picture", 1000*shift),
			fmt.Sprintf("raster of %.0f mm cells", 1000*s.Coverage.Cell),
			fmt.Sprintf("under a table for more than %.0f s", track.DefaultOptions().BridgeHid),
		},
		"queue": {
			fmt.Sprintf("after %.0f s its recording goes to another worker", queue.DefaultOptions().Lost.Seconds()),
			"after " + map[int]string{5: "five"}[queue.DefaultOptions().Tries] + " tries",
		},
		"bench": {
			// 0.117354 (ASTM F558) against ft3/min (0.3048 m)^3 / 60 s times the inch of
			// water in Pa, NIST SP 811.
			fmt.Sprintf("gives %.2f %% less", 100*(1-0.117354/(math.Pow(0.3048, 3)/60*249.08891))),
		},
	} {
		text, err := docs.Text(page, 1000)
		if err != nil {
			t.Fatal(err)
		}
		text = strings.Join(strings.Fields(text), " ")
		for _, n := range numbers {
			if !strings.Contains(text, n) {
				t.Errorf("%s.md does not say %q", page, n)
			}
		}
	}
}
