package report

import (
	"math"
	"slices"

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
		Tool: r.Tool, ToolWidth: float64(r.ToolWidthM), ToolPlace: [2]float64{float64(r.ToolAheadM), float64(r.ToolLeftM)},
		Definition: r.Versions["analysis"], Setup: r.SetupSHA, Room: r.LayoutParts, OpenM2: float64(r.Floor.OpenM2), CommonM2: float64(r.Floor.CommonM2), Conditions: r.Conditions,
		Start: geom.Point2{X: float64(r.Run.StartX), Y: float64(r.Run.StartY)}, LostShare: float64(r.Trace.LostShare), Mark: r.Mark,
		Started: r.Run.Started, Ended: r.Run.Ended, Dock: r.Docking != nil,
		Values: map[string]float64{}, U: map[string]float64{}, Own: map[string]float64{}, Interval: map[string]stats.Interval{},
	}
	put := func(k Known, name string, v Float) {
		if !v.Known() {
			return
		}
		out.Values[name] = float64(v)
		if u := k.U(name); u.Known() {
			out.U[name] = float64(u)
		}
		if u := r.ownU(name); u.Known() {
			out.Own[name] = float64(u)
		}
		if iv, ok := k.Interval95[name]; ok {
			out.Interval[name] = stats.Interval{Lo: float64(iv[0]), Hi: float64(iv[1])}
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
	for prefix, t := range map[string]Times{"time_to_s.": b.TimeToS, "time_to_reachable_s.": b.TimeToReachableS} {
		put(k, prefix+"50", t.S50)
		put(k, prefix+"80", t.S80)
		put(k, prefix+"90", t.S90)
		put(k, prefix+"95", t.S95)
		put(k, prefix+"99", t.S99)
	}
	put(m.Known, "duration_s", m.DurationS)
	put(m.Known, "distance_m", m.DistanceM)
	put(m.Known, "moving_share", m.MovingShare)
	put(m.Known, "mean_speed_mps", m.MeanSpeedMPS)
	if r.Events != nil {
		out.Events = map[string]int{}
		for _, e := range r.Events {
			out.Events[e.Kind]++
			out.StuckEnd = out.StuckEnd || e.Kind == conduct.Stuck && float64(e.EndS) >= float64(m.EndS)-stuckEnd
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
func (r *Run) ownU(name string) Float {
	if r.Uncertainty == nil {
		return NaN
	}
	sum, any := 0.0, false
	for _, b := range r.Uncertainty.Budget {
		if u, ok := b.StandardU[name]; ok && u.Known() && slices.Contains(doubt.OwnInputs, b.Input) {
			sum, any = sum+float64(u*u), true
		}
	}
	if !any {
		return NaN
	}
	return Float(math.Sqrt(sum))
}

// Comparison is the content of comparison.json.
type Comparison struct {
	Schema  int             `json:"schema"`
	Name    string          `json:"name"`
	Layout  string          `json:"layout"`
	Level   Float           `json:"level"`
	Primary string          `json:"primary"` // the figure that it is about; all others are exploratory
	Runs    []ComparedValue `json:"runs"`
	Refused []Refused       `json:"refused"`
	Groups  []GroupInfo     `json:"groups"`
	Figures []FigureRow     `json:"figures"`
	Counts  []CountRow      `json:"counts"`
	Differ  []DifferenceRow `json:"differences"`
	Joint   []Joint         `json:"together"`
	Notes   []string        `json:"notes"`
}

// ComparedValue is one run's figures.
type ComparedValue struct {
	Run    string        `json:"run"`
	Group  string        `json:"group"`
	Values Beside[Float] `json:"values"`
	Known
}

// Refused is a run that takes no part, or not in one figure.
type Refused struct {
	Run    string `json:"run"`
	Reason string `json:"reason"`
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
	Group    string    `json:"group"`
	N        int       `json:"n"`
	Of       int       `json:"runs"`
	Values   []Float   `json:"values"`
	Mean     Float     `json:"mean"` // null of two runs: both values stand alone; and of a time that some never reached
	SD       Float     `json:"sd"`   // between runs
	Interval Interval  `json:"interval_95"`
	From     *string   `json:"interval_from"`                    // "scatter between runs" or "measurement of the single run"
	MeasU    Float     `json:"measurement_standard_uncertainty"` // of one run
	CommonU  Float     `json:"common_standard_uncertainty"`      // of the mean, of what its runs share: brush, survey, camera
	Median   Float     `json:"median"`                           // of a time, never being the longest; null of other figures, and where it is never
	Never    []Refused `json:"never_reached"`                    // runs that did not get there
	AtLeast  []AtLeast `json:"at_least"`                         // lower bounds, of runs that did not finish
	Left     []Refused `json:"left_out"`
}

// AtLeast is a lower bound: the figure of a run that did not finish.
type AtLeast struct {
	Run    string `json:"run"`
	Value  Float  `json:"value"`
	Reason string `json:"reason"`
}

// CountRow is how many runs of a group did something.
type CountRow struct {
	Group    string    `json:"group"`
	What     string    `json:"what"`
	K        int       `json:"k"`
	N        int       `json:"n"`
	Open     []Refused `json:"cut_short"` // of n, runs that did not and might have
	Interval Interval  `json:"interval_95"`
	Left     []Refused `json:"left_out"`
}

// DifferenceRow is by how much a figure of one group exceeds that of another.
type DifferenceRow struct {
	From, To  string   `json:"-"`
	Groups    []string `json:"groups"` // the second less the first
	Figure    string   `json:"figure"`
	Value     Float    `json:"value"`
	Ratio     Float    `json:"ratio"`
	Interval  Interval `json:"interval_95"`
	P         Float    `json:"p"`
	DF        Float    `json:"degrees_of_freedom"`
	Pairs     int      `json:"pairs"`
	SmallestP Float    `json:"smallest_rank_p"` // that any test by ranks could give with so few runs
	MeasU     Float    `json:"measurement_standard_uncertainty"`
	CommonU   Float    `json:"common_standard_uncertainty"` // of it, what more runs would not reduce
	Method    string   `json:"method"`
	Reason    *string  `json:"reason"` // why there is none; null if there is one
	Primary   bool     `json:"primary"`
	HolmP     Float    `json:"p_holm"`      // p by Holm's correction among the primary figure's pairs, or among all others
	Verdict   string   `json:"verdict"`     // first better, second better (or greater), no difference shown, too few runs; empty: none
	Need      Float    `json:"runs_needed"` // of each, to settle a difference of this size; null if unknown, or if none would do
	Advice    string   `json:"advice"`      // the same in words; empty where it is settled
}

// Joint is what several runs leave between them.
type Joint struct {
	Name        string       `json:"name"`
	Runs        []string     `json:"runs"`
	OpenM2      Float        `json:"open_m2"`      // common to the runs
	ReachableM2 Float        `json:"reachable_m2"` // of it, within the reach of each of them
	MissRates   []Float      `json:"missed_share_by_run"`
	After       []Float      `json:"share_after_runs"`
	AfterChance []Float      `json:"share_after_runs_by_chance"`
	Hits        []Float      `json:"share_covered_in_n_runs"` // from none to all
	HitsChance  []Float      `json:"share_covered_in_n_runs_by_chance"`
	NeverShare  Float        `json:"never_covered_share"` // of the open floor
	NeverM2     Float        `json:"never_covered_m2"`
	SurveyM2    Float        `json:"survey_m2"` // not covered either, in strips thinner than the survey tells apart
	ChanceShare Float        `json:"never_covered_share_by_chance"`
	Chronic     Float        `json:"chronic_share"`
	Telling     bool         `json:"beyond_chance"` // chance alone would leave less than half of it
	Patches     []NeverPatch `json:"never_covered"`
	RestM2      Float        `json:"never_covered_small_m2"`
	Words       string       `json:"words"`
}

// NeverPatch is a piece of floor that no run covered.
type NeverPatch struct {
	AreaM2 Float  `json:"area_m2"`
	X      Float  `json:"x_m"`
	Y      Float  `json:"y_m"`
	Beside string `json:"beside"`
}

// NewJoint returns the document of what runs leave between them.
func NewJoint(name string, runs []string, t *compare.Together) Joint {
	j := Joint{Name: name, Runs: runs, OpenM2: Float(t.OpenM2), ReachableM2: Float(t.ReachableM2), MissRates: floats(t.MissRates), After: floats(t.After), AfterChance: floats(t.AfterChance),
		Hits: floats(t.Hits), HitsChance: floats(t.HitsChance), NeverShare: Float(t.NeverShare), NeverM2: Float(t.NeverM2), SurveyM2: Float(t.SurveyM2), ChanceShare: Float(t.ChanceShare),
		Chronic: Float(t.ChronicShare), Telling: t.Telling, Patches: []NeverPatch{}, RestM2: Float(t.RestM2), Words: t.Words()}
	for _, p := range t.Patches {
		j.Patches = append(j.Patches, NeverPatch{Float(p.AreaM2), Float(p.X), Float(p.Y), p.Beside})
	}
	return j
}

func refused(in []compare.Refusal) []Refused {
	out := []Refused{}
	for _, r := range in {
		out = append(out, Refused{r.Run, r.Reason})
	}
	return out
}

func interval(i stats.Interval) Interval { return Interval{Float(i.Lo), Float(i.Hi)} }

// NewComparison returns the document of a comparison; unit gives the unit of a
// condition.
func NewComparison(name string, c *compare.Comparison, joint []Joint, unit func(string) string) *Comparison {
	d := &Comparison{Schema: Schema, Name: name, Layout: c.Layout, Level: Float(c.Level), Primary: c.Primary, Runs: []ComparedValue{}, Refused: refused(c.Refused), Groups: []GroupInfo{},
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
			d.Counts = append(d.Counts, CountRow{g.Name, n.What, n.K, n.N, refused(n.Open), interval(n.Interval), refused(n.Left)})
		}
	}
	for i, f := range c.Figures {
		row := FigureRow{Figure: f.Name, Words: f.Words, Unit: string(f.Unit), Groups: []FigureCell{}}
		for k, cell := range c.Table[i] {
			row.Groups = append(row.Groups, figureCell(c.Groups[k].Name, cell))
		}
		d.Figures = append(d.Figures, row)
	}
	for _, x := range c.Differ {
		row := DifferenceRow{Groups: []string{c.Groups[x.From].Name, c.Groups[x.To].Name}, Figure: x.Figure.Name, Value: Float(x.Value), Ratio: Float(x.Ratio),
			Interval: interval(x.Interval), P: Float(x.P), DF: Float(x.DF), Pairs: x.Pairs, SmallestP: Float(x.RankP), MeasU: Float(x.MeasU), CommonU: Float(x.Common), Method: x.Method,
			Primary: x.Figure.Name == c.Primary, HolmP: Float(x.HolmP), Verdict: string(x.Verdict), Need: finite(x.Need), Advice: advice(x, c)}
		row.From, row.To = row.Groups[0], row.Groups[1]
		if x.Reason != "" {
			row.Reason = &x.Reason
		}
		d.Differ = append(d.Differ, row)
	}
	return d
}

func comparedValue(r compare.Run, group string) ComparedValue {
	v := ComparedValue{Run: r.ID, Group: group, Values: Beside[Float]{}, Known: Known{Beside[Interval]{}, Beside[Float]{}}}
	for _, f := range compare.Figures {
		v.Values[f.Name] = Float(r.Value(f.Name))
	}
	for n, u := range r.U {
		v.StandardU[n] = Float(u)
	}
	for n, iv := range r.Interval {
		v.Interval95[n] = interval(iv)
	}
	return v
}

func figureCell(group string, c compare.Cell) FigureCell {
	out := FigureCell{Group: group, N: c.N, Of: c.Of, Values: []Float{}, Mean: Float(c.Mean), SD: Float(c.SD), Interval: interval(c.Interval), MeasU: Float(c.MeasU),
		CommonU: Float(c.Common), Median: finite(c.Median), Never: refused(c.Never), AtLeast: []AtLeast{}, Left: refused(c.Left)}
	for _, b := range c.AtLeast {
		out.AtLeast = append(out.AtLeast, AtLeast{b.Run, Float(b.Value), b.Reason})
	}
	out.Values = append(out.Values, floats(c.Values)...)
	if out.Interval[0].Known() || out.Interval[1].Known() {
		from := "scatter between runs"
		if c.FromOne {
			from = "measurement of the single run"
		}
		out.From = &from
	}
	return out
}

// u returns the standard uncertainty that a cell's mean is written with.
func (c FigureCell) u() float64 {
	if c.N >= stats.MinInterval && c.SD.Known() {
		u := float64(c.SD) / math.Sqrt(float64(c.N))
		if c.CommonU.Known() {
			u = math.Hypot(u, float64(c.CommonU))
		}
		return u
	}
	return float64(c.MeasU)
}

// finite is a number that JSON can hold: null for infinity.
func finite(v float64) Float {
	if math.IsInf(v, 0) {
		return NaN
	}
	return Float(v)
}
