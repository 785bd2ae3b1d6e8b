package report

import (
	"strings"
	"testing"

	"swathe/coverage/conduct"
	"swathe/report/words"
)

// What a robot did to test objects is among its events, so that no picture, film or
// table of a run in which a sock was pushed says that nothing happened.
func TestContactsAreEvents(t *testing.T) {
	outcome := func(s string) *string { return &s }
	r := &Run{TestObjects: []TestObject{
		{Name: "sock", Outcome: outcome(conduct.Pushed), MovedM: 0.31, FirstContactS: 12, Contacts: []conduct.ObjectContact{{Start: 12, End: 13, X: 1, Y: 2, SpeedMPS: 0.28}, {Start: 15, End: 16.5, X: 1.2, Y: 2, SpeedMPS: 0.3}}},
		{Name: "cord", Outcome: outcome(conduct.RunOver), MovedM: NaN, FirstContactS: 5, Contacts: []conduct.ObjectContact{{Start: 5, End: 6, X: 0.4, Y: 1, SpeedMPS: 0.3}}},
		{Name: "cube", Outcome: outcome(conduct.Avoided), FirstContactS: NaN},
		{Name: "bead", Reason: "too small to see", FirstContactS: NaN},
	}}
	r.addContacts()
	if len(r.Events) != 2 || r.Events[0].Words["with"] != "cord" || r.Events[1].Words["with"] != "sock" || r.Events[1].EndS != 16.5 {
		t.Fatalf("%+v", r.Events)
	}
	for i, want := range []string{"At 0:05 it met the cord at 0.30 m/s and drove over it.", "At 0:12 it met the sock at 0.28 m/s and pushed it, in total by 0.31 m."} {
		if got := strings.ReplaceAll(r.Events[i].Text(nil, words.Metre), words.NB, " "); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if s := r.storyGravest(nil, words.Metre); strings.Contains(s, "also recorded") {
		t.Errorf("the story tells a test object twice: %s", s)
	}
}
