package film

import (
	"swathe/geom"
	"swathe/track/paint"
	"swathe/track/sight"
)

// Veil makes parts of frames unrecognisable: each becomes large squares of one
// colour, for as long as something moves there and a while after.
type Veil struct {
	size   int // px, of a square
	nx, ny int
	until  []float64 // s, when each square shows again
	always []bool    // which squares never show
}

// The measures of a veil.
const (
	veilShare = 0.06 // of a square that may be a person: a hand is enough
	veilHold  = 0.7  // s: what moves may rest, or be missed in a frame
	veilRows  = 36   // squares over the height of a frame: a head is two or three
)

// NewVeil returns a veil for frames of w x h px.
func NewVeil(w, h int) *Veil {
	v := &Veil{size: max(8, h/veilRows)}
	v.nx, v.ny = (w+v.size-1)/v.size, (h+v.size-1)/v.size
	v.until, v.always = make([]float64, v.nx*v.ny), make([]bool, v.nx*v.ny)
	for i := range v.until {
		v.until[i] = -1
	}
	return v
}

// Note marks what is not floor at time t: each pixel of mask is a square of
// factor x factor px of the frame.
func (v *Veil) Note(mask *sight.Plane, factor int, t float64) {
	for k, on := range v.squares(mask, factor, veilShare) {
		if on {
			v.until[k] = t + veilHold
		}
	}
}

// Region veils polygons (px of the frame) for good.
func (v *Veil) Region(polygons [][]geom.Point2) {
	c := paint.New(v.nx*v.size, v.ny*v.size, nil)
	for _, p := range polygons {
		c.Spans(p, func(y, x0, x1 int) {
			for x := x0; x < x1; x++ {
				v.always[y/v.size*v.nx+x/v.size] = true
			}
		})
	}
}

// squares tells of each square whether a share of it or more is of the mask, or of
// one beside it: the edge of a person is half floor.
func (v *Veil) squares(mask *sight.Plane, factor int, share float64) []bool {
	sum := make([]int32, len(v.until))
	for y := 0; y < mask.H; y++ {
		j := min(v.ny-1, (y*factor+factor/2)/v.size)
		for x := 0; x < mask.W; x++ {
			if mask.Pix[y*mask.Stride+x] > 127 {
				sum[j*v.nx+min(v.nx-1, (x*factor+factor/2)/v.size)] += int32(factor * factor)
			}
		}
	}
	out := make([]bool, len(v.until))
	need := max(1, int32(share*float64(v.size*v.size)))
	for j := 0; j < v.ny; j++ {
		for i := 0; i < v.nx; i++ {
			if sum[j*v.nx+i] < need {
				continue
			}
			for b := max(0, j-1); b <= min(v.ny-1, j+1); b++ {
				for a := max(0, i-1); a <= min(v.nx-1, i+1); a++ {
					out[b*v.nx+a] = true
				}
			}
		}
	}
	return out
}

// covers tells whether square k is covered at time t.
func (v *Veil) covers(k int, t float64) bool {
	u := v.until[k]
	// Far ahead: the film went back.
	return v.always[k] || u >= t && u <= t+2*veilHold
}

// Draw covers the squares that are marked at time t.
func (v *Veil) Draw(c *paint.Canvas, t float64) {
	for j := 0; j < v.ny; j++ {
		for i := 0; i < v.nx; i++ {
			if !v.covers(j*v.nx+i, t) {
				continue
			}
			x0, y0 := i*v.size, j*v.size
			x1, y1 := min(c.W, x0+v.size), min(c.H, y0+v.size)
			var s [3]int
			for y := y0; y < y1; y++ {
				for k := 3 * (y*c.W + x0); k < 3*(y*c.W+x1); k += 3 {
					s[0] += int(c.Pix[k])
					s[1] += int(c.Pix[k+1])
					s[2] += int(c.Pix[k+2])
				}
			}
			n := max(1, (x1-x0)*(y1-y0))
			for y := y0; y < y1; y++ {
				for k := 3 * (y*c.W + x0); k < 3*(y*c.W+x1); k += 3 {
					c.Pix[k], c.Pix[k+1], c.Pix[k+2] = uint8(s[0]/n), uint8(s[1]/n), uint8(s[2]/n)
				}
			}
		}
	}
}
