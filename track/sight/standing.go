package sight

import (
	"math"

	"swathe/geom"
)

// Standing looks for the robot in the background itself, where it has never
// been seen before it: a robot that never moves is floor to everything else. Its
// outline alone is not enough, for the lines of a floor and the shadow beside a
// piece of furniture make one by chance. What lies within must be unlike the rest
// of the floor, and brighter than what lies beside it all round, or darker.
func (w *Watcher) Standing() (at geom.Point2, ok bool) {
	if w.ever || w.again {
		return at, false
	}
	w.fitter.Warp = nil
	best := 0.0
	look := newFloorLook(w.finder.Places, w.bg.room(), w.set.Robot.Reach())
	for i := range w.finder.Places {
		p := &w.finder.Places[i]
		reach := 0.75 * w.finder.Step / w.set.Cam.PixelSize(geom.Point3{X: p.pose.X, Y: p.pose.Y})
		f, good := w.fitter.At(&w.bg.Y, nil, p.pose, math.Max(2, reach))
		// Without a difference to back them, edges must be there all round.
		if !good || f.Visible < 0.7 || f.Support < 0.9 || f.RMS > 0.45 || f.Edge < 3 {
			continue
		}
		if q := f.Support * f.Visible / (0.3 + f.RMS); q > best && w.fitter.oneSided(&w.bg.Y) && look.standsOut(p) {
			best, at, ok = q, geom.Point2{X: f.Pose.X, Y: f.Pose.Y}, true
		}
	}
	return at, ok
}

// NoteStanding says in the last of a run's looks that the robot stands at a
// place, and has done so throughout.
func NoteStanding(s []Sighting, at geom.Point2) {
	if len(s) > 0 {
		l := &s[len(s)-1]
		l.Why, l.X, l.Y = WhyStanding, at.X, at.Y
	}
}

// oneSided tells whether what lies within the outline of the last fit is brighter
// than what lies beside it all round, or darker: a body is. An outline of other
// things' edges is made of stretches each of which is this or that.
func (f *Fitter) oneSided(p *Plane) bool {
	brighter, n := 0, 0
	for k := range f.outl.Points[:f.base] {
		q := &f.outl.Points[k]
		in, okIn := p.At(q.Px.X-sideBy*q.Normal.X, q.Px.Y-sideBy*q.Normal.Y)
		out, okOut := p.At(q.Px.X+sideBy*q.Normal.X, q.Px.Y+sideBy*q.Normal.Y)
		if f.rays[k].w == 0 || !okIn || !okOut {
			continue
		}
		n++
		if in > out {
			brighter++
		}
	}
	return n > 0 && max(brighter, n-brighter) >= n-n/stretches
}

// sideBy is how far beside the outline the two sides are compared, px: clear of
// the edge's blur. Of some eight stretches of an outline, each as long as a
// quarter of a turn's half, one may border on a thing that is yet darker, or
// brighter; that eight by chance agree so far happens in 18 of 256 cases.
const (
	sideBy    = 2
	stretches = 8
)

// floorLook is how a room looks at places spread over its floor.
type floorLook struct {
	room room
	far  float64      // m, from where on two places share nothing of a robot
	of   []spotColour // some of the places
}

// spotColour is the mean colour within a place, grey levels, and how much it
// varies there.
type spotColour struct {
	at geom.Pose
	c  [4]float64
}

// spotSample is how many places stand for the floor: enough to tell the most
// unlike twentieth of them by twenty.
const spotSample = 400

// standingChance is how often a place of an empty floor may pass for one that
// stands out: by its definition as the share of the floor's own places.
const standingChance = 0.05

func newFloorLook(places []place, r room, reach float64) *floorLook {
	l := &floorLook{room: r, far: 2 * reach}
	n := min(len(places), spotSample)
	for k := range n {
		p := &places[k*len(places)/n]
		l.of = append(l.of, spotColour{p.pose, l.colour(p)})
	}
	return l
}

func (l *floorLook) colour(p *place) (c [4]float64) {
	n, sq := float64(len(p.in)), 0.0
	for _, i := range p.in {
		x, y := int(i)%l.room.y.W, int(i)/l.room.y.W
		v := float64(l.room.y.Pix[y*l.room.y.Stride+x])
		c[0] += v / n
		sq += v * v / n
		c[1] += float64(l.room.u.Pix[y*l.room.u.Stride+x]) / n
		c[2] += float64(l.room.v.Pix[y*l.room.v.Stride+x]) / n
	}
	c[3] = math.Sqrt(math.Max(0, sq-c[0]*c[0]))
	return c
}

// unlike is how far a colour is from the nearest of a place that shares nothing
// with a robot at a pose.
func (l *floorLook) unlike(at geom.Pose, c [4]float64) float64 {
	least := math.Inf(1)
	for i := range l.of {
		o := &l.of[i]
		if math.Hypot(o.at.X-at.X, o.at.Y-at.Y) < l.far {
			continue
		}
		d := 0.0
		for k := range c {
			d += (c[k] - o.c[k]) * (c[k] - o.c[k])
		}
		least = math.Min(least, d)
	}
	return least
}

// standsOut tells whether a place is as unlike the rest of the floor as only
// standingChance of the floor's own places are: of those that share nothing with it.
func (l *floorLook) standsOut(p *place) bool {
	mine := l.unlike(p.pose, l.colour(p))
	n, as := 0, 0
	for i := range l.of {
		if o := &l.of[i]; math.Hypot(o.at.X-p.pose.X, o.at.Y-p.pose.Y) >= l.far {
			n++
			if l.unlike(o.at, o.c) >= mine {
				as++
			}
		}
	}
	return n > 0 && float64(as) <= standingChance*float64(n)
}
