package residue

import (
	"math"

	"swathe/geom"
)

// roi is the part of the pictures about a patch: planes of w x h pixels, the
// first of which is pixel (x0, y0) of the pictures.
type roi struct {
	x0, y0, w, h int
	in           []bool    // in the patch's outline
	open         []bool    // floor that shows, in the patch or near it, and is masked by nothing
	area         []float32 // m2 of floor that a pixel shows
	side         float64   // m, of a pixel in the middle of the patch: the root of its area
	clean        *light    // codes of the clean floor
	tune         *tuning   // colours by a card; nil: as the camera has them
}

// roiMargin is how much floor about a patch is looked at, m: to know the noise
// and what is clean by.
const roiMargin = 0.06

// newROI cuts the patch out of a picture of width x height pixels. ok is false
// where the patch does not show whole.
func newROI(g Ground, outline, room []geom.Point2, width, height int) (r *roi, ok bool) {
	low, high := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	var mid geom.Point2
	for _, p := range along(outline, 0.02) {
		q, ok := g.Pixel(p)
		if !ok || q.X < 0 || q.Y < 0 || q.X > float64(width-1) || q.Y > float64(height-1) {
			return nil, false
		}
		low.X, low.Y, high.X, high.Y = min(low.X, q.X), min(low.Y, q.Y), max(high.X, q.X), max(high.Y, q.Y)
	}
	for _, p := range outline {
		mid = mid.Add(p.Scale(1 / float64(len(outline))))
	}
	r = &roi{}
	c, _ := g.Pixel(mid)
	r.side = math.Sqrt(pixelArea(g, c))
	if !(r.side > 0) {
		return nil, false
	}
	m := roiMargin / r.side
	r.x0, r.y0 = max(0, int(low.X-m)), max(0, int(low.Y-m))
	r.w, r.h = min(width, int(high.X+m)+2)-r.x0, min(height, int(high.Y+m)+2)-r.y0
	n := r.w * r.h
	r.in, r.open, r.area = make([]bool, n), make([]bool, n), make([]float32, n)
	for y := range r.h {
		for x := range r.w {
			px := geom.Point2{X: float64(r.x0 + x), Y: float64(r.y0 + y)}
			p, ok := g.Floor(px)
			if !ok {
				continue
			}
			i := y*r.w + x
			r.in[i] = geom.InRing(outline, p)
			r.open[i] = geom.InRing(room, p)
			r.area[i] = float32(pixelArea(g, px))
		}
	}
	return r, true
}

// pixelArea is the floor that the pixel at px shows, m2, by differences.
func pixelArea(g Ground, px geom.Point2) float64 {
	a, ok1 := g.Floor(geom.Point2{X: px.X - 0.5, Y: px.Y})
	b, ok2 := g.Floor(geom.Point2{X: px.X + 0.5, Y: px.Y})
	c, ok3 := g.Floor(geom.Point2{X: px.X, Y: px.Y - 0.5})
	d, ok4 := g.Floor(geom.Point2{X: px.X, Y: px.Y + 0.5})
	if !ok1 || !ok2 || !ok3 || !ok4 {
		return 0
	}
	u, v := b.Sub(a), d.Sub(c)
	return math.Abs(u.X*v.Y - u.Y*v.X)
}

// along are points of a ring, no further apart than step, m.
func along(ring []geom.Point2, step float64) (out []geom.Point2) {
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		n := max(1, int(math.Ceil(a.Dist(b)/step)))
		for k := range n {
			out = append(out, a.Add(b.Sub(a).Scale(float64(k)/float64(n))))
		}
	}
	return out
}

// cut copies the part of a picture that the roi is.
func (r *roi) cut(l *light) *light {
	o := newLight(r.w, r.h)
	for c := range l.c {
		for y := range r.h {
			copy(o.c[c][y*r.w:(y+1)*r.w], l.c[c][(r.y0+y)*l.w+r.x0:])
		}
	}
	return o
}
