package sight

import (
	"math"
	"slices"

	"swathe/geom"
	"swathe/track/decide"
)

// Where one frame alone cannot say which of the outline's places is the robot,
// all of them are proposed, and the run decides (package decide). Places are
// proposed by the fit of the moment, round where the best hypotheses expect
// the robot, and, where these are weak, by the look of the whole room.
type choices struct {
	reg     *Region
	area    float64 // m^2, of the room
	dec     *decide.Decider
	frames  []choiceFrame // not decided yet
	first   int           // number of the first of them
	revised []Sighting
	taken   int // looks from which the colours were learned
	next    int // at how many they are worked out again
	lastAt  geom.Pose
	gains   [256]float64 // of the last frames without anybody by, less what the top tells
	seen    int

	open []float64 // times, s, rising, of the looks before the colours were known that were not settled
}

type choiceFrame struct {
	fits   []Fit
	gains  []float64
	chosen int
	s      Sighting
	blind  bool // the colours were not known yet
}

// open tells whether a frame that was decided on a place before the colours were known is
// not settled: nothing was found, and nobody knows why, or what was found is in doubt.
func (f *choiceFrame) open(place int) bool {
	if !f.blind {
		return false
	}
	if place < 0 {
		return f.s.Found || f.s.Why == WhyNothing
	}
	return f.gains[place] < sureGain || !alone(&f.fits[place])
}

func newChoices(set *Setup, bg *Background) *choices {
	area := (set.Hi.X - set.Lo.X) * (set.Hi.Y - set.Lo.Y)
	reg := *bg.region
	return &choices{reg: &reg, area: area, dec: decide.New(decide.DefaultOptions(area)), next: coloursKnown, lastAt: geom.Pose{X: math.NaN()}}
}

// coloursKnown is how many looks at the robot make its colours known.
const coloursKnown = 6

// Of frames in which the robot should show it does not at one in twenty; where
// the plan hides it, or the picture ends, it mostly does not.
const (
	seldom = -3
	mostly = -0.2
)

// missing is the log of how often the robot does not show, where it is expected.
func (w *Watcher) missing(t float64) float64 {
	for _, g := range w.choices.dec.Expect(t, 1, 0) {
		top := geom.Point3{X: g.X, Y: g.Y, Z: w.floor(geom.Pose{X: g.X, Y: g.Y}) + w.set.Robot.Height}
		px, ok := w.set.Cam.Project(top)
		if !ok || !w.set.Cam.InFrame(px) || w.set.Hidden != nil && w.set.Hidden(top) {
			return mostly
		}
	}
	return seldom
}

// among proposes the places of a frame, of which today's fit is one if found,
// and returns the one in which the best path so far ends.
func (w *Watcher) among(p *Picture, fit Fit, found, whole bool) (Fit, bool) {
	c, round := w.choices, w.set.Robot.Round()
	var fr choiceFrame
	var plains, gains []float64 // without what the top tells, and with it
	add := func(f Fit, plain, top float64) {
		if w.atMarker(p, f.Pose.X, f.Pose.Y) {
			top += markerTells
		}
		for i := range fr.fits {
			o := &fr.fits[i]
			if math.Hypot(o.Pose.X-f.Pose.X, o.Pose.Y-f.Pose.Y) < 0.002 && (round || math.Abs(geom.WrapAngle(o.Pose.Heading-f.Pose.Heading)) < sameHeading) {
				return
			}
		}
		fr.fits, plains, gains = append(fr.fits, f), append(plains, plain), append(gains, plain+top)
	}
	top, turn := 0.0, 0.0
	if found {
		top, turn = w.told(p, &fit)
	}
	miss := w.missing(p.T)
	// Before a round robot's colours are known any edge near a table's may be its own.
	blind := round && c.reg.hist == nil && (found || miss == mostly)
	switch {
	case blind && !found:
	case blind, found && (sure(&fit, top) || w.atMarker(p, fit.Pose.X, fit.Pose.Y)) && w.expected(p.T, &fit):
		add(fit, byEdges(&fit), top)
	default:
		if !whole {
			w.whole(p)
		}
		w.propose(p, fit, found, top, turn, add)
	}
	places := make([]decide.Place, len(fr.fits))
	for i := range fr.fits {
		f := &fr.fits[i]
		slip := 0.0
		if w.again {
			slip = Slip(f.RMS) * w.mpp(f.Pose)
		}
		places[i] = decide.Place{X: f.Pose.X, Y: f.Pose.Y, Var: (f.Cov[0]+f.Cov[2])/2 + placeSlack*placeSlack + slip*slip, Gain: gains[i]}
		if !round {
			places[i].Heading, places[i].HeadingVar = f.Pose.Heading, turnSlack*turnSlack+f.Turn*f.Turn
		}
	}
	fr.gains = gains
	fr.chosen = c.dec.Add(p.T, miss, places)
	c.frames = append(c.frames, fr)
	if fr.chosen < 0 {
		return fit, false
	}
	if w.crowd < handsOn {
		c.gains[c.seen%len(c.gains)] = plains[fr.chosen]
		c.seen++
	}
	w.aim(fr.fits[fr.chosen].Pose)
	return fr.fits[fr.chosen], true
}

// placeSlack and turnSlack are what a fit errs beside its scatter, m and rad.
const (
	placeSlack = 0.003
	turnSlack  = 0.02
)

// expected tells whether a fit lies, and is turned, as the best hypothesis has it: what
// would take a leap is not beyond doubt.
func (w *Watcher) expected(t float64, fit *Fit) bool {
	g := w.choices.dec.Expect(t, 2, math.Inf(1))
	if len(g) == 0 {
		return w.set.Robot.Round()
	}
	if math.Hypot(fit.Pose.X-g[0].X, fit.Pose.Y-g[0].Y) > 3*g[0].Sigma+placeLeap {
		return false
	}
	return w.set.Robot.Round() || math.Abs(geom.WrapAngle(fit.Pose.Heading-g[0].Heading)) < mistaken && (len(g) == 1 || g[1].Score > otherWayLeast)
}

// placeLeap is how far beside the place that was expected a fit is another, m;
// otherWayLeast by how many nats another way round must be worse not to be asked for.
const (
	placeLeap     = 0.03
	otherWayLeast = 20
)

// Slip is a quarter of how far, px, an outline may hop from one edge to another that
// is much like it: of edges that scatter by rms px.
func Slip(rms float64) float64 { return 0.14 + 2.5*math.Min(rms*rms, 0.25) }

// mpp is the size of a pixel at the height of the robot's top, m.
func (w *Watcher) mpp(at geom.Pose) float64 {
	return w.set.Cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: w.set.Robot.Height})
}

// propose adds the fits round all places that may be the robot's; top and turn are what
// the top tells of the fit of the moment.
func (w *Watcher) propose(p *Picture, fit Fit, found bool, top, turn float64, add func(f Fit, plain, top float64)) {
	c := w.choices
	r := c.reg
	parts := r.Parts
	if r.hist == nil {
		parts = func(geom.Pose) (in, beyond float64) { return usualIn, usualBeyond }
	}
	r.Fill(&w.small, &w.su, &w.sv, &w.lt)
	best := math.Inf(-1)
	if found {
		in, beyond := parts(fit.Pose)
		plain := gain(&fit, in, beyond)
		add(fit, plain, top)
		best = plain + top
	}
	// In somebody's hands it is larger than it may be: there only what looks as
	// the robot usually does in this recording is proposed, or what has its top.
	held := w.held(w.last)
	all := w.fitter.All
	round := func(at geom.Pose, reach float64) {
		w.aim(at)
		w.fitter.Expect = 0
		least := math.Inf(-1)
		if held || w.held(at) {
			least = c.usually(0.2) + seldom
		}
		for _, f := range all(&p.Y, &w.bg.Y, at, reach) {
			if !w.set.May(geom.Point2{X: f.Pose.X, Y: f.Pose.Y}) {
				continue
			}
			in, beyond := parts(f.Pose)
			top, _ := w.told(p, &f)
			if plain := gain(&f, in, beyond); plain+top >= least {
				add(f, plain, top)
				best = math.Max(best, plain+top)
			}
		}
	}
	for _, g := range c.dec.Expect(p.T, 2, 0.02) {
		at := geom.Pose{X: g.X, Y: g.Y, Heading: g.Heading}
		if m := w.mpp(at); m > 0 {
			round(at, math.Min(24, math.Max(4, (0.02+2.5*g.Sigma)/m)))
		}
	}
	if w.Marker != nil && !w.mark.ok {
		if f, ok := w.byMarker(p); ok {
			add(f, byEdges(&f), 0)
			best = markerTells
		}
	}
	if top < 0 { // the robot lies beside it
		round(fit.Pose, searchReach(&w.set)+rivalReach)
		if at := fit.Pose; math.Abs(geom.WrapAngle(turn-at.Heading)) > sameHeading && !w.set.Robot.Round() {
			at.Heading = turn
			round(at, searchReach(&w.set)+rivalReach)
		}
	}
	if best > 0 && len(c.frames)%8 != 0 {
		return
	}
	all = w.fitter.AllTurned
	if found && !w.set.Robot.Round() {
		round(fit.Pose, searchReach(&w.set))
	}
	if r.hist == nil {
		return
	}
	for _, m := range r.Modes(3, w.set.Robot.Radius()/2) {
		q := r.Fit(m.Pose, 3)
		round(q, math.Max(6, 0.05/w.mpp(q)))
	}
	if w.again && best <= 0 { // its colours may be others here, as before an encoder has settled
		for _, m := range w.finder.Candidates(3, w.set.Robot.Radius()) {
			round(m.Pose, searchReach(&w.set))
		}
	}
}

// handsOn is the share of the ring round the robot above which somebody may
// have hold of it: the crowd that the linking takes for a person.
const handsOn = 0.25

// held tells whether somebody is by who may have hold of a robot at a pose, as
// the last look at the whole room saw it.
func (w *Watcher) held(at geom.Pose) bool {
	return w.finder.Crowd(w.set.Cam, w.set.Robot, w.bg.Factor, at, w.floor(at)) > handsOn
}

// usually is the gain that a share of the last frames without anybody by stays below.
func (c *choices) usually(share float64) float64 {
	n := min(c.seen, len(c.gains))
	if n == 0 {
		return math.Inf(-1)
	}
	v := append([]float64(nil), c.gains[:n]...)
	return geom.Select(v, int(share*float64(n-1)))
}

// learnColours takes in the robot's colours at a fit of this look at the whole room.
func (w *Watcher) learnColours(fit *Fit) {
	c := w.choices
	if fit.Visible < 0.97 || fit.Support < 0.6 || w.crowd > 0.2 ||
		math.Hypot(fit.Pose.X-c.lastAt.X, fit.Pose.Y-c.lastAt.Y) < w.set.Robot.Radius()/4 {
		return
	}
	c.lastAt = fit.Pose
	c.reg.Take(&w.small, &w.su, &w.sv, &w.lt, fit.Pose)
	if c.taken++; c.taken >= c.next {
		c.next = 2 * c.taken
		c.reg.Know()
	}
}

// Anew makes the next frame one by itself, as where single frames of a
// recording are judged: where the robot was says nothing of where it is.
func (w *Watcher) Anew() {
	w.have, w.single = false, true
	w.choices.anew()
}

// anew forgets the frames so far.
func (c *choices) anew() {
	c.dec, c.frames, c.first, c.revised = decide.New(decide.DefaultOptions(c.area)), nil, 0, nil
}

// afresh tells whether the robot is looked for in this frame as if it had never
// been seen: who follows something else would follow it on.
func (w *Watcher) afresh() bool {
	every := afreshEvery
	if !w.set.Robot.Round() {
		every *= 4
	}
	return w.choices.dec.Frames()%every == 0
}

// afreshEvery is after how many frames the whole room is searched again: a 16th of
// them costs a thirtieth of the time, of a robot that is not round, in all its headings, a third. In
// one recording of a grey robot on grey tiles at 18 kbit/s it was lost for 12 % with it, for 28 without.
const afreshEvery = 16

// noted keeps the sighting that was made of the last frame.
func (c *choices) noted(s Sighting) {
	f := &c.frames[len(c.frames)-1]
	f.s, f.blind = s, c.reg.hist == nil
}

// Revised returns the sightings that were decided otherwise than they were
// returned by Look, since it was last called; with end, all that are left.
func (w *Watcher) Revised(end bool) []Sighting {
	c := w.choices
	for _, d := range c.dec.Decided(end) {
		fr := &c.frames[d.Frame-c.first]
		if fr.open(d.Place) {
			c.open = append(c.open, fr.s.T)
		}
		if d.Place == fr.chosen {
			continue
		}
		s := fr.s
		s.Revised = true
		s.Source = ""
		if d.Place < 0 {
			s.Found, s.Why = false, WhyNothing
		} else {
			s.Found, s.Why = true, ""
			w.fill(&s, &fr.fits[d.Place])
		}
		c.revised = append(c.revised, s)
	}
	if n := c.dec.Done() - c.first; n > 0 {
		c.frames = append(c.frames[:0], c.frames[n:]...)
		c.first += n
	}
	out := c.revised
	c.revised = nil
	return out
}

// fill takes a fit into a sighting.
func (w *Watcher) fill(s *Sighting, fit *Fit) {
	s.X, s.Y, s.Cov = fit.Pose.X, fit.Pose.Y, fit.Cov
	_, open := slices.BinarySearch(w.choices.open, s.T)
	s.Settles = w.again && open
	if !w.set.Robot.Round() {
		s.Source, s.Turn, s.TurnSigma = "outline", fit.Pose.Heading, math.Hypot(turnSlack, fit.Turn)
	}
	s.Visible, s.Support, s.RMS, s.Edge, s.Rim, s.Gain = fit.Visible, fit.Support, fit.RMS, fit.Edge, fit.Rim, fit.Gain
}

// Revise puts revised sightings in the place of the first ones; both are in the
// order of time.
func Revise(s, revised []Sighting) {
	i := len(s)
	for k := len(revised) - 1; k >= 0; k-- {
		for i > 0 && s[i-1].T > revised[k].T {
			i--
		}
		if i > 0 && s[i-1].T == revised[k].T {
			frame := s[i-1].Frame
			s[i-1] = revised[k]
			s[i-1].Frame = frame
		}
	}
}
