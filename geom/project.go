package geom

import "math"

// distortJac is Distort with its derivative: d(pixel)/d(x, y).
func (l Lens) distortJac(x, y float64) (px Point2, j [2][2]float64) {
	k := l.Dist
	r2 := x*x + y*y
	if l.Model == Fisheye {
		r := math.Sqrt(r2)
		s, q := 1.0, 2*(k[0]-1.0/3) // q is (ds/dr)/r, with its limit at r = 0
		// Below 1e-4 the difference in q loses all its digits; the limit is
		// then right to 1e-8.
		if r > 1e-4 {
			a := math.Atan(r)
			t := a * a
			slope := 1 + t*(3*k[0]+t*(5*k[1]+t*(7*k[2]+t*9*k[3])))
			s = fisheyeAngle(k, a) / r
			q = (slope/(1+r2) - s) / r2
		}
		j[0][0], j[0][1] = l.Fx*(s+x*x*q), l.Fx*x*y*q
		j[1][0], j[1][1] = l.Fy*x*y*q, l.Fy*(s+y*y*q)
		return Point2{l.Fx*x*s + l.Cx, l.Fy*y*s + l.Cy}, j
	}
	rad := 1 + r2*(k[0]+r2*(k[1]+r2*k[4]))
	dr := 2 * (k[0] + r2*(2*k[1]+r2*3*k[4]))
	xd := x*rad + 2*k[2]*x*y + k[3]*(r2+2*x*x)
	yd := y*rad + k[2]*(r2+2*y*y) + 2*k[3]*x*y
	cross := x*y*dr + 2*k[2]*x + 2*k[3]*y
	j[0][0], j[0][1] = l.Fx*(rad+x*x*dr+2*k[2]*y+6*k[3]*x), l.Fx*cross
	j[1][0], j[1][1] = l.Fy*cross, l.Fy*(rad+y*y*dr+6*k[2]*y+2*k[3]*x)
	return Point2{l.Fx*xd + l.Cx, l.Fy*yd + l.Cy}, j
}

// ProjectJac is Project with its derivative: j[i][k] is d(pixel i)/d(floor
// coordinate k), pixels per metre, for k = x, y, z.
func (c *Camera) ProjectJac(p Point3) (px Point2, j [2][3]float64, ok bool) {
	dx, dy, dz := p.X-c.Centre.X, p.Y-c.Centre.Y, p.Z-c.Centre.Z
	r := &c.R
	z := r[2][0]*dx + r[2][1]*dy + r[2][2]*dz
	if z <= 1e-9 {
		return Point2{}, j, false
	}
	iz := 1 / z
	x := (r[0][0]*dx + r[0][1]*dy + r[0][2]*dz) * iz
	y := (r[1][0]*dx + r[1][1]*dy + r[1][2]*dz) * iz
	px, d := c.Lens.distortJac(x, y)
	for k := 0; k < 3; k++ {
		gx, gy := (r[0][k]-x*r[2][k])*iz, (r[1][k]-y*r[2][k])*iz
		j[0][k] = d[0][0]*gx + d[0][1]*gy
		j[1][k] = d[1][0]*gx + d[1][1]*gy
	}
	r2 := x*x + y*y
	if c.Lens.Model == Fisheye {
		a := math.Atan(math.Sqrt(r2))
		return px, j, a*a <= c.r2max
	}
	return px, j, r2 <= c.r2max
}
