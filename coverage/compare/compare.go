package compare

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"swathe/coverage/stats"
)

// Comparison is runs of one layout side by side.
type Comparison struct {
	Layout  string
	Level   float64
	Runs    []Run // that take part, in the order given
	Refused []Refusal
	Groups  []Group
	Figures []Figure // those that any run has
	Table   [][]Cell // by figure, then group
	Counts  [][]Count
	Differ  []Difference
	Notes   []string // what a reader must know before believing a difference
}

// Difference is one figure of two groups: how much the second exceeds the first.
type Difference struct {
	From, To int // groups
	Figure   Figure
	stats.Difference
	MeasU  float64 // standard uncertainty of Value that measuring alone causes; NaN if unknown
	Method string  // how Interval was found, or why there is none
	Reason string  // why there is no difference; empty if there is one
}

// The methods of a Difference.
const (
	MethodWelch   = "Welch"
	MethodPaired  = "paired by trial"
	MethodMeasure = "one run each: the measurement's uncertainty alone, nothing of how runs scatter"
	MethodNone    = "too few runs for an interval"
	MethodFlat    = "the runs do not scatter, so there is nothing to judge the difference by"
)

// ErrNothing is returned when fewer than two runs can be compared.
var ErrNothing = errors.New("fewer than two runs are left to compare")

// New compares runs. It errs if an option is out of range, and with ErrNothing
// together with the refusals if fewer than two runs are left.
func New(runs []Run, o Options) (*Comparison, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	c := &Comparison{Level: o.Level}
	newest := ""
	for _, r := range runs {
		newest = max(newest, r.Definition)
	}
	c.Runs, c.Refused = refuse(runs, newest, o)
	if len(c.Runs) > 0 {
		c.Layout = c.Runs[0].Layout
	}
	if len(c.Runs) < 2 {
		return c, ErrNothing
	}
	c.fill(o)
	return c, nil
}

// fill groups the runs and fills in the tables.
func (c *Comparison) fill(o Options) {
	c.Groups = groupsOf(c.Runs, o)
	for _, f := range Figures {
		any := false
		for i := range c.Runs {
			any = any || !math.IsNaN(c.Runs[i].Value(f.Name))
		}
		if !any {
			continue
		}
		row := make([]Cell, len(c.Groups))
		for k, g := range c.Groups {
			row[k] = cellOf(c.Runs, g.Runs, f, o.Level)
		}
		c.Figures, c.Table = append(c.Figures, f), append(c.Table, row)
	}
	var kinds []string
	for _, r := range c.Runs {
		for k := range r.Events {
			if !slices.Contains(kinds, k) {
				kinds = append(kinds, k)
			}
		}
	}
	slices.Sort(kinds)
	for _, g := range c.Groups {
		c.Counts = append(c.Counts, countsOf(c.Runs, g.Runs, kinds, o.Level))
	}
	for i := range c.Groups {
		for j := i + 1; j < len(c.Groups); j++ {
			for k, f := range c.Figures {
				c.Differ = append(c.Differ, c.difference(i, j, f, c.Table[k][i], c.Table[k][j]))
			}
		}
	}
	c.note()
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

// difference compares one figure of groups i and j.
func (c *Comparison) difference(i, j int, f Figure, a, b Cell) Difference {
	d := Difference{From: i, To: j, Figure: f, MeasU: math.NaN(), Method: MethodNone}
	d.Difference = stats.Welch(a.Values, b.Values, c.Level)
	if a.N == 0 || b.N == 0 {
		k, cell := i, a
		if a.N > 0 {
			k, cell = j, b
		}
		d.Reason = fmt.Sprintf("no run of %s has this figure", c.Groups[k].Name)
		if len(cell.Left) > 0 {
			d.Reason += ": " + cell.Left[0].Reason
		}
		d.Method = ""
		return d
	}
	d.MeasU = math.Hypot(a.MeasU/math.Sqrt(float64(a.N)), b.MeasU/math.Sqrt(float64(b.N)))
	if pa, pb := c.pairs(a, b, i, j); len(pa) >= stats.MinInterval || len(pa) > 0 && len(pa) == max(a.N, b.N) {
		d.Difference = stats.Paired(pa, pb, c.Level)
	}
	switch {
	case d.Interval.Known() && d.Pairs > 0:
		d.Method = MethodPaired
	case d.Interval.Known():
		d.Method = MethodWelch
	case a.N == 1 && b.N == 1 && !math.IsNaN(d.MeasU):
		h := stats.TQuantile((1+c.Level)/2, math.Inf(1)) * d.MeasU
		d.Interval = stats.Interval{Lo: d.Value - h, Hi: d.Value + h}
		d.Method = MethodMeasure
	case a.N >= stats.MinInterval && b.N >= stats.MinInterval:
		d.Method = MethodFlat
	}
	return d
}

// pairs returns the values of the trials that both groups have, if the groups
// are two phases of one robot: a mapping run and the mapped run after it.
func (c *Comparison) pairs(a, b Cell, i, j int) (pa, pb []float64) {
	if c.Groups[i].Robot != c.Groups[j].Robot || c.Groups[i].Phase == c.Groups[j].Phase {
		return nil, nil
	}
	trial := func(id string) int {
		for k := range c.Runs {
			if c.Runs[k].ID == id {
				return c.Runs[k].Trial
			}
		}
		return -1
	}
	for k, id := range a.Runs {
		for l, other := range b.Runs {
			if trial(id) == trial(other) {
				pa, pb = append(pa, a.Values[k]), append(pb, b.Values[l])
			}
		}
	}
	return pa, pb
}

// note writes down what bounds the comparison's say.
func (c *Comparison) note() {
	add := func(format string, a ...any) { c.Notes = append(c.Notes, fmt.Sprintf(format, a...)) }
	small := map[[2]int]bool{}
	for i, g := range c.Groups {
		switch n := len(g.Runs); {
		case n == 1:
			add("%s is one run. Its interval says how well that run was measured, nothing of how the next one would go: single runs of one robot can scatter by several per cent.", g.Name)
		case n == 2:
			add("%s is two runs: both values are given, an interval from two would be nine times their scatter on either side.", g.Name)
		}
		if len(g.Pooled) > 0 {
			add("%s pools runs that differ in %v, as asked.", g.Name, g.Pooled)
		}
		for j := i + 1; j < len(c.Groups); j++ {
			n, m := len(g.Runs), len(c.Groups[j].Runs)
			if p := stats.SmallestRankP(n, m); n > 1 && m > 1 && p > 1-c.Level && !small[[2]int{n, m}] {
				small[[2]int{n, m}] = true
				add("With %d against %d runs no test by ranks or permutation can reach %.0f %%: its smallest possible probability is %.2f. None is given.", n, m, (1-c.Level)*100, p)
			}
		}
	}
	for _, r := range c.Runs {
		if why := r.Timeless(); why != "" {
			add("%s takes no part in times and distances: %s.", r.ID, why)
		}
	}
	widths := map[float64]bool{}
	for _, r := range c.Runs {
		if !math.IsNaN(r.ToolWidth) {
			widths[math.Round(r.ToolWidth*1e4)] = true
		}
	}
	if len(widths) > 1 {
		add("The robots' tools differ in width; each is measured by its own.")
	}
}
