package compare

import "testing"

// A trial in which the robot never came near a thing says nothing of it.
func TestCountsOfObjects(t *testing.T) {
	runs := six()[:3]
	runs[0].TestObjects = map[string]string{"sock": "run over"}
	runs[1].TestObjects = map[string]string{"sock": "avoided"}
	runs[2].TestObjects = map[string]string{"sock": "untested"}
	got := map[string]Count{}
	for _, n := range mustNew(t, runs, DefaultOptions()).Counts[0] {
		got[n.What] = n
	}
	over, ok := got["sock: run over"]
	if !ok || over.K != 1 || over.N != 2 || len(over.Left) != 1 {
		t.Errorf("%+v", over)
	}
	// 1 of 2 by Wilson's score method, computed from its closed form.
	near(t, "1 of 2, low", over.Interval.Lo, .0945, 5e-5)
	near(t, "1 of 2, high", over.Interval.Hi, .9055, 5e-5)
	if _, ok := got["sock: untested"]; ok {
		t.Error("untested was counted as an outcome")
	}
}
