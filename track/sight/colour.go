package sight

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// colours is what a camera's own white balance and exposure make of the colours
// of a scene: luminance and chroma after, each linear in luminance, chroma and 1
// before. A gain on each of red, green and blue is of this kind. What the light
// does from place to place is left to the light's own map (see relight).
type colours [3][4]float64

// room is a picture at the size of the whole-room look.
type room struct{ y, u, v *Plane }

// colourChange finds the change from one picture of a room to another. changed is
// false where the two have the same chroma as far as a pixel's noise lets it be
// told, or no change of this kind explains the difference: things that moved are
// no change of colour, so pixels far from the change count ever less (Cauchy's
// weight).
func colourChange(from, to room) (c colours, changed bool) {
	type pixel struct{ in, out [3]float64 }
	var all []pixel
	var off []float64
	step := 1 + from.y.W*from.y.H/4000
	for k, n := 0, from.y.W*from.y.H; k < n; k += step {
		x, y := k%from.y.W, k/from.y.W
		a, b := from.y.Pix[y*from.y.Stride+x], to.y.Pix[y*to.y.Stride+x]
		if min(a, b) < 12 || max(a, b) > 250 { // black or burnt out: its colour is lost
			continue
		}
		p := pixel{[3]float64{float64(a), float64(from.u.Pix[y*from.u.Stride+x]) - 128, float64(from.v.Pix[y*from.v.Stride+x]) - 128},
			[3]float64{float64(b), float64(to.u.Pix[y*to.u.Stride+x]) - 128, float64(to.v.Pix[y*to.v.Stride+x]) - 128}}
		all = append(all, p)
		off = append(off, math.Max(math.Abs(p.in[1]-p.out[1]), math.Abs(p.in[2]-p.out[2])))
	}
	for i := range c {
		c[i][i] = 1
	}
	if len(all) < 200 {
		return c, false
	}
	before := median(off)
	if before < leastColour {
		return c, false
	}
	// To begin with all is as much brighter as most of it is.
	for k, p := range all {
		off[k] = p.out[0] / p.in[0]
	}
	gain := median(off)
	for i := range c {
		c[i][i] = gain
	}
	scale := [3]float64{20, 4, 4} // grey levels
	for range 6 {
		for ch := range c {
			// The sums over pixels by hand: gonum's of so small vectors take six
			// times as long.
			var h [4 * 4]float64
			var g [4]float64
			// As if 3 % of the pixels, of ordinary contrast, had said that nothing
			// but that changed: on a floor of one colour not all of it shows.
			ridge := 0.03 * float64(len(all))
			size := [4]float64{10, 3, 3, 1}
			for i := range size {
				h[4*i+i] = ridge * size[i] * size[i]
			}
			g[ch] = gain * h[4*ch+ch]
			for _, p := range all {
				in := [4]float64{p.in[0], p.in[1], p.in[2], 1}
				e := p.out[ch]
				for i := range in {
					e -= c[ch][i] * in[i]
				}
				w := 1 / (1 + e*e/(scale[ch]*scale[ch]))
				for i := range in {
					g[i] += w * in[i] * p.out[ch]
					for j := range in {
						h[4*i+j] += w * in[i] * in[j]
					}
				}
			}
			var chol mat.Cholesky
			if !chol.Factorize(mat.NewSymDense(4, h[:])) || chol.SolveVecTo(mat.NewVecDense(4, c[ch][:]), mat.NewVecDense(4, g[:])) != nil {
				return c, false
			}
		}
	}
	for k, p := range all {
		q := c.of(p.in)
		off[k] = math.Max(math.Abs(q[1]-p.out[1]), math.Abs(q[2]-p.out[2]))
	}
	return c, before > 1.5*median(off)+leastColour/2
}

// leastColour is the difference in chroma, grey levels, that noise and encoders
// make between two pictures of one floor.
const leastColour = 1.5

// of is what becomes of luminance and chroma about 0.
func (c *colours) of(in [3]float64) (out [3]float64) {
	for ch := range out {
		out[ch] = c[ch][0]*in[0] + c[ch][1]*in[1] + c[ch][2]*in[2] + c[ch][3]
	}
	return out
}

// paint writes what becomes of picture r into dst, whose planes are as large.
// Chroma may be half as large as luminance.
func (c *colours) paint(r, dst room) {
	half := 1
	if r.u.W < r.y.W {
		half = 2
	}
	for y := 0; y < r.y.H; y++ {
		for x := 0; x < r.y.W; x++ {
			k := min(y/half, r.u.H-1)*r.u.Stride + min(x/half, r.u.W-1)
			o := burnt(c.of([3]float64{float64(r.y.Pix[y*r.y.Stride+x]), float64(r.u.Pix[k]) - 128, float64(r.v.Pix[k]) - 128}))
			dst.y.Pix[y*dst.y.Stride+x] = grey(o[0])
		}
	}
	// Chroma last: in place, the luminance above needs it as it was. Its own
	// luminance is by now that of after, so it is taken back from it.
	for y := 0; y < r.u.H; y++ {
		for x := 0; x < r.u.W; x++ {
			k := y*r.u.Stride + x
			u, v := float64(r.u.Pix[k])-128, float64(r.v.Pix[k])-128
			l := float64(dst.y.Pix[min(y*half, dst.y.H-1)*dst.y.Stride+min(x*half, dst.y.W-1)])
			l = (l - c[0][1]*u - c[0][2]*v - c[0][3]) / c[0][0]
			o := burnt(c.of([3]float64{l, u, v}))
			dst.u.Pix[y*dst.u.Stride+x], dst.v.Pix[y*dst.v.Stride+x] = grey(o[1]+128), grey(o[2]+128)
		}
	}
}

// burnt is what is left of luminance and chroma (about 0) where red, green or
// blue is more than a picture holds (BT.601).
func burnt(o [3]float64) [3]float64 {
	r, g, b := o[0]+1.402*o[2], o[0]-0.344*o[1]-0.714*o[2], o[0]+1.772*o[1]
	if max(r, g, b) <= 255 && min(r, g, b) >= 0 {
		return o
	}
	hold := func(v float64) float64 { return math.Max(0, math.Min(255, v)) }
	r, g, b = hold(r), hold(g), hold(b)
	l := 0.299*r + 0.587*g + 0.114*b
	return [3]float64{l, (b - l) / 1.772, (r - l) / 1.402}
}

func grey(v float64) uint8 { return uint8(math.Max(0, math.Min(255, v+0.5))) }
