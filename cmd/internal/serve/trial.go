package serve

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"maps"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/dossier"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/plan"
	"swathe/cmd/internal/work"
	"swathe/coverage/compare"
	"swathe/report/compared"
	"swathe/report/page"
	"swathe/report/words"
)

// usable returns the lab as set up today, or a refusal that says why there is none.
func (d *Desk) usable() (*lab.Lab, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.lab == nil {
		return nil, page.Refuse(http.StatusConflict, "The set-up can't be used yet: %s", d.problem)
	}
	return d.lab, nil
}

// Plan says what is due, done and failed.
func (d *Desk) Plan() (*page.PlanState, error) {
	l, err := d.usable()
	if err != nil {
		return nil, err
	}
	if !l.HasPlan() {
		return &page.PlanState{Missing: true}, nil
	}
	p, err := l.Plan(compare.Names())
	if err != nil {
		return nil, page.Refuse(http.StatusConflict, "%v", err)
	}
	in, err := plan.Gather(l, p)
	if err != nil {
		return nil, err
	}
	doc, err := plan.New(in)
	if err != nil {
		return nil, page.Refuse(http.StatusConflict, "%v", err)
	}
	out := &page.PlanState{Stop: strings.ToUpper(doc.Stop[:1]) + doc.Stop[1:], Unplanned: doc.Unplanned}
	for _, s := range plan.States {
		if n := doc.Count[s]; n > 0 {
			out.Counts = append(out.Counts, page.PlanCount{State: s, Count: n})
		}
	}
	for _, e := range doc.Entries {
		out.Entries = append(out.Entries, page.PlanEntry{Number: e.Number, Run: e.Run, Layout: e.Layout, Robot: e.Robot, Phase: e.Phase, Trial: e.Trial, State: e.State, Why: e.Why, File: e.File})
	}
	return out, nil
}

// Bench lists what was weighed, metered and timed.
func (d *Desk) Bench() (*page.BenchState, error) {
	l, err := d.usable()
	if err != nil {
		return nil, err
	}
	out := &page.BenchState{}
	out.Layouts, out.Robots = d.Names()
	qs := bench.Quantities(l)
	for _, q := range qs {
		if q.Follows == "" {
			out.Quantities = append(out.Quantities, page.BenchQuantity{Name: q.Name, Words: q.Words, Unit: q.Unit.Name})
		}
	}
	rs, err := bench.All(l, "")
	if err != nil {
		return nil, err
	}
	for _, v := range bench.Values(qs, rs) {
		_, of, _ := strings.Cut(v.Key.String(), " of ")
		if n := len(out.Groups); n == 0 || out.Groups[n-1].Robot != v.Robot {
			out.Groups = append(out.Groups, page.BenchGroup{Robot: v.Robot})
		}
		g := &out.Groups[len(out.Groups)-1]
		g.Values = append(g.Values, page.BenchValue{Of: strings.TrimPrefix(of, v.Robot+", "), Words: v.Of.Words, Value: v.Words()})
	}
	if len(out.Groups) == 1 {
		out.Groups[0].Open = true
	}
	return out, nil
}

// AddReading enters one reading by the way that a CSV takes, so that it is held to
// the same rules.
func (d *Desk) AddReading(a page.BenchReading) (string, error) {
	l, err := d.usable()
	if err != nil {
		return "", err
	}
	r := bench.Reading{Key: bench.Key{Robot: a.Robot, Sample: a.Sample, Firmware: a.Firmware, Layout: a.Layout, Phase: a.Phase, Trial: a.Trial, Surface: a.Surface, Pass: a.Pass, Quantity: a.Quantity},
		Value: a.Value, Unit: a.Unit, Uncertainty: a.Uncertainty, Date: a.Date, Operator: a.Operator, Note: a.Note}
	taken, err := bench.Enter(l, r, a.Replace)
	if err != nil {
		return "", page.Refuse(http.StatusUnprocessableEntity, "%v", err)
	}
	switch {
	case taken.Replaced > 0:
		return "The reading is entered; the earlier one is kept aside.", nil
	case taken.Same > 0:
		return "The reading was there already.", nil
	}
	return "The reading is entered.", nil
}

// NewPlan writes a plan where there is none.
func (d *Desk) NewPlan(a page.NewPlan) error {
	l, err := d.usable()
	if err != nil {
		return err
	}
	if a.Trials < 1 || a.Trials > 1000 || a.Phases != "mapping, mapped" && a.Phases != "single" {
		return page.Refuse(http.StatusUnprocessableEntity, "A plan needs from 1 to 1000 trials, and mapping and mapped or single runs.")
	}
	if len(l.RobotNames) == 0 || len(l.LayoutNames) == 0 {
		return page.Refuse(http.StatusConflict, "A plan needs a robot and a layout. Enter them under Room and camera first.")
	}
	d.setupMu.Lock()
	defer d.setupMu.Unlock()
	if l.HasPlan() {
		return page.Refuse(http.StatusConflict, "%s exists. Edit it by hand; do not change a plan after the first run.", lab.PlanFile)
	}
	if err := disk.WriteWhole(filepath.Join(d.dir, lab.PlanFile), plan.Template(l, rand.Int64N(1e6), a.Trials, a.Phases)); err != nil {
		return page.Refuse(http.StatusInsufficientStorage, "%v.", err)
	}
	return nil
}

// conditions are what can be stated, with what is.
func conditionsOf(l *lab.Lab, stated map[string]string, leave ...string) []page.Condition {
	var out []page.Condition
	for _, n := range l.ConditionNames() {
		if !slices.Contains(leave, n) {
			out = append(out, page.Condition{Name: n, Heading: strings.ReplaceAll(n, "_", " "), Unit: strings.Replace(l.ConditionUnit(n), "deg", "°", 1), Value: stated[n], Choices: l.ConditionChoices(n)})
		}
	}
	return out
}

// Conditions are those of a run, by its notes and its day.
func (d *Desk) Conditions(run string) ([]page.Condition, error) {
	l, err := d.usable()
	if err != nil {
		return nil, err
	}
	item, err := d.recorded(run)
	if err != nil {
		return nil, err
	}
	return conditionsOf(l, item.Run.Notes.Conditions), nil
}

// recorded is a run that has a recording.
func (d *Desk) recorded(run string) (work.Item, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	item, ok := d.items[run]
	if !ok || item.Refusal != nil {
		return item, page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab.", run)
	}
	return item, nil
}

// SaveConditions writes them into the notes of the run.
func (d *Desk) SaveConditions(run string, c map[string]string) error {
	l, err := d.usable()
	if err != nil {
		return err
	}
	item, err := d.recorded(run)
	if err != nil {
		return err
	}
	if err := known(l, c); err != nil {
		return err
	}
	return d.note(item.Run.Files[0], func(m lab.Map) lab.Map { return setAll(m, c) })
}

// known refuses what is no condition of the lab.
func known(l *lab.Lab, c map[string]string) error {
	names := l.ConditionNames()
	for n := range c {
		if !slices.Contains(names, n) {
			return page.Refuse(http.StatusUnprocessableEntity, "There is no condition %q.%s", n, lab.DidYouMean(n, names))
		}
	}
	return nil
}

func setAll(m lab.Map, c map[string]string) lab.Map {
	for _, n := range slices.Sorted(maps.Keys(c)) {
		if c[n] == "" {
			m = m.Without(n)
		} else {
			m = m.Set(n, c[n])
		}
	}
	return m
}

// notOfDay is what a day cannot state: the day itself, and how one run ended.
var notOfDay = []string{lab.CondDate, lab.CondOutcome}

// Day is what days.yaml states of a day.
func (d *Desk) Day(day string) ([]page.Condition, error) {
	l, err := d.ofDay(day)
	if err != nil {
		return nil, err
	}
	return conditionsOf(l, l.Day(day), notOfDay...), nil
}

// ofDay is the lab, if day is one.
func (d *Desk) ofDay(day string) (*lab.Lab, error) {
	if _, err := time.Parse(time.DateOnly, day); err != nil {
		return nil, page.Refuse(http.StatusUnprocessableEntity, "%q is not a day; write 2026-03-02.", day)
	}
	return d.usable()
}

// SaveDay writes what holds for a day into days.yaml.
func (d *Desk) SaveDay(day string, c map[string]string) error {
	l, err := d.ofDay(day)
	if err != nil {
		return err
	}
	if err := known(l, c); err != nil {
		return err
	}
	d.setupMu.Lock()
	defer d.setupMu.Unlock()
	file := filepath.Join(d.dir, lab.DaysFile)
	if st, err := os.Lstat(file); err == nil && !st.Mode().IsRegular() {
		return page.Refuse(http.StatusForbidden, "%s is not an ordinary file, so it was not written.", lab.DaysFile)
	}
	old, err := os.ReadFile(file)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	m, ok := lab.SetupValue(old)
	if !ok {
		return page.Refuse(http.StatusConflict, "%s is not valid YAML; fix it by hand first.", lab.DaysFile)
	}
	was, _ := m.Get(day)
	of, _ := was.(lab.Map)
	text, err := lab.EditSetup(old, m.Set(day, setAll(of, c)))
	if err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	if err := l.CheckDays(text); err != nil {
		return page.Refuse(http.StatusUnprocessableEntity, "%v", err)
	}
	if err := disk.WriteWhole(file, text); err != nil {
		return page.Refuse(http.StatusInsufficientStorage, "%v.", err)
	}
	d.current() // what is asked next knows it
	d.nudge()
	return nil
}

// Robots sets every robot against all others.
func (d *Desk) Robots() (*page.RobotsState, error) {
	l, err := d.usable()
	if err != nil {
		return nil, err
	}
	doc, err := dossier.Robots(l, compare.DefaultOptions(), nil)
	if err != nil {
		return nil, page.Refuse(http.StatusConflict, "%v.", err)
	}
	v := &page.RobotsState{Sheet: doc.Sheet(words.Metre)}
	for _, g := range doc.Groups {
		if !slices.Contains(v.Robots, g.Robot) && l.Robots[g.Robot] != nil {
			v.Robots = append(v.Robots, g.Robot)
		}
	}
	slices.Sort(v.Robots)
	return v, nil
}

// Dossier writes the page on a robot.
func (d *Desk) Dossier(ctx context.Context, robot string, w io.Writer) error {
	l, err := d.usable()
	if err != nil {
		return err
	}
	all, err := dossier.Read(l)
	if err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	in, err := all.Of(ctx, robot, d.eye.Eye, words.Metre)
	if err != nil {
		return page.Refuse(http.StatusNotFound, "%v", err)
	}
	return compared.Dossier(in).Write(w)
}
