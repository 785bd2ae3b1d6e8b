package conduct

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"swathe/coverage"
	"swathe/geom"
)

// Result is what a robot did in one run.
type Result struct {
	Ledger  Ledger
	Events  []Event // in order of start; empty, not nil, if nothing happened
	Rows    Rows
	Docking *Docking // nil if the layout has no dock
	Active  Active
	Erratic []Erratic // every Options.ErraticTime
}

// Active sets the time in which the robot worked apart from all of it.
type Active struct {
	TotalS  float64 `json:"total_s"`  // of the run
	ActiveS float64 `json:"active_s"` // less docked, carried, hidden or lost, and pauses
	PausedS float64 `json:"paused_s"` // pauses
}

// Find finds what the robot did.
//
// trace, plan and robot are those that cov was measured from. Errors: a
// threshold out of range, or coverage figures of another path. Nothing is
// changed.
func Find(trace *geom.Trace, plan *geom.Plan, robot geom.Robot, cov *coverage.Result, opt Options) (*Result, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	if trace == nil || len(trace.Samples) == 0 {
		return nil, errors.New("the path has no samples")
	}
	if plan == nil || cov == nil || len(robot.Tools) == 0 {
		return nil, errors.New("behaviour needs the plan, the tools and the coverage; one of them is missing")
	}
	if len(cov.Steps) != len(trace.Samples)-1 {
		return nil, fmt.Errorf("the coverage has %d intervals, the path %d: they belong to different paths", len(cov.Steps), len(trace.Samples)-1)
	}
	if !(trace.Run.To > trace.Run.From) {
		return nil, fmt.Errorf("the run lasts from %g to %g s: it must end after it starts", trace.Run.From, trace.Run.To)
	}
	r := newRun(trace, plan, robot, cov, opt)
	res := &Result{}
	res.Rows = r.rows()
	stays := r.docked()
	res.Docking = r.docking(stays, res.Rows)
	var es []Event
	spins := r.spins()
	es = append(es, spins...)
	es = append(es, r.pauses(stays)...)
	es = append(es, r.stucks(stays, spins)...)
	es = append(es, r.meetings(stays)...)
	es = append(es, r.dockEvents(stays)...)
	es = append(es, r.unseen()...)
	es = append(es, r.outside()...)
	es = append(es, r.swerves()...)
	es = append(es, r.edgeRetries(stays)...)
	res.Ledger = r.ledger(es, res.Rows, stays, res.Docking)
	es = append(es, r.revisits(stays, res.Ledger)...)
	sort.SliceStable(es, func(i, j int) bool { return es[i].Start < es[j].Start })
	res.Events = es
	if res.Events == nil {
		res.Events = []Event{}
	}
	res.Erratic = r.erratic()
	res.Active = Active{TotalS: trace.Run.To - trace.Run.From}
	res.Active.ActiveS = res.Active.TotalS
	for _, e := range res.Ledger.Entries {
		switch e.Name {
		case EntryDocked, EntryCarried, EntryHidden:
			res.Active.ActiveS -= e.TimeS
		}
	}
	for _, e := range es {
		if e.Kind == Pause {
			res.Active.PausedS += e.Duration()
		}
	}
	res.Active.ActiveS = math.Max(0, res.Active.ActiveS-res.Active.PausedS)
	return res, nil
}

// radius is half the robot's greatest width, m.
func (r *run) radius() float64 { return r.robot.Radius() }

// diameter is the robot's greatest width, m.
func (r *run) diameter() float64 { return 2 * r.robot.Radius() }
