package compared

import (
	"fmt"

	"swathe/coverage/compare"
	"swathe/coverage/conduct"
	"swathe/coverage/stats"
	"swathe/geom"
	"swathe/report"
	"swathe/report/words"
)

// RunOutcome is how a run ended: what its path tells beside the tester's word,
// neither of which stands in for the other.
type RunOutcome struct {
	Run     string  `json:"run"`
	Guess   *string `json:"guess"` // null with a reason
	Reason  string  `json:"reason"`
	Stated  *string `json:"stated"` // null: the tester did not say
	Assists int     `json:"assists"`
	AssistS float64 `json:"assist_s"` // null where it was not looked up
}

// Counts returns the outcome that counts: the tester's word, else the guess;
// empty if neither is there.
func (o RunOutcome) Counts() string {
	switch {
	case o.Stated != nil:
		return *o.Stated
	case o.Guess != nil:
		return *o.Guess
	}
	return ""
}

// Failed tells whether the run did not do its work without a person; known is
// false where nobody can say.
func (o RunOutcome) Failed() (failed, known bool) {
	c := o.Counts()
	return c == compare.OutcomeTrapped || c == compare.OutcomeBattery || c == compare.OutcomeError, c != ""
}

// OutcomeOf guesses how a run ended from its path. Where the layout has a dock, a
// run that ends elsewhere did not come home. From above
// an empty battery looks like a trap; the guess says trapped, the tester's word
// may say better.
func OutcomeOf(r compare.Run) RunOutcome {
	o := RunOutcome{Run: r.ID, AssistS: report.NaN, Assists: r.Events[conduct.Carried]}
	if s := r.Conditions["outcome"]; s != "" {
		o.Stated = &s
	}
	guess := func(g, why string) { o.Guess, o.Reason = &g, why }
	path := r
	path.Conditions = nil // without the tester's word
	trapped, why := path.Trapped()
	switch {
	case r.Ended == geom.EndedRecording:
		o.Reason = "it was still driving when the recording ended"
	case r.Ended == geom.EndedCarried:
		o.Reason = "it was carried away; its path does not show whether it had finished"
	case trapped:
		guess(compare.OutcomeTrapped, why)
	case r.Ended == geom.EndedDocked, r.Ended == geom.EndedStood:
		if o.Assists > 0 {
			guess(compare.OutcomeAssisted, fmt.Sprintf("a person carried it %s", words.Count(o.Assists)))
		} else {
			guess(compare.OutcomeComplete, "it "+map[string]string{geom.EndedDocked: "ended in its dock", geom.EndedStood: "stopped by itself; the layout has no dock"}[r.Ended])
		}
	default:
		o.Reason = "its end was not seen"
	}
	return o
}

// Failures says how many of the runs failed, with Wilson's interval.
func Failures(os []RunOutcome) (k, n int, iv stats.Interval) {
	for _, o := range os {
		failed, known := o.Failed()
		if !known {
			continue
		}
		n++
		if failed {
			k++
		}
	}
	return k, n, stats.Wilson(k, n, 0.95)
}

func failureWords(os []RunOutcome) string {
	k, n, iv := Failures(os)
	if n == 0 {
		return "not known for any run"
	}
	out := fmt.Sprintf("%d of %d runs (%s to %s)", k, n, words.Share(iv.Lo, 0.02), words.Share(iv.Hi, 0.02))
	if d := len(os) - n; d > 0 {
		out += fmt.Sprintf("; not known for %d more", d)
	}
	return out
}
