// Package dossier gathers what the page on one robot is made of: its runs and
// all others', its bench, how its runs ended, what the plan wanted and nobody
// has tested.
package dossier

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/plan"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/words"
)

// Lab is what is read once for the dossiers of any number of robots.
type Lab struct {
	*lab.Lab
	Runs      []compare.Run
	Standings []compare.Standing
	Bench     []bench.Standing
	readings  []bench.Reading
	Plan      *plan.Report // nil: the lab has no plan
}

// Read reads it. figures are what a plan may be decided by.
func Read(l *lab.Lab, figures []string) (*Lab, error) {
	d := &Lab{Lab: l}
	ids, err := report.ResultIDs(l.ResultsDir())
	if err != nil {
		return nil, err
	}
	d.Runs, _ = report.Indexed(l.ResultsDir(), ids)
	_ = report.AddShared(l.ResultsDir(), d.Runs) // without it intervals are those of the scatter alone
	opt := compare.DefaultOptions()
	opt.OutlineSigma = l.Settings.Uncertainty.OutlineSigma
	if d.Standings, _, err = compare.Standings(d.Runs, opt); err != nil {
		return nil, err
	}
	rs, err := bench.All(l, "")
	if err != nil {
		return nil, err
	}
	d.readings = rs
	d.Bench = bench.Standings(bench.Quantities(l), rs)
	if l.HasPlan() {
		p, err := l.Plan(figures)
		if err != nil {
			return nil, err
		}
		in, err := plan.Gather(l, p)
		if err != nil {
			return nil, err
		}
		if d.Plan, err = plan.New(in); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// Of returns the input of a robot's page. eye is asked only where a lens came
// from pictures of a board.
func (d *Lab) Of(ctx context.Context, robot string, eye work.Eye, unit words.Unit) (report.DossierInput, error) {
	in := report.DossierInput{Robot: robot, Standings: d.Standings, Unit: unit}
	r := d.Robots[robot]
	if r == nil {
		return in, fmt.Errorf("there is no robot %q in %s or robots/.%s", robot, lab.SetupFile, lab.DidYouMean(robot, d.RobotNames))
	}
	for _, run := range d.Runs {
		if run.Robot == robot {
			in.Runs = append(in.Runs, run)
		}
	}
	if len(in.Runs) == 0 {
		return in, fmt.Errorf("no run of %s has been measured; run swathe measure first", robot)
	}
	in.Identity = identity(r, unit)
	for _, k := range lab.LaboratoryKeys {
		if v := d.Laboratory[k]; v != "" {
			in.Laboratory = append(in.Laboratory, []string{strings.ReplaceAll(k, "_", " "), v})
		}
	}
	d.outcomes(&in)
	in.Bench = d.benchRows(robot)
	in.NotTested = d.notTested(robot, in.Runs)
	return in, d.maps(ctx, &in, eye)
}

func identity(r *lab.Robot, unit words.Unit) [][]string {
	length := func(v float64) string { return words.Length(v, math.NaN(), unit) }
	size := length(r.Diameter) + " across"
	if len(r.Outline) > 0 {
		size = fmt.Sprintf("outline of %d corners", len(r.Outline))
	}
	out := [][]string{{"Robot", r.Name}, {"Size", size + ", " + length(r.Height) + " high"}}
	for i, t := range r.Tools {
		name := "Tool"
		if i > 0 {
			name = "Other tool"
		}
		out = append(out, []string{name, t.Name + ", " + length(t.Width) + " wide"})
	}
	return out
}

// outcomes says how each run ended; how long it was carried, and what the dock
// cost, stand in run.json.
func (d *Lab) outcomes(in *report.DossierInput) {
	for _, run := range in.Runs {
		o := report.OutcomeOf(run)
		layout, name, _ := strings.Cut(run.ID, "/")
		if full, err := report.ReadRun(d.ResultDir(layout, name)); err == nil {
			if full.Events != nil {
				o.AssistS = 0
			}
			for _, e := range full.Events {
				if e.Kind == "carried" {
					o.AssistS += e.EndS - e.StartS
				}
			}
			in.Work = append(in.Work, d.workRow(run, full))
			if len(full.Residue) > 0 {
				in.Left = append(in.Left, report.RunResidue{Run: run.ID, Patches: full.Residue})
			}
		}
		in.Outcomes = append(in.Outcomes, o)
	}
}

// workRow is a run's time at work and in the dock, and the energy that the bench
// metered for it.
func (d *Lab) workRow(run compare.Run, full *report.Run) []string {
	row := []string{run.ID, words.NotMeasured, "no dock", "", words.NotMeasured}
	if full.Active != nil {
		row[1] = words.Duration(float64(full.Active.ActiveS))
	}
	if k := full.Docking; k != nil {
		row[2], row[3] = words.Duration(float64(k.DockedS)), fmt.Sprint(k.Trips)
	}
	for _, name := range []string{"energy", "charge"} {
		if v, u := bench.OfRun(d.readings, run.Layout, run.Robot, run.Phase, run.Trial, name); v == v {
			row[4] = bench.InWords(bench.Named(name), v, u)
			break
		}
	}
	return row
}

func (d *Lab) benchRows(robot string) []report.BenchRow {
	var out []report.BenchRow
	for _, s := range d.Bench {
		if s.Robot != robot {
			continue
		}
		out = append(out, report.BenchRow{Name: s.Of.Name, Words: s.Of.Words, Where: s.Where, Value: s.Words(), Others: bench.InWords(s.Of, s.Others, math.NaN()),
			Rank: s.Rank, OtherRobots: s.OtherNum})
	}
	return out
}

// notTested lists what the plan wants and nobody has made, and what the bench
// could have said of other robots and not of this one.
func (d *Lab) notTested(robot string, runs []compare.Run) []string {
	var out []string
	for _, l := range d.LayoutNames {
		if !slices.ContainsFunc(runs, func(r compare.Run) bool { return r.Layout == l }) {
			out = append(out, "The layout "+l+": no run of this robot was measured there.")
		}
	}
	if d.Plan != nil {
		for _, e := range d.Plan.Entries {
			if e.Robot == robot && (e.State == plan.Due || e.State == plan.Failed || e.State == plan.Recorded) {
				why := map[string]string{plan.Due: "planned, not yet recorded", plan.Failed: "recorded, but could not be measured", plan.Recorded: "recorded, not yet measured"}[e.State]
				out = append(out, e.Run+": "+why+".")
			}
		}
	} else {
		out = append(out, "The lab has no plan, so untested runs cannot be listed.")
	}
	seen := map[string]bool{}
	for _, s := range d.Bench {
		key := s.Of.Words + s.Where
		if seen[key] || s.Robot == robot {
			continue
		}
		seen[key] = true
		if !slices.ContainsFunc(d.Bench, func(o bench.Standing) bool { return o.Robot == robot && o.Of.Name == s.Of.Name && o.Where == s.Where }) {
			out = append(out, key+": measured on other robots but not on this one.")
		}
	}
	return out
}

// mapCell is the cell of the maps, m: what a picture shows.
const mapCell = 0.01

// maps draws one pass map a layout: of the newest run that finished, in the
// phase in which the robot works from day to day.
func (d *Lab) maps(ctx context.Context, in *report.DossierInput, eye work.Eye) error {
	var ids []string
	for _, l := range d.LayoutNames {
		best, at := -1, -1
		for i, r := range in.Runs {
			if r.Layout != l {
				continue
			}
			score := slices.Index([]string{"mapping", "single", "mapped"}, r.Phase) * 1e7
			if r.Unfinished() == "" {
				score += 1e8
			}
			if score += r.Trial; score > best {
				best, at = score, i
			}
		}
		if at >= 0 {
			ids = append(ids, in.Runs[at].ID)
		}
	}
	maps := make([]report.SheetPicture, len(ids))
	errs := make([]error, len(ids))
	var group sync.WaitGroup
	for i, id := range ids {
		group.Add(1)
		go func() {
			defer group.Done()
			k, err := work.Load(ctx, d.Lab, id, eye, func(o *coverage.Options) { o.Cell, o.CellAuto = max(o.Cell, mapCell), false })
			if err != nil {
				errs[i] = err
				return
			}
			opt := figure.DefaultOptions()
			opt.Width, opt.Height, opt.DPI, opt.Unit = 1200, 860, 250, in.Unit
			maps[i] = report.SheetPicture{Caption: "How often each spot was cleaned: " + id + ".", Options: opt,
				Draw: func(o figure.Options) (*figure.Picture, error) { return figure.Passes(k.Figure, o) }}
		}()
	}
	group.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	in.Maps = maps
	return nil
}
