package report

import (
	"encoding/json"
	"math"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
)

// storyInput is a run whose every kind of event happened several times.
func storyInput() RunInput {
	var es []conduct.Event
	for i, k := range []string{conduct.Spin, conduct.Pause, conduct.Stuck, conduct.Contact, conduct.Revisit, conduct.EdgeRetry, conduct.Swerve, conduct.Dock, conduct.Undock, conduct.Carried, conduct.Hidden, conduct.Outside} {
		for n := range 3 {
			t := float64(20 + 30*n + i)
			es = append(es, conduct.Event{Kind: k, Start: t, End: t + 1, X: 1, Y: 2, Size: float64(n), Unit: "s",
				Sentence: "At 0:" + strings.Repeat("0", 2) + " it did a thing.", Figures: map[string]float64{"turn_deg": math.NaN()}, Words: map[string]string{"with": "wall"}})
		}
	}
	l := conduct.Ledger{LeastS: 40, SpeedMPS: 0.3, OverLeast: 3}
	for _, n := range conduct.EntryNames {
		l.Entries = append(l.Entries, conduct.Entry{Name: n, Seconds: 9.25})
	}
	c := &conduct.Result{Ledger: l, Events: es, Rows: conduct.Rows{Pattern: conduct.PatternRows, Lanes: []conduct.Lane{{Block: -1}, {Block: 0}},
		Blocks:  []conduct.Block{{Start: 10, End: 50, Lanes: 6, SpacingM: 0.16, OverlapM: 0.02, LengthM: 12}, {Start: 60, End: 90, Lanes: 5, SpacingM: 0.2, OverlapM: -0.02, LengthM: 9, SecondLayer: true, NewShare: 0.01}},
		Changes: []conduct.Change{{T: 60, From: 0, To: math.Pi / 2}}}, Docking: &conduct.Docking{Trips: 3}}
	cov := &coverage.Result{Coverage: coverage.Block{ReachableShare: 0.93, CoveredShare: 0.9, MeanPasses: 1.4, TimeToReachable: [5]float64{30, 60, 100, math.NaN(), math.NaN()}}}
	return RunInput{Layout: "study", Robot: geom.Robot{Name: "wren"}, Phase: "mapped", Trial: 2, Coverage: cov, Conduct: c,
		Trace: &geom.Trace{Run: geom.Span{From: 5, To: 125}, Started: geom.StartedAtRest, Ended: geom.EndedDocked}}
}

func TestStory(t *testing.T) {
	s := Story(storyInput())
	t.Log(s)
	var lines []string
	for _, l := range strings.Split(s, "\n") {
		if strings.HasPrefix(l, "- ") {
			lines = append(lines, l)
		}
	}
	if len(lines) == 0 || len(lines) > storyLength {
		t.Fatalf("%d sentences, want 1 to %d", len(lines), storyLength)
	}
	clock := regexp.MustCompile(`\d:\d\d`)
	for _, l := range lines {
		if !clock.MatchString(l) || !strings.HasSuffix(l, ".") || strings.Contains(l, "NaN") {
			t.Errorf("no time, no end or no number: %s", l)
		}
	}
	if !strings.Contains(lines[0], "set off") || !strings.Contains(lines[len(lines)-1], "dock") {
		t.Error("the story begins with the start and ends with the end")
	}
	for _, word := range []string{"very", "quickly", "impressive", "good", "bad", "poor", "excellent"} {
		if strings.Contains(s, " "+word) {
			t.Errorf("%q has no number behind it", word)
		}
	}
	if Story(RunInput{}) != "" {
		t.Error("a story of nothing")
	}
}

// What the robot did comes back from JSON as it went in.
func TestConductJSON(t *testing.T) {
	r := &Run{Schema: Schema}
	r.addConduct(storyInput().Conduct)
	raw, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var back Run
	if err := json.Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(back.Ledger, r.Ledger) || !reflect.DeepEqual(back.Rows.Lanes, r.Rows.Lanes) || !reflect.DeepEqual(back.Docking, r.Docking) {
		t.Error("ledger, lanes or docking changed")
	}
	e := back.Events[0]
	if e.Words["with"] != "wall" || !math.IsNaN(e.More["turn_deg"]) || e.Kind != r.Events[0].Kind || len(back.Events) != len(r.Events) {
		t.Errorf("event %+v, was %+v", e, r.Events[0])
	}
	for i := 1; i < len(back.Events); i++ {
		if back.Events[i].StartS < back.Events[i-1].StartS {
			t.Fatal("events are out of order")
		}
	}
	if len(back.Ledger.Entries) != len(conduct.EntryNames) || back.Rows.Lanes[0].Block != nil || *back.Rows.Lanes[1].Block != 0 {
		t.Errorf("%+v", back.Rows.Lanes)
	}
}

// A test object that was pushed is told with its time and how far it went; one that was
// avoided or could not be seen is not.
func TestStoryObjects(t *testing.T) {
	in := storyInput()
	in.Conduct.Events = nil
	in.TestObjects = TestObjects([]conduct.ObjectResult{
		{Name: "slipper", Outcome: conduct.Pushed, ClearanceM: 0, MovedM: 0.31, FirstS: 42, Contacts: []conduct.ObjectContact{{Start: 42, End: 44, SpeedMPS: 0.25}, {Start: 50, End: 51}}, ReactionM: math.NaN()},
		{Name: "cup", Outcome: conduct.Avoided, ClearanceM: 0.1, FirstS: math.NaN()},
		{Name: "bead", Reason: "too small to see", FirstS: math.NaN(), MovedM: math.NaN(), ClearanceM: math.NaN()},
	})
	s := Story(in)
	t.Log(s)
	if !strings.Contains(s, "At 0:42 it met the slipper and pushed it") || !strings.Contains(s, "0.31") || strings.Contains(s, "cup") || strings.Contains(s, "bead") {
		t.Error("the slipper is to be told of, and nothing else")
	}
	raw, err := json.Marshal(in.TestObjects)
	if err != nil {
		t.Fatal(err)
	}
	var back []TestObject
	if err := json.Unmarshal(raw, &back); err != nil || len(back) != 3 {
		t.Fatal(err)
	}
	if *back[0].Outcome != conduct.Pushed || len(back[0].Contacts) != 2 || back[2].Outcome != nil || back[2].Reason != "too small to see" || back[2].MovedM.Known() {
		t.Errorf("%+v", back)
	}
}
