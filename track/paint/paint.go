// Package paint draws lines, areas and words onto frames of packed BGR pixels.
// Places are pixels as everywhere (the centre of the first is (0, 0)); what
// lies outside the frame is left out. Nothing is allocated per pixel, so that
// films can be painted as fast as they are decoded.
package paint

import (
	"image"
	"math"

	"swathe/geom"
)

// Colour is red, green, blue and how much of what lies beneath it hides,
// 0 (nothing) to 255.
type Colour [4]uint8

// Canvas is a frame: W*H pixels of blue, green, red. A, if not nil, holds how
// opaque each pixel is (one byte a pixel), for a drawing without its frame.
type Canvas struct {
	W, H int
	Pix  []uint8
	A    []uint8
	// Clip, if not empty, is the only part that is drawn on: x, y, width, height.
	Clip [4]int

	cover []uint8 // of one shape
	xs    []float64
}

// New returns a canvas over pixels that the caller owns.
func New(w, h int, pix []uint8) *Canvas { return &Canvas{W: w, H: h, Pix: pix} }

// limits is the part that is drawn on.
func (c *Canvas) limits() image.Rectangle {
	all := image.Rect(0, 0, c.W, c.H)
	if c.Clip[2] <= 0 || c.Clip[3] <= 0 {
		return all
	}
	return all.Intersect(image.Rect(c.Clip[0], c.Clip[1], c.Clip[0]+c.Clip[2], c.Clip[1]+c.Clip[3]))
}

// Dot mixes a colour into one pixel, k of 255 of it.
func (c *Canvas) Dot(x, y int, col Colour, k uint8) {
	if !image.Pt(x, y).In(c.limits()) {
		return
	}
	c.dot(y*c.W+x, col, uint32(col[3])*uint32(k)/255)
}

// dot mixes a of 255 of a colour into pixel i.
func (c *Canvas) dot(i int, col Colour, a uint32) {
	if a == 0 {
		return
	}
	p := c.Pix[3*i : 3*i+3 : 3*i+3]
	if c.A == nil {
		b := 255 - a
		p[0] = uint8((uint32(p[0])*b + uint32(col[2])*a + 127) / 255)
		p[1] = uint8((uint32(p[1])*b + uint32(col[1])*a + 127) / 255)
		p[2] = uint8((uint32(p[2])*b + uint32(col[0])*a + 127) / 255)
		return
	}
	// Source over a picture that is itself part transparent.
	under := uint32(c.A[i]) * (255 - a) / 255
	sum := under + a
	p[0] = uint8((uint32(p[0])*under + uint32(col[2])*a + sum/2) / sum)
	p[1] = uint8((uint32(p[1])*under + uint32(col[1])*a + sum/2) / sum)
	p[2] = uint8((uint32(p[2])*under + uint32(col[0])*a + sum/2) / sum)
	c.A[i] = uint8(sum)
}

// Line draws a line of a width (px) through points, smooth at its edges and
// round at its ends; closed joins the last point to the first. Where it
// crosses itself it is not darker.
func (c *Canvas) Line(pts []geom.Point2, closed bool, width float64, col Colour) {
	if len(pts) == 0 || !(width > 0) {
		return
	}
	r := width/2 + 0.5
	in := c.bounds(pts, r)
	w := in.Dx()
	c.clearCover(w * in.Dy())
	n := len(pts) - 1
	if closed || n == 0 {
		n = len(pts)
	}
	for i := 0; i < n; i++ {
		a, b := pts[i], pts[(i+1)%len(pts)]
		if math.IsNaN(a.X + a.Y + b.X + b.Y) {
			continue
		}
		c.segment(a, b, r, in)
	}
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			if k := c.cover[(y-in.Min.Y)*w+x-in.Min.X]; k > 0 {
				c.dot(y*c.W+x, col, uint32(col[3])*uint32(k)/255)
			}
		}
	}
}

// bounds is the box of the points, r wider, within the frame.
func (c *Canvas) bounds(pts []geom.Point2, r float64) image.Rectangle {
	lo, hi := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range pts {
		if math.IsNaN(p.X + p.Y) {
			continue
		}
		lo.X, lo.Y = math.Min(lo.X, p.X), math.Min(lo.Y, p.Y)
		hi.X, hi.Y = math.Max(hi.X, p.X), math.Max(hi.Y, p.Y)
	}
	clamp := func(v float64, n int) int { return int(math.Max(-1, math.Min(float64(n), v))) }
	box := image.Rectangle{Min: image.Pt(clamp(math.Floor(lo.X-r), c.W), clamp(math.Floor(lo.Y-r), c.H)),
		Max: image.Pt(clamp(math.Ceil(hi.X+r), c.W)+1, clamp(math.Ceil(hi.Y+r), c.H)+1)}
	return box.Intersect(c.limits())
}

func (c *Canvas) clearCover(n int) {
	if cap(c.cover) < n {
		c.cover = make([]uint8, n)
	}
	c.cover = c.cover[:n]
	clear(c.cover)
}

// segment raises the cover of the pixels near one piece of a line.
func (c *Canvas) segment(a, b geom.Point2, r float64, in image.Rectangle) {
	d := b.Sub(a)
	l2 := d.X*d.X + d.Y*d.Y
	low, high := math.Min(a.Y, b.Y)-r, math.Max(a.Y, b.Y)+r
	for y := max(in.Min.Y, int(math.Max(-1, math.Floor(low)))); y < in.Max.Y && float64(y) <= high; y++ {
		// Only the stretch of the row that the piece can reach.
		l, h := math.Min(a.X, b.X)-r, math.Max(a.X, b.X)+r
		if math.Abs(d.Y) > 1e-9 {
			t0, t1 := (float64(y)-r-a.Y)/d.Y, (float64(y)+r-a.Y)/d.Y
			if t0 > t1 {
				t0, t1 = t1, t0
			}
			t0, t1 = math.Max(0, math.Min(1, t0)), math.Max(0, math.Min(1, t1))
			u, v := a.X+t0*d.X, a.X+t1*d.X
			l, h = math.Max(l, math.Min(u, v)-r), math.Min(h, math.Max(u, v)+r)
		}
		for x := max(in.Min.X, int(math.Max(-1, math.Floor(l)))); x < in.Max.X && float64(x) <= h; x++ {
			p := geom.Point2{X: float64(x), Y: float64(y)}.Sub(a)
			t := 0.0
			if l2 > 0 {
				t = math.Max(0, math.Min(1, (p.X*d.X+p.Y*d.Y)/l2))
			}
			if k := r - math.Hypot(p.X-t*d.X, p.Y-t*d.Y); k > 0 {
				v := uint8(255 * math.Min(1, k))
				if q := &c.cover[(y-in.Min.Y)*in.Dx()+x-in.Min.X]; v > *q {
					*q = v
				}
			}
		}
	}
}

// Fill fills a polygon (even-odd), each pixel by its centre.
func (c *Canvas) Fill(pts []geom.Point2, col Colour) {
	c.Spans(pts, func(y, x0, x1 int) {
		for i := y*c.W + x0; i < y*c.W+x1; i++ {
			c.dot(i, col, uint32(col[3]))
		}
	})
}

// Spans calls f with the rows of pixels, x1 left out, whose centres a polygon
// holds (even-odd).
func (c *Canvas) Spans(pts []geom.Point2, f func(y, x0, x1 int)) {
	box, limits := c.bounds(pts, 0), c.limits()
	if box.Empty() || len(pts) < 3 {
		return
	}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		c.xs = c.xs[:0]
		for i, a := range pts {
			b := pts[(i+1)%len(pts)]
			if (a.Y <= float64(y)) != (b.Y <= float64(y)) {
				c.xs = append(c.xs, a.X+(float64(y)-a.Y)/(b.Y-a.Y)*(b.X-a.X))
			}
		}
		sortShort(c.xs)
		for i := 0; i+1 < len(c.xs); i += 2 {
			l, h := math.Max(float64(limits.Min.X), math.Ceil(c.xs[i])), math.Min(float64(limits.Max.X-1), math.Floor(c.xs[i+1]))
			if l <= h {
				f(y, int(l), int(h)+1)
			}
		}
	}
}

// Box fills a rectangle of whole pixels, x1 and y1 left out.
func (c *Canvas) Box(x0, y0, x1, y1 int, col Colour) {
	in := image.Rectangle{Min: image.Pt(x0, y0), Max: image.Pt(x1, y1)}.Intersect(c.limits())
	for y := in.Min.Y; y < in.Max.Y; y++ {
		for x := in.Min.X; x < in.Max.X; x++ {
			c.dot(y*c.W+x, col, uint32(col[3]))
		}
	}
}

func sortShort(v []float64) {
	for i := 1; i < len(v); i++ {
		for j := i; j > 0 && v[j] < v[j-1]; j-- {
			v[j], v[j-1] = v[j-1], v[j]
		}
	}
}
