package compare

import (
	"errors"
	"math"
	"strings"
	"testing"

	"swathe/coverage/stats"
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
	// By hand: nothing of what the runs share is kept, so .003 is common, beside
	// s/sqrt 3 = .004910 with 2 degrees of freedom: .005755 with 3.77 (G.4), t =
	// 2.842 (between the tables' 3.182 and 2.776). On the angular scale 2.584342
	// +- 2.842 x .005755 / sqrt(.924333 x .075667).
	near(t, "low", cell.Interval.Lo, .9072, 1e-4)
	near(t, "high", cell.Interval.Hi, .9399, 1e-4)
	near(t, "measurement", cell.MeasU, 0.003, 1e-12)
	for _, d := range c.Differ {
		if d.Figure.Name == "reachable_share" {
			// The trials' numbers make no pairs.
			near(t, "difference", d.Value, .031, 1e-12)
			if d.Pairs != 0 || d.Method != MethodWelch {
				t.Errorf("%+v", d)
			}
		}
	}
	if !strings.Contains(strings.Join(c.Notes, "\n"), "no rank test can reach 5 %: its smallest possible p is 0.10") {
		t.Errorf("three against three is not remarked on: %q", c.Notes)
	}
	for _, n := range c.Counts[0] {
		if n.What == "reached 90 % of reachable floor" {
			near(t, "3 of 3, Wilson", n.Interval.Lo, .4385, 5e-5)
		}
	}
	// A date or a block in the notes does.
	runs := six()
	for i := range runs {
		runs[i].Conditions = map[string]string{"date": []string{"2026-11-03", "2026-11-04", "2026-11-05"}[i%3]}
	}
	byDay := mustNew(t, runs, DefaultOptions())
	// Three pairs whose signs are flipped: 2 / 2^3.
	if k := strings.Join(byDay.Notes, " "); byDay.pairsOf(0, 1) != 3 || (!strings.Contains(k, "With 3 pairs") || !strings.Contains(k, "p is 0.25")) {
		t.Errorf("three pairs are not remarked on: %q", byDay.Notes)
	}
	for _, d := range byDay.Differ {
		if d.Figure.Name == "reachable_share" {
			// By day: .030, .032, .031: mean .031, s .001, and .003 is common to
			// the runs of each, as nothing else is known.
			near(t, "difference", d.Value, .031, 1e-12)
			u, c := .001/math.Sqrt(3), .003*math.Sqrt2
			near(t, "standard error", d.SE, math.Hypot(u, c), 1e-9)
			if d.Pairs != 3 || d.Method != MethodPaired {
				t.Errorf("%+v", d)
			}
		}
	}
}

func TestFewRuns(t *testing.T) {
	one := []Run{six()[0], six()[3]}
	c := mustNew(t, one, DefaultOptions())
	cell, _ := c.Cell("reachable_share", 0)
	if cell.N != 1 || *cell.From != FromOne || cell.Interval.Lo != .915 || !math.IsNaN(cell.SD) {
		t.Errorf("one run: %+v", cell)
	}
	// An interval that is open on one side is of the one run as well.
	open := six()[:1]
	open[0].Interval = map[string]stats.Interval{"reachable_share": {Lo: .9, Hi: math.NaN()}}
	if cell, _ := mustNew(t, append(open, six()[3]), DefaultOptions()).Cell("reachable_share", 0); cell.From == nil || *cell.From != FromOne {
		t.Errorf("one run with a lower bound only: %+v", cell)
	}
	d := c.Differ[1]
	near(t, "one against one", (d.Interval.Hi-d.Interval.Lo)/2, 1.959964*0.003*math.Sqrt2, 1e-8)
	if d.Method != MethodMeasure || d.Verdict != TooFew {
		t.Errorf("one against one: %+v", d)
	}
	c = mustNew(t, six()[:2], DefaultOptions())
	cell, _ = c.Cell("reachable_share", 0)
	if cell.N != 2 || cell.Interval.Known() || !math.IsNaN(cell.Mean) || len(cell.Values) != 2 {
		t.Errorf("two runs: %+v", cell)
	}
	c = mustNew(t, append(six()[:2], six()[3:]...), DefaultOptions())
	for _, d := range c.Differ {
		if d.Interval.Known() || d.Method != MethodNone || d.Verdict != TooFew {
			t.Errorf("two against three: %+v", d)
		}
	}
}

// What cannot be compared is refused with a reason; the rest is compared.
func TestRefusals(t *testing.T) {
	change := map[string]func(*Run){
		"layout":                     func(r *Run) { r.Layout = "empty" },
		"earlier definit":            func(r *Run) { r.Definition = "0" },
		"unknown for":                func(r *Run) { r.LostShare = 0.051 },
		"tool mop":                   func(r *Run) { r.Tool = "mop" },
		"mm wide":                    func(r *Run) { r.ToolWidth = 0.2 },
		"has another place":          func(r *Run) { r.ToolPlace = [2]float64{0.1, 0} },
		"a chest (obstacles) is new": func(r *Run) { r.Room = withChest(r.Room) },
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
	for _, o := range []Options{{Level: 1, Primary: Primary}, {Level: .95, Primary: Primary, MaxLost: 2}, {Level: .95, Primary: Primary, StartApart: -1}, {Level: .95, Primary: Primary, Pool: []string{"weather"}}, {Level: .95, Primary: "beauty"}} {
		if _, err := New(six(), o); err == nil {
			t.Errorf("%+v: no error", o)
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
		if len(c.Groups) != 2 || len(c.Groups[0].Pooled) != 1 || !strings.Contains(strings.Join(c.Notes, "\n"), "as requested") {
			t.Errorf("%s pooled: %+v, %q", what, c.Groups, c.Notes)
		}
	}
	runs := six()
	runs[2].Start.X = 0.29
	if c := mustNew(t, runs, DefaultOptions()); len(c.Groups) != 2 {
		t.Errorf("starts 0.29 m apart: %+v", c.Groups)
	}
}

// Cell returns the cell of a figure and group; ok is false if no run has it.
func (c *Comparison) Cell(figure string, group int) (cell Cell, ok bool) {
	for k, f := range c.Figures {
		if f.Name == figure {
			return c.Table[k][group], true
		}
	}
	return Cell{}, false
}
