package sight

import (
	"math"

	"swathe/geom"
)

const (
	// stillQuality is the share of the learned match at which a test object is still
	// where it is thought to be, foundQuality that at which a place found by
	// search is believed.
	stillQuality = 0.6
	foundQuality = 0.75
	// staysQuality is the share of the learned match at which a test object with the
	// robot beside it is taken not to have moved, and leastGain what another
	// place must match better by: the robot's shadow on the floor looks like a
	// dark test object. A box 80 mm wide loses 0.075 with 3 mm. It must show all but
	// what the robot's edge hides, and not reach into the robot by more than
	// staysDepth, m: that would be one that was moved, or is driven over.
	staysQuality = 0.92
	leastGain    = 0.05
	staysVisible = 0.88
	staysDepth   = 0.006
	// movedGain is what a place must match better by, once the robot is away again, than
	// the one where the test object lay before it came. Along itself a long one
	// matches nearly alike for millimetres (0.003 for 3 mm of a cord 350 mm long); a cup
	// 70 mm wide loses 0.04 with 3 mm.
	movedGain = 0.012
	// leastVisible is the share of a test object that must be in view.
	leastVisible = 0.4
	// byHand is how many looks in a row must find a test object at a new place that
	// the robot cannot have brought it to.
	byHand = 3
	// goneFor is for how long bare floor must show where a test object lay, s, before
	// it was taken away.
	goneFor = 1.0
)

// follow measures where a known test object lies now.
func (e *objectEye) follow(p *Picture, q *object, gap float64) {
	if gap < contactReach {
		q.robotBy = true
	}
	q.met = q.met || gap < metReach
	near := gap < 0.5*e.set.Robot.Radius()
	slack := 0.03
	if near {
		slack = 0.10
	}
	w := e.open(p, q, geom.Point2{X: q.at.X, Y: q.at.Y}, q.radius+slack)
	e.tell(w, q.look)
	shape := e.form(q, q.at)
	from := q.shapeAt
	here := w.score(shape, from, q.at, 1)
	if here.visible < leastVisible && !near {
		return // somebody stands before it
	}
	best := here
	stays := near && here.quality >= staysQuality*q.quality && here.visible >= staysVisible && gap > -staysDepth
	held := stays
	if here.visible >= leastVisible && !stays {
		if near && here.quality < 0.9*q.quality {
			// It may have been pushed by some pixels since the last look.
			every := max(1, len(shape)/150)
			top := w.score(shape, from, q.at, every)
			for y := -8.0; y <= 8; y += 2 {
				for x := -8.0; x <= 8; x += 2 {
					at := geom.Pose{X: q.at.X + x*w.step, Y: q.at.Y + y*w.step, Heading: q.at.Heading}
					if m := w.score(shape, from, at, every); m.sum > top.sum+0.02 {
						top = m
					}
				}
			}
			best = w.score(shape, from, top.at, 1)
		}
		best = w.refine(shape, from, best, q.radius, near && here.quality < 0.9*q.quality)
		if near && best.sum < here.sum+leastGain && here.quality >= stillQuality*q.quality {
			best, held = here, true
		}
	}
	if best.quality >= stillQuality*q.quality && best.visible >= leastVisible {
		if q.met && gap > shadowReach {
			if home := w.score(shape, from, q.home, 1); best.sum < home.sum+movedGain {
				best = home
			}
		}
		e.found(p, q, best, held)
		return
	}
	if near || q.robotBy {
		if m, ok := e.seek(p, q); ok {
			e.found(p, q, m, false)
			return
		}
	}
	e.missing(p, q, here, gap)
}

// seek looks for a test object that the robot may have moved: round its last place and
// round the robot.
func (e *objectEye) seek(p *Picture, q *object) (match, bool) {
	places := []geom.Point2{{X: q.at.X, Y: q.at.Y}}
	if e.known && p.T-q.fresh > 0.3 {
		places = append(places, geom.Point2{X: e.at.X, Y: e.at.Y})
	}
	for i, c := range places {
		half := q.radius + 0.12
		if i > 0 {
			half = q.radius + e.set.Robot.Reach() + 0.08
		}
		if m, ok := e.seekAt(p, q, c, half, 6); ok {
			return m, true
		}
	}
	return match{}, false
}

func (e *objectEye) seekAt(p *Picture, q *object, c geom.Point2, half float64, turns int) (match, bool) {
	w := e.open(p, q, c, half)
	e.tell(w, q.look)
	shape := e.form(q, q.at)
	m := w.search(shape, q.shapeAt, q.radius, turns)
	if m.visible < 0.3 || m.quality < 0.4*q.quality {
		return m, false
	}
	m = w.refine(shape, q.shapeAt, m, q.radius, true)
	return m, m.quality >= foundQuality*q.quality && m.visible >= leastVisible
}

// found takes a measured place in.
func (e *objectEye) found(p *Picture, q *object, m match, held bool) {
	far := math.Hypot(m.at.X-q.at.X, m.at.Y-q.at.Y)
	gap := e.gap(q, m.at)
	if far > handRest && !q.met {
		// Nothing that the robot did: it must lie there for some looks.
		if math.Hypot(m.at.X-q.cand.X, m.at.Y-q.cand.Y) > 0.006 {
			q.cand, q.candN = m.at, 0
		}
		if q.candN++; q.candN < byHand {
			return
		}
	}
	q.goneSince = math.NaN()
	q.fresh = p.T
	m.at.Heading = geom.WrapAngle(m.at.Heading)
	// Nobody has been at it: what it is measured off by is the light's doing,
	// and the next look is to begin from where it lies.
	if q.met || far > handRest {
		q.at = m.at
	}
	q.candN = 0
	q.log = append(q.log, objectLook{p.T, m.at, m.visible, gap, held, q.met})
	if gap > shadowReach {
		q.robotBy, q.met, q.home = false, false, q.at
	}
	if gap > shadowReach && p.T >= q.nextAfter {
		q.after = e.crop(p, q)
		q.nextAfter = p.T + 1
	}
}

// missing takes in that a test object is not where it was: hidden, or gone.
func (e *objectEye) missing(p *Picture, q *object, here match, gap float64) {
	w := e.open(p, q, geom.Point2{X: q.at.X, Y: q.at.Y}, q.radius+0.03)
	e.tell(w, q.look)
	floor, seen := 0, 0
	for _, d := range e.form(q, q.at) {
		i, j := int(math.Round((q.at.X+d.X-w.x)/w.step)), int(math.Round((q.at.Y+d.Y-w.y)/w.step))
		if i < 0 || j < 0 || i >= w.n || j >= w.n || !w.see[j*w.n+i] {
			continue
		}
		seen++
		if o := j*w.n + i; !w.alien[o] && w.sign[o] > 0 {
			floor++
		}
	}
	if seen*5 < 3*len(q.shape) || floor*10 < 7*seen {
		q.goneSince = math.NaN()
		return // something covers it
	}
	if math.IsNaN(q.goneSince) {
		q.goneSince = p.T
	}
	if q.robotBy || gap < contactReach {
		return // the robot has it, or it will be found where it was brought
	}
	if m, ok := e.seekAt(p, q, geom.Point2{X: q.at.X, Y: q.at.Y}, q.radius+0.3, 6); ok {
		e.found(p, q, m, false)
		return
	}
	if p.T-q.goneSince >= goneFor {
		q.state, q.taken = objectTaken, (q.fresh+q.goneSince)/2
		q.after = e.crop(p, q)
	}
}
