package conduct

import (
	"sort"

	"swathe/coverage/stats"
)

// Tally is what became of one test object over the trials of a robot.
type Tally struct {
	Name     string
	Tested   int            // trials with an outcome other than untested: the denominator
	Untested int            // trials in which the robot never came near
	Unknown  int            // trials in which it could not be told
	Counts   map[string]int // of Tested, by outcome
	// Shares are the intervals of Counts over Tested by Wilson's score method
	// (R. G. Newcombe, Statistics in Medicine 17, 1998, 857-872, method 3).
	Shares map[string]stats.Interval
}

// Trials tallies the test objects of several runs of one robot, a list of results a
// run, by name in order; level is the confidence of the intervals, such as 0.95.
func Trials(runs [][]ObjectResult, level float64) []Tally {
	by := map[string]*Tally{}
	for _, run := range runs {
		for _, p := range run {
			t := by[p.Name]
			if t == nil {
				t = &Tally{Name: p.Name, Counts: map[string]int{}, Shares: map[string]stats.Interval{}}
				by[p.Name] = t
			}
			switch p.Outcome {
			case "":
				t.Unknown++
			case Untested:
				t.Untested++
			default:
				t.Tested++
				t.Counts[p.Outcome]++
			}
		}
	}
	out := make([]Tally, 0, len(by))
	for _, t := range by {
		for o, k := range t.Counts {
			t.Shares[o] = stats.Wilson(k, t.Tested, level)
		}
		out = append(out, *t)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out
}
