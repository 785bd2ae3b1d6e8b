package compare

import (
	"errors"
	"math"
	"strings"
	"testing"
)

func TestTableAndDifferences(t *testing.T) {
	c := mustNew(t, six(), DefaultOptions())
	if len(c.Groups) != 2 || c.Groups[0].Name != "heron mapping" || c.Groups[1].Name != "heron mapped" {
		t.Fatalf("groups %+v", c.Groups)
	}
	cell, ok := c.Cell("reachable_share", 0)
	if !ok || cell.N != 3 {
		t.Fatalf("%+v", cell)
	}
	near(t, "mean", cell.Mean, .924333, 1e-6)
	near(t, "s", cell.SD, .0085049, 1e-7)
	near(t, "half-width", (cell.Interval.Hi-cell.Interval.Lo)/2, .0211273, 1e-6)
	near(t, "measurement", cell.MeasU, 0.003, 1e-12)
	for _, d := range c.Differ {
		if d.Figure.Name == "reachable_share" {
			// By trial: .030, .032, .031: mean .031, s .001.
			near(t, "difference", d.Value, .031, 1e-12)
			near(t, "half-width", (d.Interval.Hi-d.Interval.Lo)/2, 2.48414*.001, 1e-8)
			if d.Pairs != 3 || d.Method != MethodPaired {
				t.Errorf("%+v", d)
			}
			near(t, "measurement", d.MeasU, 0.003*math.Sqrt(2./3), 1e-12)
		}
	}
	if !strings.Contains(strings.Join(c.Notes, "\n"), "no test by ranks or permutation can reach 5 %: its smallest possible probability is 0.10") {
		t.Errorf("three against three is not remarked on: %q", c.Notes)
	}
	for _, n := range c.Counts[0] {
		if n.What == "reached 90 % of the floor within reach" {
			near(t, "3 of 3, Wilson", n.Interval.Lo, .4385, 5e-5)
		}
	}
	// Two robots: not paired, whatever their trials.
	other := append(six()[:3], run("siskin", "mapping", 1, .9, 1), run("siskin", "mapping", 2, .8, 2), run("siskin", "mapping", 3, .7, 3))
	for _, d := range mustNew(t, other, DefaultOptions()).Differ {
		if d.Pairs != 0 || d.Interval.Known() && d.Method != MethodWelch {
			t.Errorf("two robots: %+v", d)
		}
	}
}

func TestFewRuns(t *testing.T) {
	one := []Run{six()[0], six()[3]}
	c := mustNew(t, one, DefaultOptions())
	cell, _ := c.Cell("reachable_share", 0)
	if cell.N != 1 || !cell.FromOne || cell.Interval.Lo != .915 || !math.IsNaN(cell.SD) {
		t.Errorf("one run: %+v", cell)
	}
	d := c.Differ[0]
	near(t, "one against one", (d.Interval.Hi-d.Interval.Lo)/2, 1.959964*0.003*math.Sqrt2, 1e-8)
	if d.Method != MethodMeasure || d.Pairs != 1 {
		t.Errorf("one against one: %+v", d)
	}
	c = mustNew(t, six()[:2], DefaultOptions())
	cell, _ = c.Cell("reachable_share", 0)
	if cell.N != 2 || cell.Interval.Known() || !math.IsNaN(cell.Mean) || len(cell.Values) != 2 {
		t.Errorf("two runs: %+v", cell)
	}
	c = mustNew(t, append(six()[:2], six()[3:]...), DefaultOptions())
	for _, d := range c.Differ {
		if d.Interval.Known() || d.Method != MethodNone {
			t.Errorf("two against three: %+v", d)
		}
	}
}

// What cannot be compared is refused with a reason; the rest is compared.
func TestRefusals(t *testing.T) {
	change := map[string]func(*Run){
		"layout":          func(r *Run) { r.Layout = "empty" },
		"earlier definit": func(r *Run) { r.Definition = "0" },
		"not known for":   func(r *Run) { r.LostShare = 0.051 },
		"tool mop":        func(r *Run) { r.Tool = "mop" },
		"mm wide":         func(r *Run) { r.ToolWidth = 0.2 },
		"sits elsewhere":  func(r *Run) { r.ToolPlace = [2]float64{0.1, 0} },
	}
	for why, f := range change {
		runs := six()
		f(&runs[4])
		c := mustNew(t, runs, DefaultOptions())
		if len(c.Refused) != 1 || len(c.Runs) != 5 || !strings.Contains(c.Refused[0].Reason, why) || c.Refused[0].Run != runs[4].ID {
			t.Errorf("%s: refused %+v", why, c.Refused)
		} else {
			t.Log(c.Refused[0])
		}
	}
	runs := six()
	runs[4].LostShare = 0.05
	if c := mustNew(t, runs, DefaultOptions()); len(c.Refused) != 0 {
		t.Errorf("5 %% lost: %+v", c.Refused)
	}
	runs[0].ToolWidth = 0.3 // another robot may have another width
	for i := 3; i < 6; i++ {
		runs[i].Robot = "siskin"
	}
	runs[1].ToolWidth, runs[2].ToolWidth = 0.3, 0.3
	if c := mustNew(t, runs, DefaultOptions()); len(c.Refused) != 0 {
		t.Errorf("two robots: %+v", c.Refused)
	}
	c, err := New(six()[:1], DefaultOptions())
	if !errors.Is(err, ErrNothing) || c == nil {
		t.Errorf("one run: %v", err)
	}
	for _, o := range []Options{{Level: 1}, {Level: .95, MaxLost: 2}, {Level: .95, StartApart: -1}, {Level: .95, Pool: []string{"weather"}}} {
		if _, err := New(six(), o); err == nil {
			t.Errorf("%+v: no error", o)
		}
	}
}

// A run that was cut short takes no part in times, and what it did reach counts.
func TestCutShort(t *testing.T) {
	for _, f := range []func(*Run){func(r *Run) { r.Ended = "recording ended" }, func(r *Run) { r.Ended = "carried" }, func(r *Run) { r.Started = "already moving" }} {
		runs := six()
		f(&runs[1])
		c := mustNew(t, runs, DefaultOptions())
		tm, _ := c.Cell("duration_s", 0)
		sh, _ := c.Cell("reachable_share", 0)
		if tm.N != 2 || len(tm.Left) != 1 || tm.Left[0].Run != runs[1].ID || sh.N != 3 {
			t.Errorf("%+v, %+v", tm, sh)
		}
		if !strings.Contains(strings.Join(c.Notes, "\n"), runs[1].ID+" takes no part in times") {
			t.Errorf("not remarked on: %q", c.Notes)
		}
		for _, n := range c.Counts[0] {
			if n.What == "reached 90 % of the floor within reach" && n.N != 3 {
				t.Errorf("it reached 90 %%: %+v", n)
			}
			if n.What == "reached 99 % of the floor within reach" && n.N != 2 {
				t.Errorf("nobody knows whether it would have reached 99 %%: %+v", n)
			}
		}
	}
}

// Runs under other circumstances are grouped apart, and pooled only when asked.
func TestGroupsApart(t *testing.T) {
	for what, f := range map[string]func(*Run){
		PoolFirmware: func(r *Run) { r.Conditions = map[string]string{"firmware": "2.0"} },
		PoolMode:     func(r *Run) { r.Conditions = map[string]string{"mode": "quiet"} },
		PoolSample:   func(r *Run) { r.Conditions = map[string]string{"sample": "B"} },
		PoolStart:    func(r *Run) { r.Start.X = 1 },
		PoolSetup:    func(r *Run) { r.Setup = "b" },
	} {
		runs := six()
		f(&runs[2])
		c := mustNew(t, runs, DefaultOptions())
		if len(c.Groups) != 3 || len(c.Groups[1].Apart) != 1 {
			t.Errorf("%s: %+v", what, c.Groups)
		} else {
			t.Log(c.Groups[0].Name, "|", c.Groups[1].Name)
		}
		o := DefaultOptions()
		o.Pool = []string{what}
		c = mustNew(t, runs, o)
		if len(c.Groups) != 2 || len(c.Groups[0].Pooled) != 1 || !strings.Contains(strings.Join(c.Notes, "\n"), "as asked") {
			t.Errorf("%s pooled: %+v, %q", what, c.Groups, c.Notes)
		}
	}
	runs := six()
	runs[2].Start.X = 0.29
	if c := mustNew(t, runs, DefaultOptions()); len(c.Groups) != 2 {
		t.Errorf("starts 0.29 m apart: %+v", c.Groups)
	}
}

func TestStandings(t *testing.T) {
	runs := append(six(), run("siskin", "mapped", 1, .97, 350), run("siskin", "mapped", 2, .98, 360), run("finch", "mapped", 1, .5, 900))
	for i := range runs[:2] {
		r := run("siskin", "mapped", i+1, .9, 300)
		r.Layout, r.ID = "empty", "empty/"+r.ID
		runs = append(runs, r)
	}
	st, refused, err := Standings(runs, DefaultOptions())
	if err != nil || len(refused) != 0 {
		t.Fatal(refused, err)
	}
	var names []string
	for _, s := range st {
		names = append(names, s.Layout+" "+s.Name)
		for _, p := range s.Figures {
			if s.Layout == "cluttered" && s.Phase == "mapped" && p.Figure.Name == "reachable_share" {
				want := map[string][2]float64{"heron": {.955333, 2}, "siskin": {.975, 1}, "finch": {.5, 3}}[s.Group.Robot]
				near(t, s.Name+": mean", p.Mean, want[0], 1e-6)
				near(t, s.Name+": rank", p.Rank, want[1], 0)
				near(t, "mean of all", p.All, (.955333+.975+.5)/3, 1e-6)
				if p.Of != 3 {
					t.Errorf("%d robots", p.Of)
				}
			}
			if p.Figure.Name == "time_to_reachable_s.90" && s.Name == "siskin mapped" && p.Rank != 1 {
				t.Errorf("the quickest has rank %g", p.Rank)
			}
		}
	}
	if got := strings.Join(names, "; "); got != "cluttered heron mapping; cluttered heron mapped; cluttered siskin mapped; cluttered finch mapped; empty siskin mapped" {
		t.Errorf("%s", got)
	}
}
