package compared

import (
	"math"
	"testing"

	"swathe/coverage/compare"
	"swathe/coverage/conduct"
	"swathe/geom"
)

// What the path tells of a run's end, and what it does not; the tester's word
// stands beside it and counts before it.
func TestOutcomes(t *testing.T) {
	for _, c := range []struct {
		name    string
		ended   string
		dock    bool
		carried int
		stated  string
		guess   string // empty: none
		counts  string
		failed  bool
		known   bool
	}{
		{"home", geom.EndedDocked, true, 0, "", compare.OutcomeComplete, compare.OutcomeComplete, false, true},
		{"home with help", geom.EndedDocked, true, 2, "", compare.OutcomeAssisted, compare.OutcomeAssisted, false, true},
		{"stopped away from its dock", geom.EndedStood, true, 0, "", compare.OutcomeTrapped, compare.OutcomeTrapped, true, true},
		{"the same, and the tester knows better", geom.EndedStood, true, 0, compare.OutcomeBattery, compare.OutcomeTrapped, compare.OutcomeBattery, true, true},
		{"stopped, no dock", geom.EndedStood, false, 0, "", compare.OutcomeComplete, compare.OutcomeComplete, false, true},
		{"carried off", geom.EndedCarried, true, 1, "", "", "", false, false},
		{"still driving", geom.EndedRecording, true, 0, "", "", "", false, false},
		{"still driving, stated", geom.EndedRecording, true, 0, compare.OutcomeComplete, "", compare.OutcomeComplete, false, true},
		{"lost", geom.EndedLost, true, 0, "", "", "", false, false},
	} {
		r := compare.Run{Ended: c.ended, Dock: c.dock, Events: map[string]int{conduct.Carried: c.carried}, Conditions: map[string]string{"outcome": c.stated}}
		o := OutcomeOf(r)
		guess := ""
		if o.Guess != nil {
			guess = *o.Guess
		}
		failed, known := o.Failed()
		if guess != c.guess || o.Counts() != c.counts || failed != c.failed || known != c.known || o.Reason == "" {
			t.Errorf("%s: guess %q (%s), counts %q, failed %v, known %v", c.name, guess, o.Reason, o.Counts(), failed, known)
		}
	}
	// 1 of 5 failed: Wilson's interval is 3.62 % to 62.45 % (R. G. Newcombe,
	// Statistics in Medicine 17, 1998, method 3; worked out from the closed form).
	word := func(w string) RunOutcome { return RunOutcome{Stated: &w} }
	k, n, iv := Failures([]RunOutcome{word("complete"), word("trapped"), word("assisted"), word("complete"), word("complete"), {}})
	if k != 1 || n != 5 || math.Abs(iv.Lo-.0362) > 5e-5 || math.Abs(iv.Hi-.6245) > 5e-5 {
		t.Errorf("%d of %d, %v", k, n, iv)
	}
}
