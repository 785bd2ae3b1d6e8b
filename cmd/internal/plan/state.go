package plan

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/geom"
	"swathe/report"
)

// States of an entry.
const (
	Due       = "due"       // no recording yet
	Recorded  = "recorded"  // a recording that has not been measured
	Done      = "done"      // measured, as planned
	Deviating = "deviating" // measured, and not as planned
	Failed    = "failed"    // it could not be measured
)

// States lists them in the order of tables.
var States = []string{Due, Recorded, Failed, Deviating, Done}

// Standing is an entry with what became of it.
type Standing struct {
	Entry
	Run        string            `json:"run"`
	State      string            `json:"state"`
	Why        []string          `json:"why"`  // of failed and deviating: sentences
	File       string            `json:"file"` // the name that its recording should have, from the lab's folder
	Conditions map[string]string `json:"conditions"`
}

// Report is a plan with what became of it.
type Report struct {
	Figure    string         `json:"figure"`
	Seed      int64          `json:"seed"`
	Stop      string         `json:"stop"`
	Required  []string       `json:"required"`
	Count     map[string]int `json:"count"` // by state
	Entries   []Standing     `json:"entries"`
	Unplanned []string       `json:"unplanned"` // recordings and results that the plan does not name
}

// Inputs is what a plan is held against.
type Inputs struct {
	Lab    *lab.Lab
	Plan   *lab.TrialPlan
	Runs   []lab.Run     // recordings
	Failed []lab.Refusal // recordings that are no run
	Kept   []compare.Run // results
}

// Gather reads what a plan is held against.
func Gather(l *lab.Lab, p *lab.TrialPlan) (Inputs, error) {
	in := Inputs{Lab: l, Plan: p}
	if _, err := os.Stat(l.RecordingsDir()); err == nil {
		if in.Runs, in.Failed, err = l.Recordings(); err != nil {
			return in, err
		}
	}
	ids, err := report.ResultIDs(l.ResultsDir())
	if err != nil {
		return in, err
	}
	in.Kept, _ = report.Indexed(l.ResultsDir(), ids)
	return in, nil
}

// New holds a plan against what there is.
func New(in Inputs) (*Report, error) {
	p := in.Plan
	kept := map[string]*compare.Run{}
	for i := range in.Kept {
		kept[in.Kept[i].ID] = &in.Kept[i]
	}
	runs := map[string]*lab.Run{}
	for i := range in.Runs {
		runs[in.Runs[i].ID()] = &in.Runs[i]
	}
	wanted := wantedTrials(p, kept)
	doc := &Report{Figure: p.Figure, Seed: p.Seed, Stop: StopWords(p), Required: append([]string{}, p.Required...), Count: map[string]int{}, Unplanned: []string{}}
	planned := map[string]bool{}
	for _, e := range Entries(p, func(g string) int { return wanted[g] }) {
		s := Standing{Entry: e, Run: e.Run(), State: Due, Why: []string{}, File: in.fileName(e), Conditions: map[string]string{}}
		planned[s.Run] = true
		if err := in.judge(&s, runs[s.Run], kept[s.Run]); err != nil {
			return nil, err
		}
		doc.Entries = append(doc.Entries, s)
	}
	outOfOrder(doc.Entries)
	for _, s := range doc.Entries {
		doc.Count[s.State]++
	}
	for _, r := range in.Runs {
		if !planned[r.ID()] {
			doc.Unplanned = append(doc.Unplanned, r.ID())
			planned[r.ID()] = true
		}
	}
	for _, r := range in.Kept {
		if !planned[r.ID] {
			doc.Unplanned = append(doc.Unplanned, r.ID)
		}
	}
	for _, r := range in.Failed {
		doc.Unplanned = append(doc.Unplanned, r.ID())
	}
	slices.Sort(doc.Unplanned)
	return doc, nil
}

// wantedTrials returns how many trials each layout, robot and phase needs: the
// plan's number, and one more as long as the stopping rule is not met.
func wantedTrials(p *lab.TrialPlan, kept map[string]*compare.Run) map[string]int {
	out := map[string]int{}
	for _, layout := range p.Layouts {
		for _, r := range p.Robots {
			for _, phase := range r.Phases {
				e := Entry{Layout: layout, Robot: r.Name, Phase: phase}
				n := p.Trials
				if p.Stop.HalfWidth > 0 {
					var v []float64
					for e.Trial = 1; e.Trial <= p.Stop.AtMost && kept[e.Run()] != nil; e.Trial++ {
						// A run that did not finish gives a bound, which is in no mean.
						if x := kept[e.Run()].Value(p.Figure); !math.IsNaN(x) && kept[e.Run()].Unfinished() == "" {
							v = append(v, x)
						}
						n = max(n, e.Trial)
					}
					if made := e.Trial - 1; made >= p.Trials && made < p.Stop.AtMost && !narrow(v, p.Stop.HalfWidth) {
						n = made + 1
					}
				}
				out[e.group()] = n
			}
		}
	}
	return out
}

// narrow tells whether the 95 % interval of the mean is within half to either side.
func narrow(v []float64, half float64) bool {
	iv := stats.MeanInterval(v, 0.95)
	return iv.Known() && (iv.Hi-iv.Lo)/2 <= half
}

// StopWords says when the trials end.
func StopWords(p *lab.TrialPlan) string {
	if p.Stop.HalfWidth == 0 {
		return fmt.Sprintf("%d trials of each robot, layout and phase, whatever the results", p.Trials)
	}
	return fmt.Sprintf("%d trials of each robot, layout and phase, then one more at a time until the 95 %% interval of the mean of %s is within +-%g, at most %d",
		p.Trials, p.Figure, p.Stop.HalfWidth, p.Stop.AtMost)
}

// fileName is what the recording of an entry should be called.
func (in Inputs) fileName(e Entry) string {
	ext := ".mp4"
	if lay := in.Lab.Layouts[e.Layout]; lay != nil && lay.Camera == "" {
		ext = ".csv"
	}
	return "recordings/" + e.Run() + ext
}

// judge says what became of an entry.
func (in Inputs) judge(s *Standing, rec *lab.Run, r *compare.Run) error {
	switch {
	case rec == nil && r == nil:
		return nil
	case rec != nil:
		s.Conditions = rec.Notes.Conditions
	default:
		s.Conditions = r.Conditions
	}
	if rec != nil {
		st, err := in.Lab.Status(*rec)
		if err != nil {
			return err
		}
		switch st.Verdict {
		case lab.FailedBefore:
			s.State, s.Why = Failed, []string{st.Why}
			return nil
		case lab.Fresh:
			s.State = Recorded
			return nil
		case lab.OutOfDate:
			s.State, s.Why = Recorded, []string{"its result is out of date: " + st.Why}
			return nil
		}
	}
	s.State = Done
	if r == nil {
		s.Why = append(s.Why, "its result can't be read; measure it again with --again")
	} else {
		s.Why = append(s.Why, in.deviations(s, r)...)
	}
	if len(s.Why) > 0 {
		s.State = Deviating
	}
	return nil
}

// deviations says in what a measured run is not as planned.
func (in Inputs) deviations(s *Standing, r *compare.Run) []string {
	var out []string
	say := func(format string, a ...any) { out = append(out, fmt.Sprintf(format, a...)) }
	for _, c := range in.Plan.Required {
		if s.Conditions[c] == "" {
			say("%s is not in its notes", c)
		}
	}
	for _, c := range in.Lab.ConditionNames() {
		if want, ok := in.Plan.Values[c]; ok && s.Conditions[c] != "" && s.Conditions[c] != want {
			say("%s is %s; the plan requires %s", c, s.Conditions[c], want)
		} else if ok && s.Conditions[c] == "" && !slices.Contains(in.Plan.Required, c) {
			say("%s is not in its notes; the plan requires %s", c, want)
		}
	}
	if at, ok := in.Lab.StartOf(in.Plan, s.Layout); ok {
		if d := math.Hypot(r.Start.X-at.X, r.Start.Y-at.Y); d > in.Plan.Within {
			say("it started %.2f m from its start place; at most %g m is allowed", d, in.Plan.Within)
		}
	}
	switch r.Ended {
	case geom.EndedRecording:
		say("it was still driving when the recording ended")
	case geom.EndedCarried:
		say("it was carried away before it ended")
	}
	if r.Started == geom.StartedMoving {
		say("it was already driving in the first frame")
	}
	if math.IsNaN(r.Value(in.Plan.Figure)) && r.Ended != geom.EndedRecording {
		if _, floor := compare.Find(in.Plan.Figure); floor {
			say("it has no value of %s, the primary figure", in.Plan.Figure)
		}
	}
	return out
}

// outOfOrder marks, block by block, the fewest runs whose times do not follow
// the order of the plan; runs whose notes give no time of day are not judged.
func outOfOrder(all []Standing) {
	byBlock := map[string][]int{}
	for i, s := range all {
		if _, whole, err := lab.ParseDate(s.Conditions[lab.CondDate]); err == nil && whole && (s.State == Done || s.State == Deviating) {
			byBlock[s.Block] = append(byBlock[s.Block], i)
		}
	}
	for _, at := range byBlock {
		times := make([]string, len(at))
		for k, i := range at {
			t, _, _ := lab.ParseDate(all[i].Conditions[lab.CondDate])
			times[k] = t.Format("2006-01-02T15:04:05")
		}
		for k, in := range inOrder(times) {
			if !in {
				s := &all[at[k]]
				s.State = Deviating
				s.Why = append(s.Why, "it was recorded out of the order that was drawn")
			}
		}
	}
}

// inOrder marks a longest subsequence that never falls.
func inOrder(v []string) []bool {
	best, before := make([]int, len(v)), make([]int, len(v))
	end := -1
	for i := range v {
		best[i], before[i] = 1, -1
		for j := range i {
			if v[j] <= v[i] && best[j]+1 > best[i] {
				best[i], before[i] = best[j]+1, j
			}
		}
		if end < 0 || best[i] > best[end] {
			end = i
		}
	}
	out := make([]bool, len(v))
	for i := end; i >= 0; i = before[i] {
		out[i] = true
	}
	return out
}

// Template is a plan to begin with, for the lab's own robots and layouts; phases as
// plan.yaml lists them.
func Template(l *lab.Lab, seed int64, trials int, phases string) []byte {
	return fmt.Appendf(nil, `# The runs to be made. Complete it before the first of them: swathe help trial
robots: [%s]
layouts: [%s]
phases: [%s]      # or [single] for robots that keep no map
trials: %d                        # of each robot, layout and phase
seed: %d                      # the order is drawn from it
figure: covered_share            # the primary figure; all others are exploratory
# stop: {half_width: 0.01, at_most: 6}    # more trials until the mean is known to this
start: {within: 0.3}             # m from the dock, or from at: {LAYOUT: [x, y]}
required: [%s]
# conditions: {mode: standard}   # values that every run must have
`, strings.Join(l.RobotNames, ", "), strings.Join(l.LayoutNames, ", "), phases, trials, seed, strings.Join([]string{lab.CondDate, "operator", lab.CondSample, lab.CondFirmware}, ", "))
}

// SheetDir is the folder that sheets are written to.
func SheetDir(l *lab.Lab) string { return filepath.Join(l.Dir, "reports", "plan") }
