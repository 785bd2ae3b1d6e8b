package scene

import (
	"math"

	"swathe/geom"
)

// hit is where a ray meets a solid: height, outward normal in the floor frame,
// the place on the solid in its own frame.
type hit struct {
	z          float64
	nx, ny, nz float64
	lx, ly     float64
}

// solid is a body that rays can meet.
type solid interface {
	// hit returns the nearest meeting of the ray of v with floor point (fx, fy).
	hit(v *view, fx, fy float64) (hit, bool)
}

// prism is a disc or a polygon, moved to a pose, extruded from z0 to z1.
type prism struct {
	r      float64       // of a disc; 0: poly counts
	poly   []geom.Point2 // own frame, counter-clockwise
	x, y   float64
	c, s   float64 // cosine and sine of the heading
	z0, z1 float64
	bound  float64 // m, no point of the outline is farther from x, y
	rim    Rim     // of a disc
}

func newDisc(r, z0, z1 float64) prism { return prism{r: r, bound: r, c: 1, z0: z0, z1: z1} }

// newPoly takes an outline in any frame; its own origin becomes the middle of
// the outline's corners unless keep is set.
func newPoly(outline []geom.Point2, z0, z1 float64, keep bool) prism {
	p := prism{c: 1, z0: z0, z1: z1}
	if !keep {
		for _, q := range outline {
			p.x += q.X / float64(len(outline))
			p.y += q.Y / float64(len(outline))
		}
	}
	area := 0.0
	p.poly = make([]geom.Point2, len(outline))
	for i, q := range outline {
		p.poly[i] = geom.Point2{X: q.X - p.x, Y: q.Y - p.y}
		p.bound = max(p.bound, p.poly[i].Norm())
		n := outline[(i+1)%len(outline)]
		area += q.X*n.Y - q.Y*n.X
	}
	if area < 0 {
		for i, j := 0, len(p.poly)-1; i < j; i, j = i+1, j-1 {
			p.poly[i], p.poly[j] = p.poly[j], p.poly[i]
		}
	}
	return p
}

// moved returns the prism at another pose, lifted.
func (p prism) moved(pose geom.Pose, lift float64) prism {
	p.x, p.y = pose.X, pose.Y
	p.s, p.c = math.Sincos(pose.Heading)
	p.z0 += lift
	p.z1 += lift
	return p
}

// local turns a floor point into the prism's frame.
func (p *prism) local(x, y float64) (float64, float64) {
	x, y = x-p.x, y-p.y
	return p.c*x + p.s*y, p.c*y - p.s*x
}

// sdf returns the signed distance of a point in the own frame from the
// outline, m, negative inside.
func (p *prism) sdf(x, y float64) float64 {
	if p.r > 0 {
		return math.Sqrt(x*x+y*y) - p.r
	}
	best, inside := math.Inf(1), false
	n := len(p.poly)
	a := p.poly[n-1]
	for _, b := range p.poly {
		ex, ey := b.X-a.X, b.Y-a.Y
		wx, wy := x-a.X, y-a.Y
		t := clamp((wx*ex+wy*ey)/(ex*ex+ey*ey), 0, 1)
		dx, dy := wx-t*ex, wy-t*ey
		best = min(best, dx*dx+dy*dy)
		if (a.Y > y) != (b.Y > y) && x < a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			inside = !inside
		}
		a = b
	}
	if inside {
		return -math.Sqrt(best)
	}
	return math.Sqrt(best)
}

func (p *prism) inside(x, y float64) bool {
	if p.r > 0 {
		return x*x+y*y <= p.r*p.r
	}
	in := false
	a := p.poly[len(p.poly)-1]
	for _, b := range p.poly {
		if (a.Y > y) != (b.Y > y) && x < a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
		a = b
	}
	return in
}

// ends returns where the ray crosses the planes of the prism's top and base,
// in the prism's frame.
func (p *prism) ends(v *view, fx, fy float64) (ax, ay, bx, by float64) {
	k1, k0 := 1-p.z1/v.H, 1-p.z0/v.H
	ax, ay = p.local(v.cx+(fx-v.cx)*k1, v.cy+(fy-v.cy)*k1)
	bx, by = p.local(v.cx+(fx-v.cx)*k0, v.cy+(fy-v.cy)*k0)
	return
}

// beside tells whether a segment lies all on one side of the square of half width
// b about the origin.
func beside(ax, ay, bx, by, b float64) bool {
	return (ax > b && bx > b) || (ax < -b && bx < -b) || (ay > b && by > b) || (ay < -b && by < -b)
}

func (p *prism) hit(v *view, fx, fy float64) (hit, bool) {
	ax, ay, bx, by := p.ends(v, fx, fy)
	if beside(ax, ay, bx, by, p.bound) {
		return hit{}, false
	}
	dx, dy := bx-ax, by-ay
	if p.rim.In > 0 {
		if h, ok := p.onRim(ax, ay, dx, dy); ok {
			return h, true
		}
	} else if p.inside(ax, ay) {
		return hit{z: p.z1, nz: 1, lx: ax, ly: ay}, true
	}
	t, nx, ny := 2.0, 0.0, 0.0
	if p.r > 0 {
		qa := dx*dx + dy*dy
		qb := ax*dx + ay*dy
		qc := ax*ax + ay*ay - p.r*p.r
		disc := qb*qb - qa*qc
		if qa == 0 || disc <= 0 || qb >= 0 {
			return hit{}, false
		}
		t = (-qb - math.Sqrt(disc)) / qa
		nx, ny = (ax+t*dx)/p.r, (ay+t*dy)/p.r
	} else {
		a := p.poly[len(p.poly)-1]
		for _, c := range p.poly {
			ex, ey := c.X-a.X, c.Y-a.Y
			// The outward normal of a counter-clockwise edge is (ey, -ex).
			if den := dx*ey - dy*ex; den < 0 {
				tt := ((a.X-ax)*ey - (a.Y-ay)*ex) / den
				if tt >= 0 && tt < t {
					// Where along the edge.
					hx, hy := ax+tt*dx-a.X, ay+tt*dy-a.Y
					u := hx*ex + hy*ey
					if l := ex*ex + ey*ey; u >= 0 && u <= l {
						t = tt
						l = math.Sqrt(l)
						nx, ny = ey/l, -ex/l
					}
				}
			}
			a = c
		}
	}
	if t < 0 || t > 1 {
		return hit{}, false
	}
	return hit{
		z: p.z1 + t*(p.z0-p.z1), nx: p.c*nx - p.s*ny, ny: p.s*nx + p.c*ny,
		lx: ax + t*dx, ly: ay + t*dy,
	}, true
}

// onRim returns where a ray meets the flat or the sloping part of a disc's top:
// it leads from (ax, ay) at the top's height by (dx, dy) to the base's, in the disc's frame.
func (p *prism) onRim(ax, ay, dx, dy float64) (hit, bool) {
	flat, tall := p.r-p.rim.In, p.z1-p.z0
	qc := ax*ax + ay*ay - flat*flat
	if qc <= 0 {
		return hit{z: p.z1, nz: 1, lx: ax, ly: ay}, true
	}
	// The radius grows by k on the way from top to base; the way ends at the slope's foot.
	k, end := p.rim.In*tall/p.rim.Down, p.rim.Down/tall
	qa, qb := dx*dx+dy*dy-k*k, ax*dx+ay*dy-flat*k
	disc := qb*qb - qa*qc
	if disc <= 0 {
		return hit{}, false
	}
	t := qc / (-qb + math.Sqrt(disc)) // the nearer root, also where qa is 0
	if !(t >= 0 && t <= end) {
		return hit{}, false
	}
	x, y := ax+t*dx, ay+t*dy
	r, l := hypot(x, y), hypot(p.rim.In, p.rim.Down)
	nx, ny := x/r*p.rim.Down/l, y/r*p.rim.Down/l
	return hit{z: p.z1 - t*tall, nx: p.c*nx - p.s*ny, ny: p.s*nx + p.c*ny, nz: p.rim.In / l, lx: x, ly: y}, true
}

// sides tells how a pixel worth m on the floor lies to the prism.
type side uint8

const (
	outside side = iota // no ray of the pixel meets it
	onTop               // every ray meets its top
	onSide              // every ray meets its side
	mixed               // anything else
)

// classify tells how the pixel about floor point (fx, fy) lies to the prism,
// with a margin m, m, for the pixel's width.
func (p *prism) classify(v *view, fx, fy, m float64) side {
	ax, ay, bx, by := p.ends(v, fx, fy)
	if p.r > 0 {
		rho := hypot(ax, ay)
		if rho < p.r-p.rim.In-m {
			return onTop
		}
		switch d := segDist(0, 0, ax, ay, bx, by); {
		case d > p.r+m:
			return outside
		case d < p.r-m && rho > p.r+m:
			return onSide
		}
		return mixed
	}
	if beside(ax, ay, bx, by, p.bound+m) {
		return outside
	}
	d := p.sdf(ax, ay)
	if d < -m {
		return onTop
	}
	// A distance changes by no more than the step.
	if d > m+hypot(bx-ax, by-ay) {
		return outside
	}
	return mixed
}

// segDist returns the distance of (x, y) from the segment a-b.
func segDist(x, y, ax, ay, bx, by float64) float64 {
	ex, ey := bx-ax, by-ay
	wx, wy := x-ax, y-ay
	t := 0.0
	if l := ex*ex + ey*ey; l > 0 {
		t = clamp((wx*ex+wy*ey)/l, 0, 1)
	}
	return hypot(wx-t*ex, wy-t*ey)
}

// ellipsoid is one whose axes are its heading, across it, and up.
type ellipsoid struct {
	x, y, z    float64 // middle
	c, s       float64 // cosine and sine of the heading
	ra, rl, rz float64 // half axes ahead, left, up
}

func newEllipsoid(middle geom.Point3, heading, ra, rl, rz float64) *ellipsoid {
	s, c := math.Sincos(heading)
	return &ellipsoid{middle.X, middle.Y, middle.Z, c, s, ra, rl, rz}
}

func (e *ellipsoid) hit(v *view, fx, fy float64) (hit, bool) {
	ox, oy, oz := v.cx-e.x, v.cy-e.y, v.H-e.z
	dx, dy, dz := fx-v.cx, fy-v.cy, -v.H
	ox, oy = (e.c*ox+e.s*oy)/e.ra, (e.c*oy-e.s*ox)/e.rl
	dx, dy = (e.c*dx+e.s*dy)/e.ra, (e.c*dy-e.s*dx)/e.rl
	oz, dz = oz/e.rz, dz/e.rz
	a := dx*dx + dy*dy + dz*dz
	b := ox*dx + oy*dy + oz*dz
	c := ox*ox + oy*oy + oz*oz - 1
	disc := b*b - a*c
	if disc <= 0 {
		return hit{}, false
	}
	t := (-b - math.Sqrt(disc)) / a
	if t <= 0 || t >= 1 {
		return hit{}, false
	}
	px, py, pz := ox+t*dx, oy+t*dy, oz+t*dz
	nx, ny, nz := px/e.ra, py/e.rl, pz/e.rz
	n := math.Sqrt(nx*nx + ny*ny + nz*nz)
	nx, ny, nz = nx/n, ny/n, nz/n
	return hit{z: v.H * (1 - t), nx: e.c*nx - e.s*ny, ny: e.s*nx + e.c*ny, nz: nz, lx: px, ly: py}, true
}

// capsule is a ball of radius r swept from a to b.
type capsule struct {
	a, b geom.Point3
	r    float64
}

func (q *capsule) hit(v *view, fx, fy float64) (hit, bool) {
	bax, bay, baz := q.b.X-q.a.X, q.b.Y-q.a.Y, q.b.Z-q.a.Z
	oax, oay, oaz := v.cx-q.a.X, v.cy-q.a.Y, v.H-q.a.Z
	dx, dy, dz := fx-v.cx, fy-v.cy, -v.H
	baba := bax*bax + bay*bay + baz*baz
	bard := bax*dx + bay*dy + baz*dz
	baoa := bax*oax + bay*oay + baz*oaz
	rdoa := dx*oax + dy*oay + dz*oaz
	dd := dx*dx + dy*dy + dz*dz
	oaoa := oax*oax + oay*oay + oaz*oaz
	a := baba*dd - bard*bard
	b := baba*rdoa - baoa*bard
	c := baba*oaoa - baoa*baoa - q.r*q.r*baba
	t := -1.0
	if h := b*b - a*c; h >= 0 && a > 1e-12 {
		s := (-b - math.Sqrt(h)) / a
		if y := baoa + s*bard; y > 0 && y < baba {
			t = s
		} else {
			// One of the end balls.
			ox, oy, oz := oax, oay, oaz
			if y > 0 {
				ox, oy, oz = ox-bax, oy-bay, oz-baz
			}
			bb := dx*ox + dy*oy + dz*oz
			cc := ox*ox + oy*oy + oz*oz - q.r*q.r
			if hh := bb*bb - dd*cc; hh > 0 {
				t = (-bb - math.Sqrt(hh)) / dd
			}
		}
	}
	if t <= 0 || t >= 1 {
		return hit{}, false
	}
	px, py, pz := oax+t*dx, oay+t*dy, oaz+t*dz
	k := clamp((px*bax+py*bay+pz*baz)/baba, 0, 1)
	return hit{z: v.H * (1 - t), nx: (px - k*bax) / q.r, ny: (py - k*bay) / q.r, nz: (pz - k*baz) / q.r, lx: k}, true
}
