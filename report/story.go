package report

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/report/figure"
	"swathe/report/words"
)

// Story tells a run in five sentences or fewer, made from its figures in the
// unit asked for: how it began and drove, how the coverage grew, the gravest
// thing that happened, where the time went, and the end with what was missed.
// Places are told by what stands there on the plan. It is empty if what the
// robot did was not analysed.
func Story(r *Run, plan *geom.Plan, unit words.Unit) []string {
	if r.Ledger == nil {
		return nil
	}
	var out []string
	for _, s := range []string{r.storyStart(plan, unit), r.storyGrowth(), r.storyGravest(plan, unit), r.storyTime(unit), r.storyEnd(unit)} {
		if s != "" {
			out = append(out, s+".")
		}
	}
	return out
}

// storyFile is the content of story.md.
func storyFile(r *Run, plan *geom.Plan) string {
	s := fmt.Sprintf("# %s, %s, %s run %d\n\nTimes are those of the recording; left, right, above and below refer to the plan.\n\n", r.Robot, r.Layout, r.Phase, r.Trial)
	for _, line := range Story(r, plan, words.Metre) {
		s += "- " + line + "\n"
	}
	return s
}

func (r *Run) storyStart(plan *geom.Plan, unit words.Unit) string {
	at := words.Clock(float64(r.Run.StartS))
	where := landmark(plan, float64(r.Run.StartX), float64(r.Run.StartY))
	s := ""
	switch r.Run.Started {
	case geom.StartedMoving:
		s = "When the recording began, it was already moving"
	case geom.StartedUnseen:
		s = "At " + at + " it was first seen, already moving"
	default:
		s = "At " + at + " it set off"
	}
	s = strings.TrimSpace(s + " " + where)
	if r.Rows == nil {
		return s
	}
	if r.Rows.Pattern == conduct.PatternRandom {
		turn, way := 0.0, 0.0
		for _, e := range r.Rows.Erratic {
			turn, way = turn+float64(e.TurnDeg), way+float64(e.DistanceM)
		}
		s += " and did not drive in rows"
		if way > 0 {
			per, of := way, "metre"
			if unit == words.Foot {
				per, of = way/words.MetresPerFoot, "foot"
			}
			s += fmt.Sprintf(", turning %.0f"+words.NB+"degrees per %s", turn/per, of)
		}
		return s
	}
	if len(r.Rows.Blocks) == 0 {
		return s
	}
	b := r.Rows.Blocks[0]
	for _, o := range r.Rows.Blocks {
		if o.LengthM > b.LengthM {
			b = o
		}
	}
	s += fmt.Sprintf("; from %s it drove %d parallel lanes", words.Clock(float64(b.StartS)), b.Lanes)
	if b.SpacingM.Known() && b.OverlapM.Known() {
		s += " " + words.Length(float64(b.SpacingM), math.NaN(), unit) + " apart"
		if b.OverlapM >= 0 {
			s += ", overlapping by " + words.Length(float64(b.OverlapM), math.NaN(), unit)
		} else {
			s += ", leaving " + words.Length(-float64(b.OverlapM), math.NaN(), unit) + " between them"
		}
	}
	if b.SecondLayer {
		s += ", as a second layer over cleaned floor"
	}
	return s
}

// storyGrowth tells how fast the coverage grew, up to the two levels that say
// most: half of the reachable floor, and the highest one reached.
func (r *Run) storyGrowth() string {
	t := r.Coverage.TimeToReachableS
	levels := []struct {
		of int
		t  Float
	}{{50, t.S50}, {80, t.S80}, {90, t.S90}, {95, t.S95}, {99, t.S99}}
	var parts []string
	top := -1
	for i, l := range levels {
		if l.t.Known() {
			top = i
		}
	}
	for i, l := range levels {
		if !l.t.Known() || i != 0 && i != top {
			continue
		}
		of := ""
		if len(parts) == 0 {
			of = " of the reachable floor"
		}
		parts = append(parts, fmt.Sprintf("%d"+words.NB+"%%%s after %s", l.of, of, words.Duration(float64(l.t))))
	}
	if len(parts) == 0 {
		return ""
	}
	return "It had cleaned " + strings.Join(parts, " and ")
}

// gravity ranks what may happen; what it does not name is not told by itself.
var gravity = map[string]int{
	conduct.StoppedIt: 100, conduct.Outside: 95, conduct.Stuck: 90, conduct.Carried: 85,
	conduct.CarriedAlong: 80, conduct.RunOver: 78, conduct.Pushed: 76, conduct.EdgeRetry: 60, conduct.Spin: 55, conduct.Pause: 50,
	conduct.Swerve: 45, conduct.Grazed: 44, conduct.Contact: 40, conduct.Revisit: 30, conduct.Hidden: 20, conduct.Near: 10,
}

// eventPlural names several events of a kind.
var eventPlural = map[string][2]string{
	conduct.Outside: {"1 time outside the room", "%d times outside the room"}, conduct.Stuck: {"stuck once", "stuck %d times"},
	conduct.Carried: {"carried once", "carried %d times"}, conduct.EdgeRetry: {"1 edge retry", "%d edge retries"},
	conduct.Spin: {"1 spin", "%d spins"}, conduct.Pause: {"1 pause", "%d pauses"}, conduct.Swerve: {"1 swerve", "%d swerves"},
	conduct.Contact: {"1 contact", "%d contacts"}, conduct.Near: {"1 close approach", "%d close approaches"}, conduct.Revisit: {"1 revisit", "%d revisits"}, conduct.Hidden: {"hidden once", "hidden %d times"},
}

// storyGravest tells the gravest thing that happened, and counts the others.
func (r *Run) storyGravest(plan *geom.Plan, unit words.Unit) string {
	best, text := 0, ""
	count := map[string]int{}
	var gravest *Event
	for i, e := range r.Events {
		g := gravity[e.Kind]
		// Driving over cleaned floor on purpose is told with the rows, and what a
		// test object suffered with the test objects.
		if g == 0 || e.Words["outcome"] != "" || e.Kind == conduct.Revisit && e.more("lost_s") < float64(e.Size)/2 {
			continue
		}
		count[e.Kind]++
		if g > best || gravest != nil && g == best && e.Kind == gravest.Kind && (e.Size > gravest.Size) != (e.Kind == conduct.Near) {
			best, gravest = g, &r.Events[i]
		}
	}
	if gravest != nil {
		text = strings.TrimSuffix(gravest.Text(plan, unit), ".")
	}
	for _, o := range r.TestObjects {
		if o.Outcome == nil || gravity[*o.Outcome] <= best || !o.FirstContactS.Known() {
			continue
		}
		best, gravest = gravity[*o.Outcome], nil
		text = objectText(o, unit)
	}
	if text == "" {
		return ""
	}
	if gravest != nil {
		count[gravest.Kind]--
	}
	var kinds []string
	for k, n := range count {
		if n > 0 {
			kinds = append(kinds, k)
		}
	}
	sort.Slice(kinds, func(i, j int) bool { return gravity[kinds[i]] > gravity[kinds[j]] })
	var others []string
	for _, k := range kinds[:min(len(kinds), 4)] {
		if n := count[k]; n == 1 {
			others = append(others, eventPlural[k][0])
		} else {
			others = append(others, fmt.Sprintf(eventPlural[k][1], n))
		}
	}
	if len(others) > 0 {
		text += "; also recorded: " + words.List(others)
	}
	return text
}

// objectDid says what a robot did to a test object that it met.
var objectDid = map[string]string{
	conduct.StoppedIt: "stopped there", conduct.CarriedAlong: "carried it along", conduct.RunOver: "drove over it",
	conduct.Pushed: "pushed it", conduct.Grazed: "grazed it",
}

// objectText says what became of a test object.
func objectText(o TestObject, unit words.Unit) string {
	s := "At " + words.Clock(float64(o.FirstContactS)) + " it met the " + o.Name
	if len(o.Contacts) > 0 && o.Contacts[0].SpeedMPS.Known() {
		s += " at " + words.Speed(float64(o.Contacts[0].SpeedMPS), unit)
	}
	s += " and " + objectDid[*o.Outcome]
	if o.MovedM.Known() && o.MovedM > 0 {
		s += ", in total by " + words.Length(float64(o.MovedM), math.NaN(), unit)
	}
	if n := len(o.Contacts); n > 1 {
		s += fmt.Sprintf(", in %d contacts", n)
	}
	return s
}

// storyTime tells the entries on which most of the time went.
func (r *Run) storyTime(unit words.Unit) string {
	es := append([]LedgerEntry(nil), r.Ledger.Entries...)
	sort.SliceStable(es, func(i, j int) bool { return es[i].TimeS > es[j].TimeS })
	var parts []string
	for _, e := range es[:min(3, len(es))] {
		if e.TimeS >= 1 {
			parts = append(parts, fmt.Sprintf("%s (%s)", e.Name, words.Duration(float64(e.TimeS))))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	s := "Most of its time went into " + words.List(parts)
	if r.Ledger.LeastS.Known() {
		s += fmt.Sprintf("; at its width and speed of %s, perfect lanes over the same floor take %s", words.Speed(float64(r.Ledger.SpeedMPS), unit), words.Duration(float64(r.Ledger.LeastS)))
	}
	return s
}

func (r *Run) storyEnd(unit words.Unit) string {
	how, ok := map[string]string{
		geom.EndedDocked: "it stopped in its dock", geom.EndedStood: "it stopped and did not move again",
		geom.EndedCarried: "a person took it away", geom.EndedRecording: "the recording ended while it was still driving",
		geom.EndedLost: "it was last seen, still driving",
	}[r.Run.Ended]
	if !ok {
		how = "the run ended"
	}
	s := "At " + words.Clock(float64(r.Run.EndS)) + " " + how
	if r.Run.DistanceM.Known() {
		s += ", after " + words.Length(float64(r.Run.DistanceM), float64(r.Run.U("distance_m")), unit)
	}
	share, of := r.Coverage.ReachableShare, "reachable"
	if !share.Known() {
		share, of = r.Coverage.CoveredShare, "open"
	}
	s += fmt.Sprintf(", with %s of the %s floor cleaned", words.Share(float64(share), float64(r.Coverage.U(of+"_share"))), of)
	if len(r.Missed) > 0 {
		m := r.Missed[0]
		s += "; the largest missed patch, " + words.Area(float64(m.AreaM2), math.NaN(), unit) + ", is " + figure.BesideWords(m.Beside)
	}
	return s
}
