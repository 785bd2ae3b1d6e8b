package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/report/words"
)

// storyLength is how many sentences a story has at most.
const storyLength = 10

// told is a sentence of the story. Those of the least weight are left out first.
type told struct {
	t      float64 // s from the first frame
	weight float64
	text   string
}

// Story tells a run in ten sentences or fewer, in order, each from a measured
// event and with its time. It is empty if what the robot did was not sought.
func Story(in RunInput) string {
	if in.Conduct == nil {
		return ""
	}
	var all []told
	all = append(all, storyFrame(in)...)
	all = append(all, storyRows(in)...)
	all = append(all, storyEvents(in)...)
	all = append(all, storyObjects(in)...)
	all = append(all, storyLevels(in)...)
	sort.SliceStable(all, func(i, j int) bool { return all[i].weight > all[j].weight })
	if len(all) > storyLength {
		all = all[:storyLength]
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].t < all[j].t })
	var b strings.Builder
	fmt.Fprintf(&b, "# %s, %s, %s run %d\n\nTimes are those of the recording.\n\n", in.Robot.Name, in.Layout, in.Phase, in.Trial)
	for _, s := range all {
		fmt.Fprintf(&b, "- %s\n", s.text)
	}
	return b.String()
}

// spot writes a place on the floor.
func spot(x, y float64) string {
	if math.IsNaN(x) || math.IsNaN(y) {
		return "a place that is not known"
	}
	return fmt.Sprintf("(%.2f, %.2f)"+words.NB+"m", x, y)
}

// storyFrame tells how the run began and ended. They are told whatever else is.
func storyFrame(in RunInput) []told {
	c, run := in.Coverage, in.Trace.Run
	began := fmt.Sprintf("At %s it set off from %s.", words.Clock(run.From), spot(c.Motion.StartX, c.Motion.StartY))
	if in.Trace.Started == geom.StartedMoving {
		began = fmt.Sprintf("At %s, where the recording begins, it was already moving, at %s.", words.Clock(run.From), spot(c.Motion.StartX, c.Motion.StartY))
	}
	if in.Trace.Started == geom.StartedUnseen {
		began = fmt.Sprintf("At %s it was first seen, at %s, already moving; how it began is not known.", words.Clock(run.From), spot(c.Motion.StartX, c.Motion.StartY))
	}
	how := map[string]string{
		geom.EndedDocked: "it stood in its dock", geom.EndedStood: "it stood still for good",
		geom.EndedCarried: "a person took it away", geom.EndedRecording: "the recording ended while it was still going",
		geom.EndedLost: "it was last seen, still going; how it ended is not known",
	}[in.Trace.Ended]
	if how == "" {
		how = "the run ended"
	}
	ended := fmt.Sprintf("At %s %s, after %s and %s of driving, with ", words.Clock(run.To), how,
		words.Duration(run.To-run.From), words.Length(c.Motion.DistanceM, math.NaN(), words.Metre))
	if math.IsNaN(c.Coverage.ReachableShare) {
		ended += fmt.Sprintf("%s of the open floor cleaned", words.Share(c.Coverage.CoveredShare, math.NaN()))
	} else {
		ended += fmt.Sprintf("%s of the floor that it can reach cleaned", words.Share(c.Coverage.ReachableShare, math.NaN()))
	}
	if !math.IsNaN(c.Coverage.MeanPasses) {
		ended += fmt.Sprintf(", each spot %s on average", words.Times(c.Coverage.MeanPasses, math.NaN()))
	}
	out := []told{{run.From, 1e9, began}, {run.To + 2e-6, 1e9, ended + "."}}
	if l := in.Conduct.Ledger; !math.IsNaN(l.LeastS) {
		var es []conduct.Entry
		es = append(es, l.Entries...)
		sort.SliceStable(es, func(i, j int) bool { return es[i].Seconds > es[j].Seconds })
		var parts []string
		for _, e := range es[:3] {
			if e.Seconds >= 1 {
				parts = append(parts, fmt.Sprintf("%s (%s)", words.Duration(e.Seconds), e.Name))
			}
		}
		out = append(out, told{run.To + 1e-6, 1e8, fmt.Sprintf(
			"By %s its time had gone most into %s; the same floor takes %s at its own %.2f"+words.NB+"m/s and width.",
			words.Clock(run.To), words.List(parts), words.Duration(l.LeastS), l.SpeedMPS)})
	}
	return out
}

// storyRows tells in what manner it drove.
func storyRows(in RunInput) []told {
	var out []told
	rs := in.Conduct.Rows
	for _, b := range rs.Blocks {
		s := fmt.Sprintf("From %s to %s it drove %d lanes at %.0f degrees", words.Clock(b.Start), words.Clock(b.End), b.Lanes, math.Round(geom.Degrees(b.Direction))+0)
		if !math.IsNaN(b.SpacingM) {
			s += fmt.Sprintf(", %.0f"+words.NB+"mm apart, ", b.SpacingM*1000)
			if b.OverlapM >= 0 {
				s += fmt.Sprintf("so that neighbours overlap by %.0f"+words.NB+"mm", b.OverlapM*1000)
			} else {
				s += fmt.Sprintf("so that %.0f"+words.NB+"mm are left between", -b.OverlapM*1000)
			}
		}
		if b.SecondLayer {
			s += fmt.Sprintf(", a second layer: %s of what they swept was new", words.Share(b.NewShare, math.NaN()))
		}
		out = append(out, told{b.Start, blockWeight(rs.Blocks, b), s + "."})
	}
	if rs.Pattern == conduct.PatternRandom {
		turn, way := 0.0, 0.0
		for _, e := range in.Conduct.Erratic {
			turn, way = turn+e.TurnDeg, way+e.DistanceM
		}
		out = append(out, told{in.Trace.Run.From + 1e-6, 1000, fmt.Sprintf(
			"From %s on it drove no rows: its %d straight stretches run in all directions, and it turned by %.0f degrees for each metre.",
			words.Clock(in.Trace.Run.From), len(rs.Lanes), turn/way)})
	}
	return out
}

// blockWeight weighs a block of rows: the longest two are told before most
// events.
func blockWeight(all []conduct.Block, b conduct.Block) float64 {
	longer := 0
	for _, o := range all {
		if o.LengthM > b.LengthM {
			longer++
		}
	}
	return math.Max(500, 790-100*float64(longer))
}

// weights of events in a story; within a kind the larger weighs more, by less
// than the step to the next kind.
var storyWeight = map[string]float64{
	conduct.Outside: 900, conduct.Stuck: 850, conduct.Carried: 800, conduct.Spin: 750, conduct.EdgeRetry: 700,
	conduct.Pause: 650, conduct.Swerve: 600, conduct.Dock: 550, conduct.Contact: 480, conduct.Revisit: 400, conduct.Hidden: 300,
}

// storyEvents tells of each kind of event the largest, and how often it
// happened if it did more than once.
func storyEvents(in RunInput) []told {
	by := map[string][]conduct.Event{}
	for _, e := range in.Conduct.Events {
		// A second layer is told with the rows.
		onPurpose := e.Kind == conduct.Revisit && e.Figures["lost_s"] < e.Size/2
		// The dock in which the run ends is told with its end.
		last := e.Kind == conduct.Dock && e.End >= in.Trace.Run.To-1
		if storyWeight[e.Kind] > 0 && !onPurpose && !last {
			by[e.Kind] = append(by[e.Kind], e)
		}
	}
	var out []told
	for kind, es := range by {
		order := append([]conduct.Event(nil), es...)
		sort.SliceStable(order, func(i, j int) bool { return order[i].Size > order[j].Size })
		keep := min(len(order), 2)
		if kind == conduct.Contact || kind == conduct.Revisit || kind == conduct.Hidden {
			keep = 1
		}
		for k, e := range order[:keep] {
			text := e.Sentence
			if k == 0 && len(es) > keep {
				text = strings.TrimSuffix(text, ".") + fmt.Sprintf("; that is the %s of %d such events.", largest[e.Unit], len(es))
			}
			out = append(out, told{e.Start, storyWeight[kind] - 20*float64(k), text})
		}
	}
	// A map has no order of its own, a story has.
	sort.SliceStable(out, func(i, j int) bool {
		return out[i].t < out[j].t || out[i].t == out[j].t && out[i].text < out[j].text
	})
	return out
}

// largest names the greatest of several sizes by their unit.
var largest = map[string]string{"s": "longest", "deg": "greatest", "m": "widest", "m/s": "fastest", "times": "most frequent"}

// storyLevels tells when shares of the reachable floor were first cleaned.
func storyLevels(in RunInput) []told {
	c := in.Coverage.Coverage
	var out []told
	for i, w := range []float64{350, 420, 460, 440, 470} {
		if t := c.TimeToReachable[i]; !math.IsNaN(t) {
			at := in.Trace.Run.From + t
			lv := []int{50, 80, 90, 95, 99}[i]
			out = append(out, told{at, w, fmt.Sprintf("At %s, %s into the run, it had cleaned %d"+words.NB+"%% of the floor that it can reach.", words.Clock(at), words.Duration(t), lv)})
		}
	}
	return out
}

// objectWeight are the weights of outcomes in a story.
var objectWeight = map[string]float64{
	conduct.StoppedIt: 880, conduct.CarriedAlong: 780, conduct.RunOver: 770, conduct.Pushed: 760, conduct.Grazed: 560,
}

// storyProps tells of each test object that the robot touched.
func storyObjects(in RunInput) []told {
	var out []told
	for _, p := range in.TestObjects {
		if p.Outcome == nil || objectWeight[*p.Outcome] == 0 || !p.FirstContactS.Known() {
			continue
		}
		t := float64(p.FirstContactS)
		what := map[string]string{
			conduct.StoppedIt: "stopped there", conduct.CarriedAlong: "took it along", conduct.RunOver: "drove over it",
			conduct.Pushed: "pushed it", conduct.Grazed: "touched it",
		}[*p.Outcome]
		s := fmt.Sprintf("At %s it met the %s and %s", words.Clock(t), p.Name, what)
		if len(p.Contacts) > 0 && p.Contacts[0].SpeedMPS.Known() {
			s += fmt.Sprintf(", at %.2f"+words.NB+"m/s", float64(p.Contacts[0].SpeedMPS))
		}
		if p.MovedM.Known() {
			s += fmt.Sprintf("; it lies %s from where it lay", words.Length(float64(p.MovedM), math.NaN(), words.Metre))
		}
		if n := len(p.Contacts); n > 1 {
			s += fmt.Sprintf(", after %d contacts", n)
		}
		out = append(out, told{t, objectWeight[*p.Outcome], s + "."})
	}
	return out
}
