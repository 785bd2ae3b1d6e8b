package sight

import (
	"math"

	"swathe/geom"
)

// A robot as dark as its own shadow makes two outlines of much the same worth,
// one of them beside it. Which is the robot only its top can tell: unwrapped
// about a wrong centre, or at a wrong heading, it is another picture. So while a run is
// watched the top is known as far as it has been seen, and is a part of what makes a
// place likely (told).

// topSoFar is what is known of a top during a run.
type topSoFar struct {
	model  *topModel // nil: nothing yet, or the top is plain
	usual  float64   // how well it matches the looks that it was made from, median
	seen   int       // looks at the top so far
	next   int       // the model is made anew at so many looks
	solver *topSolver
}

// Known tells whether the top is known well enough to judge a fit by.
func (t *Texture) Known() bool { return t.soFar.model != nil }

// The top is solved after firstTop looks and again each time there are half as
// many more, from no more than topLooks of them. Each time it begins with the
// direction of travel: a top seen in one heading only is taken for other than it
// is, lamps and all, and that must not stay.
const (
	firstTop = 120
	topLooks = 480
)

// When the top may judge a fit. Three in four of the looks that its model was made
// from must match it by surely or more: on a plain top, which has nothing but noise
// and the light on it, they match by 0.3 to 0.7, on one with anything on it by 0.95
// and more. And the headings in which it was seen must spread by fewWays or more:
// a pattern turns with the robot, light that falls on it does not.
const (
	surely  = 0.8
	fewWays = 0.2
)

// topShown is the share of the top that must show for it to judge a fit.
const topShown = 0.8

// rivalReach is how much farther off other places are looked for than the robot
// itself, px: an outline beside the robot may have been followed for a while.
const rivalReach = 8

// learn solves what is known of the top from the looks so far.
func (t *Texture) learn() {
	k := &t.soFar
	k.next = max(firstTop, k.seen+k.seen/2)
	if len(t.looks) < firstTop {
		return
	}
	if k.solver == nil {
		k.solver = newSolver()
	}
	few := len(t.looks)
	if t.turned {
		few = fewStill
	}
	looks, heads := lively(t.looks, t.firstHeads(t.looks), few)
	if len(looks) < firstTop/2 {
		return
	}
	first := append([]float64(nil), heads...)
	if m, match := k.solver.top(looks, heads); t.borneOut(looks, first, heads) {
		t.know(&m, match)
	}
}

// fewStill is how many looks at a robot that stands tell as much as all of them. A
// round one may turn on the spot meanwhile.
const fewStill = 20

// lively are no more than topLooks of some looks, and of their headings: few of
// those at which the pose stays.
func lively(looks []unwrapped, heads []float64, few int) ([]unwrapped, []float64) {
	var at []int
	last, still := 0, 0
	for i := range looks {
		a, b := looks[last].pose, looks[i].pose
		if still++; math.Hypot(a.X-b.X, a.Y-b.Y) > 0.005 || math.Abs(geom.WrapAngle(a.Heading-b.Heading)) > 0.03 {
			last, still = i, 0
		}
		if still < few {
			at = append(at, i)
		}
	}
	n := min(len(at), topLooks)
	some, h := make([]unwrapped, n), make([]float64, n)
	for k := range some {
		i := at[k*len(at)/n]
		some[k], h[k] = looks[i], heads[i]
	}
	return some, h
}

// know takes in what the top turned out to be, and its matches. What is no picture
// of a top beyond doubt does not take the place of one that was.
func (t *Texture) know(m *topModel, match []float64) {
	if m.judges(match) {
		t.soFar.model, t.soFar.usual = m, match[len(match)/2]
	}
}

// Match is how well a look matches the top as known so far (which it must be),
// as a share of what is usual, and at which turn; where the outline gives a
// heading it must match at that.
func (t *Texture) Match(u *unwrapped) (share, turn float64) {
	k := &t.soFar
	k.solver.correlate(u, k.model)
	turn, v, _ := k.solver.best()
	if t.turned {
		v = k.solver.near(u.pose.Heading)
	}
	return v / k.usual, turn
}

// topRead is the last reading of the top.
type topRead struct {
	t    float64
	pose geom.Pose
	u    unwrapped
	ok   bool
}

// readTop reads the top of a robot at a fit in a picture; nil where it does not
// show. What it returns holds until the next call.
func (w *Watcher) readTop(p *Picture, fit Fit) *unwrapped {
	l := &w.top
	if l.t != p.T || l.pose != fit.Pose {
		hidden := w.set.Hidden
		if fit.Visible > 0.999 {
			hidden = nil
		}
		z := w.floor(fit.Pose)
		mpp := w.set.Cam.PixelSize(geom.Point3{X: fit.Pose.X, Y: fit.Pose.Y, Z: z + w.set.Robot.Height})
		centre := math.Sqrt((fit.Cov[0]+fit.Cov[2])/2) / mpp
		l.t, l.pose = p.T, fit.Pose
		l.u, l.ok = w.tex.Read(&p.Y, topAt{p.T, fit.Pose, z, fit.Gain, centre, w.fitter.Warp, hidden})
	}
	if !l.ok {
		return nil
	}
	return &l.u
}

// topMatch is Texture.Match at a fit in a picture; ok is false where the top is not
// known yet or too little of it shows.
func (w *Watcher) topMatch(p *Picture, fit Fit) (share, turn float64, ok bool) {
	if !w.tex.Known() {
		return 0, 0, false
	}
	u := w.readTop(p, fit)
	if u == nil || u.shown < topShown {
		return 0, 0, false
	}
	share, turn = w.tex.Match(u)
	return share, turn, true
}

// sameHeading is the difference, rad, below which two headings are one.
const sameHeading = 0.06
