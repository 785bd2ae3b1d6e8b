package scene

import (
	"image"
	"math"

	"swathe/geom"
)

// static is a thing that stands still all through the recording.
type static struct {
	prism
	color   BGR
	grain   float64 // strength of its surface's pattern
	seed    uint64
	surface *Surface        // of a rug: takes the place of colour and grain
	dims    image.Rectangle // pixels whose floor it may shadow
}

// rug is a flat part of the floor with a surface of its own.
type rug struct {
	prism
	surface *Surface
}

// world is the scene as one camera sees it, with its still picture.
type world struct {
	*view
	s       *Scene
	statics []static
	room    prism
	rugs    []rug   // without a height
	lx, ly  float64 // unit vector to the lamp
	lz      float64

	bg    []uint16 // h*w*3, grey levels times unit
	kind  []uint8  // per pixel: clear, solidAll or solidSome
	floor []uint8  // per pixel: share of its rays that meet the floor, of 255
	top   []uint32 // the robot's top as 0xRRGGBB, topN square, from -1 to 1 of its reach
	topN  int
	reach float64   // m, the robot's
	gauss []float32 // exp(-x/0.18) at x = k/64
	fine  pattern   // for edges
	some  pattern   // for even stretches
}

// unit is the fixed point of pictures before they become bytes: 1/128 of a
// grey level, so that noise dithers every step.
const unit = 128

// What a pixel of the still picture shows.
const (
	clear     = iota // nothing but floor
	solidAll         // one face of one thing that stands there
	solidSome        // an edge
)

const nothing = -1 // floor, in place of an index into statics

func newWorld(s *Scene, cam *geom.Camera) *world {
	w := &world{view: newView(cam), s: s, reach: s.Robot.Reach()}
	w.fine, w.some = newPattern(64, s.Sensor.Blur), newPattern(8, s.Sensor.Blur)
	w.setUp()
	for i := range w.statics {
		w.statics[i].dims = w.dims(&w.statics[i].prism)
	}
	w.paintTop()
	w.paintStill()
	return w
}

// setUp puts the still things in their places.
func (w *world) setUp() {
	s := w.s
	n := math.Sqrt(1 + s.Light.Toward.X*s.Light.Toward.X + s.Light.Toward.Y*s.Light.Toward.Y)
	w.lx, w.ly, w.lz = s.Light.Toward.X/n, s.Light.Toward.Y/n, 1/n
	w.room = newPoly(ring(s.Plan.Room), 0, 0, true)
	w.walls()
	pick := func(colors []BGR, i int) BGR {
		if len(colors) == 0 {
			return Grey(110)
		}
		return colors[i%len(colors)]
	}
	replaced := map[string]bool{}
	for _, m := range s.Movers {
		replaced[m.Replaces] = true
	}
	for i, o := range s.Plan.Obstacles {
		if !replaced[o.Name] {
			w.statics = append(w.statics, static{newPoly(ring(o.Outline), 0, o.Height, false), pick(s.Look.Obstacles, i), 0.08, uint64(i) + 11, nil, image.Rectangle{}})
		}
	}
	for i, o := range s.Plan.Overhead {
		// A sheet at its height; what holds it up is left out.
		w.statics = append(w.statics, static{newPoly(ring(o.Outline), o.Height-0.0002, o.Height, false), pick(s.Look.Overhead, i), 0.08, uint64(i) + 41, nil, image.Rectangle{}})
	}
	for i, a := range s.Plan.Areas {
		if a.Kind != geom.AreaSurface || len(s.Look.Areas) == 0 {
			continue
		}
		look := &s.Look.Areas[i%len(s.Look.Areas)]
		if a.Height > 0 {
			w.statics = append(w.statics, static{newPoly(ring(a.Outline), 0, a.Height, false), look.Color, 0, 0, look, image.Rectangle{}})
			continue
		}
		w.rugs = append(w.rugs, rug{newPoly(ring(a.Outline), 0, 0, true), look})
	}
}

// ring turns a closed ring into corners, not closed.
var ring = geom.RingCorners

// walls stands a board along every side of the room, outside of it.
func (w *world) walls() {
	h, t := w.s.Look.WallHeight, w.s.Look.WallThickness
	if h <= 0 || t <= 0 {
		return
	}
	p := w.room.poly
	n := len(p)
	out := make([]geom.Point2, n)
	for i := range p {
		a, b, c := p[(i+n-1)%n], p[i], p[(i+1)%n]
		n1, n2 := normal(a, b), normal(b, c)
		k := 1 + n1.X*n2.X + n1.Y*n2.Y
		out[i] = b.Add(n1.Add(n2).Scale(t / max(k, 0.2)))
	}
	for i := range p {
		j := (i + 1) % n
		w.statics = append(w.statics, static{newPoly([]geom.Point2{p[i], out[i], out[j], p[j]}, 0, h, false), w.s.Look.Wall, 0.03, uint64(i), nil, image.Rectangle{}})
	}
}

// normal returns the unit vector to the right of a to b: outward of a
// counter-clockwise ring.
func normal(a, b geom.Point2) geom.Point2 {
	d := b.Sub(a)
	l := d.Norm()
	return geom.Point2{X: d.Y / l, Y: -d.X / l}
}

// shade is the light on a face with the given outward normal, 1 on a level one.
func (w *world) shade(nx, ny, nz float64) float64 {
	a := w.s.Light.Ambient
	return a + (1-a)*max(0, nx*w.lx+ny*w.ly+nz*w.lz)/w.lz
}

// trace follows a ray into the still scene: which thing it meets (or nothing),
// at what height, and on its top or not.
func (w *world) trace(fx, fy float64) (id int, top bool, h hit) {
	id = nothing
	for i := range w.statics {
		p := &w.statics[i].prism
		if g, ok := p.hit(w.view, fx, fy); ok && (id == nothing || g.z > h.z) {
			id, top, h = i, g.nz == 1, g
		}
	}
	return
}

// paint returns the colour of a hit on a thing that stands still.
func (w *world) paint(id int, h *hit) BGR {
	st := &w.statics[id]
	wx, wy := h.lx+st.x, h.ly+st.y
	if st.surface != nil && h.nz == 1 {
		return st.surface.at(wx, wy)
	}
	var g float64
	if h.nz == 1 {
		g = field(wx*9, wy*55, st.seed) + 0.5*field(wx*31, wy*160, st.seed+1)
	} else {
		along := wx*h.ny - wy*h.nx
		g = field(along*25, h.z*4, st.seed+2) + 0.4*field(along*90, h.z*15, st.seed+3)
	}
	v := 1 + st.grain*g
	light := w.shade(h.nx, h.ny, h.nz)
	if h.nz != 1 && st.z0 < 0.02 {
		light *= 1 - w.s.Light.Contact*math.Exp(-h.z/0.06)
	}
	return st.color.Scale(float32(v * light))
}

// ground returns the floor's colour at a floor point, unlit.
func (w *world) ground(fx, fy float64) BGR {
	for i := len(w.rugs) - 1; i >= 0; i-- {
		if w.rugs[i].inside(fx, fy) {
			return w.rugs[i].surface.at(fx, fy)
		}
	}
	if w.s.Look.Outside != nil && !w.room.inside(fx, fy) {
		return w.s.Look.Outside.at(fx, fy)
	}
	return w.s.Look.Floor.at(fx, fy)
}

// dims returns the pixels whose floor a still thing may shadow: the hull of its
// base and of its top's shadow, a little wider.
func (w *world) dims(p *prism) image.Rectangle {
	t := w.s.Light.Toward
	var drums []drum
	for _, q := range p.poly {
		x, y := q.X+p.x, q.Y+p.y
		drums = append(drums, drum{x, y, 0.25, 0, 0}, drum{x - t.X*p.z1, y - t.Y*p.z1, 0.02 + w.s.Light.Softness*p.z1, 0, 0})
	}
	return w.box(2, drums...)
}

// stillShadow returns the light left on a floor point, which shows at the
// pixel, by the still things: rays to a round lamp, some of which meet something.
func (w *world) stillShadow(col, row int, fx, fy float64) float64 {
	if w.s.Light.Shadow == 0 && w.s.Light.Contact == 0 {
		return 1
	}
	at := image.Point{X: col, Y: row}
	var list []*prism
	for i := range w.statics {
		if at.In(w.statics[i].dims) {
			list = append(list, &w.statics[i].prism)
		}
	}
	if len(list) == 0 {
		return 1
	}
	const rays = 12
	sky := view{H: 100}
	blocked := 0
	rad := w.s.Light.Softness / 2
	for k := range rays {
		r := rad * math.Sqrt((float64(k)+0.5)/rays)
		s, c := math.Sincos(float64(k) * 2.399963229728653) // golden angle
		sky.cx = fx + (w.s.Light.Toward.X+r*c)*sky.H
		sky.cy = fy + (w.s.Light.Toward.Y+r*s)*sky.H
		for _, p := range list {
			if _, ok := p.hit(&sky, fx, fy); ok {
				blocked++
				break
			}
		}
	}
	light := 1 - w.s.Light.Shadow*float64(blocked)/rays
	near := math.Inf(1)
	for _, p := range list {
		if p.z0 > 0.02 {
			continue
		}
		lx, ly := p.local(fx, fy)
		if math.Abs(lx) > p.bound+0.2 || math.Abs(ly) > p.bound+0.2 {
			continue
		}
		near = min(near, p.sdf(lx, ly))
	}
	return light * (1 - w.s.Light.Contact*math.Exp(-max(near, 0)/0.05))
}

// vignette is the darkening towards the picture's corners.
func (w *world) vignette(i, j int) float32 {
	x := (float64(i) + 0.5 - float64(w.w)/2) / float64(w.w)
	y := (float64(j) + 0.5 - float64(w.h)/2) / float64(w.w)
	return float32(1 - w.s.Light.Falloff*(x*x+y*y)*2.8)
}

// beyond is the colour of what is too far away to be floor.
var beyond = Grey(90)

// paintStill draws the picture without anything that moves.
func (w *world) paintStill() {
	n := w.w * w.h
	w.bg, w.kind, w.floor = make([]uint16, 3*n), make([]uint8, n), make([]uint8, n)
	// What each pixel's corners meet tells edges from even stretches.
	ids := make([]int16, (w.w+1)*(w.h+1))
	parallel(w.h+1, func(j int) {
		for i := 0; i <= w.w; i++ {
			k := j*(w.w+1) + i
			x, y := float64(w.fx[k]), float64(w.fy[k])
			if math.IsNaN(x) {
				ids[k] = -2
				continue
			}
			id, top, _ := w.trace(x, y)
			ids[k] = int16(2 * id)
			if top {
				ids[k]++
			}
		}
	})
	margin := 0
	if w.s.Sensor.Blur > 0.1 {
		margin = int(math.Ceil(2 * w.s.Sensor.Blur))
	}
	parallel(w.h, func(j int) {
		for i := 0; i < w.w; i++ {
			even := true
			first := ids[j*(w.w+1)+i]
			for y := max(0, j-margin); y <= min(w.h, j+1+margin) && even; y++ {
				for x := max(0, i-margin); x <= min(w.w, i+1+margin); x++ {
					if ids[y*(w.w+1)+x] != first {
						even = false
						break
					}
				}
			}
			w.paintPixel(i, j, even, first)
		}
	})
}

func (w *world) paintPixel(i, j int, even bool, first int16) {
	k := j*w.w + i
	vig := w.vignette(i, j)
	c, ok := w.cell(i, j)
	if !ok {
		w.kind[k] = solidAll
		put(w.bg[3*k:], beyond.Scale(vig))
		return
	}
	pat := &w.fine
	if even {
		pat = &w.some
	}
	var sum BGR
	onFloor, light := 0, -1.0
	for q := range pat.u {
		x, y := c.at(pat.u[q], pat.v[q])
		id := nothing
		var h hit
		if !even || first >= 0 {
			id, _, h = w.trace(x, y)
		}
		var col BGR
		if id == nothing {
			onFloor++
			if light < 0 {
				mx, my := c.at(0.5, 0.5)
				light = w.stillShadow(i, j, mx, my)
			}
			col = w.ground(x, y).Scale(float32(light))
		} else {
			col = w.paint(id, &h)
		}
		sum[0] += col[0]
		sum[1] += col[1]
		sum[2] += col[2]
	}
	w.floor[k] = uint8(255 * onFloor / len(pat.u))
	switch {
	case even && onFloor > 0:
		w.kind[k] = clear
	case even:
		w.kind[k] = solidAll
	default:
		w.kind[k] = solidSome
	}
	put(w.bg[3*k:], sum.Scale(vig/float32(len(pat.u))))
}

// put stores a colour in the fixed point of pictures.
func put(dst []uint16, c BGR) {
	_ = dst[2]
	for k := range 3 {
		v := c[k] * unit
		if v < 0 {
			v = 0
		} else if v > 255*unit {
			v = 255 * unit
		}
		dst[k] = uint16(v + 0.5)
	}
}
