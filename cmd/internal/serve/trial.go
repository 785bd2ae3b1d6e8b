package serve

import (
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/plan"
	"swathe/coverage/compare"
	"swathe/report/page"
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
	if _, err := os.Stat(filepath.Join(d.dir, lab.PlanFile)); errors.Is(err, fs.ErrNotExist) {
		return &page.PlanState{Missing: fmt.Sprintf("This lab has no %s yet. Write one to begin with by: swathe plan LAB --new. It lists robots, layouts, phases and trials, and draws the order.", lab.PlanFile)}, nil
	}
	var figures []string
	for _, f := range compare.Figures {
		figures = append(figures, f.Name)
	}
	p, err := l.Plan(figures)
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
		out.Values = append(out.Values, page.BenchValue{Of: of, Words: v.Of.Words, Value: v.Words()})
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
