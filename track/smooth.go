package track

import "math"

// kf is a constant-velocity Kalman filter on the plane with a Rauch-Tung-
// Striebel pass backwards: state x, y, vx, vy; white acceleration of spectral
// density q (m^2/s^3) on both axes. With q for the two axes alike and
// measurements whose errors may be correlated between the axes, the filter
// keeps the full 4 x 4 covariance.
type kf struct {
	q float64
}

type vec4 [4]float64
type mat4 [4][4]float64

// fix is a measured position with its covariance; still adds that the robot
// does not move. A fix without Ok is a moment that only wants a position.
type fix struct {
	t     float64
	x, y  float64
	r     [3]float64 // var x, cov xy, var y
	ok    bool
	still bool
	from  bool // no motion links this moment to the one before
}

type smoothed struct {
	x vec4
	p mat4
}

// run filters forwards and smooths backwards over moments in increasing time.
func (k kf) run(z []fix) []smoothed {
	n := len(z)
	pred, filt := make([]smoothed, n), make([]smoothed, n)
	for i := range z {
		if i == 0 || z[i].from {
			pred[i] = diffuse(z[i:])
		} else {
			pred[i] = k.predict(filt[i-1], z[i].t-z[i-1].t)
		}
		filt[i] = pred[i]
		if z[i].ok {
			filt[i] = updatePosition(filt[i], z[i])
		}
		if z[i].still {
			filt[i] = updateStill(filt[i])
		}
	}
	out := make([]smoothed, n)
	for i := n - 1; i >= 0; i-- {
		out[i] = filt[i]
		if i == n-1 || z[i+1].from {
			continue
		}
		out[i] = k.back(filt[i], pred[i+1], out[i+1], z[i+1].t-z[i].t)
	}
	return out
}

// diffuse starts at the first measured position, with a speed of 0 +- 1 m/s.
func diffuse(z []fix) smoothed {
	var s smoothed
	for _, f := range z {
		if f.ok {
			s.x = vec4{f.x, f.y, 0, 0}
			break
		}
	}
	s.p[0][0], s.p[1][1], s.p[2][2], s.p[3][3] = 100, 100, 1, 1
	return s
}

func (k kf) predict(s smoothed, dt float64) smoothed {
	var o smoothed
	o.x = vec4{s.x[0] + dt*s.x[2], s.x[1] + dt*s.x[3], s.x[2], s.x[3]}
	// F P F', F = [I dt; 0 I].
	var fp mat4
	for j := 0; j < 4; j++ {
		fp[0][j] = s.p[0][j] + dt*s.p[2][j]
		fp[1][j] = s.p[1][j] + dt*s.p[3][j]
		fp[2][j], fp[3][j] = s.p[2][j], s.p[3][j]
	}
	for i := 0; i < 4; i++ {
		o.p[i][0] = fp[i][0] + dt*fp[i][2]
		o.p[i][1] = fp[i][1] + dt*fp[i][3]
		o.p[i][2], o.p[i][3] = fp[i][2], fp[i][3]
	}
	a, b, c := k.q*dt*dt*dt/3, k.q*dt*dt/2, k.q*dt
	for i := 0; i < 2; i++ {
		o.p[i][i] += a
		o.p[i][i+2] += b
		o.p[i+2][i] += b
		o.p[i+2][i+2] += c
	}
	return o
}

func updatePosition(s smoothed, f fix) smoothed {
	return update2(s, 0, 1, f.x-s.x[0], f.y-s.x[1], f.r)
}

// stillVar is the variance of the speed of a robot that stands, (m/s)^2.
const stillVar = 1e-8

func updateStill(s smoothed) smoothed {
	return update2(s, 2, 3, -s.x[2], -s.x[3], [3]float64{stillVar, 0, stillVar})
}

// update2 takes in a measurement of states a and b with innovation (ia, ib).
func update2(s smoothed, a, b int, ia, ib float64, r [3]float64) smoothed {
	s00, s01, s11 := s.p[a][a]+r[0], s.p[a][b]+r[1], s.p[b][b]+r[2]
	det := s00*s11 - s01*s01
	if det <= 0 {
		return s
	}
	i00, i01, i11 := s11/det, -s01/det, s00/det
	var g [4][2]float64
	for i := 0; i < 4; i++ {
		g[i][0] = s.p[i][a]*i00 + s.p[i][b]*i01
		g[i][1] = s.p[i][a]*i01 + s.p[i][b]*i11
	}
	o := s
	for i := 0; i < 4; i++ {
		o.x[i] += g[i][0]*ia + g[i][1]*ib
		for j := 0; j < 4; j++ {
			o.p[i][j] -= g[i][0]*s.p[a][j] + g[i][1]*s.p[b][j]
		}
	}
	for i := 0; i < 4; i++ {
		for j := i + 1; j < 4; j++ {
			m := (o.p[i][j] + o.p[j][i]) / 2
			o.p[i][j], o.p[j][i] = m, m
		}
	}
	return o
}

// back is one step of the smoother: C = P F' Ppred^-1.
func (k kf) back(f, pred, next smoothed, dt float64) smoothed {
	inv, ok := invert4(pred.p)
	if !ok {
		return f
	}
	var pf mat4 // P F'
	for i := 0; i < 4; i++ {
		pf[i][0] = f.p[i][0] + dt*f.p[i][2]
		pf[i][1] = f.p[i][1] + dt*f.p[i][3]
		pf[i][2], pf[i][3] = f.p[i][2], f.p[i][3]
	}
	c := mul4(pf, inv)
	o := f
	var d mat4
	for i := 0; i < 4; i++ {
		for j := 0; j < 4; j++ {
			o.x[i] += c[i][j] * (next.x[j] - pred.x[j])
			d[i][j] = next.p[i][j] - pred.p[i][j]
		}
	}
	cd := mul4(c, d)
	for i := 0; i < 4; i++ {
		for j := 0; j < 4; j++ {
			var v float64
			for m := 0; m < 4; m++ {
				v += cd[i][m] * c[j][m]
			}
			o.p[i][j] += v
		}
	}
	return o
}

func mul4(a, b mat4) (c mat4) {
	for i := range a {
		for j := range a {
			for m := range a {
				c[i][j] += a[i][m] * b[m][j]
			}
		}
	}
	return c
}

// invert4 inverts a symmetric positive definite matrix by elimination with
// row pivoting.
func invert4(a mat4) (inv mat4, ok bool) {
	for i := range inv {
		inv[i][i] = 1
	}
	for c := 0; c < 4; c++ {
		p := c
		for r := c + 1; r < 4; r++ {
			if math.Abs(a[r][c]) > math.Abs(a[p][c]) {
				p = r
			}
		}
		if a[p][c] == 0 || math.IsNaN(a[p][c]) {
			return inv, false
		}
		a[c], a[p] = a[p], a[c]
		inv[c], inv[p] = inv[p], inv[c]
		d := 1 / a[c][c]
		for j := 0; j < 4; j++ {
			a[c][j] *= d
			inv[c][j] *= d
		}
		for r := 0; r < 4; r++ {
			if r == c || a[r][c] == 0 {
				continue
			}
			m := a[r][c]
			for j := 0; j < 4; j++ {
				a[r][j] -= m * a[c][j]
				inv[r][j] -= m * inv[c][j]
			}
		}
	}
	return inv, true
}
