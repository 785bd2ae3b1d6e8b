package compare

import (
	"maps"
	"math"
	"slices"
	"strings"

	"swathe/coverage/stats"
	"swathe/geom"
)

// Cell is one figure of one group.
type Cell struct {
	N        int            `json:"n"`      // runs with a value
	Of       int            `json:"runs"`   // runs in the group
	Runs     []string       `json:"-"`      // whose values these are
	Values   []float64      `json:"values"` // in the order of Runs; empty, not nil, as the lists below
	Mean     float64        `json:"mean"`   // NaN of none, of two (both are shown), and where some never got there
	SD       float64        `json:"sd"`     // between trials; NaN below three
	Interval stats.Interval `json:"interval_95"`
	From     *string        `json:"interval_from"`                    // FromScatter or FromOne; nil: there is no interval
	MeasU    float64        `json:"measurement_standard_uncertainty"` // of one run, root mean square; NaN if unknown
	OwnU     float64        `json:"-"`                                // the part of MeasU that is a run's own; MeasU itself where that is not known
	CommonU  float64        `json:"common_standard_uncertainty"`      // of the mean, of what its runs share (brush, survey, camera), so that more runs do not reduce it; NaN if unknown
	Median   float64        `json:"median"`                           // of a time, with never as infinity; NaN of other figures and of no run
	Never    []Refusal      `json:"never_reached"`                    // runs that did not get there
	AtLeast  []Bound        `json:"at_least"`                         // of runs that did not finish, in no mean
	Left     []Refusal      `json:"left_out"`
	at       []int          // of Runs, in the comparison's runs
}

// Where the interval of a Cell is from.
const (
	FromScatter = "scatter between runs"
	FromOne     = "measurement of the single run"
)

// Bound is a lower bound: the figure of a run that did not finish.
type Bound struct {
	Run    string  `json:"run"`
	Value  float64 `json:"value"`
	Reason string  `json:"reason"`
}

// mean returns the mean of the values even where Mean is not given; NaN where
// some run never got there.
func (c Cell) mean() float64 {
	if len(c.Never) > 0 {
		return math.NaN()
	}
	m, _ := stats.MeanSD(c.Values)
	return m
}

// all returns the values with an infinity for each run that never got there.
func (c Cell) all() []float64 {
	out := slices.Clone(c.Values)
	for range c.Never {
		out = append(out, math.Inf(1))
	}
	return out
}

// cellOf sums up one figure of some runs.
func cellOf(runs []Run, at []int, f Figure, level float64) Cell {
	c := Cell{Of: len(at), Values: []float64{}, Never: []Refusal{}, AtLeast: []Bound{}, Left: []Refusal{}, Mean: math.NaN(), SD: math.NaN(), MeasU: math.NaN(), OwnU: math.NaN(), CommonU: math.NaN(), Median: math.NaN(), Interval: stats.NoInterval}
	sum, own, n := 0.0, 0.0, 0
	one := stats.NoInterval
	for _, i := range at {
		r := &runs[i]
		v, why := r.Value(f.Name), r.Unfinished()
		switch started := strings.HasPrefix(why, "its start"); {
		case f.Cut == CutTime && !started && math.IsNaN(v) && timed(r, f):
			if why == "" {
				why = "it never reached it"
			}
			c.Never = append(c.Never, Refusal{r.ID, why})
			continue
		case math.IsNaN(v):
			c.Left = append(c.Left, Refusal{r.ID, "it was not measured"})
			continue
		case why != "" && f.Cut == CutLeast:
			c.AtLeast = append(c.AtLeast, Bound{r.ID, v, why})
			continue
		case why != "" && (f.Cut == CutNone || f.Cut == CutTime && started):
			c.Left = append(c.Left, Refusal{r.ID, why})
			continue
		}
		c.Runs, c.Values, c.at = append(c.Runs, r.ID), append(c.Values, v), append(c.at, i)
		if u := get(r.U, f.Name); !math.IsNaN(u) {
			sum, n = sum+u*u, n+1
			if o := get(r.Own, f.Name); !math.IsNaN(o) {
				u = o
			}
			own += u * u
		}
		one = stats.NoInterval
		if iv, ok := r.Interval[f.Name]; ok {
			one = iv
		}
	}
	c.N = len(c.Values)
	if n > 0 && n == c.N {
		c.MeasU, c.OwnU = math.Sqrt(sum/float64(n)), math.Sqrt(own/float64(n))
	}
	if f.Cut == CutTime {
		c.Median = geom.Median(c.all())
	}
	if len(c.Never) > 0 {
		return c
	}
	common, _ := c.common(runs, f.Name)
	c.CommonU = common.U
	switch {
	case c.N == 1:
		c.Mean, c.Interval = c.Values[0], one
	case c.N >= stats.MinInterval:
		e := stats.Mean(c.Values, orNothing(common), level)
		c.Mean, c.SD, c.Interval = e.Mean, e.SD, e.Interval
		if f.Unit == Share {
			c.Interval = stats.ShareInterval(e.Mean, e.SE, e.DF, level)
		}
	}
	if !math.IsNaN(c.Interval.Lo) || !math.IsNaN(c.Interval.Hi) {
		from := FromScatter
		if c.N == 1 {
			from = FromOne
		}
		c.From = &from
	}
	return c
}

// timed tells whether a run that has no time to a level was asked for it: one
// whose floor is not known has none either.
func timed(r *Run, f Figure) bool {
	share := "covered_share"
	if strings.HasPrefix(f.Name, "time_to_reachable") {
		share = "reachable_share"
	} else if differ(r.OpenM2, r.CommonM2) {
		return false
	}
	return !math.IsNaN(r.Value(share))
}

// common is what the values of a cell have in common in their mean.
func (c Cell) common(runs []Run, figure string) (p stats.Part, kept bool) {
	w := map[int]float64{}
	for _, i := range c.at {
		w[i] = 1 / float64(len(c.at))
	}
	return commonPart(runs, w, figure, c.MeasU)
}

func orNothing(p stats.Part) stats.Part {
	if math.IsNaN(p.U) {
		return stats.Part{}
	}
	return p
}

// commonPart returns the standard uncertainty of a sum of runs' figures, each
// with its weight, that the causes have which runs may share: brush, survey,
// camera. Runs that share a cause had it drawn alike, so that its draws are
// added before they are judged; causes that are not the same are independent.
// Where a run's draws were not kept, kept is false and all of otherwise is taken
// for common, the standard uncertainty of the measurement: rather too much.
func commonPart(runs []Run, weight map[int]float64, figure string, otherwise float64) (p stats.Part, kept bool) {
	type cause struct{ input, key string }
	sums := map[cause][]float64{}
	var order []cause // the same runs give the same figures, to the last digit
	for _, i := range slices.Sorted(maps.Keys(weight)) {
		w := weight[i]
		if runs[i].Common == nil {
			return stats.Part{U: otherwise, DF: math.Inf(1)}, false
		}
		for _, c := range runs[i].Common {
			change, ok := c.Change[figure]
			if !ok {
				continue
			}
			k := cause{c.Input, c.Key}
			s, known := sums[k]
			if !known {
				s, order = make([]float64, len(change)), append(order, k)
			}
			s = s[:min(len(s), len(change))]
			for d := range s {
				s[d] += w * change[d]
			}
			sums[k] = s
		}
	}
	var u2, nu float64
	for _, k := range order {
		s := slices.DeleteFunc(sums[k], func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
		if len(s) < 10 {
			continue // the figure is hardly ever there: a level that it does not reach
		}
		_, sd := stats.MeanSD(s)
		u2 += sd * sd
		nu += sd * sd * sd * sd / float64(len(s)-1)
	}
	if u2 == 0 {
		return stats.Part{DF: math.Inf(1)}, true
	}
	return stats.Part{U: math.Sqrt(u2), DF: u2 * u2 / nu}, true
}
