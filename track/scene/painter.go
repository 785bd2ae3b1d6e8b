package scene

import (
	"image"
	"math"
	"sort"
)

// painter draws frames of one world into its own picture; one goroutine uses
// one painter.
type painter struct {
	*world
	buf    []uint16
	dirty  []image.Rectangle
	actors []actor
	bodies []prism // the robot at moments within the exposure
	robot  TimedPose
	rows   []span
}

type span struct{ lo, hi int }

// moments is how many poses an exposure is made of.
const moments = 8

func newPainter(w *world) *painter {
	return &painter{world: w, buf: append([]uint16(nil), w.bg...)}
}

// rowTime returns when row j is exposed (the middle of it) in the frame at t.
func (p *painter) rowTime(t float64, j int) float64 {
	g := &p.s.Timing
	if g.Readout > 0 {
		t += g.Readout * ((float64(j)+0.5)/float64(p.h) - 0.5)
	}
	if g.Interlaced && j%2 == 1 {
		t += 0.5 / g.FPS
	}
	return t
}

// pose fills bodies with the robot about time t.
func (p *painter) pose(t float64) {
	n := moments
	e := p.s.Timing.Exposure
	if e == 0 {
		n = 1
	}
	p.bodies = p.bodies[:0]
	body := p.s.body()
	for k := range n {
		at := p.s.Path.At(t + e*((float64(k)+0.5)/float64(n)-0.5))
		p.bodies = append(p.bodies, body.moved(at.Pose, at.Lift))
	}
}

// draw makes the picture at time t in p.buf.
func (p *painter) draw(t float64) {
	for _, r := range p.dirty {
		for j := r.Min.Y; j < r.Max.Y; j++ {
			a, b := 3*(j*p.w+r.Min.X), 3*(j*p.w+r.Max.X)
			copy(p.buf[a:b], p.bg[a:b])
		}
	}
	p.dirty, p.actors = p.dirty[:0], p.actors[:0]
	p.robot = p.s.Path.At(t)
	if !p.s.NoRobot {
		p.actors = append(p.actors, p.robotActor(t))
	}
	p.actors = p.cast(t, p.robot, p.actors)
	p.paintActors(t)
	for i := range p.s.DoorSet {
		p.door(&p.s.DoorSet[i], t)
	}
}

// robotActor is the robot with a box that holds it through the whole frame.
func (p *painter) robotActor(t float64) actor {
	body := p.s.body()
	mid := body.moved(p.robot.Pose, p.robot.Lift)
	a := p.newActor(&mid, p.s.Look.Robot.Top)
	a.robot = true
	g := &p.s.Timing
	early := t - (g.Exposure+g.Readout)/2
	late := t + (g.Exposure+g.Readout)/2
	if g.Interlaced {
		late += 0.5 / g.FPS
	}
	for _, u := range []float64{early, late} {
		at := p.s.Path.At(u)
		a.box = a.box.Union(p.box(2+3*p.s.Sensor.Blur, drum{at.X, at.Y, body.bound, at.Lift, at.Lift + p.s.Robot.Height}))
	}
	return a
}

// paintActors draws all actors and their shadows, row by row.
func (p *painter) paintActors(t float64) {
	all := image.Rectangle{}
	for i := range p.actors {
		all = all.Union(p.actors[i].box)
		for _, c := range p.actors[i].casts {
			all = all.Union(c.box)
		}
	}
	still := p.s.Timing.Readout == 0 && !p.s.Timing.Interlaced
	p.pose(t)
	for j := all.Min.Y; j < all.Max.Y; j++ {
		p.rowSpans(j)
		if len(p.rows) == 0 {
			continue
		}
		if !still {
			p.pose(p.rowTime(t, j))
		}
		for _, r := range p.rows {
			for i := r.lo; i < r.hi; i++ {
				p.pixel(i, j)
			}
			p.mark(image.Rect(r.lo, j, r.hi, j+1))
		}
	}
}

// mark remembers that a strip was painted, joined to the one above if it can.
func (p *painter) mark(r image.Rectangle) {
	for k := len(p.dirty) - 1; k >= 0 && k >= len(p.dirty)-4; k-- {
		if d := &p.dirty[k]; d.Max.Y == r.Min.Y && d.Min.X == r.Min.X && d.Max.X == r.Max.X {
			d.Max.Y = r.Max.Y
			return
		}
	}
	p.dirty = append(p.dirty, r)
}

// rowSpans puts the stretches of row j that need painting into p.rows.
func (p *painter) rowSpans(j int) {
	p.rows = p.rows[:0]
	add := func(r image.Rectangle) {
		if j >= r.Min.Y && j < r.Max.Y && r.Min.X < r.Max.X {
			p.rows = append(p.rows, span{r.Min.X, r.Max.X})
		}
	}
	for i := range p.actors {
		add(p.actors[i].box)
		for k := range p.actors[i].casts {
			add(p.actors[i].casts[k].box)
		}
	}
	if len(p.rows) < 2 {
		return
	}
	sort.Slice(p.rows, func(a, b int) bool { return p.rows[a].lo < p.rows[b].lo })
	out := p.rows[:1]
	for _, r := range p.rows[1:] {
		if last := &out[len(out)-1]; r.lo <= last.hi {
			last.hi = max(last.hi, r.hi)
		} else {
			out = append(out, r)
		}
	}
	p.rows = out
}

// pixel paints one pixel: shadows on what is there, then the bodies.
func (p *painter) pixel(i, j int) {
	k := j*p.w + i
	at := image.Point{X: i, Y: j}
	mx, my := p.middle(i, j)
	if math.IsNaN(mx) {
		return
	}
	// Light left on the floor.
	light := 1.0
	if p.floor[k] > 0 {
		dark, near := 0.0, 0.0
		for a := range p.actors {
			for q := range p.actors[a].casts {
				s := &p.actors[a].casts[q]
				if at.In(s.box) {
					d, n := p.shadow(s, mx, my)
					dark, near = max(dark, d), max(near, n)
				}
			}
		}
		light = (1 - p.s.Light.Shadow*dark) * (1 - p.s.Light.Contact*near)
	}
	// Which bodies this pixel may show, and whether an edge of one.
	var list [24]int
	n, edge, rounded := 0, false, false
	var c cell
	m := 0.0
	for a := range p.actors {
		q := &p.actors[a]
		if !at.In(q.box) || n == len(list) {
			continue
		}
		if m == 0 {
			var ok bool
			if c, ok = p.cell(i, j); !ok {
				return
			}
			m = c.size() * (0.75 + 2.2*p.s.Sensor.Blur)
		}
		if q.prism != nil {
			pr := q.prism
			mm := m
			if q.robot {
				pr = &p.bodies[len(p.bodies)/2]
				mm += p.blurReach()
			}
			s := pr.classify(p.view, mx, my, mm)
			if s == outside {
				continue
			}
			edge = edge || s == mixed
		} else {
			rounded = true
		}
		list[n] = a
		n++
	}
	dst := p.buf[3*k:]
	if n == 0 {
		if light < 1 {
			p.darken(k, light)
		}
		return
	}
	vig := p.vignette(i, j)
	ink := pixelInk{light: light, still: -1}
	ink.under = BGR{float32(dst[0]), float32(dst[1]), float32(dst[2])}.Scale(1 / float32(unit*vig)).
		Scale(float32(1 - (1-light)*float64(p.floor[k])/255))
	var sum BGR
	if n == 1 && p.kind[k] == clear && p.actors[list[0]].robot && p.bodies[0].r > 0 && p.bodies[0].rim.In == 0 {
		pat := &p.some
		if edge {
			pat = &p.fine
		}
		put(dst, p.discRays(pat, &c, ink.under).Scale(vig))
		return
	}
	even := false
	if !edge && p.kind[k] != solidSome {
		sum, even = p.rays(&p.some, &c, k, list[:n], &ink)
	}
	// A rounded body's edge shows in that its rays meet different things.
	if !even && (rounded || edge || p.kind[k] != clear) {
		sum, _ = p.rays(&p.fine, &c, k, list[:n], &ink)
	}
	put(dst, sum.Scale(vig))
}

// pixelInk is what the rays of a pixel share.
type pixelInk struct {
	under BGR     // the still picture there, shadowed
	light float64 // left on the floor by what moves
	still float64 // left on the floor by what stands there; -1: not worked out yet
}

// rays returns the mean colour that the pixel's rays see, and whether all of
// them met the same thing.
func (p *painter) rays(pat *pattern, c *cell, k int, list []int, ink *pixelInk) (mean BGR, even bool) {
	even = true
	first := -2
	// One face fills the pixel: how high it is at the middle will do.
	height := 0.0
	if p.kind[k] == solidAll {
		_, _, g := p.trace(c.at(0.5, 0.5))
		height = g.z
	}
	for q := range pat.u {
		x, y := c.at(pat.u[q], pat.v[q])
		who, z, col := p.ray(list, q, x, y)
		switch p.kind[k] {
		case clear:
			if who < 0 {
				col = ink.under
			}
		case solidAll:
			if who < 0 || height > z {
				who, col = -1, ink.under
			}
		default:
			id, _, g := p.trace(x, y)
			switch {
			case id >= 0 && (who < 0 || g.z > z):
				who, col = -1, p.paint(id, &g)
			case who < 0:
				if ink.still < 0 {
					ink.still = p.stillShadow(k%p.w, k/p.w, x, y)
				}
				col = p.ground(x, y).Scale(float32(ink.light * ink.still))
			}
		}
		if first == -2 {
			first = who
		}
		even = even && who == first
		mean[0] += col[0]
		mean[1] += col[1]
		mean[2] += col[2]
	}
	return mean.Scale(1 / float32(len(pat.u))), even
}

// ray follows ray number q to floor point (x, y): which actor it meets first
// (-1: none), at what height, and the colour there.
func (p *painter) ray(list []int, q int, x, y float64) (who int, z float64, col BGR) {
	who = -1
	var best hit
	for _, a := range list {
		s := &p.actors[a]
		var h hit
		var ok bool
		switch {
		case s.robot:
			h, ok = p.bodies[q%len(p.bodies)].hit(p.view, x, y)
		case s.prism != nil:
			h, ok = s.prism.hit(p.view, x, y)
		default:
			h, ok = s.solid.hit(p.view, x, y)
		}
		if ok && (who < 0 || h.z > best.z) {
			who, best = a, h
		}
	}
	if who < 0 {
		return
	}
	s := &p.actors[who]
	z = best.z
	if s.robot {
		col = p.robotColor(best, p.robot.Lift)
		if best.nz == 1 {
			k := 1 - z/p.H
			b := &p.bodies[q%len(p.bodies)]
			g := p.gloss(p.cx+(x-p.cx)*k-b.x, p.cy+(y-p.cy)*k-b.y)
			col[0] += g
			col[1] += g
			col[2] += g
		}
		return
	}
	light := p.shade(best.nx, best.ny, best.nz)
	col = s.color
	if s.paint != nil {
		col = s.paint(best)
	}
	return who, z, col.Scale(float32(light))
}

// darken scales a pixel of the still picture by the light left on its floor.
func (p *painter) darken(k int, light float64) {
	f := uint32((1 - (1-light)*float64(p.floor[k])/255) * 65536)
	d := p.buf[3*k : 3*k+3]
	for q := range d {
		d[q] = uint16(uint32(d[q]) * f >> 16)
	}
}

// blurReach is how far the robot moves while the shutter is open, m.
func (p *painter) blurReach() float64 {
	if len(p.bodies) < 2 {
		return 0
	}
	a, b := &p.bodies[0], &p.bodies[len(p.bodies)-1]
	turn := math.Abs(a.s*b.c-a.c*b.s) * a.bound
	if a.r > 0 {
		turn = 0
	}
	return hypot(a.x-b.x, a.y-b.y) + turn
}
