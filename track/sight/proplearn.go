package sight

import (
	"math"

	"swathe/geom"
)

// objectPatch is one look at a test object's place: what a window showed.
type objectPatch struct {
	t   float64
	now []colour
	see []bool
}

const (
	// learnLooks is how many looks at an undisturbed place its look is learned of.
	learnLooks = 5
	// ringWidth is the width of the floor round a test object that it must differ from, m.
	ringWidth = 0.06
	// leastOff is the least difference from that floor, grey levels, and
	// offSpread the least in units of the floor's own scatter.
	leastOff  = 9
	offSpread = 3
	// leastQuality is how well a learned test object must tell itself from the floor.
	leastQuality = 0.35
)

// shade is how far a test object's shadow may reach beyond it, m.
func (q *object) shade() float64 { return math.Min(0.15, 0.02+0.7*q.height) }

// away is the distance of a point of the plane of q's top from what the test object
// shows there when it lies at a pose, negative within it.
func (e *objectEye) away(q *object, at geom.Pose, p geom.Point2) float64 {
	c := e.set.Cam.Centre
	k := (c.Z - q.floor - q.height) / (c.Z - q.floor)
	ring := placed(q.outline, at)
	best := fromRing(ring, p)
	for i, r := range ring {
		ring[i] = geom.Point2{X: c.X + k*(r.X-c.X), Y: c.Y + k*(r.Y-c.Y)}
	}
	return math.Min(best, fromRing(ring, p))
}

// fromRing is the distance of a point from a polygon, negative within it.
func fromRing(ring []geom.Point2, p geom.Point2) float64 {
	d := math.Inf(1)
	for i, a := range ring {
		v := ring[(i+1)%len(ring)].Sub(a)
		k := 0.0
		if l := v.X*v.X + v.Y*v.Y; l > 0 {
			k = math.Max(0, math.Min(1, ((p.X-a.X)*v.X+(p.Y-a.Y)*v.Y)/l))
		}
		d = math.Min(d, a.Add(v.Scale(k)).Dist(p))
	}
	if geom.InRing(ring, p) {
		return -d
	}
	return d
}

// learn looks at a test object's place until it has been undisturbed for some looks,
// and then tells whether something lies there and what it looks like.
func (e *objectEye) learn(p *Picture, q *object, gap float64) {
	at := geom.Pose{X: q.mid.X, Y: q.mid.Y}
	half := q.radius + q.shade() + ringWidth + 0.02
	w := e.open(p, q, q.mid, half)
	patch := objectPatch{t: p.T, now: append([]colour(nil), w.now...), see: append([]bool(nil), w.see...)}
	if gap < q.shade()+0.02 {
		q.learning = q.learning[:0]
		return
	}
	if n := len(q.learning); n > 0 && len(q.learning[0].now) != len(patch.now) {
		q.learning = q.learning[:0]
	}
	q.learning = append(q.learning, patch)
	if len(q.learning) < learnLooks {
		return
	}
	q.learning = q.learning[len(q.learning)-learnLooks:]
	// The middle look of each sample, and whether all looks agree.
	var in, ring []int
	steady, unseen := 0, 0
	still := make([]colour, len(w.now))
	limit := float32(math.Pow(6*e.w.bg.Noise+6, 2))
	for o := range w.now {
		f := geom.Point2{X: w.x + float64(o%w.n)*w.step, Y: w.y + float64(o/w.n)*w.step}
		d := e.away(q, at, f)
		if d > q.shade()+ringWidth {
			continue
		}
		ok := true
		for _, l := range q.learning {
			ok = ok && l.see[o]
		}
		if !ok {
			unseen++
			continue
		}
		still[o] = middleColour(q.learning, o)
		agree := true
		for _, l := range q.learning {
			agree = agree && l.now[o].off(still[o]) < limit
		}
		if agree {
			steady++
		}
		switch {
		case d < -0.2*w.step:
			in = append(in, o)
		case d > q.shade():
			ring = append(ring, o)
		}
		w.see[o] = true
	}
	seen := len(in) + len(ring)
	if seen == 0 || len(ring) < 20 || len(in) < 4 || float64(steady) < 0.93*float64(steady+unseen) && float64(unseen) > 0.4*float64(steady+unseen) {
		return
	}
	if float64(steady) < 0.95*float64(seen) {
		return // somebody moves there
	}
	floor, spread := floorColour(still, ring)
	least := float32(math.Max(leastOff, offSpread*spread))
	var own []colour
	for _, o := range in {
		if still[o].off(floor) > least*least {
			own = append(own, still[o])
		}
	}
	if float64(len(own)) < 0.5*float64(len(in)) {
		q.absent = true
		q.reason = "nothing was seen there: it was not at its place in the layout, or it resembles the floor"
		return
	}
	copy(w.now, still)
	q.look = coloursOf(own)
	e.bareRoom(q, at, floor, w, p)
	// The window again, now with the floor beneath the test object known.
	w = e.open(p, q, q.mid, half)
	e.tell(w, q.look)
	shape := e.form(q, at)
	m := w.refine(shape, at, w.score(shape, at, at, 1), q.radius, false)
	if m.quality < leastQuality {
		q.absent = true
		q.reason = "it hardly differs from the floor around it"
		return
	}
	q.quality = m.quality
	q.at, q.home = m.at, m.at
	q.state, q.reason, q.fresh = objectLies, "", p.T
	if q.absent {
		q.laid = q.learning[0].t
	}
	q.learning = nil
	q.log = append(q.log, objectLook{t: p.T, at: m.at, visible: m.visible, gap: gap})
	if e.kept == nil || e.kept.T != p.T {
		e.kept = p.Clone()
	}
	q.before, q.after = e.kept, e.crop(p, q)
}

// middleColour is the middle look at one sample, channel by channel.
func middleColour(l []objectPatch, o int) (c colour) {
	var v []float64
	for ch := range c {
		v = v[:0]
		for i := range l {
			v = append(v, float64(l[i].now[o][ch]))
		}
		c[ch] = float32(median(v))
	}
	return c
}

// floorColour is the middle colour of samples and their scatter about it, grey
// levels.
func floorColour(now []colour, of []int) (c colour, spread float64) {
	var v []float64
	for ch := range c {
		v = v[:0]
		for _, o := range of {
			v = append(v, float64(now[o][ch]))
		}
		c[ch] = float32(median(v))
	}
	v = v[:0]
	for _, o := range of {
		v = append(v, math.Sqrt(float64(now[o].off(c))))
	}
	return c, median(v)
}

// coloursOf finds up to three colours that stand for many: k-means from the
// middle one and those farthest from what is there already.
func coloursOf(all []colour) palette {
	index := make([]int, len(all))
	for i := range index {
		index[i] = i
	}
	first, _ := floorColour(all, index)
	p := palette{first}
	for len(p) < 3 {
		// The colour that a tenth of the samples are farther off than.
		d := make([]float64, len(all))
		for i, c := range all {
			d[i] = float64(p.off(c))
		}
		edge := geom.Select(append([]float64(nil), d...), len(d)*9/10)
		if edge < 10*10 {
			break
		}
		for i := range d {
			if d[i] == edge {
				p = append(p, all[i])
				break
			}
		}
		for round := 0; round < 4; round++ {
			sum := make([]colour, len(p))
			n := make([]float32, len(p))
			for _, c := range all {
				best := 0
				for k := range p {
					if c.off(p[k]) < c.off(p[best]) {
						best = k
					}
				}
				n[best]++
				for ch := range c {
					sum[best][ch] += c[ch]
				}
			}
			for k := range p {
				for ch := range p[k] {
					if n[k] > 0 {
						p[k][ch] = sum[k][ch] / n[k]
					}
				}
			}
		}
	}
	return p
}

// room is the floor without test objects: the background, put right by bareRoom.
func (e *objectEye) room() *Picture {
	if e.floor == nil {
		b := e.w.bg
		e.floor = &Picture{Y: b.Y.Clone(), U: b.U.Clone(), V: b.V.Clone()}
	}
	return e.floor
}

// bareRoom takes a test object that was just learned out of the room: from where it
// lies, if the background holds it there, and from where else the background
// holds something of its colours that the picture does not show.
func (e *objectEye) bareRoom(q *object, at geom.Pose, floor colour, w *objectWindow, p *Picture) {
	room := e.room()
	there, n := 0, 0
	for o := range w.bare {
		f := geom.Point2{X: w.x + float64(o%w.n)*w.step, Y: w.y + float64(o/w.n)*w.step}
		if w.see[o] && e.away(q, at, f) < 0 {
			n++
			if q.look.off(w.bare[o]) < w.bare[o].off(floor) {
				there++
			}
		}
	}
	fill := n > 0 && float64(there) > 0.2*float64(n)
	z := q.floor + q.height
	reach := q.radius + q.shade() + 0.02
	inZone := func(px geom.Point2) bool {
		f, ok := e.set.Cam.Floor(px, z)
		if !ok || math.Abs(f.X-at.X) > reach+0.1 || math.Abs(f.Y-at.Y) > reach+0.1 {
			return false
		}
		return e.away(q, at, f) < q.shade()
	}
	lo, hi := boxOf(e.robot)
	warp := func(px geom.Point2) geom.Point2 { return px }
	if e.w.motion.Px > 0 {
		warp = e.w.anchors.Warp(e.w.motion.W, geom.Point2{X: float64(e.set.Cam.Width) / 2, Y: float64(e.set.Cam.Height) / 2}, 100)
	}
	// A quarter of the pixels is enough: chroma has no more.
	for y := 0; y+1 < room.Y.H; y += 2 {
		for x := 0; x+1 < room.Y.W; x += 2 {
			px := geom.Point2{X: float64(x) + 0.5, Y: float64(y) + 0.5}
			if y/2 >= room.U.H || x/2 >= room.U.W {
				continue
			}
			k := y*room.Y.Stride + x
			ku := y/2*room.U.Stride + x/2
			b := colour{float32(room.Y.Pix[k]), float32(room.U.Pix[ku]) - 128, float32(room.V.Pix[y/2*room.V.Stride+x/2]) - 128}
			if q.look.off(b) > alienOff*alienOff && !fill {
				continue
			}
			zone := inZone(px)
			var c colour
			switch {
			case zone && fill:
				c = floor
			case zone || q.look.off(b) > alienOff*alienOff || px.X >= lo.X && px.X <= hi.X && px.Y >= lo.Y && px.Y <= hi.Y:
				continue
			default:
				now, ok := e.colourAt(p, warp(px), px, true)
				if !ok || now.off(b) < alienOff*alienOff {
					continue
				}
				c = now
			}
			for j := 0; j < 2; j++ {
				for i := 0; i < 2; i++ {
					room.Y.Pix[k+j*room.Y.Stride+i] = clamp8(int32(c[0] + 0.5))
				}
			}
			room.U.Pix[ku] = clamp8(int32(c[1] + 128.5))
			room.V.Pix[y/2*room.V.Stride+x/2] = clamp8(int32(c[2] + 128.5))
		}
	}
}
