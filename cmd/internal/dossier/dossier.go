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
	"swathe/coverage/stats"
	"swathe/report"
	"swathe/report/compared"
	"swathe/report/figure"
	"swathe/report/sheet"
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

// Read reads it.
func Read(l *lab.Lab) (*Lab, error) {
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
	d.Bench = bench.Standings(bench.Quantities(l), bench.Finished(rs, d.Runs))
	if l.HasPlan() {
		p, err := l.Plan(compare.Names())
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
func (d *Lab) Of(ctx context.Context, robot string, eye work.Eye, unit words.Unit) (compared.DossierInput, error) {
	in := compared.DossierInput{Robot: robot, Standings: d.Standings, Unit: unit}
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
			in.Laboratory = append(in.Laboratory, []string{laboratoryWords[k], v})
		}
	}
	in.ConditionUnit = d.ConditionUnit
	d.outcomes(&in)
	in.Bench = d.benchRows(robot)
	in.NotTested = d.notTested(robot, in.Runs)
	stated := map[string]map[string]string{}
	for _, run := range in.Runs {
		stated[run.ID] = run.Conditions
	}
	in.Missing = d.MissingForReport(stated)
	if d.Plan != nil {
		for _, e := range d.Plan.Entries {
			if e.Robot == robot && e.State == plan.Deviating {
				in.Deviating = append(in.Deviating, e.Run+": "+strings.Join(e.Why, "; ")+".")
			}
		}
	}
	return in, d.maps(ctx, &in, eye)
}

// laboratoryWords are what a reader calls what lab.yaml says of the laboratory.
var laboratoryWords = map[string]string{"name": "Laboratory", "address": "Address", "location": "Tested at", "customer": "Customer", "method": "Method", "authorised_by": "Authorised by", "issued": "Issued", "licence": "Licence"}

func identity(r *lab.Robot, unit words.Unit) [][]string {
	length := func(v float64) string { return words.Length(v, math.NaN(), unit) }
	size := length(r.Diameter) + " across"
	if len(r.Outline) > 0 {
		size = fmt.Sprintf("outline of %d corners", len(r.Outline))
	}
	high := length(r.Height) + " high"
	if r.Shoulder > 0 {
		high += ", its side " + length(r.Shoulder)
	}
	out := [][]string{{"Robot", r.Name}, {"Size", size + ", " + high}}
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
func (d *Lab) outcomes(in *compared.DossierInput) {
	read := map[string]*report.Run{}
	for _, run := range in.Runs {
		o := compared.OutcomeOf(run)
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
			read[run.ID] = full
			if k := full.Docking; k != nil && full.Active != nil && k.Trips > 0 && k.DockedS >= recharge {
				in.Recharged = append(in.Recharged, fmt.Sprintf("%s recharged: it returned to the dock %s, stood in it for %s and was at work for %s.", run.ID, words.Count(k.Trips), words.Duration(k.DockedS), words.Duration(full.Active.ActiveS)))
			}
			if len(full.Residue) > 0 {
				in.Left = append(in.Left, report.RunResidue{Run: run.ID, Patches: full.Residue})
			}
		}
		in.Outcomes = append(in.Outcomes, o)
	}
	for _, s := range d.Standings {
		if s.Group.Robot == in.Robot {
			in.Work = append(in.Work, d.workRow(s, read))
		}
	}
}

// recharge, s: who stands in the dock for longer within a run went on after it.
const recharge = 10

// workRow is the mean time at work and in the dock of a group of runs, and the
// energy (else the charge) that the bench metered for them.
func (d *Lab) workRow(s compare.Standing, read map[string]*report.Run) []string {
	var work, dock, trips, energy []float64
	energyOf := ""
	for _, r := range s.Runs {
		full := read[r.ID]
		if full == nil || r.Unfinished() != "" { // cut short: in no mean
			continue
		}
		if a := full.Active; a != nil {
			work = append(work, a.ActiveS)
		}
		if k := full.Docking; k != nil {
			dock, trips = append(dock, k.DockedS), append(trips, float64(k.Trips))
		}
		for _, name := range []string{"energy", "charge"} {
			if v, _ := bench.OfRun(d.readings, r.Layout, r.Robot, r.Phase, r.Trial, name); v == v && (energyOf == "" || energyOf == name) {
				energy, energyOf = append(energy, v), name
				break
			}
		}
	}
	mean := func(v []float64, none string, word func(float64) string) string {
		if len(v) == 0 {
			return none
		}
		m, _ := stats.MeanSD(v)
		out := word(m)
		if len(v) < len(s.Runs) {
			out += fmt.Sprintf(" (%d of %d runs)", len(v), len(s.Runs))
		}
		return out
	}
	inDock := func(m float64) string {
		if m < 1 { // a run ends with its last movement, which may be in the dock
			return "none"
		}
		return words.Duration(m)
	}
	return []string{s.Name + ", " + s.Layout, fmt.Sprint(len(s.Runs)), mean(work, words.NotMeasured, words.Duration), mean(dock, "no dock", inDock),
		mean(trips, "", func(m float64) string { return words.Number(m, math.NaN(), 1) }),
		mean(energy, words.NotMeasured, func(m float64) string { return bench.InWords(bench.Named(energyOf), m, math.NaN()) })}
}

// inputs are what figures of the bench are worked out from; where the figure
// stands on the page they need not.
var inputs = map[string]string{"mass_laid_out": "pickup_share", "mass_picked_up": "pickup_share", "mass_left": "pickup_share",
	"hair_laid_out": "hair_wrapped_share", "hair_picked_up": "hair_pickup_share", "hair_wrapped": "hair_wrapped_share"}

func (d *Lab) benchRows(robot string) []compared.BenchRow {
	var out []compared.BenchRow
	for _, s := range d.Bench {
		if s.Robot != robot {
			continue
		}
		if f := inputs[s.Of.Name]; f != "" && slices.ContainsFunc(d.Bench, func(o bench.Standing) bool {
			return o.Robot == robot && o.Where == s.Where && o.Of.Name == f && len(o.Values) > 0
		}) {
			continue
		}
		where := s.Where
		if s.Firmware != "" {
			where += ", firmware " + s.Firmware
		}
		out = append(out, compared.BenchRow{Name: s.Of.Name, Words: s.Of.Words, Where: where, Value: s.Words(), Others: bench.InWords(s.Of, s.Others, math.NaN()),
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
		ofRun := slices.ContainsFunc(lab.Phases, func(p string) bool { return strings.HasSuffix(s.Where, ", "+p) })
		if seen[key] || s.Robot == robot || ofRun { // what belongs to recorded runs is told by the plan
			continue
		}
		seen[key] = true
		if !slices.ContainsFunc(d.Bench, func(o bench.Standing) bool { return o.Robot == robot && o.Of.Name == s.Of.Name && o.Where == s.Where }) {
			out = append(out, key+": measured on other robots but not on this one.")
		}
	}
	var never []string
	for _, q := range bench.Quantities(d.Lab) {
		if q.Follows == "" && !slices.ContainsFunc(d.Bench, func(s bench.Standing) bool { return s.Of.Name == q.Name }) {
			never = append(never, strings.ToLower(q.Words[:1])+q.Words[1:])
		}
	}
	if len(never) > 0 {
		out = append(out, "Measured on no robot: "+strings.Join(never, "; ")+".")
	}
	return out
}

// mapCell is the cell of the maps, m: what a picture shows.
const mapCell = 0.01

// maps draws one pass map a layout: of the newest run that finished, in the
// phase in which the robot works from day to day.
func (d *Lab) maps(ctx context.Context, in *compared.DossierInput, eye work.Eye) error {
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
	maps := make([]sheet.Picture, len(ids))
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
			maps[i] = sheet.Picture{Caption: "How often each spot was cleaned in " + id + ", its newest complete run there.", Options: opt,
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
