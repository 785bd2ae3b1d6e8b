package compare

import (
	"maps"
	"math"
	"slices"

	"swathe/coverage/conduct"
	"swathe/coverage/stats"
)

// Count is how many of a group's runs did something.
type Count struct {
	What     string         `json:"what"` // such as "reached 95 % of reachable floor"
	K        int            `json:"k"`
	N        int            `json:"n"`
	Open     []Refusal      `json:"cut_short"`   // of N, runs that did not and were cut short, so that they might have
	Interval stats.Interval `json:"interval_95"` // Wilson's, its upper end as if all of Open had
	Left     []Refusal      `json:"left_out"`    // of whom it is not known, not in N
}

// what a run did: yes, no, not known, or no because it was cut short.
type did int

const (
	didNot did = iota
	didIt
	notKnown
	mightHave
)

// countsOf counts what runs of a group did or did not do. Every run counts that
// was asked to: one that was cut short before it got there did not get there.
func countsOf(runs []Run, at []int, kinds []string, level float64) []Count {
	var out []Count
	add := func(what string, f func(r *Run) (d did, why string)) {
		c := Count{What: what, Open: []Refusal{}, Left: []Refusal{}}
		for _, i := range at {
			d, why := f(&runs[i])
			switch d {
			case notKnown:
				c.Left = append(c.Left, Refusal{runs[i].ID, why})
				continue
			case didIt:
				c.K++
			case mightHave:
				c.Open = append(c.Open, Refusal{runs[i].ID, why})
			}
			c.N++
		}
		c.Interval = stats.Wilson(c.K, c.N, level)
		c.Interval.Hi = stats.Wilson(c.K+len(c.Open), c.N, level).Hi
		out = append(out, c)
	}
	unless := func(yes bool, r *Run) (did, string) {
		why := r.CutShort() // what a trapped robot did not do, it did not do
		switch {
		case yes:
			return didIt, ""
		case why != "":
			return mightHave, why
		}
		return didNot, ""
	}
	for _, floor := range []struct{ share, time, words string }{{"covered_share", "time_to_s.", "open floor"}, {"reachable_share", "time_to_reachable_s.", "reachable floor"}} {
		for _, lv := range Levels {
			add("reached "+lv+" % of "+floor.words, func(r *Run) (did, string) {
				if math.IsNaN(r.Value(floor.share)) {
					return notKnown, "its share is not known"
				}
				return unless(!math.IsNaN(r.Value(floor.time+lv)), r)
			})
		}
	}
	add("ended in the dock", func(r *Run) (did, string) { return unless(r.Ended == "docked", r) })
	for _, k := range kinds {
		add("had: "+k, func(r *Run) (did, string) {
			if r.Events == nil {
				return notKnown, "events were not analysed"
			}
			return unless(r.Events[k] > 0, r)
		})
	}
	for _, p := range objectOutcomes(runs) {
		add(p.object+": "+p.outcome, func(r *Run) (did, string) {
			switch got := r.TestObjects[p.object]; got {
			case "":
				return notKnown, "the outcome is unknown"
			case conduct.Untested:
				return notKnown, "the robot did not approach it"
			case p.outcome:
				return didIt, ""
			}
			return didNot, ""
		})
	}
	return out
}

type objectOutcome struct{ object, outcome string }

// objectOutcomes lists what became of which test object in any of the runs: by
// object, the gravest first. One that was not tested is no outcome.
func objectOutcomes(runs []Run) []objectOutcome {
	seen := map[objectOutcome]bool{}
	names := map[string]bool{}
	for _, r := range runs {
		for name, o := range r.TestObjects {
			seen[objectOutcome{name, o}], names[name] = true, true
		}
	}
	var out []objectOutcome
	for _, name := range slices.Sorted(maps.Keys(names)) {
		for i := len(conduct.Outcomes) - 1; i >= 0; i-- {
			if p := (objectOutcome{name, conduct.Outcomes[i]}); p.outcome != conduct.Untested && seen[p] {
				out = append(out, p)
			}
		}
	}
	return out
}
