package sight

import (
	"math"

	"swathe/geom"
)

// Watcher looks at the frames of one run, in order, against a background.
type Watcher struct {
	set    Setup
	bg     *Background
	fitter *Fitter
	finder *Finder
	tex    *Texture

	Marker MarkerEye // reads the marker that the robot carries; nil if it has none

	anchors   *Anchors
	motion    Motion
	shakeEnd  float64 // until then the picture may shake: look at every frame
	lastSteer float64 // time of the last look at the anchors
	adrift    float64 // since when the anchors are not found, NaN if they are

	small, su, sv Plane
	bgRoom        room // the background in the colours of small
	tinted        smallPicture
	ssmall        [3]Plane
	buf           []float32
	lt            light
	lastWhole     float64 // time of the last whole-room look
	changed       float64

	have    bool // the robot was found at the last look
	ever    bool
	last    geom.Pose
	lastT   float64
	learned geom.Pose // where its look was taken in last
	vx, vy  float64
	known   int     // looks in a row by which its speed is known
	rate    float64 // rad/s, of a robot that is not round
	crowd   float64
	people  *people
	person  *Person // as of the last look at the whole room
	persons Plane   // where persons may be, of a film
	top     topRead
	mark    marked
	choices *choices
	again   bool // the run's beginning is looked at once more
	single  bool // frames are judged by themselves

	objects *objectEye // nil: the layout has no test objects
}

// wholeEvery is the time between looks at the whole room while the robot is in
// sight, s; while it is not, every look is one.
const wholeEvery = 0.4

// NewWatcher returns a Watcher for a set-up and its background.
func NewWatcher(set Setup, bg *Background) *Watcher {
	w := &Watcher{set: set, bg: bg}
	w.fitter = NewFitter(set.Cam, set.Robot, set.Floor, set.Hidden)
	w.finder = NewFinder(&set, bg)
	w.tex = NewTexture(&set)
	w.people = newPeople(set.Cam, bg.Small.W, bg.Small.H, bg.Factor)
	w.anchors = NewAnchors(set.Cam, &bg.Y, bg.Noise)
	w.anchors.flat = bg.flat
	w.fresh()
	w.choices = newChoices(&w.set, bg)
	w.objects = newObjectEye(w, set.TestObjects)
	return w
}

func (w *Watcher) floor(p geom.Pose) float64 { return w.set.Floor(geom.Point2{X: p.X, Y: p.Y}) }

func (w *Watcher) smallRoom() room { return room{&w.small, &w.su, &w.sv} }

// whole looks at the whole room.
func (w *Watcher) whole(p *Picture) {
	w.small = p.Y.Shrink(w.bg.Factor, w.small)
	w.su = chromaSmall(&p.U, w.bg.Factor, w.small, w.su)
	w.sv = chromaSmall(&p.V, w.bg.Factor, w.small, w.sv)
	if f := float64(w.bg.Factor); w.motion.Px > 0.2*f {
		for i, q := range []*Plane{&w.small, &w.su, &w.sv} {
			w.ssmall[i] = w.anchors.unmove(q, w.motion.W, f, w.ssmall[i])
			*q, w.ssmall[i] = w.ssmall[i], *q
		}
	}
	w.bgRoom = w.bg.room()
	if c, changed := colourChange(w.bgRoom, w.smallRoom()); changed {
		if w.tinted.y.W == 0 {
			w.tinted = smallPicture{w.bg.Small.Clone(), w.bg.SmallU.Clone(), w.bg.SmallV.Clone()}
		}
		c.paint(w.bgRoom, w.tinted.room())
		w.bgRoom = w.tinted.room()
	}
	w.lt = relight(&w.small, w.bgRoom.y)
	w.changed, w.buf = w.finder.Difference(w.smallRoom(), w.bgRoom, w.bg.Noise, &w.lt, w.buf)
	w.lastWhole = p.T
}

// steerEvery is the time between looks at the anchors of a camera at rest, s.
const steerEvery = 1.0

// shake is the movement between two looks at the anchors, px, above which they
// are looked at in every frame for the next shakeFor seconds.
const (
	shake    = 0.3
	shakeFor = 6
)

// steer measures how the camera has moved.
func (w *Watcher) steer(p *Picture) {
	if !w.anchors.Enough() || p.T > w.shakeEnd && p.T-w.lastSteer < steerEvery && p.T >= w.lastSteer {
		return
	}
	before := w.motion
	m, ok := w.anchors.Measure(&p.Y, before.W)
	if !ok {
		w.small = p.Y.Shrink(w.bg.Factor, w.small)
		m, ok = w.anchors.far(&p.Y, &w.small, &w.bg.Small, w.bg.Factor)
	}
	if !ok && before.Px < float64(w.bg.Factor)/4 && inPlace(&w.small, &w.bg.Small) {
		// The light or the encoder has changed what the anchors look like.
		w.lastSteer, w.adrift = p.T, math.NaN()
		return
	}
	if !ok {
		if math.IsNaN(w.adrift) {
			w.adrift = p.T
		}
		w.shakeEnd, w.lastSteer = p.T+shakeFor, p.T
		return
	}
	w.adrift = math.NaN()
	if m.Px < negligible {
		m.W, m.Px = [3]float64{}, 0
	}
	d := w.anchors.edge([3]float64{m.W[0] - before.W[0], m.W[1] - before.W[1], m.W[2] - before.W[2]})
	if d > shake && !math.IsInf(w.lastSteer, -1) || w.bg.flat && w.bg.Moved > shake {
		w.shakeEnd = p.T + shakeFor
	}
	w.motion, w.lastSteer = m, p.T
}

// aim sets the fitter's map for a robot near a pose.
func (w *Watcher) aim(at geom.Pose) {
	w.fitter.Warp = nil
	if w.motion.Px == 0 {
		return
	}
	z := w.floor(at) + w.set.Robot.Height
	c, ok := w.set.Cam.Project(geom.Point3{X: at.X, Y: at.Y, Z: z})
	if !ok {
		return
	}
	r := w.set.Robot.Reach() / w.set.Cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: z})
	w.fitter.Warp = w.anchors.Warp(w.motion.W, c, math.Max(8, r))
}

// Look looks at one frame.
func (w *Watcher) Look(p *Picture) (s Sighting) {
	s = Sighting{T: p.T}
	if w.objects != nil && !w.again {
		defer func() { w.objects.see(p, s.Found) }()
	}
	defer func() { w.choices.noted(s) }()
	w.steer(p)
	s.Shift = w.motion.Px
	if !math.IsNaN(w.adrift) {
		s.Adrift = p.T - w.adrift + 1e-3
	}
	whole := false
	if !w.have || p.T-w.lastWhole >= wholeEvery || p.T < w.lastWhole {
		w.whole(p)
		whole = true
	}
	var fit Fit
	found := false
	dt := p.T - w.lastT
	if w.have && dt > 0 && dt < 0.6 && !w.afresh() {
		guess := geom.Pose{X: w.last.X + w.vx*dt, Y: w.last.Y + w.vy*dt, Heading: w.last.Heading + w.rate*dt}
		mpp := w.set.Cam.PixelSize(geom.Point3{X: guess.X, Y: guess.Y, Z: w.set.Robot.Height})
		// A robot changes its speed by some 0.6 m/s within a look at most.
		reach := math.Min(24, math.Max(4, 0.6*dt/mpp+2))
		w.aim(guess)
		w.fitter.Expect = 0.006 + hardBrake*dt*dt/2
		if w.known < 3 { // nobody knows its speed yet
			w.fitter.Expect += usualSpeed * dt
		}
		f, ok := w.fitter.At(&p.Y, &w.bg.Y, guess, reach)
		if ok && seen(&f) && math.Hypot(f.Pose.X-w.last.X, f.Pose.Y-w.last.Y) < 1.5*dt+0.05 {
			fit, found = f, true
		}
	}
	if !found {
		if !whole {
			w.whole(p)
		}
		if fit, found = w.search(p); found {
			w.aim(fit.Pose)
		}
	}
	s.Changed = w.changed
	if !found {
		fit, found = w.byMarker(p)
	}
	fit, found = w.among(p, fit, found, whole || w.lastWhole == p.T)
	whole = whole || w.lastWhole == p.T
	if !found {
		w.miss(&s)
		return s
	}
	w.take(p, &s, fit, whole)
	return s
}

// usualSpeed is what a robot drives at, m/s (common practice).
const usualSpeed = 0.3

// fastestTurn is above what robots turn on the spot at, rad/s (common practice: 3).
const fastestTurn = 6

// hardBrake is the acceleration with which a place is expected, m/s^2.
const hardBrake = 2

// search looks for the robot among everything that is not floor.
func (w *Watcher) search(p *Picture) (best Fit, found bool) {
	w.fitter.Expect = 0
	is := elsewhere
	if w.single {
		is = alone
	}
	most := math.Inf(-1)
	for _, c := range w.finder.Candidates(5, w.set.Robot.Radius()) {
		w.aim(c.Pose)
		f, ok := w.fitTurned(p, c.Pose)
		if g := byEdges(&f); ok && is(&f) && g > most && w.set.May(geom.Point2{X: f.Pose.X, Y: f.Pose.Y}) {
			best, found, most = f, true, g
		}
	}
	return best, found
}

// searchReach is how far from where something was seen the outline is looked for, px.
func searchReach(set *Setup) float64 { return math.Max(6, set.robotPx()/2.2) }

// fitTurned fits the outline near a place, a robot that is not round in every
// heading, and keeps the best.
func (w *Watcher) fitTurned(p *Picture, at geom.Pose) (best Fit, ok bool) {
	at.Heading = w.last.Heading
	return w.fitter.Turned(&p.Y, &w.bg.Y, at, searchReach(&w.set))
}

// take makes a fit the sighting and the state to go on from.
func (w *Watcher) take(p *Picture, s *Sighting, fit Fit, whole bool) {
	dt := p.T - w.lastT
	z := w.floor(fit.Pose)
	if w.have && dt > 0 && dt < 0.6 {
		w.vx = 0.5*w.vx + 0.5*(fit.Pose.X-w.last.X)/dt
		w.vy = 0.5*w.vy + 0.5*(fit.Pose.Y-w.last.Y)/dt
		turned := geom.WrapAngle(fit.Pose.Heading-w.last.Heading) / dt
		if w.rate = 0.5*w.rate + 0.5*turned; math.Abs(turned) > fastestTurn {
			w.rate = 0 // it had been taken hold of the wrong way round
		}
		w.known++
	} else {
		w.vx, w.vy, w.rate, w.known = 0, 0, 0, 0
	}
	if whole {
		w.crowd = w.finder.Crowd(w.set.Cam, w.set.Robot, w.bg.Factor, fit.Pose, z)
		w.somebody(p.T, fit.Pose, true)
	}
	w.have, w.ever = true, true
	w.last, w.lastT = fit.Pose, p.T
	s.Found = true
	w.fill(s, &fit)
	s.Crowd, s.Person = w.crowd, w.person
	w.readMarker(p, s)
	if whole && !w.again {
		w.learnColours(&fit)
	}
	// Every so often, and where nothing speaks against it, the robot's look.
	if whole && !w.again && fit.Visible > 0.97 && fit.Support > 0.85 && fit.RMS < 0.42 && w.crowd < 0.2 &&
		!(math.Hypot(fit.Pose.X-w.learned.X, fit.Pose.Y-w.learned.Y) < w.set.Robot.Radius()/2) {
		w.learned = fit.Pose
		w.fitter.LearnRim(&p.Y, &w.bg.Y, fit, z)
	}
	if w.crowd < 0.5 { // its shadow may make a third of that
		if u := w.readTop(p, fit); u != nil {
			if w.again {
				w.tex.insert(*u, s.Settles)
			} else {
				w.tex.Add(*u)
			}
		}
	}
}

// somebody looks for a person near the robot in what the last look at the whole
// room gave.
func (w *Watcher) somebody(t float64, at geom.Pose, found bool) {
	w.person = nil
	if w.changed > tooMuch {
		return
	}
	s := smallScene{&w.finder.Foreground, w.smallRoom(), w.bgRoom, &w.lt}
	if p, ok := w.people.find(t, s, at, w.set.Robot.Reach(), found); ok {
		w.person = &p
	}
}

// tooMuch is the share of the picture that differs from the background above
// which that is no person: the light, or the camera, has changed.
const tooMuch = 0.5

// Turns returns, once all frames have been looked at, how the top of the robot
// was turned at the looks that can tell; Merge puts them into the sightings.
func (w *Watcher) Turns() []Turn { return w.tex.Turns() }

// miss says why the robot was not found.
func (w *Watcher) miss(s *Sighting) {
	s.Why = WhyNothing
	if w.ever {
		z := w.floor(w.last)
		s.Crowd = w.finder.Crowd(w.set.Cam, w.set.Robot, w.bg.Factor, w.last, z)
		in := w.finder.Inside(w.set.Cam, w.set.Robot, w.bg.Factor, w.last, z, nil)
		s.Gone = in < 0.25
		w.somebody(s.T, w.last, false)
		s.Person = w.person
		dt := math.Min(s.T-w.lastT, 1)
		ahead := geom.Point3{X: w.last.X + w.vx*dt, Y: w.last.Y + w.vy*dt, Z: z + w.set.Robot.Height}
		if w.set.Hides != nil {
			for _, q := range []geom.Point3{ahead, {X: w.last.X, Y: w.last.Y, Z: ahead.Z}} {
				if name, hid := w.set.Hides(q); hid {
					s.Why = WhyHidden + name
				}
			}
		}
		if px, ok := w.set.Cam.Project(ahead); s.Why == WhyNothing && (!ok || !w.set.Cam.InFrame(px)) {
			s.Why = WhyOutside
		}
		if s.Why == WhyNothing && in > 0.5 && s.Crowd > 0.3 {
			s.Why = WhyCovered
		}
	}
	w.have = false
}
