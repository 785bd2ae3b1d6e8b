package compare

import (
	"math"
	"slices"

	"swathe/coverage/stats"
)

// Standing is one robot (one group of its runs) among all that were measured in
// the same layout and phase.
type Standing struct {
	Layout, Phase string
	Group         Group
	Name          string
	Runs          int
	Figures       []Place // in the order of Figures, those that any run has
}

// Place is where a group stands in one figure.
type Place struct {
	Figure Figure
	Cell   Cell
	Mean   float64 // of the group's runs, also of one or two
	Rank   float64 // 1: best, or largest where neither is better; groups that tie share the mean of their places
	Of     int     // groups that have the figure
	All    float64 // mean of the groups' means
	Spread float64 // their standard deviation; NaN of fewer than two
}

// Standings compares every group with all others of its layout and phase. What
// cannot be compared is refused as New refuses it, layout by layout.
func Standings(runs []Run, o Options) ([]Standing, []Refusal, error) {
	if err := o.Validate(); err != nil {
		return nil, nil, err
	}
	newest := ""
	byLayout := map[string][]Run{}
	var layouts []string
	for _, r := range runs {
		newest = max(newest, r.Definition)
		if byLayout[r.Layout] == nil {
			layouts = append(layouts, r.Layout)
		}
		byLayout[r.Layout] = append(byLayout[r.Layout], r)
	}
	slices.Sort(layouts)
	var out []Standing
	var refused []Refusal
	for _, layout := range layouts {
		ok, no := refuse(byLayout[layout], newest, o)
		refused = append(refused, no...)
		groups := groupsOf(ok, o)
		for _, phase := range phases(groups) {
			var same []Group
			for _, g := range groups {
				if g.Phase == phase {
					same = append(same, g)
				}
			}
			out = append(out, standingsOf(layout, phase, ok, same, o.Level)...)
		}
	}
	return out, refused, nil
}

// phases lists the phases of groups, in the order in which a robot goes through
// them.
func phases(groups []Group) []string {
	var out []string
	for _, g := range groups {
		if !slices.Contains(out, g.Phase) {
			out = append(out, g.Phase)
		}
	}
	slices.SortStableFunc(out, func(a, b string) int { return phaseOrder(a) - phaseOrder(b) })
	return out
}

func phaseOrder(p string) int { return slices.Index([]string{"mapping", "mapped", "single"}, p) }

func standingsOf(layout, phase string, runs []Run, groups []Group, level float64) []Standing {
	out := make([]Standing, len(groups))
	for k, g := range groups {
		out[k] = Standing{Layout: layout, Phase: phase, Group: g, Name: g.Name, Runs: len(g.Runs)}
	}
	for _, f := range Figures {
		cells := make([]Cell, len(groups))
		means := make([]float64, len(groups))
		var known []float64
		for k, g := range groups {
			cells[k] = cellOf(runs, g.Runs, f, level)
			means[k] = cells[k].mean()
			if !math.IsNaN(means[k]) {
				known = append(known, means[k])
			}
		}
		if len(known) == 0 {
			continue
		}
		ranks := stats.Ranks(means, f.Better >= 0)
		all, spread := stats.MeanSD(known)
		for k := range groups {
			out[k].Figures = append(out[k].Figures, Place{f, cells[k], means[k], ranks[k], len(known), all, spread})
		}
	}
	return out
}
