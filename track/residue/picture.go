package residue

import (
	"errors"
	"fmt"
	"math"
	"sync"
)

// Picture is a picture as it was decoded: RGB, 8 bits each, sRGB. Pixel (x, y)
// begins at Pix[3*(y*W+x)].
type Picture struct {
	W, H int
	Pix  []uint8
}

// Validate says what is wrong with a picture, nil if nothing is.
func (p *Picture) Validate() error {
	if p == nil || p.W < 16 || p.H < 16 {
		return errors.New("the picture is smaller than 16 x 16 pixels")
	}
	if len(p.Pix) != 3*p.W*p.H {
		return fmt.Errorf("a picture of %d x %d pixels takes %d bytes, not %d", p.W, p.H, 3*p.W*p.H, len(p.Pix))
	}
	return nil
}

// light is a picture in linear light, 0..1, a plane a channel.
type light struct {
	w, h int
	c    [3][]float32
}

func newLight(w, h int) *light {
	l := &light{w: w, h: h}
	for i := range l.c {
		l.c[i] = make([]float32, w*h)
	}
	return l
}

func (p *Picture) light() *light {
	var table [256]float32
	for i := range table {
		table[i] = float32(linearOf[i])
	}
	l := newLight(p.W, p.H)
	for i := range p.W * p.H {
		for c := range 3 {
			l.c[c][i] = table[p.Pix[3*i+c]]
		}
	}
	return l
}

// luminance is Y of CIE 1931 (IEC 61966-2-1), as a plane.
func (l *light) luminance() []float32 {
	y := make([]float32, l.w*l.h)
	for i := range y {
		y[i] = 0.2126*l.c[0][i] + 0.7152*l.c[1][i] + 0.0722*l.c[2][i]
	}
	return y
}

// encoded is the picture as sRGB codes 0..255, not rounded: noise and a
// camera's coding are about even there.
func (l *light) encoded() *light {
	e := newLight(l.w, l.h)
	for c := range l.c {
		for i, v := range l.c[c] {
			e.c[c][i] = encodeFast(v)
		}
	}
	return e
}

// encodeTable holds 255 * encode at 0..1.25 in steps of 1/8192, between which
// encodeFast draws straight lines: off by less than 0.02 of a code.
var encodeTable = sync.OnceValue(func() *[10242]float32 {
	t := new([10242]float32)
	for i := range t {
		t[i] = float32(255 * encode(float64(i)/8192))
	}
	return t
})

func encodeFast(v float32) float32 {
	x := v * 8192
	if !(x > 0) {
		return 255 * 12.92 * v
	}
	i := int(x)
	table := encodeTable()
	if i >= len(table)-1 {
		return float32(255 * encode(float64(v)))
	}
	return table[i] + (x-float32(i))*(table[i+1]-table[i])
}

// smooth is a plane under a Gaussian of the given sigma (px), edges repeated.
func smooth(src []float32, w, h int, sigma float64) []float32 {
	if sigma > 4 {
		return boxes(src, w, h, sigma)
	}
	r := int(math.Ceil(3 * sigma))
	k := make([]float32, 2*r+1)
	sum := float32(0)
	for i := range k {
		k[i] = float32(math.Exp(-sq(float64(i-r)) / (2 * sigma * sigma)))
		sum += k[i]
	}
	for i := range k {
		k[i] /= sum
	}
	tmp, out := make([]float32, w*h), make([]float32, w*h)
	for y := range h {
		row := src[y*w : (y+1)*w]
		for x := range w {
			v := float32(0)
			for i, a := range k {
				v += a * row[min(max(x+i-r, 0), w-1)]
			}
			tmp[y*w+x] = v
		}
	}
	for y := range h {
		dst := out[y*w : (y+1)*w]
		for i, a := range k {
			row := tmp[min(max(y+i-r, 0), h-1)*w:]
			for x := range dst {
				dst[x] += a * row[x]
			}
		}
	}
	return out
}

// boxes is smooth for a wide Gaussian: three running means of its variance.
func boxes(src []float32, w, h int, sigma float64) []float32 {
	r := int(math.Round((math.Sqrt(4*sigma*sigma+1) - 1) / 2))
	a, b := append([]float32(nil), src...), make([]float32, len(src))
	for range 3 {
		running(b, a, r, way{w, 1}, way{h, w})
		running(a, b, r, way{h, w}, way{w, 1})
	}
	return a
}

// way is one of the two ways through a plane: so many values, so far apart.
type way struct{ n, step int }

// running writes to dst the mean of 2 r + 1 values of src about each, along one way,
// on every line across it; edges are repeated.
func running(dst, src []float32, r int, along, across way) {
	n, step := along.n, along.step
	for l := range across.n {
		base := l * across.step
		sum := float64(src[base]) * float64(r)
		for i := range r {
			sum += float64(src[base+min(i, n-1)*step])
		}
		for i := range n {
			sum += float64(src[base+min(i+r, n-1)*step])
			dst[base+i*step] = float32(sum / float64(2*r+1))
			sum -= float64(src[base+max(i-r, 0)*step])
		}
	}
}
