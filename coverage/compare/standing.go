package compare

import (
	"fmt"
	"math"
	"slices"

	"swathe/coverage/stats"
)

// Standing is one robot (one group of its runs) among all that were measured in
// the same room and phase.
type Standing struct {
	Layout, Phase string
	Room          int // number of the arrangement among those of one layout's name, from 1
	Group         Group
	Name          string
	Runs          []Run   // the group's
	Figures       []Place // in the order of Figures, those that any run has
}

// Place is where a group stands in one figure.
type Place struct {
	Figure Figure
	Cell   Cell
	Mean   float64 // of the group's runs, also of one or two; NaN where some never got there
	// First and Last are the ranks that it may have, the better end first: 1 plus
	// the number of groups that are clearly better, and the same from the other
	// end. Groups that cannot be told apart share ranks. 0: no rank, for neither
	// end is better, or the group has too few runs, or nobody to be ranked with.
	First, Last int
	Of          int     // groups that are ranked
	All         float64 // mean of the groups' means
	Spread      float64 // their standard deviation; NaN of fewer than two
}

// Standings compares every group with all others of its layout, arrangement of
// the room and phase, the best first by the primary figure. What cannot be
// compared is refused as New refuses it.
func Standings(runs []Run, o Options) ([]Standing, []Refusal, error) {
	if err := o.Validate(); err != nil {
		return nil, nil, err
	}
	newest := ""
	type arena struct {
		layout string
		first  int // the run that sets its arrangement
	}
	in := map[arena][]Run{}
	var arenas []arena
	for _, r := range runs {
		newest = max(newest, r.Definition)
	}
	var out []Standing
	var refused []Refusal
	for k, r := range runs {
		if r.Definition != newest {
			_, no := refuse([]Run{r}, newest, o)
			refused = append(refused, no...)
			continue
		}
		a := arena{r.Layout, k}
		if i := slices.IndexFunc(arenas, func(b arena) bool {
			return b.layout == r.Layout && runs[b.first].Room.Same(r.Room, o.OutlineSigma)
		}); i >= 0 {
			a = arenas[i]
		}
		if in[a] == nil {
			arenas = append(arenas, a)
		}
		in[a] = append(in[a], r)
	}
	slices.SortStableFunc(arenas, func(a, b arena) int {
		switch {
		case a.layout < b.layout:
			return -1
		case a.layout > b.layout:
			return 1
		}
		return 0
	})
	number := map[string]int{}
	for _, a := range arenas {
		number[a.layout]++
		ok, no := refuse(in[a], newest, o)
		refused = append(refused, no...)
		ok, _ = onCommonFloor(ok)
		groups := groupsOf(ok, o)
		for _, phase := range phases(groups) {
			var same []Group
			for _, g := range groups {
				if g.Phase == phase {
					same = append(same, g)
				}
			}
			st := standingsOf(ok, same, o)
			for k := range st {
				st[k].Layout, st[k].Phase, st[k].Room = a.layout, phase, number[a.layout]
			}
			out = append(out, st...)
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

func standingsOf(runs []Run, groups []Group, o Options) []Standing {
	out := make([]Standing, len(groups))
	for k, g := range groups {
		out[k] = Standing{Group: g, Name: g.Name}
		for _, i := range g.Runs {
			out[k].Runs = append(out[k].Runs, runs[i])
		}
	}
	var order []int
	for _, f := range Figures {
		cells := make([]Cell, len(groups))
		var known []float64
		any := false
		for k, g := range groups {
			cells[k] = cellOf(runs, g.Runs, f, o.Level)
			if m := cells[k].mean(); !math.IsNaN(m) {
				known = append(known, m)
			}
			any = any || len(cells[k].Values)+len(cells[k].AtLeast)+len(cells[k].Left) > 0
		}
		if f.Name == o.Primary {
			order = bestFirst(cells, f)
		}
		if !any {
			continue
		}
		all, spread := stats.MeanSD(known)
		for k := range groups {
			p := Place{Figure: f, Cell: cells[k], Mean: cells[k].mean(), All: all, Spread: spread}
			p.rank(cells, k, f, o.Level)
			out[k].Figures = append(out[k].Figures, p)
		}
	}
	sorted := make([]Standing, len(out))
	for i, k := range order {
		sorted[i] = out[k]
	}
	return sorted
}

// bestFirst orders cells by a figure, the better end first (the larger, where
// neither is better); those without a value last.
func bestFirst(cells []Cell, f Figure) []int {
	order := make([]int, len(cells))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		a, b := cells[i], cells[j]
		if f.Cut == CutTime {
			switch {
			case before(a, b):
				return -1
			case before(b, a):
				return 1
			}
			return 0
		}
		x, y := a.mean(), b.mean()
		if f.Better < 0 {
			x, y = -x, -y
		}
		switch {
		case x > y || math.IsNaN(y) && !math.IsNaN(x):
			return -1
		case x < y || math.IsNaN(x) && !math.IsNaN(y):
			return 1
		}
		return 0
	})
	return order
}

// before tells whether a time's cell stands before another: by the share of runs
// that got there, then by the median, never being infinite.
func before(a, b Cell) bool {
	ka, kb := a.N*(b.N+len(b.Never)), b.N*(a.N+len(a.Never))
	if ka != kb {
		return ka > kb
	}
	return a.Median < b.Median
}

// RankOf returns the place of cell k of a figure among cells, its ranks alone:
// for figures that are not of the floor.
func RankOf(cells []Cell, k int, f Figure, level float64) Place {
	p := Place{Figure: f}
	p.rank(cells, k, f, level)
	return p
}

// rank gives cell k of a figure its place.
func (p *Place) rank(cells []Cell, k int, f Figure, level float64) {
	if f.Better == 0 || !ranked(cells[k]) {
		return
	}
	first, last := 1, 0
	for i := range cells {
		if !ranked(cells[i]) {
			continue
		}
		p.Of++
		switch clearly(cells[i], cells[k], f, level) {
		case 1:
			first++
		case 0:
			last++
		}
	}
	if p.Of > 1 {
		p.First, p.Last = first, first-1+last
	}
}

// ranked tells whether a cell has enough runs for a rank.
func ranked(c Cell) bool {
	return len(c.all()) >= stats.MinInterval && (len(c.Never) > 0 || c.Interval.Known() || c.SD == 0)
}

// clearly returns 1 if a is better than b by more than their intervals, -1 if it
// is worse, 0 if the two overlap. Of times that some runs did not reach the
// intervals are those of the shares that did.
func clearly(a, b Cell, f Figure, level float64) int {
	x, y, better := a.Interval, b.Interval, f.Better
	if len(a.Never)+len(b.Never) > 0 {
		x, y, better = stats.Wilson(a.N, a.N+len(a.Never), level), stats.Wilson(b.N, b.N+len(b.Never), level), 1
	} else {
		x, y = flat(a), flat(b)
	}
	switch {
	case x.Lo > y.Hi:
		return better
	case x.Hi < y.Lo:
		return -better
	}
	return 0
}

// flat is a cell's interval, of runs that all gave the same their value.
func flat(c Cell) stats.Interval {
	if c.Interval.Known() {
		return c.Interval
	}
	return stats.Interval{Lo: c.Mean, Hi: c.Mean}
}

// Words says a place's rank, empty if it has none: "1 of 4", or "2 to 3 of 4"
// where it can't be told from others.
func (p Place) Words() string {
	switch {
	case p.First == 0:
		return ""
	case p.First == p.Last:
		return fmt.Sprintf("%d of %d", p.First, p.Of)
	}
	return fmt.Sprintf("%d to %d of %d", p.First, p.Last, p.Of)
}
