package figure

import (
	"image"
	"math"

	"swathe/geom"
	"swathe/report/words"
)

// view maps floor metres to pixels of the sheet: turned by turn, k pixels a
// metre, the same in both directions.
type view struct {
	k        float64 // pixels a metre
	cos, sin float64
	ox, oy   float64 // sheet position of the floor's origin
}

// px returns where floor point p lies on the sheet.
func (v view) px(p geom.Point2) pt {
	return pt{v.ox + v.k*(v.cos*p.X-v.sin*p.Y), v.oy + v.k*(v.sin*p.X+v.cos*p.Y)}
}

// floor is the inverse of px.
func (v view) floor(p pt) geom.Point2 {
	x, y := (p.x-v.ox)/v.k, (p.y-v.oy)/v.k
	return geom.Point2{X: v.cos*x + v.sin*y, Y: -v.sin*x + v.cos*y}
}

// ring returns the corners of a closed or open ring on the sheet.
func (v view) ring(r []geom.Point2) []pt {
	out := make([]pt, len(r))
	for i, p := range r {
		out[i] = v.px(p)
	}
	return out
}

// corners returns the corners of a polygon of the plan, the first not repeated.
func corners[R ~[]P, P ~[2]float64](r R) []geom.Point2 {
	out := make([]geom.Point2, 0, len(r))
	for i, p := range r {
		if i > 0 && i == len(r)-1 && p == r[0] {
			break
		}
		out = append(out, geom.Point2{X: p[0], Y: p[1]})
	}
	return out
}

// extent returns the room's size in metres once turned.
func extent(room []geom.Point2, turnDeg float64) (minX, minY, w, h float64) {
	s, c := math.Sincos(geom.Radians(turnDeg))
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, p := range room {
		x, y := c*p.X-s*p.Y, s*p.X+c*p.Y
		x0, x1 = math.Min(x0, x), math.Max(x1, x)
		y0, y1 = math.Min(y0, y), math.Max(y1, y)
	}
	return x0, y0, x1 - x0, y1 - y0
}

// fit returns the view that shows the room as large as fits into b (or at
// mPerPx metres a pixel if that is not 0), and the box that it then takes.
func fit(room []geom.Point2, turnDeg, mPerPx float64, b box) (view, box) {
	minX, minY, w, h := extent(room, turnDeg)
	k := math.Min(b.w()/w, b.h()/h)
	if mPerPx > 0 {
		k = math.Min(k, 1/mPerPx)
	}
	s, c := math.Sincos(geom.Radians(turnDeg))
	// Whole pixels, so that the cells' picture lies exactly on the outline.
	x0 := math.Round((b.x0 + b.x1 - k*w) / 2)
	y0 := math.Round((b.y0 + b.y1 - k*h) / 2)
	v := view{k: k, cos: c, sin: s, ox: x0 - k*minX, oy: y0 - k*minY}
	return v, box{x0, y0, x0 + k*w, y0 + k*h}
}

// furniture draws obstacles, overhead things and the room's outline; names are
// written if the labels are full.
func (s *sheet) furniture(v view, plan *geom.Plan) {
	thin := math.Max(1, 0.07*s.em)
	for _, o := range plan.Obstacles {
		ring := v.ring(corners(o.Outline))
		s.fill(s.pal.obstacle, ring)
		s.line(stroke{c: s.pal.edge, width: thin}, ring, true)
	}
	for _, o := range plan.Overhead {
		s.overhead(v.ring(corners(o.Outline)))
	}
	s.line(stroke{c: s.pal.room, width: math.Max(1.5, 0.16*s.em)}, v.ring(corners(plan.Room)), true)
	if s.opt.Labels != Full {
		return
	}
	for _, o := range plan.Obstacles {
		s.nameIn(v, o, contrast(s.pal.obstacle))
	}
}

// overhead draws the outline of what hangs over the floor: dashes in the
// theme's colour on an unbroken line of the page's, so that they stand out from
// pale and from dark floor alike.
func (s *sheet) overhead(ring []pt) {
	w := math.Max(1, 0.1*s.em)
	s.line(stroke{c: s.pal.page, width: 1.5 * w}, ring, true)
	s.line(stroke{c: s.pal.over, width: w, dash: []float64{0.45 * s.em, 0.3 * s.em}}, ring, true)
}

// nameIn writes the name of an obstacle into it where it fits.
func (s *sheet) nameIn(v view, o geom.Piece, st style) {
	ring := v.ring(corners(o.Outline))
	b := bounds(ring)
	st.size = s.small()
	st.alignX, st.alignY = centre, middle
	w := s.width(st, o.Name)
	at := pt{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2}
	if !inside(ring, at) {
		return
	}
	switch {
	case w < 0.92*b.w() && st.size < 0.92*b.h():
	case w < 0.92*b.h() && st.size < 0.92*b.w():
		st.turn = math.Pi / 2
	default:
		return
	}
	s.text(st, at, o.Name)
	if st.turn == 0 {
		s.named = append(s.named, box{at.x - w/2, at.y - st.size/2, at.x + w/2, at.y + st.size/2})
	} else {
		s.named = append(s.named, box{at.x - st.size/2, at.y - w/2, at.x + st.size/2, at.y + w/2})
	}
}

func bounds(pts []pt) box {
	b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, p := range pts {
		b.x0, b.x1 = math.Min(b.x0, p.x), math.Max(b.x1, p.x)
		b.y0, b.y1 = math.Min(b.y0, p.y), math.Max(b.y1, p.y)
	}
	return b
}

func inside(ring []pt, p pt) bool {
	in := false
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		if (a.y > p.y) != (b.y > p.y) && p.x < a.x+(b.x-a.x)*(p.y-a.y)/(b.y-a.y) {
			in = !in
		}
	}
	return in
}

// scaleBar draws a bar of a round length with its lower left corner at p, at
// most width pixels long, and returns how wide it came out with its words.
func (s *sheet) scaleBar(v view, p pt, width float64) float64 {
	if s.opt.Labels == None {
		return 0
	}
	m, label := roundLength(width/v.k, s.opt.Unit)
	n := m * v.k
	hgt := 0.28 * s.em
	s.fill(s.pal.text, box{p.x, p.y, p.x + n, p.y + hgt}.corners())
	// The right half hollow: a length of half the bar can be read off as well.
	in := math.Max(1, 0.06*s.em)
	s.fill(s.pal.page, box{p.x + n/2, p.y + in, p.x + n - in, p.y + hgt - in}.corners())
	st := style{alignY: middle}
	s.text(st, pt{p.x + n + 0.4*s.em, p.y + hgt/2}, label)
	return n + 0.4*s.em + s.width(st, label)
}

// roundLength returns the largest round length of at most m metres, with words.
func roundLength(m float64, unit words.Unit) (float64, string) {
	step, name := 1.0, "m"
	if unit == words.Foot {
		step, name = words.MetresPerFoot, "ft"
	}
	best := 0.1
	for _, v := range []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50} {
		if v*step <= m {
			best = v
		}
	}
	text := words.Number(best, math.NaN(), 0)
	if best < 1 {
		text = words.Number(best, math.NaN(), 1)
	}
	return best * step, text + words.NB + name
}

// cellImage returns the picture of the part b of the sheet, each pixel coloured
// by at(floor point, sheet pixel): the nearest cell, nothing smoothed. at may
// be called from several goroutines.
func (v view) cellImage(b box, at func(p geom.Point2, x, y int) uint32) (*image.RGBA, float64, float64) {
	x0, y0 := int(math.Floor(b.x0)), int(math.Floor(b.y0))
	w, h := int(math.Ceil(b.x1))-x0, int(math.Ceil(b.y1))-y0
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	parallel(h, func(row int) {
		y := y0 + h - 1 - row
		line := img.Pix[row*img.Stride:]
		for i := 0; i < w; i++ {
			c := at(v.floor(pt{float64(x0+i) + 0.5, float64(y) + 0.5}), x0+i, y)
			line[4*i], line[4*i+1], line[4*i+2], line[4*i+3] = uint8(c>>24), uint8(c>>16), uint8(c>>8), uint8(c)
		}
	})
	return img, float64(x0), float64(y0)
}
