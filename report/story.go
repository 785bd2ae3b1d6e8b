package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"swathe/coverage"
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

// moment is a time of the story: what begins there, in a few words, and what is told
// there of the run, if anything.
type moment struct {
	at          float64 // s in the recording
	title, told string
}

// moments are the times of the story, in their order: those of its sentences.
func (r *Run) moments(plan *geom.Plan, unit words.Unit) []moment {
	start := r.Run.StartS
	out := []moment{{start, r.began(plan), r.storyStart(plan, unit)}}
	levels := r.levels()
	for i, l := range levels {
		m := moment{at: start + l.t, title: fmt.Sprintf("%d"+words.NB+"%% of the reachable floor cleaned", l.of)}
		if i == len(levels)-1 {
			m.told = r.storyGrowth()
		}
		out = append(out, m)
	}
	switch e, o, _ := r.gravest(); {
	case o != nil:
		out = append(out, moment{at: o.FirstContactS, title: objectMet(*o, unit)})
	case e != nil:
		out = append(out, moment{at: e.StartS, title: strings.TrimSuffix(e.What(plan, unit), ".")})
	}
	end := moment{r.Run.EndS, r.ended(), r.storyEnd(unit)}
	if r.Ledger != nil {
		if s := r.storyTime(unit); s != "" {
			end.told = s + ". " + end.told
		}
	}
	out = slices.DeleteFunc(append(out, end), func(m moment) bool { return math.IsNaN(m.at) })
	slices.SortStableFunc(out, func(a, b moment) int { return cmp.Compare(a.at, b.at) })
	return out
}

// began says how the run began, and where.
func (r *Run) began(plan *geom.Plan) string {
	s := map[string]string{geom.StartedMoving: "it was already moving", geom.StartedUnseen: "it was first seen, already moving"}[r.Run.Started]
	if s == "" {
		s = "it set off"
	}
	return strings.TrimSpace(s + " " + landmark(plan, r.Run.StartX, r.Run.StartY))
}

func (r *Run) storyStart(plan *geom.Plan, unit words.Unit) string {
	s := "At " + words.Clock(r.Run.StartS) + " " + r.began(plan)
	if r.Run.Started == geom.StartedMoving {
		s = "When the recording began, " + r.began(plan)
	}
	if r.Rows == nil {
		return s
	}
	if r.Rows.Pattern == conduct.PatternRandom {
		turn, way := 0.0, 0.0
		for _, e := range r.Rows.Erratic {
			turn, way = turn+e.TurnDeg, way+e.DistanceM
		}
		s += "; it did not drive in rows"
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
	s += fmt.Sprintf("; from %s it drove %d parallel lanes", words.Clock(b.StartS), b.Lanes)
	if Measured(b.SpacingM) && Measured(b.OverlapM) {
		s += " " + words.Length(b.SpacingM, math.NaN(), unit) + " apart"
		if b.OverlapM >= 0 {
			s += ", overlapping by " + words.Length(b.OverlapM, math.NaN(), unit)
		} else {
			s += ", leaving " + words.Length(-b.OverlapM, math.NaN(), unit) + " between them"
		}
	}
	if b.SecondLayer {
		s += ", as a second layer over cleaned floor"
	}
	return s
}

// level is a share of the reachable floor, per cent, and the time until it was cleaned.
type level struct {
	of int
	t  float64
}

// levels are the two that say most of how fast the coverage grew: half of the
// reachable floor, and the highest one reached.
func (r *Run) levels() []level {
	var all []level
	for i, t := range r.Coverage.TimeToReachable {
		if Measured(t) {
			all = append(all, level{coverage.Levels[i], t})
		}
	}
	if n := len(all); n > 1 {
		if all[0].of != 50 {
			return all[n-1:]
		}
		return []level{all[0], all[n-1]}
	}
	return all
}

// storyGrowth tells how fast the coverage grew.
func (r *Run) storyGrowth() string {
	var parts []string
	for i, l := range r.levels() {
		of := ""
		if i == 0 {
			of = " of the reachable floor"
		}
		parts = append(parts, fmt.Sprintf("%d"+words.NB+"%%%s after %s", l.of, of, words.Duration(l.t)))
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

// gravest is the gravest thing that happened, an event or what became of a test
// object, or neither, and how many events there are of each kind that is told.
func (r *Run) gravest() (*Event, *TestObject, map[string]int) {
	best := 0
	count := map[string]int{}
	var gravest *Event
	for i, e := range r.Events {
		g := gravity[e.Kind]
		// Driving over cleaned floor on purpose is told with the rows, and what a
		// test object suffered with the test objects.
		if g == 0 || e.Words["outcome"] != "" || e.Kind == conduct.Revisit && e.more("lost_s") < e.Size/2 {
			continue
		}
		count[e.Kind]++
		if g > best || gravest != nil && g == best && e.Kind == gravest.Kind && (e.Size > gravest.Size) != (e.Kind == conduct.Near) {
			best, gravest = g, &r.Events[i]
		}
	}
	var object *TestObject
	for i, o := range r.TestObjects {
		if o.Outcome == nil || gravity[*o.Outcome] <= best || !Measured(o.FirstContactS) {
			continue
		}
		best, object, gravest = gravity[*o.Outcome], &r.TestObjects[i], nil
	}
	return gravest, object, count
}

// storyGravest tells the gravest thing that happened, and counts the others.
func (r *Run) storyGravest(plan *geom.Plan, unit words.Unit) string {
	gravest, object, count := r.gravest()
	text := ""
	switch {
	case object != nil:
		text = objectText(*object, unit)
	case gravest != nil:
		text = strings.TrimSuffix(gravest.Text(plan, unit), ".")
		count[gravest.Kind]--
	}
	if text == "" {
		return ""
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

// objectText says when, and what became of a test object.
func objectText(o TestObject, unit words.Unit) string {
	return "At " + words.Clock(o.FirstContactS) + " " + objectMet(o, unit)
}

// objectMet says what became of a test object.
func objectMet(o TestObject, unit words.Unit) string {
	s := "it met the " + o.Name
	if len(o.Contacts) > 0 && Measured(o.Contacts[0].SpeedMPS) {
		s += " at " + words.Speed(o.Contacts[0].SpeedMPS, unit)
	}
	s += " and " + objectDid[*o.Outcome]
	if Measured(o.MovedM) && o.MovedM > 0 {
		s += ", in total by " + words.Length(o.MovedM, math.NaN(), unit)
	}
	if n := len(o.Contacts); n > 1 {
		s += fmt.Sprintf(", in %d contacts", n)
	}
	return s
}

// storyTime tells the entries on which most of the time went.
func (r *Run) storyTime(unit words.Unit) string {
	es := append([]conduct.Entry(nil), r.Ledger.Entries...)
	sort.SliceStable(es, func(i, j int) bool { return es[i].TimeS > es[j].TimeS })
	var parts []string
	for _, e := range es[:min(3, len(es))] {
		if e.TimeS >= 1 {
			parts = append(parts, fmt.Sprintf("%s (%s)", e.Name, words.Duration(e.TimeS)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	s := "Most of its time went into " + words.List(parts)
	if Measured(r.Ledger.LeastS) {
		s += fmt.Sprintf("; at its width and speed of %s, perfect lanes over the same floor take %s", words.Speed(r.Ledger.SpeedMPS, unit), words.Duration(r.Ledger.LeastS))
	}
	return s
}

// ended says how the run ended.
func (r *Run) ended() string {
	how, ok := map[string]string{
		geom.EndedDocked: "it stopped in its dock", geom.EndedStood: "it stopped and did not move again",
		geom.EndedCarried: "a person took it away", geom.EndedRecording: "the recording ended while it was still driving",
		geom.EndedLost: "it was last seen, still driving",
	}[r.Run.Ended]
	if !ok {
		how = "the run ended"
	}
	return how
}

func (r *Run) storyEnd(unit words.Unit) string {
	s := "At " + words.Clock(r.Run.EndS) + " " + r.ended()
	if Measured(r.Run.DistanceM) {
		s += ", after " + words.Length(r.Run.DistanceM, r.Run.U("distance_m"), unit)
	}
	share, of := r.Coverage.ReachableShare, "reachable"
	if !Measured(share) {
		share, of = r.Coverage.CoveredShare, "open"
	}
	s += fmt.Sprintf(", with %s of the %s floor cleaned", words.Share(share, r.Coverage.U(of+"_share")), of)
	if len(r.Missed) > 0 {
		m := r.Missed[0]
		s += "; the largest missed patch, " + words.Area(m.AreaM2, math.NaN(), unit) + ", is " + figure.BesideWords(m.Beside)
	}
	return s
}
