package compare

import (
	"math"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"swathe/coverage"
	"swathe/coverage/doubt"
	"swathe/coverage/stats"
	"swathe/geom"
)

// times makes runs of a robot that reach 90 % of the open floor at these times;
// NaN: they finish without.
func times(robot string, at ...float64) []Run {
	var out []Run
	for i, v := range at {
		r := run(robot, "single", i+1, 0.9+0.001*float64(i), math.NaN())
		delete(r.Values, "time_to_reachable_s.90")
		if !math.IsNaN(v) {
			r.Values["time_to_s.90"] = v
		}
		out = append(out, r)
	}
	return out
}

func place(t *testing.T, st []Standing, robot, figure string) Place {
	t.Helper()
	for _, s := range st {
		if s.Group.Robot == robot {
			for _, p := range s.Figures {
				if p.Figure.Name == figure {
					return p
				}
			}
		}
	}
	t.Fatalf("%s has no %s", robot, figure)
	return Place{}
}

func standings(t *testing.T, runs []Run, primary string) []Standing {
	t.Helper()
	o := DefaultOptions()
	o.Primary = primary
	st, no, err := Standings(runs, o)
	if err != nil || len(no) > 0 {
		t.Fatal(no, err)
	}
	return st
}

// A robot that got there once in 20 s and twice not at all does not outrank one
// that got there every time in 25 s.
func TestNeverRanksLast(t *testing.T) {
	never := math.NaN()
	runs := append(times("finch", 20, never, never), times("heron", 25, 25, 25)...)
	st := standings(t, runs, "time_to_s.90")
	f, h := place(t, st, "finch", "time_to_s.90"), place(t, st, "heron", "time_to_s.90")
	if f.First < h.First || st[0].Name != "heron" {
		t.Errorf("finch %q, heron %q, first listed %s", f.Words(), h.Words(), st[0].Name)
	}
	if f.Cell.N != 1 || len(f.Cell.Never) != 2 || !math.IsNaN(f.Mean) || !math.IsInf(f.Cell.Median, 1) {
		t.Errorf("finch: %+v", f.Cell)
	}
	// With five runs against five that never do, it is clear.
	runs = append(times("finch", never, never, never, never, never), times("heron", 25, 26, 25, 24, 25)...)
	st = standings(t, runs, "time_to_s.90")
	if f, h := place(t, st, "finch", "time_to_s.90"), place(t, st, "heron", "time_to_s.90"); f.Words() != "2 of 2" || h.Words() != "1 of 2" {
		t.Errorf("finch %q, heron %q", f.Words(), h.Words())
	}
	o := DefaultOptions()
	o.Primary = "time_to_s.90"
	for _, d := range mustNew(t, runs, o).Differ {
		if d.Figure.Name == "time_to_s.90" && (d.Verdict != SecondBetter || d.Method != MethodRanks) {
			t.Errorf("never against always: %+v", d)
		}
	}
	o.Pool = nil
	few := append(times("finch", never, never, never), times("heron", 25, 26, 27)...)
	for _, d := range mustNew(t, few, o).Differ {
		if d.Figure.Name == "time_to_s.90" && (d.Verdict != TooFew || d.Need != 4) {
			t.Errorf("three against three by ranks: %+v", d)
		}
	}
}

// A share that was cut short is a lower bound and in no mean, nor is anything
// else of such a run; what it reached, it reached.
func TestCutShortIsBound(t *testing.T) {
	for _, cut := range []func(*Run){func(r *Run) { r.Ended = "recording ended" }, func(r *Run) { r.Ended = "carried" }, func(r *Run) { r.Started = "already moving" }} {
		runs := []Run{run("wren", "single", 1, .984, 300), run("wren", "single", 2, .602, math.NaN()), run("wren", "single", 3, .980, 310)}
		delete(runs[1].Values, "time_to_reachable_s.90")
		for i := range runs {
			runs[i].Values["redundancy"], runs[i].Values["events"] = 0.3, 4
			runs[i].Values["time_to_reachable_s.50"] = 100
			runs[i].Events = map[string]int{"spin": i % 2}
		}
		cut(&runs[1])
		c := mustNew(t, runs, DefaultOptions())
		sh, _ := c.Cell("reachable_share", 0)
		if sh.N != 2 || sh.Interval.Known() || !math.IsNaN(sh.Mean) || len(sh.AtLeast) != 1 || sh.AtLeast[0].Value != .602 {
			t.Errorf("share: %+v", sh)
		}
		for _, f := range []string{"redundancy", "events", "duration_s"} {
			if cell, _ := c.Cell(f, 0); cell.N != 2 || len(cell.Left)+len(cell.AtLeast) != 1 {
				t.Errorf("%s: %+v", f, cell)
			}
		}
		started := runs[1].Started == "already moving"
		if half, _ := c.Cell("time_to_reachable_s.50", 0); !started && half.N != 3 || started && half.N != 2 {
			t.Errorf("time that it reached: %+v", half)
		}
		if ninety, _ := c.Cell("time_to_reachable_s.90", 0); !started && len(ninety.Never) != 1 || started && len(ninety.Left) != 1 {
			t.Errorf("time that it did not reach: %+v", ninety)
		}
		if !strings.Contains(strings.Join(c.Notes, "\n"), runs[1].ID) {
			t.Errorf("not remarked on: %q", c.Notes)
		}
		for _, n := range c.Counts[0] {
			if n.What == "reached 90 % of reachable floor" && (n.K != 2 || n.N != 3 || len(n.Open) != 1 || n.Interval.Hi != 1) {
				t.Errorf("%+v", n)
			}
			if n.What == "had: spin" && (n.K != 1 || n.N != 3) {
				t.Errorf("%+v", n)
			}
		}
	}
}

// Robots whose intervals overlap share ranks; one with too few runs, and one
// with nobody beside it, have none; of times the quickest is first.
func TestRanks(t *testing.T) {
	var runs []Run
	for robot, v := range map[string][]float64{"heron": {.95, .951, .952}, "siskin": {.949, .953, .955}, "finch": {.80, .81, .805}, "wren": {.99, .99}} {
		for i, s := range v {
			runs = append(runs, run(robot, "single", i+1, s, 1000*(1-s)))
		}
	}
	st := standings(t, runs, "reachable_share")
	for robot, want := range map[string]string{"heron": "1 to 2 of 3", "siskin": "1 to 2 of 3", "finch": "3 of 3", "wren": ""} {
		for _, f := range []string{"reachable_share", "time_to_reachable_s.90"} {
			if p := place(t, st, robot, f); p.Words() != want {
				t.Errorf("%s, %s: %q, want %q", robot, f, p.Words(), want)
			}
		}
	}
	if p := place(t, st, "heron", "duration_s"); p.Words() != "" {
		t.Errorf("of the time of the run neither end is better, and it has rank %q", p.Words())
	}
	if st[0].Name != "wren" || st[len(st)-1].Name != "finch" {
		t.Errorf("listed from %s to %s", st[0].Name, st[len(st)-1].Name)
	}
	alone := standings(t, runs[:0:0], "reachable_share")
	if len(alone) != 0 {
		t.Errorf("%+v", alone)
	}
	if p := place(t, standings(t, six()[:3], "reachable_share"), "heron", "reachable_share"); p.Words() != "" {
		t.Errorf("alone it is number %s", p.Words())
	}
	// The same layout's name over two arrangements of the room: two tables.
	other := six()[3:]
	for i := range other {
		other[i].Phase, other[i].Room = "mapping", withChest(other[i].Room)
		other[i].Robot = "siskin"
	}
	if st := standings(t, append(six()[:3], other...), "reachable_share"); len(st) != 2 || st[0].Room == st[1].Room {
		t.Errorf("%+v", st)
	}
}

// shared gives runs of one key a common cause with these draws of the open share.
func shared(r Run, key string, draws []float64) Run {
	r.Common = []doubt.Cause{{Input: "tool", Key: key, Change: map[string][]float64{"covered_share": draws}}}
	return r
}

// What is common to runs falls out of a difference of runs that share it and
// does not average out of a mean.
func TestCommonCauses(t *testing.T) {
	const seed, u = 3, 0.006
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	draw := func() []float64 {
		v := make([]float64, 400)
		for i := range v {
			v[i] = u * rng.NormFloat64()
		}
		return v
	}
	brush, other := draw(), draw()
	one := func(robot string, trial int, share float64, key string, draws []float64) Run {
		r := shared(run(robot, "single", trial, share/0.9, 1), key, draws)
		r.U["covered_share"], r.Own = math.Hypot(u, 0.001), map[string]float64{"covered_share": 0.001}
		return r
	}
	diff := func(a, b []Run) Difference {
		for _, d := range mustNew(t, append(a, b...), DefaultOptions()).Differ {
			if d.Figure.Name == Primary {
				return d
			}
		}
		t.Fatal("no difference")
		return Difference{}
	}
	b := one("heron", 2, .9, "a", brush)
	b.Conditions = map[string]string{"firmware": "2"}
	same := diff([]Run{one("heron", 1, .9, "a", brush)}, []Run{b})
	apart := diff([]Run{one("heron", 1, .9, "a", brush)}, []Run{one("finch", 1, .9, "b", other)})
	// Two runs of equal share: what differs is 0.001 each.
	near(t, "two runs of one robot", (same.Interval.Hi-same.Interval.Lo)/2, 1.96*0.001*math.Sqrt2, 2e-5)
	near(t, "two robots", (apart.Interval.Hi-apart.Interval.Lo)/2, 1.96*math.Hypot(0.001, u)*math.Sqrt2, 0.1*u)
	// Many runs that hardly scatter: the interval stays as wide as the brush is
	// unknown, and no number of runs would settle less.
	var many, more []Run
	for i := range 20 {
		many = append(many, one("heron", i+1, .9+1e-4*float64(i%3), "a", brush))
		more = append(more, one("finch", i+1, .905+1e-4*float64(i%3), "b", other))
	}
	c := mustNew(t, append(many, more...), DefaultOptions())
	cell, _ := c.Cell(Primary, 0)
	near(t, "half-width of a mean of 20", (cell.Interval.Hi-cell.Interval.Lo)/2, 1.96*u, 0.1*1.96*u)
	d := diff(many, more)
	if d.Verdict != NotApart || !math.IsInf(d.Need, 1) {
		t.Errorf("half a point between brushes known to 0.6: %+v", d)
	}
	if again := diff(many, more); again.SE != d.SE {
		t.Errorf("the same runs give %g and %g", d.SE, again.SE)
	}
}

// Between robots the share is of the same floor: a tall robot has less open
// floor of its own and gains nothing by it.
func TestCommonFloor(t *testing.T) {
	low, tall := run("heron", "single", 1, 1, 1), run("crane", "single", 1, 1, 1)
	low.Values["covered_share"], tall.Values["covered_share"] = 0.9, 0.9
	tall.OpenM2 = 10 // 2 m2 lie under a table that is too low for it
	tall.Values["time_to_s.90"] = 100
	c := mustNew(t, []Run{low, tall}, DefaultOptions())
	a, _ := c.Cell(Primary, 0)
	b, _ := c.Cell(Primary, 1)
	near(t, "the low one", a.Mean, 0.9, 0)
	near(t, "the tall one", b.Mean, 0.75, 1e-12)
	if tall.Values["covered_share"] != 0.9 {
		t.Error("the argument was changed")
	}
	if _, ok := c.Cell("time_to_s.90", 1); ok {
		t.Error("a time to 90 % of another floor is compared")
	}
	if !strings.Contains(strings.Join(c.Notes, " "), "differ in height") {
		t.Errorf("%q", c.Notes)
	}
}

// Floor that all runs missed lies within the reach of each, and never grows as
// runs are added, in area nor as a share.
func TestNeverGrows(t *testing.T) {
	const seed, n = 8, 30
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for range 50 {
		gs := gridsOf(6, n, func(int, int) bool { return rng.Float64() < 0.6 })
		for _, g := range gs { // each reaches another part of the floor
			edge := rng.Intn(n / 2)
			for k := range g.Flags {
				if k%n < edge {
					g.Flags[k] &^= coverage.FlagReachable
					g.Passes[k] = 0
				}
			}
		}
		before := math.Inf(1)
		share := 1.0
		for k := 2; k <= len(gs); k++ {
			tg, err := Cumulate(gs[:k], floorPlan(t, 0.3), 0.09)
			if err != nil {
				t.Fatal(err)
			}
			if tg.NeverM2 > before+1e-12 || tg.NeverShare > share+1e-12 {
				t.Fatalf("%d runs left %g m2 (%g), one fewer %g (%g)", k, tg.NeverM2, tg.NeverShare, before, share)
			}
			before, share = tg.NeverM2, tg.NeverShare
		}
	}
}

// Every figure ends in a verdict; the primary one is corrected for its own pairs
// alone, the rest for all that were looked at.
func TestVerdicts(t *testing.T) {
	var runs []Run
	for i, s := range []float64{.95, .951, .949, .952} {
		runs = append(runs, run("heron", "single", i+1, s, 300+float64(i)))
	}
	for i, s := range []float64{.80, .803, .805, .801} {
		runs = append(runs, run("finch", "single", i+1, s, 300.5+float64(i%2)))
	}
	c := mustNew(t, runs, DefaultOptions())
	for _, d := range c.Differ {
		switch d.Figure.Name {
		case Primary:
			if d.Verdict != FirstBetter || d.HolmP != d.P {
				t.Errorf("%+v", d)
			}
		case "reachable_share":
			if d.Verdict != FirstBetter || !(d.HolmP > d.P) {
				t.Errorf("%+v", d)
			}
		case "time_to_reachable_s.90":
			if d.Verdict != NotApart || !(d.Need > 4) {
				t.Errorf("%+v", d)
			}
		case "duration_s":
			if d.Verdict != NotApart {
				t.Errorf("equal times: %+v", d)
			}
		}
	}
	// A wider interval than the primary figure's own is not its price: with
	// another primary figure the same difference is one of many.
	o := DefaultOptions()
	o.Primary = "duration_s"
	for _, d := range mustNew(t, runs, o).Differ {
		if d.Figure.Name == Primary && !(d.HolmP > d.P) {
			t.Errorf("exploratory, and not corrected: %+v", d)
		}
	}
	if got := stats.SmallestSignP(3); got != 0.25 {
		t.Errorf("three pairs: the smallest probability is %g", got)
	}
}

// A robot that was trapped has not finished: its share is a bound and in no mean.
// But what it did not reach, it did not reach: no chance is left open there. The
// tester's word counts before what the path shows.
func TestTrapped(t *testing.T) {
	for _, c := range []struct {
		name        string
		ended, word string
		dock, stuck bool
		trapped     bool
	}{
		{"home", geom.EndedDocked, "", true, false, false},
		{"away from its dock", geom.EndedStood, "", true, false, true},
		{"away from its dock, and had finished", geom.EndedStood, OutcomeComplete, true, false, false},
		{"freed once, then done", geom.EndedStood, OutcomeAssisted, true, true, false},
		{"no dock", geom.EndedStood, "", false, false, false},
		{"no dock, stuck", geom.EndedStood, "", false, true, true},
		{"no dock, by its notes", geom.EndedStood, OutcomeTrapped, false, false, true},
		{"empty at its dock's foot", geom.EndedDocked, OutcomeBattery, true, false, true},
	} {
		runs := []Run{run("a", "single", 1, 0.984, 100), run("a", "single", 2, 0.602, 100), run("a", "single", 3, 0.980, 100)}
		for i := range runs {
			runs[i].Ended, runs[i].Dock = geom.EndedDocked, true
		}
		r := &runs[1]
		r.Ended, r.Dock, r.StuckEnd, r.Conditions = c.ended, c.dock, c.stuck, map[string]string{"outcome": c.word}
		share, _ := Find("covered_share")
		cell := cellOf(runs, []int{0, 1, 2}, share, 0.95)
		count := countsOf(runs, []int{0, 1, 2}, nil, 0.95)
		reached := count[slices.IndexFunc(count, func(c Count) bool { return c.What == "reached 99 % of open floor" })]
		if yes, why := r.Trapped(); yes != c.trapped || yes != (why != "") || (r.Unfinished() != "") != yes {
			t.Errorf("%s: %v %q, unfinished %q", c.name, yes, why, r.Unfinished())
		}
		if (len(cell.AtLeast) == 1) != c.trapped || cell.N+len(cell.AtLeast) != 3 {
			t.Errorf("%s: %d in the mean, bounds %v", c.name, cell.N, cell.AtLeast)
		}
		if len(reached.Open) != 0 || reached.N != 3 || reached.K != 0 {
			t.Errorf("%s: %+v", c.name, reached)
		}
	}
}
