package compare

import (
	"fmt"
	"slices"
	"strings"
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
