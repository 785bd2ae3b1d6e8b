package residue

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"swathe/geom"
)

// change is how one picture of a patch differs from the clean floor, in codes,
// and how much of that the clean floor itself does.
type change struct {
	*roi
	d            [3][]float32
	inv          [6]float64 // of the covariance of one pixel: xx, xy, xz, yy, yz, zz
	inLight      bool       // pixels that are soiled in part mix in linear light
	luma, chroma float64    // variance of one pixel's luma and of its chroma, codes squared
}

// quantum is the variance, in codes, of what no averaging over a few pixels takes
// away: rounding to whole codes, and a JPEG's rounding of a whole block's colour.
// Two pictures that are the same to the byte still know no more than that.
const quantum = 0.25

func newChange(r *roi, p *light) *change {
	c := &change{roi: r}
	for k := range c.d {
		c.d[k] = make([]float32, len(p.c[k]))
		for i := range c.d[k] {
			c.d[k][i] = p.c[k][i] - r.clean.c[k][i]
		}
	}
	c.inv = scatter(c.d, r.open)
	var y, b []float64
	for i := 0; i < len(r.open); i += 3 {
		if r.open[i] {
			v := ycc(float64(c.d[0][i]), float64(c.d[1][i]), float64(c.d[2][i]))
			y, b = append(y, math.Abs(v[0])), append(b, math.Hypot(v[1], v[2]))
		}
	}
	c.luma, c.chroma = sq(1.4826*geom.Median(y))+quantum, sq(geom.Median(b))/1.386+quantum
	return c
}

// scatter is the inverse covariance of d over the pixels that mark names, soil
// left out: begun from the medians and repeated without what lies beyond three
// and a half sigmas. (The loss of the tails is made up by the factor, 1.05 for
// three channels.)
func scatter(d [3][]float32, mark []bool) [6]float64 {
	var v [3]float64
	for k := range d {
		var a []float64
		for i := 0; i < len(mark); i += 3 {
			if mark[i] {
				a = append(a, math.Abs(float64(d[k][i])))
			}
		}
		v[k] = sq(1.4826*geom.Median(a)) + quantum
	}
	inv := [6]float64{0: 1 / v[0], 3: 1 / v[1], 5: 1 / v[2]}
	for range 4 {
		var s [6]float64
		n := 0.0
		for i, m := range mark {
			if !m {
				continue
			}
			x, y, z := float64(d[0][i]), float64(d[1][i]), float64(d[2][i])
			if form(inv, x, y, z) > 12.25 {
				continue
			}
			n++
			s[0] += x * x
			s[1] += x * y
			s[2] += x * z
			s[3] += y * y
			s[4] += y * z
			s[5] += z * z
		}
		if n < 50 {
			return inv
		}
		for i := range s {
			s[i] *= 1.05 / n
		}
		cov := mat.NewSymDense(3, []float64{s[0] + quantum, s[1], s[2], s[1], s[3] + quantum, s[4], s[2], s[4], s[5] + quantum})
		var chol mat.Cholesky
		if !chol.Factorize(cov) {
			return inv
		}
		var o mat.SymDense
		if chol.InverseTo(&o) != nil {
			return inv
		}
		inv = [6]float64{o.At(0, 0), o.At(0, 1), o.At(0, 2), o.At(1, 1), o.At(1, 2), o.At(2, 2)}
	}
	return inv
}

// form is v' M v.
func form(m [6]float64, x, y, z float64) float64 {
	return m[0]*x*x + m[3]*y*y + m[5]*z*z + 2*(m[1]*x*y+m[2]*x*z+m[4]*y*z)
}

// smoothed is the change under a Gaussian, with the scatter that is left then.
func (c *change) smoothed(sigma float64) *change {
	o := &change{roi: c.roi, inLight: c.inLight}
	for k := range c.d {
		o.d[k] = smooth(c.d[k], c.w, c.h, sigma)
	}
	o.inv = scatter(o.d, c.open)
	return o
}

// at is the change at pixel i.
func (c *change) at(i int) [3]float64 {
	return [3]float64{float64(c.d[0][i]), float64(c.d[1][i]), float64(c.d[2][i])}
}

// strength is how many sigmas pixel i differs by (Mahalanobis' distance).
func (c *change) strength(i int) float64 {
	return math.Sqrt(form(c.inv, float64(c.d[0][i]), float64(c.d[1][i]), float64(c.d[2][i])))
}

// labAt is a colour in codes as CIELAB.
func labAt(r, g, b float64) Lab {
	return LabOf(decode(r/255), decode(g/255), decode(b/255))
}
