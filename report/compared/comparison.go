// Package compared writes what is said of several runs: a comparison of groups, where every
// robot stands, and the dossier of one.
package compared

import (
	"math"

	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report"
)

// Comparison is the content of comparison.json.
type Comparison struct {
	Schema  int               `json:"schema"`
	Name    string            `json:"name"`
	Layout  string            `json:"layout"`
	Level   float64           `json:"level"`
	Primary string            `json:"primary"` // the figure that it is about; all others are exploratory
	Runs    []ComparedValue   `json:"runs"`
	Refused []compare.Refusal `json:"refused"`
	Groups  []GroupInfo       `json:"groups"`
	Figures []FigureRow       `json:"figures"`
	Counts  []CountRow        `json:"counts"`
	Differ  []DifferenceRow   `json:"differences"`
	Joint   []Joint           `json:"together"`
	Notes   []string          `json:"notes"`
}

// ComparedValue is one run's figures.
type ComparedValue struct {
	Run    string                 `json:"run"`
	Group  string                 `json:"group"`
	Values report.Beside[float64] `json:"values"`
	report.Known
}

// GroupInfo is the runs of one robot in one phase under the same circumstances.
type GroupInfo struct {
	Name   string   `json:"name"`
	Robot  string   `json:"robot"`
	Phase  string   `json:"phase"`
	Runs   []string `json:"runs"`
	Apart  []string `json:"set_apart_by"`
	Pooled []string `json:"pooled_over"`

	Conditions []report.ConditionValues `json:"conditions"`
}

// FigureRow is one figure over all groups.
type FigureRow struct {
	Figure string       `json:"figure"`
	Words  string       `json:"words"`
	Unit   string       `json:"unit"`
	Groups []FigureCell `json:"groups"`
}

// FigureCell is one figure of one group.
type FigureCell struct {
	Group string `json:"group"`
	compare.Cell
}

// CountRow is how many runs of a group did something.
type CountRow struct {
	Group string `json:"group"`
	compare.Count
}

// DifferenceRow is by how much a figure of one group exceeds that of another.
type DifferenceRow struct {
	From, To  string         `json:"-"`
	Groups    []string       `json:"groups"` // the second less the first
	Figure    string         `json:"figure"`
	Value     float64        `json:"value"`
	Ratio     float64        `json:"ratio"`
	Interval  stats.Interval `json:"interval_95"`
	P         float64        `json:"p"`
	DF        float64        `json:"degrees_of_freedom"`
	Pairs     int            `json:"pairs"`
	SmallestP float64        `json:"smallest_rank_p"` // that any test by ranks could give with so few runs
	MeasU     float64        `json:"measurement_standard_uncertainty"`
	CommonU   float64        `json:"common_standard_uncertainty"` // of it, what more runs would not reduce
	Method    string         `json:"method"`
	Reason    *string        `json:"reason"` // why there is none; null if there is one
	Primary   bool           `json:"primary"`
	HolmP     float64        `json:"p_holm"`      // p by Holm's correction among the primary figure's pairs, or among all others
	Verdict   string         `json:"verdict"`     // first better, second better (or greater), no difference shown, too few runs; empty: none
	Need      float64        `json:"runs_needed"` // of each, to settle a difference of this size; null if unknown, or if none would do
	Advice    string         `json:"advice"`      // the same in words; empty where it is settled
}

// Joint is what several runs leave between them.
type Joint struct {
	Name string   `json:"name"`
	Runs []string `json:"runs"`
	compare.Together
	Words string `json:"words"`
}

// NewJoint returns the document of what runs leave between them.
func NewJoint(name string, runs []string, t *compare.Together) Joint {
	return Joint{Name: name, Runs: runs, Together: *t, Words: t.Words()}
}

// NewComparison returns the document of a comparison; unit gives the unit of a
// condition.
func NewComparison(name string, c *compare.Comparison, joint []Joint, unit func(string) string) *Comparison {
	d := &Comparison{Schema: report.Schema, Name: name, Layout: c.Layout, Level: c.Level, Primary: c.Primary, Runs: []ComparedValue{}, Refused: append([]compare.Refusal{}, c.Refused...), Groups: []GroupInfo{},
		Figures: []FigureRow{}, Counts: []CountRow{}, Differ: []DifferenceRow{}, Joint: joint, Notes: append([]string{}, c.Notes...)}
	if d.Joint == nil {
		d.Joint = []Joint{}
	}
	for k, g := range c.Groups {
		info := GroupInfo{Name: g.Name, Robot: g.Robot, Phase: g.Phase, Runs: []string{}, Apart: append([]string{}, g.Apart...), Pooled: append([]string{}, g.Pooled...)}
		var stated []map[string]string
		for _, i := range g.Runs {
			r := c.Runs[i]
			stated = append(stated, r.Conditions)
			info.Runs = append(info.Runs, r.ID)
			d.Runs = append(d.Runs, comparedValue(r, g.Name))
		}
		info.Conditions = report.ConditionsOf(stated, unit)
		d.Groups = append(d.Groups, info)
		for _, n := range c.Counts[k] {
			d.Counts = append(d.Counts, CountRow{g.Name, n})
		}
	}
	for i, f := range c.Figures {
		row := FigureRow{Figure: f.Name, Words: f.Words, Unit: string(f.Unit), Groups: []FigureCell{}}
		for k, cell := range c.Table[i] {
			row.Groups = append(row.Groups, FigureCell{c.Groups[k].Name, cell})
		}
		d.Figures = append(d.Figures, row)
	}
	for _, x := range c.Differ {
		row := DifferenceRow{Groups: []string{c.Groups[x.From].Name, c.Groups[x.To].Name}, Figure: x.Figure.Name, Value: x.Value, Ratio: x.Ratio,
			Interval: x.Interval, P: x.P, DF: x.DF, Pairs: x.Pairs, SmallestP: x.RankP, MeasU: x.MeasU, CommonU: x.Common, Method: x.Method,
			Primary: x.Figure.Name == c.Primary, HolmP: x.HolmP, Verdict: string(x.Verdict), Need: x.Need, Advice: advice(x, c)}
		row.From, row.To = row.Groups[0], row.Groups[1]
		if x.Reason != "" {
			row.Reason = &x.Reason
		}
		d.Differ = append(d.Differ, row)
	}
	return d
}

func comparedValue(r compare.Run, group string) ComparedValue {
	v := ComparedValue{Run: r.ID, Group: group, Values: report.Beside[float64]{}, Known: report.Known{Interval95: report.Beside[stats.Interval]{}, StandardU: report.Beside[float64]{}}}
	for _, f := range compare.Figures {
		v.Values[f.Name] = r.Value(f.Name)
	}
	for n, u := range r.U {
		v.StandardU[n] = u
	}
	for n, iv := range r.Interval {
		v.Interval95[n] = iv
	}
	return v
}

// u returns the standard uncertainty that a cell's mean is written with.
func (c FigureCell) u() float64 {
	if c.N >= stats.MinInterval && report.Measured(c.SD) {
		u := c.SD / math.Sqrt(float64(c.N))
		if report.Measured(c.CommonU) {
			u = math.Hypot(u, c.CommonU)
		}
		return u
	}
	return c.MeasU
}
