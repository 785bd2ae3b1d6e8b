package report

import (
	"math"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/report/words"
)

// storyInput is a run whose every kind of event happened several times.
func storyInput() RunInput {
	var es []conduct.Event
	for i, k := range []string{conduct.Spin, conduct.Pause, conduct.Stuck, conduct.Contact, conduct.Revisit, conduct.EdgeRetry, conduct.Swerve, conduct.Dock, conduct.Undock, conduct.Carried, conduct.Hidden, conduct.Outside} {
		for n := range 3 {
			t := float64(20 + 30*n + i)
			es = append(es, conduct.Event{Kind: k, Start: t, End: t + 1, X: 1, Y: 2, Size: float64(n), Unit: "s",
				Figures: map[string]float64{"turn_deg": math.NaN()}, Words: map[string]string{"with": "wall"}})
		}
	}
	l := conduct.Ledger{LeastS: 40, SpeedMPS: 0.3, OverLeast: 3}
	for _, n := range conduct.EntryNames {
		l.Entries = append(l.Entries, conduct.Entry{Name: n, TimeS: 9.25})
	}
	c := &conduct.Result{Ledger: l, Events: es, Rows: conduct.Rows{Pattern: conduct.PatternRows, Lanes: []conduct.Lane{{Block: -1}, {Block: 0}},
		Blocks:  []conduct.Block{{Start: 10, End: 50, Lanes: 6, SpacingM: 0.16, OverlapM: 0.02, LengthM: 12}, {Start: 60, End: 90, Lanes: 5, SpacingM: 0.2, OverlapM: -0.02, LengthM: 9, SecondLayer: true, NewShare: 0.01}},
		Changes: []conduct.Change{{T: 60, From: 0, To: math.Pi / 2}}}, Docking: &conduct.Docking{Trips: 3}}
	cov := &coverage.Result{Coverage: coverage.Block{ReachableShare: 0.93, CoveredShare: 0.9, MeanPasses: 1.4, TimeToReachable: [5]float64{30, 60, 100, math.NaN(), math.NaN()}}}
	return RunInput{Layout: "study", Robot: geom.Robot{Name: "wren"}, Phase: "mapped", Trial: 2, Coverage: cov, Conduct: c,
		Trace: &geom.Trace{Run: geom.Span{From: 5, To: 125}, Started: geom.StartedAtRest, Ended: geom.EndedDocked}}
}

// storyRun is run.json of storyInput, with a plan of a room with a cabinet.
func storyRun(t *testing.T, change func(*RunInput)) (*Run, *geom.Plan) {
	t.Helper()
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "study", Room: []geom.Point2{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 3}, {X: 0, Y: 3}}, Obstacles: []geom.Piece{{Name: "cabinet", Outline: geom.Ring([]geom.Point2{{X: 1.2, Y: 1.8}, {X: 2, Y: 1.8}, {X: 2, Y: 2.2}, {X: 1.2, Y: 2.2}}), Height: 1}}})

	if err != nil {
		t.Fatal(err)
	}
	in := storyInput()
	in.Plan = plan
	in.Coverage.Grid = &coverage.Grid{}
	in.Coverage.Motion.DistanceM = 31.4
	in.Coverage.Missed = []coverage.Patch{{AreaM2: 0.12, Beside: "cabinet"}}
	in.Trace.Samples = []geom.Sample{{T: 5}, {T: 125}}
	if change != nil {
		change(&in)
	}
	r, err := NewRun(in)
	if err != nil {
		t.Fatal(err)
	}
	return r, plan
}

// Five sentences or fewer, each with figures, none with what was not measured;
// in feet nothing is told in metres.
func TestStory(t *testing.T) {
	r, plan := storyRun(t, nil)
	for unit, alien := range map[words.Unit]*regexp.Regexp{
		words.Metre: regexp.MustCompile(`\d[ \x{a0}](ft|in|ft/s|ft²)\b`),
		words.Foot:  regexp.MustCompile(`\d[ \x{a0}](m|mm|cm|m/s|m²|cm²)\b`),
	} {
		lines := Story(r, plan, unit)
		t.Log(strings.Join(lines, "\n"))
		if len(lines) != 5 {
			t.Fatalf("%d sentences, want 5", len(lines))
		}
		all := strings.Join(lines, " ")
		for _, l := range lines {
			if !strings.HasSuffix(l, ".") || !regexp.MustCompile(`\d`).MatchString(l) {
				t.Errorf("no end or no number: %s", l)
			}
		}
		if strings.Contains(all, "NaN") || strings.Contains(all, words.NotMeasured) || alien.MatchString(all) {
			t.Errorf("what was not measured, or the other unit, is told: %s", all)
		}
		if !strings.Contains(lines[0], "set off") || !strings.Contains(lines[4], "stopped in its dock") || !strings.Contains(lines[4], "beside the cabinet") {
			t.Error("the story begins with the start and ends with the end")
		}
	}
	if Story(&Run{}, plan, words.Metre) != nil {
		t.Error("a story of nothing")
	}
}

// Every kind of event becomes a sentence with its time, and a place where one is
// known; one whose figures were not measured says nothing of them.
func TestEventText(t *testing.T) {
	r, plan := storyRun(t, nil)
	kinds := map[string]bool{}
	for _, e := range r.Events {
		kinds[e.Kind] = true
		for _, s := range []string{e.Text(plan, words.Metre), e.What(plan, words.Foot)} {
			if !strings.HasSuffix(s, ".") || strings.Contains(s, "NaN") || strings.Contains(s, "(0.") || len(s) < 12 {
				t.Errorf("%s: %q", e.Kind, s)
			}
		}
	}
	if len(kinds) != 12 {
		t.Errorf("%d kinds, want 12: %v", len(kinds), kinds)
	}
	e := Event{Kind: conduct.Contact, StartS: 64, Size: 0.3048, Unit: "m/s", More: map[string]float64{"angle_deg": 90}, Words: map[string]string{"with": "cabinet", "reaction": conduct.Turns}}
	if got, want := strings.ReplaceAll(e.Text(plan, words.Foot), words.NB, " "), "At 1:04 it touched the cabinet at 1.00 ft/s, 90 degrees to it, and turned away."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// Landmarks by hand, of a cabinet from (1.2, 1.8) to (2, 2.2) m in a room of
// 4 by 3 m.
func TestLandmark(t *testing.T) {
	_, plan := storyRun(t, nil)
	for _, c := range []struct {
		x, y float64
		want string
	}{
		{1.0, 2.0, "left of the cabinet"}, {2.2, 1.9, "right of the cabinet"}, {1.6, 1.6, "below the cabinet"}, {1.6, 2.4, "above the cabinet"},
		{0.2, 0.2, "at the bottom left of the room"}, {3.9, 2.9, "at the top right of the room"}, {2, 1.2, "in the middle of the room"},
		{math.NaN(), 1, ""},
	} {
		if got := landmark(plan, c.x, c.y); got != c.want {
			t.Errorf("(%g, %g): %q, want %q", c.x, c.y, got, c.want)
		}
	}
}

// What the robot did comes back from JSON as it went in.
func TestConductJSON(t *testing.T) {
	r := &Run{Schema: Schema}
	r.addConduct(storyInput().Conduct)
	raw, err := Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var back Run
	if err := Unmarshal(raw, &back); err != nil {
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
	objects := TestObjects([]conduct.ObjectResult{
		{Name: "slipper", Outcome: conduct.Pushed, ClearanceM: 0, MovedM: 0.31, FirstS: 42, Contacts: []conduct.ObjectContact{{Start: 42, End: 44, SpeedMPS: 0.25}, {Start: 50, End: 51}}, ReactionM: math.NaN()},
		{Name: "cup", Outcome: conduct.Avoided, ClearanceM: 0.1, FirstS: math.NaN()},
		{Name: "bead", Reason: "too small to see", FirstS: math.NaN(), MovedM: math.NaN(), ClearanceM: math.NaN(), Contacts: []conduct.ObjectContact{{Start: 3, End: 4}}},
	})
	r, plan := storyRun(t, func(in *RunInput) { in.Conduct.Events, in.TestObjects = nil, objects })
	s := strings.ReplaceAll(strings.Join(Story(r, plan, words.Metre), "\n"), words.NB, " ")
	if !strings.Contains(s, "At 0:42 it met the slipper at 0.25 m/s and pushed it") || !strings.Contains(s, "0.31") || strings.Contains(s, "cup") || strings.Contains(s, "bead") {
		t.Error("the slipper is to be told of, and nothing else")
	}
	raw, err := Marshal(objects)
	if err != nil {
		t.Fatal(err)
	}
	var back []TestObject
	if err := Unmarshal(raw, &back); err != nil || len(back) != 3 {
		t.Fatal(err)
	}
	if *back[0].Outcome != conduct.Pushed || len(back[0].Contacts) != 2 || back[1].Contacts == nil || len(back[2].Contacts) != 1 || back[2].Outcome != nil || back[2].Reason != "too small to see" || Measured(back[2].MovedM) {
		t.Errorf("%+v", back)
	}
}

// What cannot be decided is said so, with the distance and the ends of its
// interval; an end below nought is nought.
func TestNearText(t *testing.T) {
	e := Event{Kind: conduct.Near, StartS: 64, Size: 0.006, Unit: "m", Words: map[string]string{"with": "sofa", "reaction": conduct.Turns},
		More: map[string]float64{"distance_m": 0.006, "distance_low_m": -0.005, "distance_high_m": 0.017, "speed_mps": 0.3}}
	want := "At 1:04 it came within 6 mm (0 mm to 17 mm) of the sofa at 0.30 m/s and turned away; contact cannot be decided."
	if got := strings.ReplaceAll(e.Text(nil, words.Metre), words.NB, " "); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	e.More["distance_m"], e.More["distance_high_m"] = -0.025, -0.014
	if got := strings.ReplaceAll(e.Text(nil, words.Metre), words.NB, " "); !strings.Contains(got, "entered the surveyed outline of the sofa by 25 mm") {
		t.Error(got)
	}
}
