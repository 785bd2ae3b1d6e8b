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
