package compare

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"swathe/coverage/conduct"
	"swathe/coverage/stats"
	"swathe/geom"
)

// Group is the runs of one robot in one phase under the same circumstances.
type Group struct {
	Name         string // "heron mapped", with what sets it apart where there is another
	Robot, Phase string
	Apart        []string // what sets it apart from other groups of its robot and phase
	Pooled       []string // what its runs differ in, pooled because the caller asked for it
	Runs         []int    // indices in Comparison.Runs, by trial
}

// circumstance is what a run is grouped by, one value a condition.
func circumstances(runs []Run, o Options) []map[string]string {
	out := make([]map[string]string, len(runs))
	setups := map[string]map[string]int{} // by robot
	type place struct {
		robot string
		n     int
		at    Run
	}
	var places []place
	for i, r := range runs {
		c := map[string]string{PoolSample: r.Conditions["sample"], PoolFirmware: r.Conditions["firmware"], PoolMode: r.Conditions["mode"]}
		if setups[r.Robot] == nil {
			setups[r.Robot] = map[string]int{}
		}
		if _, ok := setups[r.Robot][r.Setup]; !ok {
			setups[r.Robot][r.Setup] = len(setups[r.Robot]) + 1
		}
		c[PoolSetup] = fmt.Sprint(setups[r.Robot][r.Setup])
		k, n := -1, 0
		for p, q := range places {
			if q.robot != r.Robot {
				continue
			}
			n++
			if k < 0 && !(q.at.Start.Dist(r.Start) > o.StartApart) {
				k = p
			}
		}
		if k < 0 {
			places = append(places, place{r.Robot, n + 1, r})
			k = len(places) - 1
		}
		c[PoolStart] = fmt.Sprintf("(%.1f, %.1f)", places[k].at.Start.X, places[k].at.Start.Y)
		out[i] = c
	}
	return out
}

// groupsOf groups runs, in the order in which their robots come, each robot's
// phases in the order in which it goes through them.
func groupsOf(runs []Run, o Options) []Group {
	cs := circumstances(runs, o)
	var out []Group
	var keys []string
	for i, r := range runs {
		key := r.Robot + "\x00" + r.Phase
		for _, p := range Poolable {
			if !slices.Contains(o.Pool, p) {
				key += "\x00" + cs[i][p]
			}
		}
		k := slices.Index(keys, key)
		if k < 0 {
			k = len(keys)
			keys = append(keys, key)
			out = append(out, Group{Robot: r.Robot, Phase: r.Phase})
		}
		out[k].Runs = append(out[k].Runs, i)
	}
	robots := []string{}
	for _, g := range out {
		if !slices.Contains(robots, g.Robot) {
			robots = append(robots, g.Robot)
		}
	}
	slices.SortStableFunc(out, func(a, b Group) int {
		if d := slices.Index(robots, a.Robot) - slices.Index(robots, b.Robot); d != 0 {
			return d
		}
		return phaseOrder(a.Phase) - phaseOrder(b.Phase)
	})
	for k := range out {
		g := &out[k]
		slices.SortStableFunc(g.Runs, func(a, b int) int { return runs[a].Trial - runs[b].Trial })
		for _, p := range Poolable {
			own := map[string]bool{}
			for _, i := range g.Runs {
				own[cs[i][p]] = true
			}
			if len(own) > 1 {
				g.Pooled = append(g.Pooled, p)
				continue
			}
			for _, h := range out {
				if h.Robot == g.Robot && h.Phase == g.Phase && cs[h.Runs[0]][p] != cs[g.Runs[0]][p] && !slices.Contains(o.Pool, p) {
					g.Apart = append(g.Apart, apart(p, cs[g.Runs[0]][p]))
					break
				}
			}
		}
		g.Name = g.Robot
		if g.Phase != "single" && g.Phase != "" {
			g.Name += " " + g.Phase
		}
		if len(g.Apart) > 0 {
			g.Name += " (" + strings.Join(g.Apart, ", ") + ")"
		}
	}
	return out
}

func apart(p, value string) string {
	switch {
	case p == PoolStart:
		return "start at " + value
	case p == PoolSetup:
		return "set-up " + value
	case value == "":
		return "no " + p + " given"
	}
	return p + " " + value
}

// Cell is one figure of one group.
type Cell struct {
	N        int       // runs with a value
	Of       int       // runs in the group
	Runs     []string  // whose values these are
	Values   []float64 // in the order of Runs
	Mean     float64   // NaN of none and of two: both are shown
	SD       float64   // between trials; NaN below three
	Interval stats.Interval
	FromOne  bool    // Interval is that of the one run's measurement
	MeasU    float64 // standard uncertainty of measuring one run, root mean square; NaN if unknown
	Left     []Refusal
}

// mean returns the mean of the values even where Mean is not given.
func (c Cell) mean() float64 { m, _ := stats.MeanSD(c.Values); return m }

// cellOf sums up one figure of some runs.
func cellOf(runs []Run, at []int, f Figure, level float64) Cell {
	c := Cell{Of: len(at), Mean: math.NaN(), SD: math.NaN(), MeasU: math.NaN(), Interval: stats.NoInterval}
	sum, n := 0.0, 0
	var one stats.Interval
	for _, i := range at {
		r := &runs[i]
		v := r.Value(f.Name)
		if why := r.Timeless(); f.Time && why != "" {
			c.Left = append(c.Left, Refusal{r.ID, why})
			continue
		}
		if math.IsNaN(v) {
			c.Left = append(c.Left, Refusal{r.ID, missing(f)})
			continue
		}
		c.Runs, c.Values = append(c.Runs, r.ID), append(c.Values, v)
		if u := get(r.U, f.Name); !math.IsNaN(u) {
			sum, n = sum+u*u, n+1
		}
		one = stats.NoInterval
		if iv, ok := r.Interval[f.Name]; ok {
			one = iv
		}
	}
	c.N = len(c.Values)
	if n > 0 && n == c.N {
		c.MeasU = math.Sqrt(sum / float64(n))
	}
	switch {
	case c.N == 1:
		c.Mean, c.Interval, c.FromOne = c.Values[0], one, one.Known()
	case c.N >= stats.MinInterval:
		c.Mean, c.SD = stats.MeanSD(c.Values)
		c.Interval = stats.MeanInterval(c.Values, level)
	}
	return c
}

func missing(f Figure) string {
	if strings.HasPrefix(f.Name, "time_to") {
		return "it never got so far"
	}
	return "it was not measured"
}

// Count is how many of a group's runs did something.
type Count struct {
	What     string // such as "reached 95 % of the floor within reach"
	K, N     int
	Interval stats.Interval // Wilson
	Left     []Refusal
}

// countsOf counts what runs of a group did or did not do.
func countsOf(runs []Run, at []int, kinds []string, level float64) []Count {
	var out []Count
	add := func(what string, did func(r *Run) (yes, known bool, why string)) {
		c := Count{What: what}
		for _, i := range at {
			yes, known, why := did(&runs[i])
			if !known {
				c.Left = append(c.Left, Refusal{runs[i].ID, why})
				continue
			}
			c.N++
			if yes {
				c.K++
			}
		}
		c.Interval = stats.Wilson(c.K, c.N, level)
		out = append(out, c)
	}
	for _, lv := range Levels {
		add("reached "+lv+" % of the floor within reach", func(r *Run) (bool, bool, string) {
			yes := !math.IsNaN(r.Value("time_to_reachable_s." + lv))
			why := r.Timeless()
			// What a run that was cut short did reach, it did reach.
			return yes, yes || why == "", why
		})
	}
	add("ended in the dock", func(r *Run) (bool, bool, string) {
		return r.Ended == "docked", r.Ended != geom.EndedRecording && r.Ended != geom.EndedLost, r.Timeless()
	})
	for _, k := range kinds {
		add("had: "+k, func(r *Run) (bool, bool, string) { return r.Events[k] > 0, r.Events != nil, "events were not sought" })
	}
	for _, p := range objectOutcomes(runs) {
		add(p.object+": "+p.outcome, func(r *Run) (bool, bool, string) {
			switch got := r.TestObjects[p.object]; got {
			case "":
				return false, false, "what became of it could not be told"
			case conduct.Untested:
				return false, false, "the robot never came near it"
			default:
				return got == p.outcome, true, ""
			}
		})
	}
	return out
}

type objectOutcome struct{ object, outcome string }

// objectOutcomes lists what became of which small thing in any of the runs: by
// thing, the gravest first. A thing that was not tested is no outcome.
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
