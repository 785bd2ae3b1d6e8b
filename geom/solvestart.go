package geom

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Mul3 returns a b.
func Mul3(a, b [3][3]float64) (c [3][3]float64) {
	for i := range c {
		for j := range c[i] {
			c[i][j] = a[i][0]*b[0][j] + a[i][1]*b[1][j] + a[i][2]*b[2][j]
		}
	}
	return c
}

// Rotation turns by the vector (x, y, z): its length is the angle in radians,
// its direction the axis (Rodrigues).
func Rotation(x, y, z float64) [3][3]float64 {
	a := math.Sqrt(x*x + y*y + z*z)
	s, c := 1-a*a/6, 0.5-a*a/24 // sin(a)/a and (1-cos(a))/a^2
	if a > 1e-4 {
		s, c = math.Sin(a)/a, (1-math.Cos(a))/(a*a)
	}
	return [3][3]float64{
		{1 - c*(y*y+z*z), c*x*y - s*z, c*x*z + s*y},
		{c*x*y + s*z, 1 - c*(x*x+z*z), c*y*z - s*x},
		{c*x*z - s*y, c*y*z + s*x, 1 - c*(x*x+y*y)},
	}
}

// Orthonormal returns the rotation nearest to m.
func Orthonormal(m [3][3]float64) [3][3]float64 {
	d := mat.NewDense(3, 3, []float64{m[0][0], m[0][1], m[0][2], m[1][0], m[1][1], m[1][2], m[2][0], m[2][1], m[2][2]})
	var svd mat.SVD
	if !svd.Factorize(d, mat.SVDFull) {
		return m
	}
	var u, v, r mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	r.Mul(&u, v.T())
	if mat.Det(&r) < 0 {
		for i := 0; i < 3; i++ {
			u.Set(i, 2, -u.At(i, 2))
		}
		r.Mul(&u, v.T())
	}
	var out [3][3]float64
	for i := range out {
		for j := range out[i] {
			out[i][j] = r.At(i, j)
		}
	}
	return out
}

// Homography returns the projective map (up to scale, h[2][2] need not be 1)
// that takes each from[i] nearest to to[i]: the normalised direct linear
// transform (Hartley and Zisserman, Multiple View Geometry, alg. 4.2). ok is
// false for fewer than 4 pairs or points that leave it open.
func Homography(from, to []Point2) (h [3][3]float64, ok bool) {
	n := len(from)
	if n < 4 || len(to) != n {
		return h, false
	}
	tf, tt := normaliser(from), normaliser(to)
	a := mat.NewDense(max(9, 2*n), 9, nil)
	for i := range from {
		p, q := apply(tf, from[i]), apply(tt, to[i])
		a.SetRow(2*i, []float64{-p.X, -p.Y, -1, 0, 0, 0, q.X * p.X, q.X * p.Y, q.X})
		a.SetRow(2*i+1, []float64{0, 0, 0, -p.X, -p.Y, -1, q.Y * p.X, q.Y * p.Y, q.Y})
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return h, false
	}
	s := svd.Values(nil)
	if s[7] < 1e-9*s[0] {
		return h, false
	}
	var v mat.Dense
	svd.VTo(&v)
	var g [3][3]float64
	for i := 0; i < 9; i++ {
		g[i/3][i%3] = v.At(i, 8)
	}
	// Undo the two normalisations: inverse(tt) g tf.
	k, cx, cy := tt[0][0], tt[0][2], tt[1][2]
	inv := [3][3]float64{{1 / k, 0, -cx / k}, {0, 1 / k, -cy / k}, {0, 0, 1}}
	return Mul3(Mul3(inv, g), tf), true
}

// apply maps p by h.
func apply(h [3][3]float64, p Point2) Point2 {
	w := h[2][0]*p.X + h[2][1]*p.Y + h[2][2]
	return Point2{(h[0][0]*p.X + h[0][1]*p.Y + h[0][2]) / w, (h[1][0]*p.X + h[1][1]*p.Y + h[1][2]) / w}
}

// normaliser moves the points' mean to 0 and their mean distance to sqrt 2.
func normaliser(p []Point2) [3][3]float64 {
	var m Point2
	for _, q := range p {
		m = m.Add(q.Scale(1 / float64(len(p))))
	}
	d := 0.0
	for _, q := range p {
		d += q.Dist(m) / float64(len(p))
	}
	k := 1.0
	if d > 0 {
		k = math.Sqrt2 / d
	}
	return [3][3]float64{{k, 0, -k * m.X}, {0, k, -k * m.Y}, {0, 0, 1}}
}

// plane is the best plane through points: origin, two axes in it, and the
// normal, right-handed, with the spread along each.
type plane struct {
	o       Point3
	e       [3][3]float64 // rows: the two axes and the normal
	spread  [3]float64    // root mean square along each, m
	uv      []Point2      // the points on it
	offness []float64     // their distances from it
}

func bestPlane(pts []Point3) plane {
	var p plane
	n := float64(len(pts))
	for _, q := range pts {
		p.o = Point3{p.o.X + q.X/n, p.o.Y + q.Y/n, p.o.Z + q.Z/n}
	}
	a := mat.NewDense(max(3, len(pts)), 3, nil)
	for i, q := range pts {
		a.SetRow(i, []float64{q.X - p.o.X, q.Y - p.o.Y, q.Z - p.o.Z})
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDThin) {
		return p
	}
	var v mat.Dense
	svd.VTo(&v)
	for k, s := range svd.Values(nil) {
		p.spread[k] = s / math.Sqrt(n)
		p.e[k] = [3]float64{v.At(0, k), v.At(1, k), v.At(2, k)}
	}
	x, y := p.e[0], p.e[1]
	p.e[2] = [3]float64{x[1]*y[2] - x[2]*y[1], x[2]*y[0] - x[0]*y[2], x[0]*y[1] - x[1]*y[0]}
	for i := range pts {
		d := a.RawRowView(i)
		dot := func(k int) float64 { return d[0]*p.e[k][0] + d[1]*p.e[k][1] + d[2]*p.e[k][2] }
		p.uv = append(p.uv, Point2{dot(0), dot(1)})
		p.offness = append(p.offness, dot(2))
	}
	return p
}

// poseFromPlane returns rotation and place of a camera that shows the plane's
// points at the given rays (x, y, 1): the map from plane to rays is a
// homography whose columns are two axes and the origin, seen by the camera.
func poseFromPlane(p plane, rays []Point2) (r [3][3]float64, centre Point3, ok bool) {
	h, ok := Homography(p.uv, rays)
	if !ok {
		return r, centre, false
	}
	n1 := math.Sqrt(h[0][0]*h[0][0] + h[1][0]*h[1][0] + h[2][0]*h[2][0])
	n2 := math.Sqrt(h[0][1]*h[0][1] + h[1][1]*h[1][1] + h[2][1]*h[2][1])
	k := 2 / (n1 + n2)
	if h[2][2] < 0 { // the plane's origin lies before the lens
		k = -k
	}
	var m [3][3]float64 // columns: axes of the plane and its normal in the camera frame
	for i := range m {
		m[i][0], m[i][1] = k*h[i][0], k*h[i][1]
	}
	m[0][2] = m[1][0]*m[2][1] - m[2][0]*m[1][1]
	m[1][2] = m[2][0]*m[0][1] - m[0][0]*m[2][1]
	m[2][2] = m[0][0]*m[1][1] - m[1][0]*m[0][1]
	m = Orthonormal(m)
	r = Mul3(m, p.e) // floor axes to plane axes to camera
	t := [3]float64{k * h[0][2], k * h[1][2], k * h[2][2]}
	c := [3]float64{p.o.X, p.o.Y, p.o.Z}
	for i := range c {
		c[i] -= r[0][i]*t[0] + r[1][i]*t[1] + r[2][i]*t[2]
	}
	return r, Point3{c[0], c[1], c[2]}, true
}

// starts lists where to begin: rotation and unknowns for a row of focal
// lengths and barrel distortions, each from the homography of the marks' best
// plane. The homography alone is no answer, for a wide lens bends it.
func (s *solver) starts() (rs [][3][3]float64, vs [][nParams]float64) {
	var pts []Point3
	var px []Point2
	for i, m := range s.spec.Marks {
		if !s.off[i] {
			pts, px = append(pts, m.Floor), append(px, m.Pixel)
		}
	}
	pl := bestPlane(pts)
	add := func(v [nParams]float64) {
		l := s.lens(v)
		rays := make([]Point2, len(px))
		for i, p := range px {
			x, y, ok := l.Undistort(p)
			if !ok {
				return
			}
			rays[i] = Point2{x, y}
		}
		r, c, ok := poseFromPlane(pl, rays)
		if !ok {
			return
		}
		v[pX], v[pY], v[pZ] = c.X, c.Y, c.Z
		rs, vs = append(rs, r), append(vs, v)
	}
	if s.spec.Lens != nil {
		add(s.base)
		return rs, vs
	}
	focals := []float64{1, 0.7, 1.4, 0.5, 2.2, 4}
	if len(pts) < len(s.spec.Marks) {
		focals = []float64{0.8} // one of many parts: the start need not be near
	}
	for _, k := range focals {
		for _, k1 := range []float64{0, -0.2} {
			v := s.base
			v[pFocal] += math.Log(k)
			v[pK1] = k1
			add(v)
		}
	}
	return rs, vs
}
