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
	Primary string // the figure that it is about
	Runs    []Run  // that take part, in the order given
	Refused []Refusal
	Groups  []Group
	Figures []Figure // those that any run has
	Table   [][]Cell // by figure, then group
	Counts  [][]Count
	Differ  []Difference
	Notes   []string // what a reader must know before believing a difference
}

// ErrNothing is returned when fewer than two runs can be compared.
var ErrNothing = errors.New("fewer than two runs can be compared")

// New compares runs. It errs if an option is out of range, and with ErrNothing
// together with the refusals if fewer than two runs are left.
func New(runs []Run, o Options) (*Comparison, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	c := &Comparison{Level: o.Level, Primary: o.Primary}
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
	var apart bool
	c.Runs, apart = onCommonFloor(c.Runs)
	c.Groups = groupsOf(c.Runs, o)
	for _, f := range Figures {
		any := false
		for i := range c.Runs {
			any = any || !math.IsNaN(c.Runs[i].Value(f.Name))
		}
		if !any && f.Name != c.Primary {
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
				c.Differ = append(c.Differ, c.difference(i, j, f, c.Table[k]))
			}
		}
	}
	c.judge()
	c.note(apart)
}

// pairsOf returns how many pairs the primary figure's difference of two groups
// was made of, 0 if it was not paired.
func (c *Comparison) pairsOf(from, to int) int {
	for _, d := range c.Differ {
		if d.Figure.Name == c.Primary && d.From == from && d.To == to {
			return d.Pairs
		}
	}
	return 0
}

// note writes down what bounds the comparison's say.
func (c *Comparison) note(apart bool) {
	add := func(format string, a ...any) { c.Notes = append(c.Notes, fmt.Sprintf(format, a...)) }
	for _, r := range c.Runs {
		if why := r.Unfinished(); why != "" {
			add("%s: %s. Its shares are lower bounds and are not averaged; a time that it did not reach counts as never reached.", r.ID, why)
		}
	}
	small := map[[2]int]bool{}
	for i, g := range c.Groups {
		switch n := len(g.Runs); {
		case n == 1:
			add("%s is one run. Its interval is that of the measurement and does not predict the next run: runs of one robot can differ by several per cent.", g.Name)
		case n == 2:
			add("%s is two runs, so both values are given: an interval from two would reach nine standard deviations to either side.", g.Name)
		}
		if len(g.Pooled) > 0 {
			add("%s pools runs that differ in %v, as requested.", g.Name, g.Pooled)
		}
		for j := i + 1; j < len(c.Groups); j++ {
			n, m := len(g.Runs), len(c.Groups[j].Runs)
			if k := c.pairsOf(i, j); k > 0 {
				if p := stats.SmallestSignP(k); p > 1-c.Level && !small[[2]int{k, 0}] {
					small[[2]int{k, 0}] = true
					add("With %d pairs no rank or sign test can reach %.0f %%: its smallest possible p is %.2f.", k, (1-c.Level)*100, p)
				}
				continue
			}
			if p := stats.SmallestRankP(n, m); n > 1 && m > 1 && p > 1-c.Level && !small[[2]int{n, m}] {
				small[[2]int{n, m}] = true
				add("With %d and %d runs no rank test can reach %.0f %%: its smallest possible p is %.2f.", n, m, (1-c.Level)*100, p)
			}
		}
	}
	for _, g := range c.Groups {
		for _, i := range g.Runs {
			if c.Runs[i].Common == nil {
				add("The result of %s does not list what it shares with other runs (brush, survey, camera), so all its uncertainty counts as shared. Measure it again with --again for narrower intervals.", g.Name)
				break
			}
		}
	}
	widths := map[float64]bool{}
	for _, r := range c.Runs {
		if !math.IsNaN(r.ToolWidth) {
			widths[math.Round(r.ToolWidth*1e4)] = true
		}
	}
	if len(widths) > 1 {
		add("The robots' tools differ in width; each robot is measured with its own.")
	}
	if apart {
		add("The robots differ in height, so that some pass under pieces that others must avoid. The open floor is the same for all: the room less what stands on its floor.")
	}
}
