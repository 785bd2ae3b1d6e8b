package sight

import (
	"math"

	"swathe/geom"
)

// colour is luminance, put into the background's light, and both chromas less 128.
type colour [3]float32

// palette is the few colours that a test object is made of.
type palette []colour

// chromaWeight: chroma is less noisy than light and does not change in shadow.
const chromaWeight = 2.25

// shadeCost is what a shadow (or a reflection) that must be assumed costs, grey
// levels for the whole light; shadows take darkest of it at most.
const (
	shadeCost = 80
	darkest   = 0.6
	brightest = 1.15
)

// off is how far a colour is from another that may lie in shadow, grey levels
// squared.
func (c colour) off(m colour) float32 {
	g := float32(1)
	if m[0] > 4 {
		g = max(darkest, min(brightest, c[0]/m[0]))
	}
	y, u, v, s := c[0]-g*m[0], c[1]-g*m[1], c[2]-g*m[2], shadeCost*(1-g)
	return y*y + chromaWeight*(u*u+v*v) + s*s
}

func (p palette) off(c colour) float32 {
	best := float32(math.MaxFloat32)
	for _, m := range p {
		best = min(best, c.off(m))
	}
	return best
}

// objectWindow is a square piece of the plane of a test object's top, evenly sampled:
// what the picture and the bare room show there. In that plane a test object that is
// moved keeps its shape.
type objectWindow struct {
	x, y, step float64 // floor, m, of sample 0; spacing
	n          int     // samples along each side
	see        []bool  // nothing known stands before the sample
	now, bare  []colour
	sign       []float32 // -1 the test object .. +1 floor; 0: neither, or not to be seen
	alien      []bool    // neither looks like it
}

// margin to a neighbour's silhouette, m.
const objectApart = 0.01

// open fills the window for a test object about a place, half m to each side.
func (e *objectEye) open(p *Picture, q *object, at geom.Point2, half float64) *objectWindow {
	w := &e.win
	w.step = q.mpp
	w.n = 2*int(math.Ceil(half/w.step)) + 1
	if w.n > 401 {
		w.n = 401
		w.step = half / 200
	}
	k := float64(w.n-1) / 2 * w.step
	w.x, w.y = at.X-k, at.Y-k
	size := w.n * w.n
	if cap(w.see) < size {
		w.see, w.alien, w.sign = make([]bool, size), make([]bool, size), make([]float32, size)
		w.now, w.bare = make([]colour, size), make([]colour, size)
	}
	w.see, w.alien, w.sign, w.now, w.bare = w.see[:size], w.alien[:size], w.sign[:size], w.now[:size], w.bare[:size]
	z := q.floor + q.height
	others := e.neighbours(q, at, half)
	warp := e.warpAt(geom.Point3{X: at.X, Y: at.Y, Z: z}, half)
	bare := e.room()
	lo, hi := boxOf(e.robot)
	var line []geom.Point2
	for j := 0; j < w.n; j++ {
		for i := 0; i < w.n; i++ {
			o := j*w.n + i
			w.see[o], w.alien[o], w.sign[o] = false, false, 0
			f := geom.Point3{X: w.x + float64(i)*w.step, Y: w.y + float64(j)*w.step, Z: z}
			px, ok := e.set.Cam.Project(f)
			if !ok || e.set.Hidden != nil && e.set.Hidden(f) {
				continue
			}
			if px.X >= lo.X && px.X <= hi.X && px.Y >= lo.Y && px.Y <= hi.Y && geom.InRing(e.robot, px) {
				continue
			}
			covered := false
			for _, line = range others {
				covered = covered || geom.InRing(line, geom.Point2{X: f.X, Y: f.Y})
			}
			if covered {
				continue
			}
			c, ok := e.colourAt(bare, px, px, false)
			if !ok {
				continue
			}
			at := px
			if warp != nil {
				at = warp(px)
			}
			d, ok := e.colourAt(p, at, px, true)
			if !ok {
				continue
			}
			w.bare[o], w.now[o], w.see[o] = c, d, true
		}
	}
	return w
}

// neighbours returns the outlines, in the plane of q's top and with a margin,
// of the other test objects near a place.
func (e *objectEye) neighbours(q *object, at geom.Point2, half float64) (out [][]geom.Point2) {
	for _, o := range e.list {
		if o == q || o.state == objectUnseen || o.state == objectTaken || o.state == objectWaits && o.absent {
			continue
		}
		if math.Hypot(o.at.X-at.X, o.at.Y-at.Y) > 1.5*half+o.radius+0.1 {
			continue
		}
		k := 1 + objectApart/o.radius
		ring := placed(o.outline, o.at)
		for i := range ring {
			ring[i] = geom.Point2{X: o.at.X + k*(ring[i].X-o.at.X), Y: o.at.Y + k*(ring[i].Y-o.at.Y)}
		}
		out = append(out, ring)
	}
	return out
}

func boxOf(p []geom.Point2) (lo, hi geom.Point2) {
	lo, hi = geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, q := range p {
		lo.X, lo.Y = math.Min(lo.X, q.X), math.Min(lo.Y, q.Y)
		hi.X, hi.Y = math.Max(hi.X, q.X), math.Max(hi.Y, q.Y)
	}
	return lo, hi
}

// warpAt is the map of a moved camera near a point; nil if it has not moved.
func (e *objectEye) warpAt(f geom.Point3, half float64) func(geom.Point2) geom.Point2 {
	if e.w.motion.Px == 0 {
		return nil
	}
	c, ok := e.set.Cam.Project(f)
	if !ok {
		return nil
	}
	return e.w.anchors.Warp(e.w.motion.W, c, math.Max(8, half/e.set.Cam.PixelSize(f)))
}

// colourAt samples a picture at a pixel; lit puts it into the background's
// light, as it was measured at pixel ref.
func (e *objectEye) colourAt(p *Picture, at, ref geom.Point2, lit bool) (c colour, ok bool) {
	y, ok := p.Y.At(at.X, at.Y)
	if !ok {
		return c, false
	}
	u, ok1 := p.U.At(math.Max(0, (at.X-0.5)/2), math.Max(0, (at.Y-0.5)/2))
	v, ok2 := p.V.At(math.Max(0, (at.X-0.5)/2), math.Max(0, (at.Y-0.5)/2))
	if !ok1 || !ok2 {
		return c, false
	}
	if lit && e.w.lt.nx > 0 {
		f := float64(e.w.bg.Factor)
		y /= float32(math.Max(0.05, e.w.lt.at((ref.X+0.5)/f-0.5, (ref.Y+0.5)/f-0.5)))
	}
	return colour{y, u - 128, v - 128}, true
}

// alienOff is how far a colour must be from test object and floor alike, grey levels,
// to be a third thing: a leg, a hand.
const alienOff = 26

// tell fills in what of the window looks like the test object and what like floor.
func (e *objectEye) tell(w *objectWindow, look palette) {
	eps := float32(9 * e.w.bg.Noise * e.w.bg.Noise)
	for o := range w.see {
		w.sign[o], w.alien[o] = 0, false
		if !w.see[o] {
			continue
		}
		a, b := look.off(w.now[o]), w.now[o].off(w.bare[o])
		w.sign[o] = (a - b) / (a + b + eps)
		w.alien[o] = min(a, b) > alienOff*alienOff
	}
}

// at samples the sign between its samples; see is false where the nearest one
// is not to be seen or lies outside.
func (w *objectWindow) at(x, y float64) (s float32, see bool) {
	fx, fy := (x-w.x)/w.step, (y-w.y)/w.step
	ix, iy := int(fx), int(fy)
	if fx < 0 || fy < 0 || ix >= w.n-1 || iy >= w.n-1 {
		return 0, false
	}
	u, v := float32(fx-float64(ix)), float32(fy-float64(iy))
	o := iy*w.n + ix
	n := o
	if u > 0.5 {
		n++
	}
	if v > 0.5 {
		n += w.n
	}
	if !w.see[n] {
		return 0, false
	}
	s0 := w.sign[o] + (w.sign[o+1]-w.sign[o])*u
	s1 := w.sign[o+w.n] + (w.sign[o+w.n+1]-w.sign[o+w.n])*u
	return s0 + (s1-s0)*v, true
}

// maxShape bounds the sample points of a silhouette.
const maxShape = 900

// form returns points spread evenly over what a test object shows in the plane of its
// top when it lies at a pose, about that place: its top, and its sides as far
// as the lens sees them.
func (e *objectEye) form(q *object, at geom.Pose) []geom.Point2 {
	if q.shape != nil && math.Hypot(q.shapeAt.X-at.X, q.shapeAt.Y-at.Y) < 0.05 && math.Abs(geom.WrapAngle(at.Heading-q.shapeAt.Heading)) < 0.05 {
		return q.shape
	}
	c := e.set.Cam.Centre
	top := placed(q.outline, at)
	k := (c.Z - q.floor - q.height) / (c.Z - q.floor) // base onto the top's plane, towards the nadir
	var layers [][]geom.Point2
	shift := (1 - k) * (math.Hypot(at.X-c.X, at.Y-c.Y) + q.radius)
	n := min(24, int(math.Ceil(shift/(q.mpp/2))))
	for i := 0; i <= n; i++ {
		s := 1.0
		if n > 0 {
			s = 1 + (k-1)*float64(i)/float64(n)
		}
		ring := make([]geom.Point2, len(top))
		for j, p := range top {
			ring[j] = geom.Point2{X: c.X + s*(p.X-c.X), Y: c.Y + s*(p.Y-c.Y)}
		}
		layers = append(layers, ring)
	}
	lo, hi := boxOf(top)
	for _, l := range layers {
		a, b := boxOf(l)
		lo = geom.Point2{X: math.Min(lo.X, a.X), Y: math.Min(lo.Y, a.Y)}
		hi = geom.Point2{X: math.Max(hi.X, b.X), Y: math.Max(hi.Y, b.Y)}
	}
	step := math.Max(q.mpp/2.5, math.Sqrt((hi.X-lo.X)*(hi.Y-lo.Y)/maxShape))
	// A long thin thing fills little of its box.
	step = math.Min(step, math.Max(q.mpp/2.5, narrowest(q.outline)/5))
	q.shape = q.shape[:0]
	for y := lo.Y + step/2; y < hi.Y; y += step {
		for x := lo.X + step/2; x < hi.X; x += step {
			for _, l := range layers {
				if geom.InRing(l, geom.Point2{X: x, Y: y}) {
					q.shape = append(q.shape, geom.Point2{X: x - at.X, Y: y - at.Y})
					break
				}
			}
		}
	}
	q.shapeAt = at
	return q.shape
}

// match is how well a test object at a pose explains the window.
type match struct {
	at      geom.Pose
	sum     float64 // what is looked for to be greatest: of -sign over its silhouette, hidden parts 0, 1 at most
	quality float64 // the mean over what can be seen
	visible float64 // share of the silhouette
}

// score lays a silhouette, made for pose from, into the window at pose at;
// every is 1 for all its points.
func (w *objectWindow) score(shape []geom.Point2, from, at geom.Pose, every int) match {
	s, c := math.Sincos(at.Heading - from.Heading)
	var sum float64
	n, all := 0, 0
	for i := 0; i < len(shape); i += every {
		q := shape[i]
		all++
		if v, ok := w.at(at.X+c*q.X-s*q.Y, at.Y+s*q.X+c*q.Y); ok {
			sum -= float64(v)
			n++
		}
	}
	m := match{at: at}
	if n > 0 {
		m.sum, m.quality, m.visible = sum/float64(all), sum/float64(n), float64(n)/float64(all)
	}
	return m
}

// refine moves a match to where it is best, by ever smaller steps.
func (w *objectWindow) refine(shape []geom.Point2, from geom.Pose, best match, radius float64, turn bool) match {
	for step := 2 * w.step; step > 0.03*w.step; step /= 2 {
		for round := 0; round < 12; round++ {
			was := best.sum
			try := func(dx, dy, dh float64) {
				p := geom.Pose{X: best.at.X + dx, Y: best.at.Y + dy, Heading: best.at.Heading + dh}
				if m := w.score(shape, from, p, 1); m.sum > best.sum {
					best = m
				}
			}
			try(step, 0, 0)
			try(-step, 0, 0)
			try(0, step, 0)
			try(0, -step, 0)
			if turn {
				try(0, 0, step/radius)
				try(0, 0, -step/radius)
			}
			if best.sum <= was {
				break
			}
		}
	}
	return best
}

// search looks for a test object in the whole window, in several turns, and returns
// the best place, not refined.
func (w *objectWindow) search(shape []geom.Point2, from geom.Pose, radius float64, turns int) (best match) {
	every := max(1, len(shape)/70)
	half := float64(w.n-1) / 2 * w.step
	reach := math.Max(0, half-0.3*radius)
	best.sum = math.Inf(-1)
	for k := 0; k < turns; k++ {
		h := from.Heading + math.Pi*float64(k)/float64(turns)
		if k > turns/2 {
			h -= math.Pi
		}
		for y := -reach; y <= reach; y += 2 * w.step {
			for x := -reach; x <= reach; x += 2 * w.step {
				if m := w.score(shape, from, geom.Pose{X: w.x + half + x, Y: w.y + half + y, Heading: h}, every); m.sum > best.sum {
					best = m
				}
			}
		}
	}
	return w.score(shape, from, best.at, 1)
}
