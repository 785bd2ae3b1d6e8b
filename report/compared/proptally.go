package compared

import (
	"fmt"
	"strings"

	"swathe/coverage/conduct"
	"swathe/coverage/stats"
)

// ObjectTally is what became of one small thing over the trials of a robot.
type ObjectTally struct {
	Name     string                    `json:"name"`
	Tested   int                       `json:"tested"`      // trials in which the robot came near it
	Untested int                       `json:"untested"`    // and in which it did not
	Counts   map[string]int            `json:"counts"`      // of the tested, by outcome
	Shares   map[string]stats.Interval `json:"interval_95"` // of counts over tested, by Wilson's score method
	Sentence string                    `json:"sentence"`
}

// objectTallies tallies what became of small things over trials, a map from name
// to outcome a trial; nil if there are none.
func objectTallies(trials []map[string]string) []ObjectTally {
	runs := make([][]conduct.ObjectResult, len(trials))
	for i, t := range trials {
		for name, outcome := range t {
			runs[i] = append(runs[i], conduct.ObjectResult{Name: name, Outcome: outcome})
		}
	}
	var out []ObjectTally
	for _, t := range conduct.Trials(runs, 0.95) {
		p := ObjectTally{Name: t.Name, Tested: t.Tested, Untested: t.Untested, Counts: t.Counts, Shares: t.Shares, Sentence: tallyText(t)}
		out = append(out, p)
	}
	return out
}

// tallyText tells a tally: "sock: run over in 2 of 3 trials (21 to 94 %)". The
// gravest outcome comes first.
func tallyText(t conduct.Tally) string {
	trials := func(n int) string {
		if n == 1 {
			return "1 trial"
		}
		return fmt.Sprintf("%d trials", n)
	}
	var parts []string
	for i := len(conduct.Outcomes) - 1; i >= 0; i-- {
		o := conduct.Outcomes[i]
		if t.Counts[o] == 0 {
			continue
		}
		s := fmt.Sprintf("%s in %d of %s", o, t.Counts[o], trials(t.Tested))
		if iv := t.Shares[o]; iv.Known() {
			s += fmt.Sprintf(" (%.0f to %.0f %%)", 100*iv.Lo, 100*iv.Hi)
		}
		parts = append(parts, s)
	}
	if t.Tested == 0 {
		parts = append(parts, "never tested")
	}
	if t.Untested > 0 && t.Tested > 0 {
		parts = append(parts, "not approached in "+trials(t.Untested))
	}
	if t.Unknown > 0 {
		parts = append(parts, "outcome unknown in "+trials(t.Unknown))
	}
	return t.Name + ": " + strings.Join(parts, ", ") + "."
}
