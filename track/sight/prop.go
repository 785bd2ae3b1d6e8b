package sight

import (
	"math"

	"swathe/geom"
)

// ObjectSight is what was seen of a test object of the layout, with pictures.
type ObjectSight struct {
	geom.ObjectSight
	Before []byte `json:"before,omitempty"` // PNG of it and what is around it, before the robot came and in the end
	After  []byte `json:"after,omitempty"`
}

// How near the robot must be, m between the outlines, for what.
const (
	contactReach = 0.08 // it may move the test object before the next look
	metReach     = 0.03 // it may have moved the test object
	shadowReach  = 0.10 // its shadow or its side may spoil a measurement
)

// State of what is known of a test object.
const (
	objectWaits  = iota // its looks are being learned, or it is not there yet
	objectLies          // its place is known
	objectTaken         // somebody took it away
	objectUnseen        // nothing can be said of it
)

// test object is one small thing of the plan and what has been seen of it.
type object struct {
	name    string
	outline []geom.Point2 // about the centroid, m
	mid     geom.Point2   // centroid as the layout has it
	radius  float64       // m, of the outline about its centroid
	floor   float64       // height of the floor there, m
	height  float64
	mpp     float64 // m a pixel at its top

	state    int
	reason   string
	learning []objectPatch
	absent   bool // it was looked for before and was not there
	laid     float64
	taken    float64

	look    palette
	quality float64   // of the match when it was learned
	at      geom.Pose // Heading: its turn
	home    geom.Pose // where it lay when the robot was last away from it
	fresh   float64   // time of the last match
	robotBy bool      // the robot was near since then
	met     bool      // so near that it may have moved it
	shape   []geom.Point2
	shapeAt geom.Pose

	cand      geom.Pose // a place to which it may have been moved by hand
	candN     int
	goneSince float64

	next, nextAfter float64
	log             []objectLook
	before          *Picture   // when it was learned
	after           objectCrop // when it was last clear of the robot
}

// objectLook is one measurement of a test object's place.
type objectLook struct {
	t       float64
	at      geom.Pose
	visible float64
	gap     float64 // m to the robot
	held    bool    // not measured: the robot beside it, nothing speaks against its old place
	met     bool    // the robot was so near since the look before that it may have moved it
}

// objectEye looks at the test objects of a plan while a Watcher looks for the robot.
type objectEye struct {
	set   *Setup
	w     *Watcher
	list  []*object
	floor *Picture // the room without the test objects
	win   objectWindow

	robot    []geom.Point2 // px, its silhouette with a margin; empty: not in sight
	outline  geom.Outline
	at       geom.Pose
	known    bool // at is where the robot is
	everSeen bool
	kept     *Picture // of the last test object that was learned
}

// robotEdge is how far from the robot's outline its edge may show, px.
const robotEdge = 1.2

// leastPx is the least width in the picture at which a test object is looked for, px.
const leastPx = 3

func newObjectEye(w *Watcher, pieces []geom.Piece) *objectEye {
	if len(pieces) == 0 {
		return nil
	}
	e := &objectEye{set: &w.set, w: w}
	for _, pc := range pieces {
		e.list = append(e.list, newObject(&w.set, pc))
	}
	return e
}

func newObject(set *Setup, pc geom.Piece) *object {
	ring := geom.RingCorners(pc.Outline)
	mid := geom.Centroid(ring)
	p := &object{name: pc.Name, mid: mid, floor: set.Floor(mid), height: pc.Height, goneSince: math.NaN(), laid: math.NaN(), taken: math.NaN()}
	for _, q := range ring {
		q = q.Sub(mid)
		p.outline = append(p.outline, q)
		p.radius = math.Max(p.radius, q.Norm())
	}
	p.at = geom.Pose{X: mid.X, Y: mid.Y}
	top := geom.Point3{X: mid.X, Y: mid.Y, Z: p.floor + p.height}
	p.mpp = set.Cam.PixelSize(top)
	px, ok := set.Cam.Project(top)
	switch {
	case !ok || !set.Cam.InFrame(px) || math.IsNaN(p.mpp):
		p.state, p.reason = objectUnseen, "it lies outside the picture"
	case set.Hidden != nil && set.Hidden(top):
		p.state, p.reason = objectUnseen, "something of the layout hides it from the camera"
	case narrowest(p.outline)/p.mpp < leastPx:
		p.state, p.reason = objectUnseen, "it is too small to see: less than 3 pixels"
	}
	return p
}

// narrowest is the least width of an outline over the directions of its edges.
func narrowest(ring []geom.Point2) float64 {
	best := math.Inf(1)
	for i, p := range ring {
		d := ring[(i+1)%len(ring)].Sub(p)
		l := d.Norm()
		if l == 0 {
			continue
		}
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, q := range ring {
			v := (d.X*(q.Y-p.Y) - d.Y*(q.X-p.X)) / l
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
		best = math.Min(best, hi-lo)
	}
	return best
}

// see looks at every test object whose turn it is, once the Watcher is done with
// picture p and found the robot or did not.
func (e *objectEye) see(p *Picture, found bool) {
	w := e.w
	e.known, e.robot = found, e.robot[:0]
	if found {
		e.everSeen = true
		e.at = w.last
		body := e.set.Robot
		z := w.floor(e.at)
		m := robotEdge * e.set.Cam.PixelSize(geom.Point3{X: e.at.X, Y: e.at.Y, Z: z + body.Height})
		if body.Round() {
			body.Diameter += 2 * m
		} else {
			k := 1 + m/body.Reach()
			grown := make([]geom.Point2, len(body.Outline))
			for i, q := range body.Outline {
				grown[i] = q.Scale(k)
			}
			body.Outline = grown
		}
		if e.outline.SetSilhouette(e.set.Cam, body, e.at, z, 48) {
			for _, q := range e.outline.Points {
				e.robot = append(e.robot, q.Px)
			}
		}
	}
	for _, q := range e.list {
		if q.state == objectUnseen || q.state == objectTaken || p.T < q.next {
			continue
		}
		gap := e.gap(q, q.at)
		q.next = p.T + e.every(q, gap) - 0.01
		// A robot that is out of sight may be anywhere near.
		if !found && e.everSeen && gap < 0.5 {
			q.robotBy, q.met = true, true
			continue
		}
		if q.state == objectWaits {
			e.learn(p, q, gap)
			continue
		}
		e.follow(p, q, gap)
	}
}

// every is the time to the next look at a test object, s.
func (e *objectEye) every(q *object, gap float64) float64 {
	d := 2 * e.set.Robot.Radius()
	switch {
	case gap < d/2:
		return 0.05 // every look
	case gap < 2*d || q.state == objectWaits && !q.absent || q.candN > 0 || !math.IsNaN(q.goneSince):
		return 0.2
	}
	return 1
}

// gap is the distance between the robot's outline, where it was seen last, and
// a test object at a pose, negative by how far it reaches into it (of a robot that is
// not round: of the circle about it); infinite while the robot was never seen.
func (e *objectEye) gap(q *object, at geom.Pose) float64 {
	if !e.everSeen {
		return math.Inf(1)
	}
	c := geom.Point2{X: e.at.X, Y: e.at.Y}
	ring := placed(q.outline, at)
	if geom.InRing(ring, c) {
		return -e.set.Robot.Reach()
	}
	d := math.Inf(1)
	for i, a := range ring {
		v := ring[(i+1)%len(ring)].Sub(a)
		k := 0.0
		if l := v.X*v.X + v.Y*v.Y; l > 0 {
			k = math.Max(0, math.Min(1, ((c.X-a.X)*v.X+(c.Y-a.Y)*v.Y)/l))
		}
		d = math.Min(d, a.Add(v.Scale(k)).Dist(c))
	}
	return d - e.set.Robot.Reach()
}

func placed(outline []geom.Point2, at geom.Pose) []geom.Point2 {
	out := make([]geom.Point2, len(outline))
	for i, q := range outline {
		out[i] = at.At(q)
	}
	return out
}

// Test objects tells, once all frames have been looked at, what was seen of the plan's
// test objects, in the plan's order; nil if it has none.
func (w *Watcher) TestObjects() []ObjectSight {
	if w.objects == nil {
		return nil
	}
	var out []ObjectSight
	for _, q := range w.objects.list {
		out = append(out, q.sight())
	}
	return out
}
