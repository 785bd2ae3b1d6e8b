// Package sight finds the robot in pictures: the empty-room background, where
// a robot-sized thing stands before it, the sub-pixel fit of the outline that
// the robot must show there, and the turn of the picture on its top. It is pure
// Go over plain planes of pixels, so that it can be tested without a decoder.
//
// All pixel coordinates here are those of the pictures as they are worked on,
// which may be halved; Eye holds a camera scaled to match.
package sight

import (
	"math"

	"swathe/geom"
)

// WorkWidth is the widest picture that is worked on, px; a wider one is halved.
// At 2,200 px a pixel is some 3 mm of a 6 m room, of which the fit needs a tenth.
const WorkWidth = 2200

// Plane is one channel of a picture. Pixel (x, y) is Pix[y*Stride+x].
type Plane struct {
	Pix          []uint8
	W, H, Stride int
}

// Picture is one frame: luminance and, at half its size, two chroma planes.
// Its memory may belong to a decoder: it is valid until the next frame is asked for.
type Picture struct {
	T       float64 // s from the first frame of the run
	Y, U, V Plane
}

// NewPlane returns an empty plane with memory of its own.
func NewPlane(w, h int) Plane { return Plane{Pix: make([]uint8, w*h), W: w, H: h, Stride: w} }

// Clone copies a plane into memory of its own.
func (p Plane) Clone() Plane {
	q := NewPlane(p.W, p.H)
	for y := 0; y < p.H; y++ {
		copy(q.Pix[y*q.W:(y+1)*q.W], p.Pix[y*p.Stride:y*p.Stride+p.W])
	}
	return q
}

// Clone copies a picture into memory of its own.
func (p *Picture) Clone() *Picture {
	return &Picture{T: p.T, Y: p.Y.Clone(), U: p.U.Clone(), V: p.V.Clone()}
}

// At samples the plane at (x, y) between its pixels; ok is false within half a
// pixel of its edge or beyond.
func (p *Plane) At(x, y float64) (v float32, ok bool) {
	if !(x >= 0 && y >= 0) {
		return 0, false
	}
	ix, iy := int(x), int(y)
	if ix >= p.W-1 || iy >= p.H-1 {
		return 0, false
	}
	fx, fy := float32(x-float64(ix)), float32(y-float64(iy))
	i := iy*p.Stride + ix
	r0, r1 := p.Pix[i:i+2:i+2], p.Pix[i+p.Stride:i+p.Stride+2:i+p.Stride+2]
	a, b, c, d := float32(r0[0]), float32(r0[1]), float32(r1[0]), float32(r1[1])
	top := a + (b-a)*fx
	return top + (c+(d-c)*fx-top)*fy, true
}

// Shrink returns the plane at 1/f of its size, each pixel the mean of a
// square of f x f (a grid of at most 4 x 4 of it), into dst if that fits.
func (p *Plane) Shrink(f int, dst Plane) Plane {
	w, h := p.W/f, p.H/f
	if dst.W != w || dst.H != h {
		dst = NewPlane(w, h)
	}
	switch f {
	case 1:
		for y := 0; y < h; y++ {
			copy(dst.Pix[y*w:(y+1)*w], p.Pix[y*p.Stride:y*p.Stride+w])
		}
		return dst
	case 2:
		for y := 0; y < h; y++ {
			a := p.Pix[2*y*p.Stride:][: 2*w : 2*w]
			b := p.Pix[(2*y+1)*p.Stride:][: 2*w : 2*w]
			d := dst.Pix[y*w:][:w:w]
			for x := range d {
				i := 2 * x
				d[x] = uint8((uint32(a[i]) + uint32(a[i+1]) + uint32(b[i]) + uint32(b[i+1]) + 2) >> 2)
			}
		}
		return dst
	}
	// Two lines and two columns of each square, spread over it.
	o1, o2 := f/4, f-1-f/4
	for y := 0; y < h; y++ {
		a := p.Pix[(f*y+o1)*p.Stride:][: f*w : f*w]
		b := p.Pix[(f*y+o2)*p.Stride:][: f*w : f*w]
		d := dst.Pix[y*w:][:w:w]
		i := 0
		for x := range d {
			d[x] = uint8((uint32(a[i+o1]) + uint32(a[i+o2]) + uint32(b[i+o1]) + uint32(b[i+o2]) + 2) >> 2)
			i += f
		}
	}
	return dst
}

// ScaleCamera returns the camera for pictures halved n times: the centre of a
// halved pixel lies between the centres of the pixels that it is made of.
func ScaleCamera(c *geom.Camera, n int) *geom.Camera {
	l := c.Lens
	w, h := c.Width, c.Height
	for ; n > 0; n-- {
		l.Fx, l.Fy, l.Cx, l.Cy = l.Fx/2, l.Fy/2, (l.Cx-0.5)/2, (l.Cy-0.5)/2
		w, h = w/2, h/2
	}
	return geom.NewCamera(w, h, l, c.R, c.Centre)
}

// median returns the middle value, reordering v; NaN if v is empty.
func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	return geom.Select(v, len(v)/2)
}
