package sight

import (
	"math"
	"slices"

	"swathe/geom"
)

// Motion is how the picture has moved since the background was made: by a small
// rotation of the camera, for one on a ceiling is knocked about its joint, or,
// where Anchors are flat, by a shift and turn of the picture itself, which is
// what stabilisation does.
type Motion struct {
	W       [3]float64 // rotation vector in the camera frame, rad; flat: the like that moves the middle alike
	RMS     float64    // px, of the anchors about it
	Anchors int        // that agree
	Seen    int        // anchors that were found again, agreeing or not
	Px      float64    // px, the largest movement at the picture's edges
}

// anchorHalf is half the side of an anchor's patch, px.
const anchorHalf = 7

// anchor is a small patch of the background with corners in it.
type anchor struct {
	at     geom.Point2 // in the picture that is shrunk
	ray    [3]float64
	t      []float32 // the patch less its mean
	gx, gy []float32
	norm   float64
	least  float64    // correlation at which it is found again
	inv    [3]float64 // inverse of the sum of g g'
}

// Anchors are patches of the background by which a moved camera is noticed
// and its movement measured.
type Anchors struct {
	cam   *geom.Camera
	by    int     // pictures are shrunk so many times before they are looked at
	noise float64 // grey levels, of a pixel of the shrunk picture
	small Plane
	flat  bool // the picture is shifted, not the camera turned
	list  []anchor
	patch []float32
}

// anchorGrid is the number of columns and rows of the picture in each of which
// at most two anchors are set.
const anchorGridX, anchorGridY = 8, 6

// enoughAnchors is how many anchors are needed.
const enoughAnchors = 8

// Enough tells whether there are as many anchors as are needed.
func (a *Anchors) Enough() bool { return len(a.list) >= enoughAnchors }

// NewAnchors sets anchors in a background's luminance. On a floor with too
// little on it pictures are shrunk to a half or a quarter: that takes the noise
// out and leaves the blotches in.
func NewAnchors(cam *geom.Camera, p *Plane, noise float64) *Anchors {
	var best *Anchors
	for _, by := range []int{1, 2, 4} {
		a := &Anchors{cam: cam, by: by, noise: noise / float64(by), patch: make([]float32, (2*anchorHalf+1)*(2*anchorHalf+1))}
		a.setAll(a.shrink(p))
		if best == nil || len(a.list) > len(best.list) {
			best = a
		}
		if best.Enough() {
			break // the less it is shrunk, the better each is found
		}
	}
	return best
}

// shrink returns the picture that is looked at.
func (a *Anchors) shrink(p *Plane) *Plane {
	if a.by == 1 {
		return p
	}
	a.small = p.Shrink(a.by, a.small)
	return &a.small
}

// full and less take a pixel of the shrunk picture to the picture and back.
func (a *Anchors) full(q geom.Point2) geom.Point2 {
	f := float64(a.by)
	return geom.Point2{X: (q.X+0.5)*f - 0.5, Y: (q.Y+0.5)*f - 0.5}
}

func (a *Anchors) less(q geom.Point2) geom.Point2 {
	f := float64(a.by)
	return geom.Point2{X: (q.X+0.5)/f - 0.5, Y: (q.Y+0.5)/f - 0.5}
}

// setAll sets anchors all over a shrunk picture.
func (a *Anchors) setAll(p *Plane) {
	type spot struct {
		x, y int
		v    float64
	}
	cw, ch := p.W/anchorGridX, p.H/anchorGridY
	for gy := 0; gy < anchorGridY; gy++ {
		for gx := 0; gx < anchorGridX; gx++ {
			var spots []spot
			for y := max(anchorHalf+3, gy*ch); y < min(p.H-anchorHalf-3, (gy+1)*ch); y += 5 {
				for x := max(anchorHalf+3, gx*cw); x < min(p.W-anchorHalf-3, (gx+1)*cw); x += 5 {
					if v := cornerness(p, x, y); v > 60*a.noise*a.noise+200/float64(a.by*a.by) {
						spots = append(spots, spot{x, y, v})
					}
				}
			}
			slices.SortFunc(spots, func(m, n spot) int {
				switch {
				case m.v > n.v:
					return -1
				case m.v < n.v:
					return 1
				}
				return (m.y-n.y)*4096 + m.x - n.x
			})
			var taken []spot
			for _, s := range spots {
				far := true
				for _, t := range taken {
					if abs(s.x-t.x) < 3*anchorHalf && abs(s.y-t.y) < 3*anchorHalf {
						far = false
					}
				}
				if far {
					if a.set(p, s.x, s.y) {
						taken = append(taken, s)
					}
					if len(taken) == 2 {
						break
					}
				}
			}
		}
	}
}

func abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}

// cornerness is the smaller eigenvalue of the sum of g g' over a patch (Shi and
// Tomasi 1994), on every second pixel.
func cornerness(p *Plane, x, y int) float64 {
	var xx, xy, yy float64
	for j := -anchorHalf; j <= anchorHalf; j += 2 {
		for i := -anchorHalf; i <= anchorHalf; i += 2 {
			k := (y+j)*p.Stride + x + i
			gx := float64(int(p.Pix[k+1])-int(p.Pix[k-1])) / 2
			gy := float64(int(p.Pix[k+p.Stride])-int(p.Pix[k-p.Stride])) / 2
			xx += gx * gx
			xy += gx * gy
			yy += gy * gy
		}
	}
	return (xx+yy)/2 - math.Hypot((xx-yy)/2, xy)
}

func (a *Anchors) set(p *Plane, x, y int) bool {
	n := 2*anchorHalf + 1
	c := anchor{at: geom.Point2{X: float64(x), Y: float64(y)}, t: make([]float32, n*n), gx: make([]float32, n*n), gy: make([]float32, n*n)}
	rx, ry, ok := a.cam.Lens.Undistort(a.full(c.at))
	if !ok {
		return false
	}
	c.ray = [3]float64{rx, ry, 1}
	var mean float32
	for j := 0; j < n; j++ {
		for i := 0; i < n; i++ {
			k := (y+j-anchorHalf)*p.Stride + x + i - anchorHalf
			c.t[j*n+i] = float32(p.Pix[k])
			c.gx[j*n+i] = float32(int(p.Pix[k+1])-int(p.Pix[k-1])) / 2
			c.gy[j*n+i] = float32(int(p.Pix[k+p.Stride])-int(p.Pix[k-p.Stride])) / 2
			mean += c.t[j*n+i]
		}
	}
	mean /= float32(n * n)
	var xx, xy, yy float64
	for k := range c.t {
		c.t[k] -= mean
		c.norm += float64(c.t[k] * c.t[k])
		gx, gy := float64(c.gx[k]), float64(c.gy[k])
		xx, xy, yy = xx+gx*gx, xy+gx*gy, yy+gy*gy
	}
	if c.inv, ok = geom.Inverse2([3]float64{xx, xy, yy}); !ok || c.norm <= 0 {
		return false
	}
	// Noise alone lowers the correlation of a weak patch.
	c.least = 0.8 * math.Sqrt(c.norm/(c.norm+float64(n*n)*a.noise*a.noise))
	a.list = append(a.list, c)
	return true
}

// find follows one anchor in a shrunk picture from a first guess; ok is false where
// the patch does not look alike.
func (a *Anchors) find(c *anchor, p *Plane, guess geom.Point2) (at geom.Point2, ok bool) {
	n := 2*anchorHalf + 1
	at = guess
	for round := 0; round < 8; round++ {
		var mean float32
		for j := 0; j < n; j++ {
			for i := 0; i < n; i++ {
				v, good := p.At(at.X+float64(i-anchorHalf), at.Y+float64(j-anchorHalf))
				if !good {
					return at, false
				}
				a.patch[j*n+i] = v
				mean += v
			}
		}
		mean /= float32(n * n)
		var dot, norm float64
		for k := range a.patch {
			a.patch[k] -= mean
			dot += float64(a.patch[k] * c.t[k])
			norm += float64(a.patch[k] * a.patch[k])
		}
		if norm <= 0 {
			return at, false
		}
		match := dot / math.Sqrt(norm*c.norm)
		g := float32(dot / norm) // the picture's contrast brought to the background's
		var bx, by float64
		for k := range a.patch {
			d := c.t[k] - g*a.patch[k]
			bx += float64(d * c.gx[k])
			by += float64(d * c.gy[k])
		}
		dx, dy := c.inv[0]*bx+c.inv[1]*by, c.inv[1]*bx+c.inv[2]*by
		at.X, at.Y = at.X+dx, at.Y+dy
		if math.Hypot(at.X-guess.X, at.Y-guess.Y) > anchorHalf {
			return at, false
		}
		if math.Hypot(dx, dy) < 0.01 {
			return at, match > c.least
		}
		if round > 2 && match < 0.6*c.least {
			return at, false
		}
	}
	return at, false
}

// rotate turns a ray by a small rotation vector.
func rotate(w, v [3]float64) [3]float64 {
	// Second order is exact to 1e-6 px for the few degrees that count.
	c := [3]float64{w[1]*v[2] - w[2]*v[1], w[2]*v[0] - w[0]*v[2], w[0]*v[1] - w[1]*v[0]}
	d := [3]float64{w[1]*c[2] - w[2]*c[1], w[2]*c[0] - w[0]*c[2], w[0]*c[1] - w[1]*c[0]}
	return [3]float64{v[0] + c[0] + d[0]/2, v[1] + c[1] + d[1]/2, v[2] + c[2] + d[2]/2}
}

func (a *Anchors) project(w, ray [3]float64) geom.Point2 {
	if a.flat {
		l := a.cam.Lens
		p := l.Distort(ray[0]/ray[2], ray[1]/ray[2])
		s, c := math.Sincos(w[2])
		dx, dy := p.X-l.Cx, p.Y-l.Cy
		return geom.Point2{X: l.Cx + c*dx - s*dy + w[1]*l.Fx, Y: l.Cy + s*dx + c*dy - w[0]*l.Fy}
	}
	v := rotate(w, ray)
	return a.cam.Lens.Distort(v[0]/v[2], v[1]/v[2])
}

// Measure finds the camera's motion in picture p, starting from a first guess.
// ok is false where too few anchors are found or they do not agree.
func (a *Anchors) Measure(p *Plane, guess [3]float64) (m Motion, ok bool) {
	type pair struct {
		c  *anchor
		at geom.Point2
	}
	var got []pair
	p = a.shrink(p)
	for i := range a.list {
		c := &a.list[i]
		if at, good := a.find(c, p, a.less(a.project(guess, c.ray))); good {
			got = append(got, pair{c, a.full(at)})
		}
	}
	if m.Seen = len(got); m.Seen < 6 {
		return m, false
	}
	w := guess
	scale := 2 * float64(a.by)
	for round := 0; round < 8; round++ {
		var n geom.Normal
		var ss, sw float64
		in := 0
		for _, q := range got {
			o := a.project(w, q.c.ray)
			ex, ey := q.at.X-o.X, q.at.Y-o.Y
			e := math.Hypot(ex, ey)
			if e >= scale {
				continue
			}
			in++
			k := 1 - e*e/(scale*scale)
			k *= k
			ss += k * e * e
			sw += k
			var jx, jy [3]float64
			for i := range w {
				const d = 1e-5
				u := w
				u[i] += d
				s := a.project(u, q.c.ray)
				jx[i], jy[i] = (s.X-o.X)/d, (s.Y-o.Y)/d
			}
			n.Add(k, jx[0], jx[1], jx[2], ex)
			n.Add(k, jy[0], jy[1], jy[2], ey)
		}
		if in < 6 || in*3 < len(got) {
			return m, false
		}
		d, settled := n.Solve()
		if settled < 3 {
			return m, false
		}
		for i := range w {
			w[i] += d[i]
		}
		m.RMS, m.Anchors = math.Sqrt(ss/sw), in
		scale = math.Max(0.5, math.Min(scale, 4*m.RMS))
		if math.Abs(d[0])+math.Abs(d[1])+math.Abs(d[2]) < 1e-7 {
			break
		}
	}
	m.W = w
	m.Px = a.edge(w)
	return m, m.Anchors >= 6
}

// edge is the largest movement at the middle of the picture and its edges, px.
func (a *Anchors) edge(w [3]float64) float64 {
	worst := 0.0
	W, H := float64(a.cam.Width), float64(a.cam.Height)
	for _, q := range []geom.Point2{{X: W / 2, Y: H / 2}, {X: W * .1, Y: H / 2}, {X: W * .9, Y: H / 2}, {X: W / 2, Y: H * .1}, {X: W / 2, Y: H * .9}} {
		x, y, ok := a.cam.Lens.Undistort(q)
		if !ok {
			continue
		}
		worst = math.Max(worst, a.project(w, [3]float64{x, y, 1}).Dist(q))
	}
	return worst
}

// Warp returns the map from where a thing near pixel c shows before the motion
// to where it shows after, linear round c over r px.
func (a *Anchors) Warp(w [3]float64, c geom.Point2, r float64) func(geom.Point2) geom.Point2 {
	move := func(q geom.Point2) geom.Point2 {
		x, y, ok := a.cam.Lens.Undistort(q)
		if !ok {
			return q
		}
		return a.project(w, [3]float64{x, y, 1})
	}
	o := move(c)
	e, n := move(geom.Point2{X: c.X + r, Y: c.Y}), move(geom.Point2{X: c.X, Y: c.Y + r})
	ax, ay := (e.X-o.X)/r, (e.Y-o.Y)/r
	bx, by := (n.X-o.X)/r, (n.Y-o.Y)/r
	return func(q geom.Point2) geom.Point2 {
		dx, dy := q.X-c.X, q.Y-c.Y
		return geom.Point2{X: o.X + ax*dx + bx*dy, Y: o.Y + ay*dx + by*dy}
	}
}
