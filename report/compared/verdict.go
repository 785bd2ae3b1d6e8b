package compared

import (
	"fmt"
	"math"

	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report"
	"swathe/report/words"
)

// advice says how a difference that is not settled could be; empty if it is, or
// if there is nothing to say.
func advice(x compare.Difference, c *compare.Comparison) string {
	if x.Verdict != compare.NotApart && x.Verdict != compare.TooFew {
		return ""
	}
	if x.P <= 1-c.Level {
		return "distinguishable alone, but not among all comparisons"
	}
	most := max(len(c.Groups[x.From].Runs), len(c.Groups[x.To].Runs))
	switch {
	case math.IsNaN(x.Need) && x.Verdict == compare.TooFew:
		return fmt.Sprintf("make at least %d runs of each", stats.MinInterval)
	case math.IsNaN(x.Need):
		return ""
	case math.IsInf(x.Need, 1):
		return "first measure better what the runs share (brush, survey, camera): more runs would hardly decide a difference this small"
	case int(x.Need) <= most && x.Verdict == compare.TooFew:
		return fmt.Sprintf("make at least %d complete runs of each", max(stats.MinInterval, int(x.Need)))
	case int(x.Need) <= most:
		return ""
	case x.Method == compare.MethodRanks || x.Method == compare.MethodFlat:
		return fmt.Sprintf("a rank test needs at least %.0f runs of each", x.Need)
	}
	return fmt.Sprintf("about %.0f runs of each would decide a difference of this size", x.Need)
}

// verdictWords says what may be said of a difference, with the groups' names.
func verdictWords(x DifferenceRow) string {
	first, second := x.Groups[0], x.Groups[1]
	switch compare.Verdict(x.Verdict) {
	case compare.FirstBetter:
		return first + " better"
	case compare.SecondBetter:
		return second + " better"
	case compare.FirstGreater:
		return first + " greater"
	case compare.SecondGreater:
		return second + " greater"
	case compare.NoVerdict:
		return "none"
	}
	return x.Verdict
}

// pairVerdict is verdictWords where no column names the groups.
func pairVerdict(x DifferenceRow) string {
	v := verdictWords(x)
	switch compare.Verdict(x.Verdict) {
	case compare.FirstBetter, compare.FirstGreater:
		return v + " than " + x.Groups[1]
	case compare.SecondBetter, compare.SecondGreater:
		return v + " than " + x.Groups[0]
	}
	return x.Groups[0] + " and " + x.Groups[1] + " " + v
}

// told tells whether a difference is settled.
func (x DifferenceRow) told() bool {
	switch compare.Verdict(x.Verdict) {
	case compare.FirstBetter, compare.SecondBetter, compare.FirstGreater, compare.SecondGreater:
		return true
	}
	return false
}

// probability writes p with two digits, and what is smaller than a tenth of a
// per mille as less than that.
func probability(p float64) string {
	switch {
	case !report.Measured(p):
		return ""
	case p < 1e-4:
		return "under 0.0001"
	case p < 0.01:
		return fmt.Sprintf("%.1g", p)
	}
	return fmt.Sprintf("%.2f", p)
}

// plainly writes an interval's two ends, empty where it says no more than the
// value: both ends read as the value does.
func plainly(value, lo, hi string) string {
	if lo == value && hi == value {
		return ""
	}
	return lo + " to " + hi
}

// intervalWords writes a cell's interval; empty if there is none.
func intervalWords(unit string, c FigureCell, in words.Unit) string {
	u := c.u()
	lo, hi := c.Interval.Lo, c.Interval.Hi
	switch {
	case report.Measured(lo) && report.Measured(hi):
		return plainly(inWords(unit, c.Mean, u, in), inWords(unit, lo, u, in), inWords(unit, hi, u, in))
	case report.Measured(lo):
		return inWords(unit, lo, u, in) + " or more"
	}
	return ""
}

// valueWords writes the mean, both values of two runs, or how many got there.
func valueWords(unit string, c FigureCell, in words.Unit) string {
	one := func(v float64) string { return inWords(unit, v, c.MeasU, in) }
	switch {
	case len(c.Never) > 0 && c.N == 0:
		return fmt.Sprintf("reached in none of %d runs", len(c.Never))
	case len(c.Never) > 0:
		var at []string
		for _, v := range c.Values {
			at = append(at, one(v))
		}
		return fmt.Sprintf("reached in %d of %d runs, in %s", c.N, c.N+len(c.Never), words.List(at))
	case c.N == 0 && len(c.AtLeast) > 0:
		return ""
	case c.N == 0:
		return "no value"
	case c.N == 1:
		return one(c.Values[0])
	case c.N == 2:
		return one(c.Values[0]) + " and " + one(c.Values[1])
	}
	return inWords(unit, c.Mean, c.u(), in)
}

// boundWords writes the lower bounds of runs that did not finish.
func boundWords(unit string, c FigureCell, in words.Unit) string {
	if len(c.AtLeast) == 0 {
		return ""
	}
	var at []string
	for _, b := range c.AtLeast {
		at = append(at, "\u2265"+words.NB+inWords(unit, b.Value, c.MeasU, in))
	}
	return words.List(at) + " (did not finish)"
}

// cellWords writes a cell whole.
func cellWords(unit string, c FigureCell, in words.Unit) string {
	out := valueWords(unit, c, in)
	if out == "no value" && len(c.Left) > 0 {
		return out + ": " + c.Left[0].Reason
	}
	if iv := intervalWords(unit, c, in); iv != "" {
		out += " (" + iv + ")"
	}
	if b := boundWords(unit, c, in); b != "" && out != "" {
		out += "; " + b
	} else if b != "" {
		out = b
	}
	if c.N < c.Of && len(c.Never) == 0 && c.N > 0 {
		out += fmt.Sprintf("; %d of %d runs", c.N, c.Of)
	}
	return out
}

// differenceWords writes a difference with its interval.
func differenceWords(unit string, x DifferenceRow, in words.Unit) string {
	if x.Reason != nil {
		return "none: " + *x.Reason
	}
	if !report.Measured(x.Value) {
		return "some never reached it"
	}
	u := x.MeasU
	if report.Measured(x.Interval.Lo) {
		u = (x.Interval.Hi - x.Interval.Lo) / 4
	}
	out := changeInWords(unit, x.Value, u, in)
	if report.Measured(x.Interval.Lo) {
		if iv := plainly(out, changeInWords(unit, x.Interval.Lo, u, in), changeInWords(unit, x.Interval.Hi, u, in)); iv != "" {
			out += " (" + iv + ")"
		}
	}
	return out
}
