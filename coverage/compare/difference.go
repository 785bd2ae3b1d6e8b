package compare

import (
	"fmt"
	"math"
	"slices"

	"swathe/coverage/stats"
)

// Difference is one figure of two groups: how much the second exceeds the first,
// and what may be said of it.
type Difference struct {
	From, To int // groups
	Figure   Figure
	stats.Difference
	MeasU   float64 // standard uncertainty of Value that measuring alone causes, what the runs share taken out; NaN if unknown
	Common  float64 // of it, what more runs would not reduce; NaN if unknown
	Method  string  // how Interval or P was found, or why there is none
	Reason  string  // why there is no difference; empty if there is one
	HolmP   float64 // P by Holm's correction among all that it is one of: the primary figure's pairs, or all the others
	Verdict Verdict
	Need    float64 // runs of each that would settle a difference of this size; infinite: no number would; NaN: unknown
}

// The methods of a Difference.
const (
	MethodWelch   = "Welch"
	MethodPaired  = "paired by block or date"
	MethodRanks   = "by ranks, with never reached as the last rank"
	MethodMeasure = "one run each: uncertainty of the measurement only, not of how runs differ"
	MethodNone    = "too few runs for an interval"
	MethodFlat    = "by ranks, because the runs within each group do not differ"
)

// Verdict is what may be said of a difference.
type Verdict string

// The verdicts. Of a figure of which neither more nor less is better, the
// greater is named instead of the better.
const (
	FirstBetter   Verdict = "first better"
	SecondBetter  Verdict = "second better"
	FirstGreater  Verdict = "first greater"
	SecondGreater Verdict = "second greater"
	NotApart      Verdict = "no difference shown"
	TooFew        Verdict = "too few runs"
	NoVerdict     Verdict = "" // there is no difference to judge
)

// power is the chance with which RunsNeeded's number of runs would show the
// difference: the usual 80 % (common practice).
const power = 0.8

// difference compares one figure of groups i and j; row is the figure's cells.
func (c *Comparison) difference(i, j int, f Figure, row []Cell) Difference {
	a, b := row[i], row[j]
	n := math.NaN()
	d := Difference{From: i, To: j, Figure: f, MeasU: n, Common: n, Method: MethodNone, HolmP: n, Need: n}
	d.Difference = stats.Welch(nil, nil, stats.Part{}, c.Level)
	if len(a.all()) == 0 || len(b.all()) == 0 {
		k, cell := i, a
		if len(a.all()) > 0 {
			k, cell = j, b
		}
		d.Reason, d.Method = fmt.Sprintf("this figure was measured in no run of %s", c.Groups[k].Name), ""
		for _, l := range append(slices.Clone(cell.Left), unfinished(cell)...) {
			d.Reason += ": " + l.Reason
			break
		}
		return d
	}
	if len(a.Never)+len(b.Never) > 0 {
		d.Value, d.P, d.RankP = b.Median-a.Median, stats.RankTest(a.all(), b.all()), stats.SmallestRankP(len(a.all()), len(b.all()))
		if math.IsInf(d.Value, 0) {
			d.Value = n
		}
		d.Method = MethodRanks
		return d
	}
	common, kept := c.commonOf(a, b, f)
	d.Common, d.MeasU = common.U, common.U
	if kept {
		d.MeasU = math.Hypot(common.U, math.Hypot(a.OwnU/math.Sqrt(float64(a.N)), b.OwnU/math.Sqrt(float64(b.N))))
	}
	d.Difference = stats.Welch(a.Values, b.Values, orNothing(common), c.Level)
	if pa, pb := c.pairs(a, b); len(pa) >= stats.MinInterval {
		d.Difference = stats.Paired(pa, pb, orNothing(common), c.Level)
	}
	if f.Unit == Share { // one share can't exceed another by more than the whole
		d.Interval.Lo, d.Interval.Hi = math.Max(-1, d.Interval.Lo), math.Min(1, d.Interval.Hi)
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
		d.Method, d.P, d.RankP = MethodFlat, stats.RankTest(a.Values, b.Values), stats.SmallestRankP(a.N, b.N)
	}
	return d
}

// unfinished lists the runs of which a cell has a lower bound alone.
func unfinished(c Cell) []Refusal {
	var out []Refusal
	for _, b := range c.AtLeast {
		out = append(out, Refusal{b.Run, b.Reason})
	}
	return out
}

// commonOf is what the runs of two cells have in common in the difference of
// their means: what they share falls out.
func (c *Comparison) commonOf(a, b Cell, f Figure) (p stats.Part, kept bool) {
	w := map[int]float64{}
	for _, i := range a.at {
		w[i] = -1 / float64(a.N)
	}
	for _, i := range b.at {
		w[i] = 1 / float64(b.N)
	}
	return commonPart(c.Runs, w, f.Name, math.Hypot(a.MeasU, b.MeasU))
}

// pairs returns the means of the blocks that both cells have runs of. Runs are
// partners only where their notes declare it, by a block or a date: that two are
// both trial 2 makes them none.
func (c *Comparison) pairs(a, b Cell) (pa, pb []float64) {
	of := func(cell Cell) (names []string, mean map[string]float64) {
		values := map[string][]float64{}
		for k, i := range cell.at {
			if name := c.Runs[i].Block(); name != "" {
				if values[name] == nil {
					names = append(names, name)
				}
				values[name] = append(values[name], cell.Values[k])
			}
		}
		mean = map[string]float64{}
		for name, v := range values {
			mean[name], _ = stats.MeanSD(v)
		}
		return names, mean
	}
	names, ma := of(a)
	_, mb := of(b)
	for _, name := range names {
		if v, ok := mb[name]; ok {
			pa, pb = append(pa, ma[name]), append(pb, v)
		}
	}
	return pa, pb
}

// judge gives every difference its verdict. The primary figure's pairs are
// corrected among themselves, and all others among themselves: the one question
// that was asked beforehand does not pay for those that were not.
func (c *Comparison) judge() {
	for _, primary := range []bool{true, false} {
		var at []int
		var p []float64
		for k := range c.Differ {
			if d := &c.Differ[k]; (d.Figure.Name == c.Primary) == primary && d.Reason == "" {
				at, p = append(at, k), append(p, d.P)
			}
		}
		for i, h := range stats.Holm(p) {
			c.Differ[at[i]].HolmP = h
		}
	}
	for k := range c.Differ {
		d := &c.Differ[k]
		if d.Reason == "" {
			d.Need = c.need(d)
			d.Verdict = c.verdict(d)
		}
	}
}

// verdict judges one difference.
func (c *Comparison) verdict(d *Difference) Verdict {
	greater := d.Value > 0
	if d.Method == MethodRanks {
		a, b := c.row(d.Figure)[d.From], c.row(d.Figure)[d.To]
		greater = before(a, b) // of times, the worse is the greater
	}
	switch {
	case math.IsNaN(d.P):
		return TooFew
	case d.HolmP > 1-c.Level && d.P < 1 && (d.Method == MethodRanks || d.Method == MethodFlat) && d.RankP > 1-c.Level:
		return TooFew // with so few runs no test by ranks could tell
	case d.HolmP > 1-c.Level:
		return NotApart
	case d.Figure.Better == 0 && greater:
		return SecondGreater
	case d.Figure.Better == 0:
		return FirstGreater
	case greater == (d.Figure.Better > 0):
		return SecondBetter
	}
	return FirstBetter
}

func (c *Comparison) row(f Figure) []Cell {
	for k := range c.Figures {
		if c.Figures[k].Name == f.Name {
			return c.Table[k]
		}
	}
	return nil
}

// need returns how many runs of each would settle a difference as large as the
// one found, if runs scatter as those of the two do, or where one of them shows
// no scatter as those of all groups together.
func (c *Comparison) need(d *Difference) float64 {
	if d.Method == MethodRanks || d.Method == MethodFlat {
		for n := stats.MinInterval; ; n++ {
			if stats.SmallestRankP(n, n) <= 1-c.Level {
				return float64(n) // the least with which ranks can tell at all
			}
		}
	}
	sum, df := 0.0, 0
	row := c.row(d.Figure)
	if two := []Cell{row[d.From], row[d.To]}; two[0].N > 1 && two[1].N > 1 {
		row = two
	}
	for _, cell := range row {
		if len(cell.Never) == 0 && cell.N > 1 {
			_, s := stats.MeanSD(cell.Values)
			sum, df = sum+s*s*float64(cell.N-1), df+cell.N-1
		}
	}
	if df == 0 {
		return math.NaN()
	}
	return stats.RunsNeeded(d.Value, math.Sqrt(sum/float64(df)), d.Common, c.Level, power)
}
