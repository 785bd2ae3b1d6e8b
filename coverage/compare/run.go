package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

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
	Conditions map[string]string // as the tester gave them
	Start      geom.Point2       // floor, m

	LostShare float64 // of the recording
	Mark      string  // the reservation with which it was measured all the same; empty: none
	Started   string  // one of geom's Started constants
	Ended     string  // one of geom's Ended constants

	Values      map[string]float64        // by the names of Figures
	U           map[string]float64        // standard uncertainty of the measurement
	Interval    map[string]stats.Interval // of the measurement
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

// Timeless says why the run's times mean nothing, empty if they do.
func (r *Run) Timeless() string {
	switch {
	case r.Ended == geom.EndedRecording:
		return "it was still driving when the recording ended, so its times are cut short"
	case r.Ended == geom.EndedLost:
		return "it was lost from sight while it was still driving, so its times are cut short"
	case r.Ended == geom.EndedCarried:
		return "it was carried away before it ended, so its times are cut short"
	case r.Started == geom.StartedUnseen:
		return "how it began was not seen, so its times lack their start"
	case r.Started == geom.StartedMoving:
		return "it was already driving in the first frame, so its times lack their start"
	}
	return ""
}

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
	MaxLost    float64 // share of a recording that may be lost
	StartApart float64 // m: runs that start farther apart started at different places
	Pool       []string
}

// DefaultOptions: 95 %, 5 % lost, and starts within 0.3 m (about a robot's
// width) of each other are one place.
func DefaultOptions() Options { return Options{Level: 0.95, MaxLost: 0.05, StartApart: 0.3} }

// Validate returns an error that names the setting and says what it may be.
func (o Options) Validate() error {
	switch {
	case !(o.Level > 0.5 && o.Level < 1):
		return fmt.Errorf("the level of confidence is %g: it must be more than 0.5 and less than 1", o.Level)
	case !(o.MaxLost >= 0 && o.MaxLost <= 1):
		return fmt.Errorf("the share of a recording that may be lost is %g: it must be 0 to 1", o.MaxLost)
	case !(o.StartApart >= 0):
		return fmt.Errorf("the distance between start places is %g: it must be 0 m or more", o.StartApart)
	}
	for _, p := range o.Pool {
		if !slices.Contains(Poolable, p) {
			return fmt.Errorf("runs cannot be pooled over %q: give any of %s", p, strings.Join(Poolable, ", "))
		}
	}
	return nil
}

// Refusal is a run that takes no part in a comparison.
type Refusal struct{ Run, Reason string }

// refuse splits runs into those that can be compared and those that cannot. The
// first run sets the layout, the first run of each robot its tool; the newest
// definition counts, which the caller knows.
func refuse(runs []Run, newest string, o Options) (ok []Run, out []Refusal) {
	layout := ""
	tools := map[string]Run{}
	for _, r := range runs {
		no := func(format string, a ...any) { out = append(out, Refusal{r.ID, fmt.Sprintf(format, a...)}) }
		first, known := tools[r.Robot]
		switch {
		case layout != "" && r.Layout != layout:
			no("it is of layout %s, the comparison of layout %s; compare runs of one layout", r.Layout, layout)
		case r.Definition != newest:
			no("its figures follow an earlier definition (%s, not %s); measure it again with --again", r.Definition, newest)
		case r.Mark != "":
			no("it was measured with a reservation: %s", r.Mark)
		case r.LostShare > o.MaxLost:
			no("where the robot was is not known for %.1f %% of the recording, more than %.3g %%", r.LostShare*100, o.MaxLost*100)
		case known && r.Tool != first.Tool:
			no("its figures are for the tool %s, those of %s for %s", r.Tool, first.ID, first.Tool)
		case known && differ(r.ToolWidth, first.ToolWidth):
			no("its tool is %.0f mm wide, in %s the same robot's is %.0f mm; compare runs measured with one width", r.ToolWidth*1000, first.ID, first.ToolWidth*1000)
		case known && (differ(r.ToolPlace[0], first.ToolPlace[0]) || differ(r.ToolPlace[1], first.ToolPlace[1])):
			no("its tool sits elsewhere under the robot than in %s", first.ID)
		default:
			layout = r.Layout
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
