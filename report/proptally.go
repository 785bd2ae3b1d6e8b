package report

import "swathe/coverage/conduct"

// ObjectTally is what became of one small thing over the trials of a robot.
type ObjectTally struct {
	Name     string              `json:"name"`
	Tested   int                 `json:"tested"`      // trials in which the robot came near it
	Untested int                 `json:"untested"`    // and in which it did not
	Counts   map[string]int      `json:"counts"`      // of the tested, by outcome
	Shares   map[string]Interval `json:"interval_95"` // of counts over tested, by Wilson's score method
	Sentence string              `json:"sentence"`
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
		p := ObjectTally{Name: t.Name, Tested: t.Tested, Untested: t.Untested, Counts: t.Counts, Shares: map[string]Interval{}, Sentence: t.Sentence()}
		for o, iv := range t.Shares {
			p.Shares[o] = interval(iv)
		}
		out = append(out, p)
	}
	return out
}
