package lab

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"swathe/geom"
)

// PlanFile is the name of the file that says which runs a lab means to make.
const PlanFile = "plan.yaml"

// TrialPlan is plan.yaml: which runs are meant to be made, in which order and
// under which conditions, written down before the first of them.
type TrialPlan struct {
	Robots   []PlannedRobot
	Layouts  []string
	Trials   int   // of each robot, layout and phase; at the least
	Seed     int64 // of the order
	Figure   string
	Stop     StopRule
	Within   float64                // m; how far from its place a run may start
	Start    map[string]geom.Point2 // by layout; floor, m. A layout without one, and without a dock, is not judged
	Required []string               // conditions that every run must state
	Values   map[string]string      // conditions that every run must have been made under
	Text     []byte                 // the file as it was read
}

// PlannedRobot is a robot of the plan with the phases it goes through.
type PlannedRobot struct {
	Name   string
	Phases []string
}

// StopRule says when the trials of a robot, layout and phase are enough.
type StopRule struct {
	// HalfWidth is how wide the 95 % interval of the primary figure's mean may be
	// to either side, in the figure's unit; 0: the number of trials is fixed.
	HalfWidth float64
	AtMost    int // trials, whatever the interval
}

var planKeys = []string{"robots", "layouts", "phases", "trials", "seed", "figure", "stop", "start", "required", "conditions"}

// Plan reads plan.yaml; figures are the names that its primary figure may have.
// A plan that is wrong gives a *Problems, a lab without one an error that says
// what to write.
func (l *Lab) Plan(figures []string) (*TrialPlan, error) {
	data, err := os.ReadFile(filepath.Join(l.Dir, PlanFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("there is no %s in %s. Make one with swathe plan LAB --new, or write it by hand (swathe help trial)", PlanFile, l.Dir)
	} else if err != nil {
		return nil, fmt.Errorf("%s can't be read: %w", PlanFile, err)
	}
	var problems Problems
	r, body := parse(PlanFile, data, &problems)
	if body == nil && len(problems.List) == 0 {
		problems.add(Problem{File: PlanFile, Message: "the file is empty. Write at least trials and seed."})
	}
	var p *TrialPlan
	if body != nil {
		p = r.plan(l, body, figures)
	}
	if len(problems.List) > 0 {
		return nil, &problems
	}
	p.Text = data
	return p, nil
}

func (r *reader) plan(l *Lab, body ast.Node, figures []string) *TrialPlan {
	p := &TrialPlan{Trials: 1, Within: 0.3, Start: map[string]geom.Point2{}, Values: map[string]string{}, Layouts: l.LayoutNames, Figure: "covered_share"}
	b, ok := r.block(body, body, "the plan", planKeys...)
	if !ok {
		return p
	}
	if b.need("trials", "Write the number of trials of each robot in each layout and phase.") {
		p.Trials, _ = r.whole(b.val("trials"), "trials", 1, 1000)
	}
	if b.need("seed", "Write any whole number; the same number always gives the same random order.") {
		n, _ := r.whole(b.val("seed"), "seed", 0, math.MaxInt32)
		p.Seed = int64(n)
	}
	if b.has("layouts") {
		p.Layouts = r.names(b.val("layouts"), "layouts", l.LayoutNames)
	}
	phases := []string{"single"}
	if b.need("phases", "Write phases: [mapping, mapped], or [single] for robots that keep no map.") {
		phases = r.names(b.val("phases"), "phases", Phases)
	}
	r.plannedRobots(p, b, l, phases)
	if b.has("figure") {
		p.Figure, _ = r.text(b.val("figure"), "figure")
		if !slices.Contains(figures, p.Figure) {
			r.refuse(b.val("figure"), "there is no figure %q.%s", p.Figure, DidYouMean(p.Figure, figures))
		}
	}
	if b.has("stop") {
		r.stopRule(&p.Stop, b, p.Trials)
	}
	if b.has("start") {
		r.planStart(p, b, l)
	}
	known := l.ConditionNames()
	if b.has("required") {
		p.Required = r.names(b.val("required"), "required", known)
	}
	if b.has("conditions") {
		list, _ := r.entries(b.val("conditions"), b.key("conditions"), "conditions", "a block of conditions with the value that every run must have")
		for _, e := range list {
			if !slices.Contains(known, e.name) {
				r.refuse(e.key, "there is no condition %q.%s", e.name, DidYouMean(e.name, known))
				continue
			}
			p.Values[e.name], _ = r.text(e.value, e.name)
		}
	}
	return p
}

// plannedRobots reads a list of names, or a block in which a robot may have
// phases of its own; without either, every robot of the lab is meant.
func (r *reader) plannedRobots(p *TrialPlan, b *block, l *Lab, phases []string) {
	names := l.RobotNames
	own := map[string][]string{}
	if b.has("robots") {
		if _, isList := r.resolve(b.val("robots")).(*ast.SequenceNode); isList {
			names = r.names(b.val("robots"), "robots", l.RobotNames)
		} else {
			names = nil
			list, _ := r.entries(b.val("robots"), b.key("robots"), "robots", "a list of robots, or a block with one key for each robot")
			for _, e := range list {
				if !slices.Contains(l.RobotNames, e.name) {
					r.refuse(e.key, "there is no robot %q in %s or robots/.%s", e.name, SetupFile, DidYouMean(e.name, l.RobotNames))
					continue
				}
				names = append(names, e.name)
				if _, null := r.resolve(e.value).(*ast.NullNode); null || e.value == nil {
					continue
				}
				if rb, ok := r.block(e.value, e.key, "robot "+e.name, "phases"); ok && rb.has("phases") {
					own[e.name] = r.names(rb.val("phases"), rb.label("phases"), Phases)
				}
			}
		}
	}
	for _, n := range names {
		ph := phases
		if own[n] != nil {
			ph = own[n]
		}
		p.Robots = append(p.Robots, PlannedRobot{n, ph})
	}
}

func (r *reader) stopRule(s *StopRule, b *block, trials int) {
	sb, ok := r.block(b.val("stop"), b.key("stop"), "stop", "half_width", "at_most")
	if !ok {
		return
	}
	if sb.need("half_width", "Write the largest half-width of the 95 % interval of the mean, in the figure's unit.") {
		s.HalfWidth, _ = r.between(sb.val("half_width"), "stop: half_width", "", bounds{0, 1e9, true}, "")
	}
	if sb.need("at_most", "Write the largest number of trials; without it they might never end.") {
		s.AtMost, _ = r.whole(sb.val("at_most"), "stop: at_most", trials, 1000)
	}
	if trials < 3 {
		r.refuse(sb.key("half_width"), "a rule on the interval's width needs trials: 3 or more; one or two give no interval.")
	}
}

func (r *reader) planStart(p *TrialPlan, b *block, l *Lab) {
	sb, ok := r.block(b.val("start"), b.key("start"), "start", "within", "at")
	if !ok {
		return
	}
	if sb.has("within") {
		p.Within, _ = r.between(sb.val("within"), "start: within", "m", bounds{0, 10, true}, "")
	}
	if sb.has("at") {
		list, _ := r.entries(sb.val("at"), sb.key("at"), "start: at", "a block with one key for each layout: [x, y] in metres")
		for _, e := range list {
			if !slices.Contains(l.LayoutNames, e.name) {
				r.refuse(e.key, "there is no layout %q in %s.%s", e.name, SetupFile, DidYouMean(e.name, l.LayoutNames))
				continue
			}
			p.Start[e.name], _ = r.point(e.value, "start: at: "+e.name, "[x, y] in metres")
		}
	}
}

// names reads a list of names that must be known, each once.
func (r *reader) names(n ast.Node, what string, known []string) []string {
	list, _ := r.list(n, what, "a list, such as ["+strings.Join(known[:min(2, len(known))], ", ")+"]")
	var out []string
	for _, v := range list {
		name, ok := r.text(v, what)
		switch {
		case !ok:
		case !slices.Contains(known, name):
			r.refuse(v, "%s: there is no %q.%s", what, name, DidYouMean(name, known))
		case slices.Contains(out, name):
			r.refuse(v, "%s: %q appears twice. Keep one.", what, name)
		default:
			out = append(out, name)
		}
	}
	if len(list) == 0 && len(r.problems.List) == 0 {
		r.refuse(n, "%s is empty. Write at least one, or remove the key.", what)
	}
	return out
}

// StartOf returns where a run of a layout should start; ok is false if neither
// the plan nor the layout says.
func (l *Lab) StartOf(p *TrialPlan, layout string) (at geom.Point2, ok bool) {
	if at, ok = p.Start[layout]; ok {
		return at, true
	}
	if lay := l.Layouts[layout]; lay != nil && lay.Plan.Dock != nil {
		return geom.Point2{X: lay.Plan.Dock.X, Y: lay.Plan.Dock.Y}, true
	}
	return at, false
}

// HasPlan tells whether the lab has a plan.yaml.
func (l *Lab) HasPlan() bool {
	_, err := os.Stat(filepath.Join(l.Dir, PlanFile))
	return err == nil
}
