package conduct

import (
	"errors"
	"fmt"
	"math"

	"swathe/coverage"
	"swathe/geom"
)

// Outcomes of a test object, the least grave first.
const (
	Untested     = "untested"
	Avoided      = "avoided"
	TooNear      = "near" // nearer than can be told from a contact, and nothing else shows one
	Grazed       = "grazed"
	Pushed       = "pushed"
	RunOver      = "run over"
	CarriedAlong = "carried along"
	StoppedIt    = "stopped it"
)

// Outcomes lists them in that order.
var Outcomes = []string{Untested, Avoided, TooNear, Grazed, Pushed, RunOver, CarriedAlong, StoppedIt}

// ObjectContact is one contact of robot and test object.
type ObjectContact struct {
	Start    float64 `json:"start_s"` // from the first frame
	End      float64 `json:"end_s"`
	X        float64 `json:"x_m"` // floor, where the two outlines met
	Y        float64 `json:"y_m"`
	SpeedMPS float64 `json:"speed_mps"` // of the robot when it began
}

// ObjectResult is what became of a test object.
type ObjectResult struct {
	Name       string
	Outcome    string // empty, with a Reason, if it could not be told
	Reason     string
	ClearanceM float64 // smallest distance between the two outlines, 0 if they met; NaN: not known
	// The ends of the clearance's 95 % interval, m, by what is known of outline,
	// path and body; 0 both where contact was shown.
	ClearanceLo, ClearanceHi float64
	MovedM                   float64 // by the robot, from where it lay to where it lies in the end; NaN: not known
	From, To                 geom.ObjectPose
	FirstS                   float64 // s from the first frame, of the first contact; NaN if none
	Contacts                 []ObjectContact

	// The distance between the outlines at which the robot, with the test object ahead,
	// began to slow down or turn (Reaction: slows, turns); NaN and empty if it
	// did neither.
	ReactionM float64
	Reaction  string

	ByHand []geom.Span // when people moved it, laid it down or took it away

	// The price of caution: of RoundM2 of reachable floor within
	// Options.CautionBand of where it lay, what was never swept.
	UncleanedM2, RoundM2 float64
}

// What a robot may do when it notices a test object; Turns is the other.
const Slows = "slows"

const (
	// handGap, m: what moves with the robot farther away than this is moved by
	// someone else.
	handGap = 0.05
	// overDepth, m: a test object that lies this far within the body's outline is
	// under it; less is the doubt of both outlines.
	overDepth = 0.02
	// alongWay, m: what is under the body and goes this far with it is carried
	// along; a shift by less happens to anything driven over.
	alongWay = 0.05
	// afterRun, s: a run ends at its last movement, which the last millimetres
	// before a test object may follow.
	afterRun = 1.0
	// movesWithin, s: what moves so soon before or after outlines met was moved
	// by that; the pose of a test object is seen a few times a second.
	movesWithin = 0.5
	// contactPause, s, joins two contacts.
	contactPause = 0.3
)

// FindTestObjects tells what became of the plan's test objects. sights may come in any
// order; a test object of the plan without one is told as not looked for. Errors: as
// Find, or a sight of a test object that the plan does not have.
func FindTestObjects(trace *geom.Trace, plan *geom.Plan, robot geom.Robot, cov *coverage.Result, sights []geom.ObjectSight, opt Options) ([]ObjectResult, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	if trace == nil || plan == nil || cov == nil || len(cov.Steps) != len(trace.Samples)-1 {
		return nil, errors.New("test objects need the path, plan and coverage of one run")
	}
	by := map[string]geom.ObjectSight{}
	for _, s := range sights {
		by[s.Name] = s
	}
	r := newRun(trace, plan, robot, cov, opt)
	cruise := r.ownSpeed(r.rows())
	out := make([]ObjectResult, 0, len(plan.TestObjects))
	for _, p := range plan.TestObjects {
		s, ok := by[p.Name]
		delete(by, p.Name)
		if !ok {
			s = geom.ObjectSight{Name: p.Name, Reason: "it was not analysed"}
		}
		out = append(out, r.object(p, s, cruise))
	}
	for name := range by {
		return nil, fmt.Errorf("the test object %q is not in the layout; add it under test_objects", name)
	}
	return out, nil
}

// meeting is robot and test object at one sample.
type meeting struct {
	t     float64
	gap   float64     // m between the outlines
	depth float64     // m that the test object lies within the body
	at    geom.Point2 // the test object's point nearest to the robot's centre, floor
	pose  geom.ObjectPose
}

func (r *run) object(p geom.Piece, s geom.ObjectSight, cruise float64) ObjectResult {
	nan := math.NaN()
	res := ObjectResult{Name: p.Name, ClearanceM: nan, ClearanceLo: nan, ClearanceHi: nan, MovedM: nan, FirstS: nan, ReactionM: nan, UncleanedM2: nan, RoundM2: nan}
	outline := geom.RingCorners(p.Outline)
	mid := geom.Centroid(outline)
	track := s.Track
	if len(track) == 0 {
		track = []geom.ObjectPose{{X: mid.X, Y: mid.Y}}
	}
	res.From, res.To = track[0], track[len(track)-1]
	res.UncleanedM2, res.RoundM2 = r.caution(moved(outline, mid, track[0]))
	if !s.Seen && !s.Surveyed {
		res.Reason = s.Reason
		if res.Reason == "" {
			res.Reason = "it could not be seen"
		}
		return res
	}
	if s.Present != (geom.Span{}) {
		if s.Present.From > r.trace.Run.From {
			res.ByHand = append(res.ByHand, geom.Span{From: s.Present.From, To: s.Present.From})
		}
		if s.Present.To < r.trace.Run.To {
			res.ByHand = append(res.ByHand, geom.Span{From: s.Present.To, To: s.Present.To})
		}
	}
	ms := r.meet(outline, mid, track, s.Present)
	if len(ms) == 0 {
		res.Reason = "the robot's position is never known while the object is there"
		return res
	}
	r.objectContacts(&res, ms)
	res.Contacts = r.shown(res.Contacts, ms)
	shift, along, turned := r.shift(&res, ms, track)
	res.MovedM = shift
	nearest := ms[0]
	deepest := 0.0
	for _, m := range ms {
		if m.gap-m.depth < nearest.gap-nearest.depth {
			nearest = m
		}
		deepest = math.Max(deepest, m.depth)
	}
	g, d := r.guard(nearest.t), nearest.gap-nearest.depth
	res.ClearanceM, res.ClearanceLo, res.ClearanceHi = nearest.gap, math.Max(0, d-g), math.Max(0, d+g)
	touched := len(res.Contacts) > 0
	if touched {
		res.ClearanceM, res.ClearanceLo, res.ClearanceHi = 0, 0, 0
		res.FirstS = res.Contacts[0].Start
	}
	switch {
	case touched && s.Surveyed:
		res.MovedM = math.NaN()
		res.Reason = "the path meets it; a path does not show whether it was moved"
	case touched && r.stopped(res.Contacts):
		res.Outcome = StoppedIt
	case touched && along >= alongWay && (deepest >= overDepth || turned):
		res.Outcome = CarriedAlong
	case touched && deepest >= overDepth:
		res.Outcome = RunOver
	case touched && shift >= r.opt.MovedDistance:
		res.Outcome = Pushed
	case touched:
		res.Outcome = Grazed
	case res.ClearanceLo == 0:
		res.Outcome = TooNear
	case res.ClearanceM <= r.diameter():
		res.Outcome = Avoided
	default:
		res.Outcome = Untested
	}
	res.ReactionM, res.Reaction = r.reaction(ms, cruise, res.FirstS)
	return res
}

// meet puts robot and test object together at every known sample of the run.
func (r *run) meet(outline []geom.Point2, mid geom.Point2, track []geom.ObjectPose, present geom.Span) []meeting {
	var out []meeting
	for i, s := range r.ss {
		if !s.Placed() || s.T < r.trace.Run.From || s.T > r.trace.Run.To+afterRun || present != (geom.Span{}) && !present.Contains(s.T) {
			continue
		}
		pose := poseAt(track, s.T)
		m := meeting{t: s.T, pose: pose}
		ring := moved(outline, mid, pose)
		c := geom.Point2{X: s.X, Y: s.Y}
		m.at = nearestOf(ring, c)
		if r.robot.Round() {
			d := math.Max(0, ringGap(ring, c))
			m.gap, m.depth = math.Max(0, d-r.radius()), math.Max(0, r.radius()-d)
		} else {
			body := make([]geom.Point2, len(r.robot.Outline))
			p := geom.Pose{X: s.X, Y: s.Y, Heading: r.heads[i]}
			for k, b := range r.robot.Outline {
				body[k] = p.At(b)
			}
			m.gap, m.depth = OutlineGap(body, ring), depthIn(body, ring)
		}
		out = append(out, m)
	}
	return out
}

// objectContacts finds when the two may touch: their outlines meet, or the test
// object moves while the robot is next to it.
func (r *run) objectContacts(res *ObjectResult, ms []meeting) {
	came := -1 // when the robot came next to it
	for i, m := range ms {
		moves := false
		switch {
		case m.gap > handGap:
			came = -1
		case came < 0:
			came = i
		default:
			moves = m.pose.Dist(ms[i-1].pose) > 1e-6 && m.pose.Dist(ms[came].pose) >= r.opt.ObjectGap
		}
		if m.gap > r.opt.ObjectGap && !moves {
			continue
		}
		if n := len(res.Contacts); n > 0 && m.t-res.Contacts[n-1].End <= contactPause {
			res.Contacts[n-1].End = m.t
			continue
		}
		speed := r.ticks[r.tickAt(m.t-2*step)].v
		res.Contacts = append(res.Contacts, ObjectContact{Start: m.t, End: m.t, X: m.at.X, Y: m.at.Y, SpeedMPS: speed})
	}
}

// shown returns the contacts that something shows: the test object moved, the
// outlines overlap by more than they may be wrong, or the robot's motion shows it.
func (r *run) shown(all []ObjectContact, ms []meeting) []ObjectContact {
	var out []ObjectContact
	for _, c := range all {
		var first *meeting
		ok := r.stopped([]ObjectContact{c}) || r.bumped(c.Start) && r.recoils(c.Start)
		for i := range ms {
			m := &ms[i]
			if m.t < c.Start-movesWithin || m.t > c.End+movesWithin {
				continue
			}
			if first == nil {
				first = m
			}
			ok = ok || m.depth > r.guard(m.t) || m.pose.Dist(first.pose) >= r.opt.ObjectGap
		}
		if ok {
			out = append(out, c)
		}
	}
	return out
}

// shift sums up how the test object was moved with the robot at it: how far in all,
// how far while it kept its place on the body, and whether the body turned or
// reversed with it.
func (r *run) shift(res *ObjectResult, ms []meeting, track []geom.ObjectPose) (far, along float64, turned bool) {
	var sum geom.Point2
	var hand *geom.Span
	turn := 0.0
	for i := 1; i < len(ms); i++ {
		a, b := ms[i-1], ms[i]
		d := geom.Point2{X: b.pose.X - a.pose.X, Y: b.pose.Y - a.pose.Y}
		if d.Norm() < 1e-6 {
			hand = nil
			continue
		}
		if math.Min(a.gap, b.gap) > handGap {
			if hand == nil {
				res.ByHand = append(res.ByHand, geom.Span{From: a.t, To: b.t})
				hand = &res.ByHand[len(res.ByHand)-1]
			}
			hand.To = b.t
			continue
		}
		sum = sum.Add(d)
		// Where the robot goes with it, by the same step and within a fifth.
		p, okA := r.sampled(a.t)
		q, okB := r.sampled(b.t)
		if !okA || !okB {
			continue
		}
		body := geom.Pose{X: p.x, Y: p.y, Heading: p.h}
		next := geom.Pose{X: q.x, Y: q.y, Heading: q.h}
		hold := inBody(body, geom.Point2{X: a.pose.X, Y: a.pose.Y})
		if next.At(hold).Dist(geom.Point2{X: b.pose.X, Y: b.pose.Y}) < 0.2*d.Norm()+0.002 {
			along += d.Norm()
			turn += q.h - p.h
			if q.ahead < 0 {
				turned = true
			}
		}
	}
	return sum.Norm(), along, turned || math.Abs(turn) > math.Pi/6
}

// stopped tells whether a contact held the robot: it stood or struggled there
// for StuckTime, or the run ended there without the robot being taken home.
func (r *run) stopped(cs []ObjectContact) bool {
	for _, c := range cs {
		if c.End >= r.trace.Run.To-0.5 && r.trace.Ended == geom.EndedStood {
			return true
		}
		still := 0
		for k := r.tickAt(c.Start); k <= r.tickAt(c.End); k++ {
			if r.stands(r.ticks[k]) || r.pivots(r.ticks[k]) {
				still++
			} else {
				still = 0
			}
			if float64(still)*step >= r.opt.StuckTime {
				return true
			}
		}
	}
	return false
}

// reaction returns at what distance the robot began to slow down or turn before
// it touched the test object, or was nearest to it.
func (r *run) reaction(ms []meeting, cruise, first float64) (float64, string) {
	best := 0
	for i, m := range ms {
		if m.gap < ms[best].gap {
			best = i
		}
		if m.t == first {
			best = i
			break
		}
	}
	if ms[best].gap > r.diameter() || !(cruise > 0) {
		return math.NaN(), ""
	}
	k := r.tickAt(ms[best].t)
	calm := func(i int) bool {
		t := r.ticks[i]
		return t.known && t.v > 0.85*cruise && math.Abs(t.turning) < 2*r.opt.StandTurn
	}
	// The clock rounds what is sudden by its window: a robot that drives on
	// until it touches has not reacted.
	for back := 0; back <= ticksIn(window)+1; back++ {
		if k-back >= 0 && calm(k-back) && !math.IsNaN(first) {
			return math.NaN(), ""
		}
	}
	if calm(k) {
		return math.NaN(), ""
	}
	j := k
	for j > 0 && !calm(j-1) && r.ticks[j-1].known {
		j--
	}
	t := r.ticks[j]
	for i := best; i >= 0; i-- {
		if ms[i].t > t.t {
			continue
		}
		// The test object must have been ahead.
		d := ms[i].at.Sub(t.at())
		if math.Abs(geom.WrapAngle(math.Atan2(d.Y, d.X)-t.course)) > math.Pi/3 || math.IsNaN(t.course) {
			return math.NaN(), ""
		}
		if math.Abs(t.turning) >= 2*r.opt.StandTurn {
			return ms[i].gap, Turns
		}
		return ms[i].gap, Slows
	}
	return math.NaN(), ""
}

// caution returns the reachable floor about an outline that was never swept,
// and all of it, m2.
func (r *run) caution(ring []geom.Point2) (left, all float64) {
	g := r.cov.Grid
	if g == nil || len(g.Passes) != len(g.Flags) {
		return math.NaN(), math.NaN()
	}
	for k, f := range g.Flags {
		if f&coverage.FlagReachable == 0 {
			continue
		}
		if d := ringGap(ring, g.Centre(k)); d < 0 || d > r.opt.CautionBand {
			continue
		}
		all += g.Cell * g.Cell
		if g.Passes[k] == 0 {
			left += g.Cell * g.Cell
		}
	}
	return left, all
}
