package sight

import (
	"math"

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

	unsettled bool    // a look before the colours were known was decided to have found nothing, and does not know why
	blind     float64 // s, of the last such look
}

type choiceFrame struct {
	fits   []Fit
	chosen int
	s      Sighting
	blind  bool // the colours were not known yet
}

func newChoices(set *Setup, bg *Background) *choices {
	if bg.region == nil || !set.Robot.Round() {
		return nil
	}
	area := (set.Hi.X - set.Lo.X) * (set.Hi.Y - set.Lo.Y)
	reg := *bg.region
	return &choices{reg: &reg, area: area, dec: decide.New(decide.DefaultOptions(area)), next: coloursKnown, lastAt: geom.Pose{X: math.NaN()}}
}

// coloursKnown is how many looks at the robot make its colours known.
const coloursKnown = 6

// gain is the log likelihood ratio of a fit, nats: a linear function of what
// the fit and the colours tell, the weights found by conditional logistic
// regression (which of a frame's places is the true one, within 8 mm) on three
// drawn recordings of 18 to 40 kbit/s; the zero is where places that are far
// from the robot hardly ever reach.
func gain(f *Fit, in, beyond float64) float64 {
	return 0.7 * (7.65*f.Support + 9.44*f.Edges - 10.33*f.RMS*f.RMS + 3.86*math.Log(math.Max(1, f.Edge)) + 6.05*f.Rim + 2.06*in - 16*beyond - gainZero)
}

// gainZero is the sum at which a place is as likely as none: of places that are
// far from the robot the best of a frame reaches 11 to 17 in the middle, the
// robot's own 16 to 28.
const gainZero = 14

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

// usualIn and usualBeyond stand for what the colours tell of a robot in its
// place where they are not known or not asked.
const (
	usualIn     = 1.5
	usualBeyond = 0.15
)

// sure tells whether a fit, of whose top so much is told, is beyond doubt by itself: by
// its edges it is more likely than any wrong place of the recordings that the weights are from.
func sure(f *Fit, top float64) bool {
	return f.Visible > 0.9 && top >= 0 && gain(f, usualIn, usualBeyond) > sureGain
}

// What the picture of the top tells of a place, nats: linear in how well it matches
// there, as a share of what is usual. On twelve rooms by chance the robot's own places
// match by 0.70 and more, others by 0.72 and less (3,233 and 344 places); on three
// labs of 18 to 150 kbit/s the most likely slope beside gain is 35, tempered as gain's
// weights are, and as many places of the robot as others match by 0.77.
const (
	topSlope = 25
	topEven  = 0.75 // at this share it tells nothing
	topMost  = 6    // either way
)

// told is what the picture of the top tells of a fit in this picture, nats; 0 where
// the top is not known yet or does not show.
func (w *Watcher) told(p *Picture, f *Fit) float64 {
	share, _, ok := w.topMatch(p, *f)
	if !ok {
		return 0
	}
	return math.Max(-topMost, math.Min(topMost, topSlope*(share-topEven)))
}

// sureGain is the gain of a fit beyond doubt, nats; of places more than 60 mm
// beside the robot 98 % have less than 4.8.
const sureGain = 7

// among proposes the places of a frame, of which today's fit is one if found,
// and returns the one in which the best path so far ends.
func (w *Watcher) among(p *Picture, fit Fit, found, whole bool) (Fit, bool) {
	c := w.choices
	var fr choiceFrame
	var plains, gains []float64 // without what the top tells, and with it
	add := func(f Fit, plain, top float64) {
		for i := range fr.fits {
			o := &fr.fits[i]
			if math.Hypot(o.Pose.X-f.Pose.X, o.Pose.Y-f.Pose.Y) < 0.002 {
				return
			}
		}
		fr.fits, plains, gains = append(fr.fits, f), append(plains, plain), append(gains, plain+top)
	}
	top := 0.0
	if found {
		top = w.told(p, &fit)
	}
	switch {
	case found && sure(&fit, top) || c.reg.hist == nil:
		if found {
			add(fit, gain(&fit, usualIn, usualBeyond), top)
		}
	default:
		if !whole {
			w.whole(p)
		}
		w.propose(p, fit, found, top, add)
	}
	places := make([]decide.Place, len(fr.fits))
	for i := range fr.fits {
		f := &fr.fits[i]
		slip := 0.0
		if w.again {
			slip = Slip(f.RMS) * w.mpp(f.Pose)
		}
		places[i] = decide.Place{X: f.Pose.X, Y: f.Pose.Y, Var: (f.Cov[0]+f.Cov[2])/2 + placeSlack*placeSlack + slip*slip, Gain: gains[i]}
	}
	fr.chosen = c.dec.Add(p.T, w.missing(p.T), places)
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

// placeSlack is what a fit errs beside its scatter, m.
const placeSlack = 0.003

// Slip is a quarter of how far, px, an outline may hop from one edge to another that
// is much like it: of edges that scatter by rms px.
func Slip(rms float64) float64 { return 0.14 + 2.5*math.Min(rms*rms, 0.25) }

// mpp is the size of a pixel at the height of the robot's top, m.
func (w *Watcher) mpp(at geom.Pose) float64 {
	return w.set.Cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: w.set.Robot.Height})
}

// propose adds the fits round all places that may be the robot's; top is what the top
// tells of the fit of the moment.
func (w *Watcher) propose(p *Picture, fit Fit, found bool, top float64, add func(f Fit, plain, top float64)) {
	c := w.choices
	r := c.reg
	r.Fill(&w.small, &w.su, &w.sv, &w.lt)
	best := math.Inf(-1)
	if found {
		in, beyond := r.Parts(fit.Pose)
		plain := gain(&fit, in, beyond)
		add(fit, plain, top)
		best = plain + top
	}
	// In somebody's hands it is larger than it may be: there only what looks as
	// the robot usually does in this recording is proposed, or what has its top.
	least := math.Inf(-1)
	if w.held(w.last) {
		least = c.usually(0.2)
	}
	round := func(at geom.Pose, reach float64) {
		w.aim(at)
		w.fitter.Expect = 0
		least := least
		if w.held(at) {
			least = c.usually(0.2)
		}
		for _, f := range w.fitter.All(&p.Y, &w.bg.Y, at, reach) {
			if !w.set.May(geom.Point2{X: f.Pose.X, Y: f.Pose.Y}) {
				continue
			}
			in, beyond := r.Parts(f.Pose)
			if plain, top := gain(&f, in, beyond), w.told(p, &f); plain+top >= least {
				add(f, plain, top)
				best = math.Max(best, plain+top)
			}
		}
	}
	for _, g := range c.dec.Expect(p.T, 2, 0.02) {
		at := geom.Pose{X: g.X, Y: g.Y}
		if m := w.mpp(at); m > 0 {
			round(at, math.Min(24, math.Max(4, (0.02+2.5*g.Sigma)/m)))
		}
	}
	if top < 0 { // the robot lies beside it
		round(fit.Pose, searchReach(&w.set)+rivalReach)
	}
	if best > 0 && len(c.frames)%8 != 0 {
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
	w.have = false
	if c := w.choices; c != nil {
		c.anew()
	}
}

// anew forgets the frames so far.
func (c *choices) anew() {
	c.dec, c.frames, c.first, c.revised = decide.New(decide.DefaultOptions(c.area)), nil, 0, nil
}

// afresh tells whether the robot is looked for in this frame as if it had never
// been seen: who follows something else would follow it on.
func (c *choices) afresh() bool { return c != nil && c.dec.Frames()%afreshEvery == 0 }

// afreshEvery is after how many frames the whole room is searched again: a 16th of
// them costs a thirtieth of the time. In one recording of a grey robot on grey tiles at 18 kbit/s
// it was lost for 12 % with it, for 28 without.
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
	if c == nil {
		return nil
	}
	for _, d := range c.dec.Decided(end) {
		fr := &c.frames[d.Frame-c.first]
		if fr.blind && d.Place < 0 && (fr.s.Found || fr.s.Why == WhyNothing) {
			c.unsettled, c.blind = true, fr.s.T
		}
		if d.Place == fr.chosen {
			continue
		}
		s := fr.s
		s.Revised = true
		if d.Place < 0 {
			s.Found, s.Why, s.Source = false, WhyNothing, ""
		} else {
			s.Found, s.Why = true, ""
			s.fill(&fr.fits[d.Place])
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
func (s *Sighting) fill(fit *Fit) {
	s.X, s.Y, s.Cov = fit.Pose.X, fit.Pose.Y, fit.Cov
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
