package scene

import (
	"image"
	"math"

	"swathe/geom"
)

// actor is one moving body in one frame.
type actor struct {
	solid solid
	prism *prism // the same, where edges are to be placed exactly
	robot bool   // take the poses of the moment instead, see painter
	color BGR
	paint func(h hit) BGR // albedo; nil: color
	box   image.Rectangle // pixels that may show it
	casts []caster
}

// caster is what throws a body's shadow: a circle of radius r whose middle
// goes from a (at height z0) to b (at height z1) on the floor, along the light.
type caster struct {
	a, b    geom.Point2
	r       float64
	z0, z1  float64
	outline *prism // of a body that is not round: stands in for the circle
	box     image.Rectangle
}

// newActor returns the actor of a rounded body in one colour.
func (w *world) newActor(s solid, c BGR) actor {
	a := actor{solid: s, color: c}
	switch q := s.(type) {
	case *ellipsoid:
		r := max(q.ra, q.rl)
		a.box = w.box(2, drum{q.x, q.y, r, q.z - q.rz, q.z + q.rz})
		a.casts = []caster{w.newCaster(geom.Point3{X: q.x, Y: q.y, Z: q.z}, geom.Point3{X: q.x, Y: q.y, Z: q.z}, math.Sqrt(q.ra*q.rl))}
	case *capsule:
		a.box = w.box(2, drum{q.a.X, q.a.Y, q.r, q.a.Z - q.r, q.a.Z + q.r}, drum{q.b.X, q.b.Y, q.r, q.b.Z - q.r, q.b.Z + q.r})
		a.casts = []caster{w.newCaster(q.a, q.b, q.r)}
	case *prism:
		a.prism = q
		a.box = w.box(2+3*w.s.Sensor.Blur, drum{q.x, q.y, q.bound, q.z0, q.z1})
		a.casts = []caster{w.newCaster(geom.Point3{X: q.x, Y: q.y, Z: q.z0}, geom.Point3{X: q.x, Y: q.y, Z: q.z1}, q.bound)}
		if q.r == 0 {
			a.casts[0].outline = q
		}
	}
	return a
}

// newCaster returns what casts the shadow of a ball of radius r that goes from
// one place to another.
func (w *world) newCaster(from, to geom.Point3, r float64) caster {
	t := w.s.Light.Toward
	c := caster{
		a: geom.Point2{X: from.X - t.X*from.Z, Y: from.Y - t.Y*from.Z}, b: geom.Point2{X: to.X - t.X*to.Z, Y: to.Y - t.Y*to.Z},
		r: r, z0: from.Z, z1: to.Z,
	}
	reach := r + w.soft(max(c.z0, c.z1))
	if c.z0 < 0.02 {
		reach = max(reach, r+contactReach(c.z1))
	}
	c.box = w.box(2, drum{c.a.X, c.a.Y, reach, 0, 0}, drum{c.b.X, c.b.Y, reach, 0, 0})
	return c
}

// soft is the width of the half-shadow of an edge at height z, m.
func (w *world) soft(z float64) float64 { return 0.004 + w.s.Light.Softness*z }

// shadow returns how dark the caster makes floor point (x, y), 0..1, by
// standing in the light and by standing near.
func (w *world) shadow(c *caster, x, y float64) (cast, near float64) {
	if c.outline != nil {
		return w.outlineShadow(c, x, y)
	}
	ex, ey := c.b.X-c.a.X, c.b.Y-c.a.Y
	wx, wy := x-c.a.X, y-c.a.Y
	t := 0.0
	if l := ex*ex + ey*ey; l > 0 {
		t = clamp((wx*ex+wy*ey)/l, 0, 1)
	}
	d := hypot(wx-t*ex, wy-t*ey) - c.r
	pen := w.soft(c.z0 + t*(c.z1-c.z0))
	cast = 1 - smoothstep(-pen/2, pen/2, d)
	if pen > 2*c.r {
		cast *= 2 * c.r / pen
	}
	if c.z0 < 0.02 {
		near = contact(hypot(wx, wy)-c.r, c.z1)
	}
	return cast, near
}

func (w *world) outlineShadow(c *caster, x, y float64) (cast, near float64) {
	p, t := c.outline, w.s.Light.Toward
	lx, ly := p.local(x, y)
	if math.Abs(lx) > p.bound+0.4 || math.Abs(ly) > p.bound+0.4 {
		return 0, 0
	}
	const steps = 5
	for k := range steps {
		z := c.z0 + (c.z1-c.z0)*float64(k)/(steps-1)
		sx, sy := p.local(x+t.X*z, y+t.Y*z)
		pen := w.soft(z)
		if farFrom(sx, sy, p.bound+pen/2) {
			continue
		}
		if cast = max(cast, 1-smoothstep(-pen/2, pen/2, p.sdf(sx, sy))); cast == 1 {
			break
		}
	}
	if c.z0 < 0.02 && !farFrom(lx, ly, p.bound+contactReach(c.z1)) {
		near = contact(p.sdf(lx, ly), c.z1)
	}
	return cast, near
}

// farFrom tells whether a point is farther than d from the origin.
func farFrom(x, y, d float64) bool { return x*x+y*y > d*d }

// contact is how much a body of height z hides of the room's light from a
// point of the floor at distance d from it: it falls to nothing over a stretch
// of contactReach.
func contact(d, z float64) float64 {
	if d <= 0 {
		return 1
	}
	k := 1 - d/contactReach(z)
	if k <= 0 {
		return 0
	}
	k *= k
	return k * k
}

func contactReach(z float64) float64 { return 1.4 * min(z, 0.12) }

// cast appends everything that moves at time t, but the robot.
func (w *world) cast(t float64, robot TimedPose, dst []actor) []actor {
	s := w.s
	for i := range s.Movers {
		m := &s.Movers[i]
		if m.Seen != (geom.Span{}) && !m.Seen.Contains(t) {
			continue
		}
		at := m.Path.At(t)
		p := newPoly(m.Outline, 0, m.Height, true).moved(at.Pose, at.Lift)
		dst = append(dst, w.newActor(&p, m.Color))
	}
	for i := range s.People {
		dst = s.People[i].actors(w, t, robot, dst)
	}
	for i := range s.Pets {
		dst = s.Pets[i].actors(w, t, dst)
	}
	for i := range s.Balls {
		dst = s.Balls[i].actors(w, t, dst)
	}
	return dst
}

// body returns the robot's prism at the origin.
func (s *Scene) body() prism {
	if s.Robot.Round() {
		d := newDisc(s.Robot.Diameter/2, 0, s.Robot.Height)
		d.rim = s.Look.Robot.Rim
		return d
	}
	return newPoly(s.Robot.Outline, 0, s.Robot.Height, true)
}

// paintTop fills the table of the robot's top, a third of a pixel or finer.
func (w *world) paintTop() {
	n := w.cam.Nadir()
	across := 2 * w.reach / w.cam.PixelSize(geom.Point3{X: n.X, Y: n.Y, Z: w.s.Robot.Height})
	w.topN = 256
	// A camera that does not see straight below it has no pixel size there.
	for !math.IsNaN(across) && float64(w.topN) < 3*across && w.topN < 2048 {
		w.topN *= 2
	}
	w.top = make([]uint32, w.topN*w.topN)
	var b [3]uint16
	for j := range w.topN {
		for i := range w.topN {
			u, v := 2*(float64(i)+0.5)/float64(w.topN)-1, 2*(float64(j)+0.5)/float64(w.topN)-1
			c, ok := w.s.marker(u*w.reach, v*w.reach)
			if !ok {
				c = w.s.Look.Robot.top(u, v)
			}
			put(b[:], c)
			w.top[j*w.topN+i] = uint32(b[0]+unit/2)/unit | uint32(b[1]+unit/2)/unit<<8 | uint32(b[2]+unit/2)/unit<<16
		}
	}
	w.gauss = make([]float32, 64*2)
	for k := range w.gauss {
		w.gauss[k] = float32(160 * w.s.Look.Robot.Gloss * math.Exp(-float64(k)/64/0.18))
	}
}

// robotColor is the robot's colour at a hit, lit.
func (w *world) robotColor(h hit, lift float64) BGR {
	l := &w.s.Look.Robot
	if h.nz == 1 {
		r := w.reach
		half := float64(w.topN) / 2
		i, j := int((h.lx/r+1)*half), int((h.ly/r+1)*half)
		c := w.top[max(0, min(w.topN-1, j))*w.topN+max(0, min(w.topN-1, i))]
		return BGR{float32(c & 255), float32(c >> 8 & 255), float32(c >> 16)}
	}
	if h.nz > 0 { // the top's rim
		return l.Top.Scale(float32(w.shade(h.nx, h.ny, h.nz)))
	}
	c := l.Side
	// A gap between bumper and lid runs round the side.
	if k := (h.z - lift) / w.s.Robot.Height; l.Contrast > 0 && k > 0.62 && k < 0.7 {
		c = c.Scale(0.6)
	}
	return c.Scale(float32(w.shade(h.nx, h.ny, h.nz)))
}

// gloss is the light that the robot's top throws back at a point, which stays
// with the light when the robot turns: x, y from its turning centre, floor axes.
func (w *world) gloss(x, y float64) float32 {
	if w.s.Look.Robot.Gloss <= 0 {
		return 0
	}
	r := w.reach
	dx, dy := x/r+0.5*w.lx, y/r+0.5*w.ly
	k := (dx*dx + dy*dy) * 64
	i := int(k)
	if i+1 >= len(w.gauss) {
		return 0
	}
	f := float32(k - float64(i))
	return w.gauss[i] + f*(w.gauss[i+1]-w.gauss[i])
}

// marker returns the colour of the printed marker at a body point, m; ok is
// false beside its white margin, which is a quarter of its side wide.
func (s *Scene) marker(x, y float64) (c BGR, ok bool) {
	m, cells := s.Robot.Marker, s.Look.Robot.Marker
	if m == nil || len(cells) == 0 {
		return c, false
	}
	sn, cs := math.Sincos(m.Turn)
	x, y = x-m.Ahead, y-m.Left
	up, left := (cs*x+sn*y)/m.Side, (cs*y-sn*x)/m.Side
	if max(math.Abs(up), math.Abs(left)) > 0.75 {
		return c, false
	}
	n := float64(len(cells))
	row, col := int(math.Floor((0.5-up)*n)), int(math.Floor((0.5-left)*n))
	if row < 0 || col < 0 || row >= len(cells) || col >= len(cells[row]) || !cells[row][col] {
		return Grey(235), true
	}
	return Grey(22), true
}
