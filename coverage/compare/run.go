package compare

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"swathe/coverage/doubt"
	"swathe/coverage/stats"
	"swathe/geom"
)

// Run is what a comparison knows of one run. Maps may lack what was not
// measured; NaN says the same.
type Run struct {
	ID, Layout, Robot, Phase string
	Trial                    int

	Tool       string  // the headline tool
	ToolWidth  float64 // m
	ToolPlace  [2]float64
	Definition string            // of the figures: two runs with different ones cannot be compared
	Setup      string            // hash of the set-up of its day
	Room       Layout            // as surveyed
	OpenM2     float64           // open floor of this robot
	CommonM2   float64           // room less what stands on its floor, whatever the robot's height
	Conditions map[string]string // as the tester gave them
	Start      geom.Point2       // floor, m

	LostShare float64 // of the recording
	Mark      string  // the reservation with which it was measured all the same; empty: none
	Started   string  // one of geom's Started constants
	Ended     string  // one of geom's Ended constants
	Dock      bool    // the layout has one
	StuckEnd  bool    // it was stuck when the run ended

	Values      map[string]float64        // by the names of Figures
	U           map[string]float64        // standard uncertainty of the measurement
	Own         map[string]float64        // the part of U that no other run shares
	Interval    map[string]stats.Interval // of the measurement
	Common      []doubt.Cause             // the part that other runs may share, draw by draw; nil: not known
	Events      map[string]int            // number by kind; nil: not sought
	TestObjects map[string]string         // outcome by test object; empty: not known
}

// Value returns a figure, NaN if it was not measured.
func (r *Run) Value(name string) float64 { return get(r.Values, name) }

func get(m map[string]float64, name string) float64 {
	if v, ok := m[name]; ok {
		return v
	}
	return math.NaN()
}

// Unfinished says why the run is not the whole of what the robot was to do, empty
// if it is: it was cut short, or it was trapped.
func (r *Run) Unfinished() string {
	if why := r.CutShort(); why != "" {
		return why
	}
	_, why := r.Trapped()
	return why
}

// CutShort says what from outside ended the run, or hid its start; what the robot
// would have done otherwise is not known. Empty: nothing did.
func (r *Run) CutShort() string {
	switch {
	case r.Ended == geom.EndedRecording:
		return "cut short: it was still driving when the recording ended"
	case r.Ended == geom.EndedCarried:
		return "cut short: it was carried away before it ended"
	case r.Ended == geom.EndedLost:
		return "cut short: it was lost from view while still driving"
	case r.Started == geom.StartedUnseen:
		return "its start was not seen: it was already driving when first seen"
	case r.Started == geom.StartedMoving:
		return "its start was not seen: it was already driving in the first frame"
	}
	return ""
}

// Outcomes of a run, as the tester may state them.
const (
	OutcomeComplete = "complete"
	OutcomeAssisted = "assisted"
	OutcomeTrapped  = "trapped"
	OutcomeBattery  = "battery empty"
	OutcomeError    = "error"
)

// Trapped tells whether the robot itself gave up before it had finished, and why
// it is said to have: by the tester's word, which counts before all that the path
// shows; else where it stood still for good away from its dock, or stuck. Without
// a dock, where else a robot rests that has finished is not known.
func (r *Run) Trapped() (yes bool, why string) {
	switch word := r.Conditions["outcome"]; word {
	case OutcomeTrapped, OutcomeBattery, OutcomeError:
		return true, "it did not finish: " + word + ", by its notes"
	case "":
		switch {
		case r.Ended != geom.EndedStood:
		case r.Dock:
			return true, "it stopped away from its dock and did not move again"
		case r.StuckEnd:
			return true, "it was stuck and did not move again"
		}
	}
	return false, ""
}

// Block is what declares the run a partner of another robot's run: the block of
// its notes, else their day; empty if they say neither.
func (r *Run) Block() string {
	if b := r.Conditions["block"]; b != "" {
		return "block " + b
	}
	return first(r.Conditions["date"], len("2026-03-02"))
}

// first returns the first n bytes of a text, of a date with its hour the day.
func first(s string, n int) string { return s[:min(n, len(s))] }

// Conditions that set groups apart: runs that differ in one of them are never
// pooled unless Options.Pool says so.
const (
	PoolSample   = "sample"
	PoolFirmware = "firmware"
	PoolMode     = "mode"
	PoolStart    = "start"
	PoolSetup    = "setup"
)

// Poolable lists what Options.Pool may hold.
var Poolable = []string{PoolSample, PoolFirmware, PoolMode, PoolStart, PoolSetup}

// Options are the settings of a comparison.
type Options struct {
	Level      float64 // of confidence
	Primary    string  // name of the figure that it is about
	MaxLost    float64 // share of a recording that may be lost
	StartApart float64 // m: runs that start farther apart started at different places
	Pool       []string
	// OutlineSigma is the standard uncertainty (m, one axis) of a surveyed corner:
	// rooms that differ by no more than two surveys may are the same.
	OutlineSigma float64
}

// DefaultOptions: 95 %, 5 % lost, and starts within 0.3 m (about a robot's
// width) of each other are one place.
func DefaultOptions() Options {
	return Options{Level: 0.95, Primary: Primary, MaxLost: 0.05, StartApart: 0.3, OutlineSigma: 0.005}
}

// Validate returns an error that names the setting and says what it may be.
func (o Options) Validate() error {
	_, known := Find(o.Primary)
	switch {
	case !(o.Level > 0.5 && o.Level < 1):
		return fmt.Errorf("the level of confidence is %g; it should be above 0.5 and below 1", o.Level)
	case !known:
		return fmt.Errorf("the primary figure is %q; it should be one of %s", o.Primary, strings.Join(Names(), ", "))
	case !(o.MaxLost >= 0 && o.MaxLost <= 1):
		return fmt.Errorf("the largest lost share of a recording is %g; it should be from 0 to 1", o.MaxLost)
	case !(o.OutlineSigma >= 0):
		return fmt.Errorf("the standard uncertainty of a surveyed corner is %g; it should be 0 m or more", o.OutlineSigma)
	case !(o.StartApart >= 0):
		return fmt.Errorf("the distance between start places is %g; it should be 0 m or more", o.StartApart)
	}
	for _, p := range o.Pool {
		if !slices.Contains(Poolable, p) {
			return fmt.Errorf("runs cannot be pooled over %q; choose from %s", p, strings.Join(Poolable, ", "))
		}
	}
	return nil
}

// Refusal is a run that takes no part in a comparison.
type Refusal struct {
	Run    string `json:"run"`
	Reason string `json:"reason"`
}

// refuse splits runs into those that can be compared and those that cannot. The
// first run sets the layout, the first run of each robot its tool; the newest
// definition counts, which the caller knows.
func refuse(runs []Run, newest string, o Options) (ok []Run, out []Refusal) {
	tools := map[string]Run{}
	for _, r := range runs {
		no := func(format string, a ...any) { out = append(out, Refusal{r.ID, fmt.Sprintf(format, a...)}) }
		first, known := tools[r.Robot]
		var others string
		if len(ok) > 0 {
			others = apartIn(ok[0].Room, r.Room, o.OutlineSigma)
		}
		switch {
		case len(ok) > 0 && r.Layout != ok[0].Layout:
			no("it is of layout %s, the others of layout %s; compare runs of one layout", r.Layout, ok[0].Layout)
		case r.Definition != newest:
			no("its figures follow an earlier definition (%s, not %s); measure it again with --again", r.Definition, newest)
		case others != "":
			no("its room is not arranged as that of %s: %s; compare runs in the same arrangement of the room", ok[0].ID, others)
		case r.Mark != "":
			no("it is marked: %s", r.Mark)
		case r.LostShare > o.MaxLost:
			no("the robot's position is unknown for %.1f %% of the recording, more than %.3g %%", r.LostShare*100, o.MaxLost*100)
		case known && r.Tool != first.Tool:
			no("its figures are for the tool %s, those of %s for %s", r.Tool, first.ID, first.Tool)
		case known && differ(r.ToolWidth, first.ToolWidth):
			no("its tool is %.0f mm wide, in %s the same robot's is %.0f mm; compare runs measured with the same width", r.ToolWidth*1000, first.ID, first.ToolWidth*1000)
		case known && (differ(r.ToolPlace[0], first.ToolPlace[0]) || differ(r.ToolPlace[1], first.ToolPlace[1])):
			no("its tool has another place under the robot than in %s", first.ID)
		default:
			if !known {
				tools[r.Robot] = r
			}
			ok = append(ok, r)
		}
	}
	return ok, out
}

// differ tells whether two lengths differ by more than their spelling.
func differ(a, b float64) bool { return math.Abs(a-b) > 1e-6 || math.IsNaN(a) != math.IsNaN(b) }

// onCommonFloor returns the runs with their share of the open floor taken of the
// floor that is common to all: the room less what stands on its floor. A robot
// too tall for a low table has less open floor of its own; shares of that are
// not the same thing. apart tells whether any differs; times to shares of such
// a robot's own open floor are left out.
func onCommonFloor(runs []Run) (out []Run, apart bool) {
	out = slices.Clone(runs)
	for i := range out {
		r := &out[i]
		if !(r.CommonM2 > 0) || !(math.Abs(r.OpenM2-r.CommonM2) > 1e-6*r.CommonM2) {
			continue
		}
		apart = true
		k := r.OpenM2 / r.CommonM2
		r.Values, r.U, r.Own, r.Interval = maps.Clone(r.Values), maps.Clone(r.U), maps.Clone(r.Own), maps.Clone(r.Interval)
		const name = "covered_share"
		for _, m := range []map[string]float64{r.Values, r.U, r.Own} {
			if v, ok := m[name]; ok {
				m[name] = k * v
			}
		}
		if iv, ok := r.Interval[name]; ok {
			r.Interval[name] = stats.Interval{Lo: k * iv.Lo, Hi: k * iv.Hi}
		}
		for _, f := range Figures {
			if strings.HasPrefix(f.Name, "time_to_s.") {
				delete(r.Values, f.Name)
			}
		}
		r.Common = slices.Clone(r.Common)
		for c := range r.Common {
			r.Common[c].Change = maps.Clone(r.Common[c].Change)
			scaled := slices.Clone(r.Common[c].Change[name])
			for d := range scaled {
				scaled[d] *= k
			}
			r.Common[c].Change[name] = scaled
		}
	}
	return out, apart
}
