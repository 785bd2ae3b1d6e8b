package report

import (
	"math"
	"slices"
	"strconv"

	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/coverage/conduct"
	"swathe/coverage/doubt"
	"swathe/coverage/stats"
	"swathe/geom"
)

// stuckEnd is how long before the end of a run it may have been stuck last, s, to
// have ended so: what it tries last takes a moment.
const stuckEnd = 5

// ComparedRun returns what a comparison knows of a run.
func ComparedRun(r *Run) compare.Run {
	out := compare.Run{
		ID: r.Layout + "/" + r.Name(), Layout: r.Layout, Robot: r.Robot, Phase: r.Phase, Trial: r.Trial,
		Tool: r.Tool, ToolWidth: r.ToolWidthM, ToolPlace: [2]float64{r.ToolAheadM, r.ToolLeftM},
		Definition: r.Versions["analysis"], Setup: r.SetupSHA, Room: r.LayoutParts, OpenM2: r.Floor.OpenM2, CommonM2: r.Floor.CommonM2, Conditions: r.Conditions,
		Start: geom.Point2{X: r.Run.StartX, Y: r.Run.StartY}, LostShare: r.Trace.LostShare, Mark: r.Mark,
		Started: r.Run.Started, Ended: r.Run.Ended, Dock: r.Docking != nil,
		Values: map[string]float64{}, U: map[string]float64{}, Own: map[string]float64{}, Interval: map[string]stats.Interval{},
	}
	put := func(k Known, name string, v float64) {
		if !Measured(v) {
			return
		}
		out.Values[name] = v
		if u := k.U(name); Measured(u) {
			out.U[name] = u
		}
		if u := r.ownU(name); Measured(u) {
			out.Own[name] = u
		}
		if iv, ok := k.Interval95[name]; ok {
			out.Interval[name] = iv
		}
	}
	b, m, k := r.Coverage, r.Run, r.Coverage.Known
	put(k, "reachable_share", b.ReachableShare)
	put(k, "covered_share", b.CoveredShare)
	put(k, "covered_m2", b.CoveredM2)
	put(k, "swept_m2", b.SweptM2)
	put(k, "reachable_m2", b.ReachableM2)
	put(k, "redundancy", b.Redundancy)
	put(k, "plateau_s", b.PlateauS)
	put(k, "tail_s", b.TailS)
	put(k, "rate_m2_per_min", b.RateM2PerMin)
	for prefix, t := range map[string]coverage.Times{"time_to_s.": b.TimeTo, "time_to_reachable_s.": b.TimeToReachable} {
		for i, level := range coverage.Levels {
			put(k, prefix+strconv.Itoa(level), t[i])
		}
	}
	put(m.Known, "duration_s", m.DurationS)
	put(m.Known, "distance_m", m.DistanceM)
	put(m.Known, "moving_share", m.MovingShare)
	put(m.Known, "mean_speed_mps", m.MeanSpeedMPS)
	if r.Events != nil {
		out.Events = map[string]int{}
		for _, e := range r.Events {
			out.Events[e.Kind]++
			out.StuckEnd = out.StuckEnd || e.Kind == conduct.Stuck && e.EndS >= m.EndS-stuckEnd
		}
		out.Values["events"] = float64(len(r.Events))
	}
	if r.Rows != nil {
		n := 0
		for _, b := range r.Rows.Blocks {
			n += b.Lanes
		}
		out.Values["rows"] = float64(n)
	}
	if a := r.Active; a != nil {
		put(Known{}, "active_s", a.ActiveS)
	}
	if k := r.Docking; k != nil {
		put(Known{}, "docked_s", k.DockedS)
		out.Values["dock_trips"] = float64(k.Trips)
	}
	for _, p := range r.TestObjects {
		if p.Outcome != nil {
			if out.TestObjects == nil {
				out.TestObjects = map[string]string{}
			}
			out.TestObjects[p.Name] = *p.Outcome
		}
	}
	return out
}

// ownU is the standard uncertainty of a figure that is the run's own, from its
// budget: what no other run shares. NaN if that is not known.
func (r *Run) ownU(name string) float64 {
	if r.Uncertainty == nil {
		return NaN
	}
	sum, any := 0.0, false
	for _, b := range r.Uncertainty.Budget {
		if u, ok := b.StandardU[name]; ok && Measured(u) && slices.Contains(doubt.OwnInputs, b.Input) {
			sum, any = sum+(u*u), true
		}
	}
	if !any {
		return NaN
	}
	return math.Sqrt(sum)
}

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
	Run    string          `json:"run"`
	Group  string          `json:"group"`
	Values Beside[float64] `json:"values"`
	Known
}

// GroupInfo is the runs of one robot in one phase under the same circumstances.
type GroupInfo struct {
	Name   string   `json:"name"`
	Robot  string   `json:"robot"`
	Phase  string   `json:"phase"`
	Runs   []string `json:"runs"`
	Apart  []string `json:"set_apart_by"`
	Pooled []string `json:"pooled_over"`

	Conditions []ConditionValues `json:"conditions"`
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
	d := &Comparison{Schema: Schema, Name: name, Layout: c.Layout, Level: c.Level, Primary: c.Primary, Runs: []ComparedValue{}, Refused: append([]compare.Refusal{}, c.Refused...), Groups: []GroupInfo{},
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
		info.Conditions = ConditionsOf(stated, unit)
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
	v := ComparedValue{Run: r.ID, Group: group, Values: Beside[float64]{}, Known: Known{Beside[stats.Interval]{}, Beside[float64]{}}}
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
	if c.N >= stats.MinInterval && Measured(c.SD) {
		u := c.SD / math.Sqrt(float64(c.N))
		if Measured(c.CommonU) {
			u = math.Hypot(u, c.CommonU)
		}
		return u
	}
	return c.MeasU
}
