package figure

import (
	"math"

	"swathe/geom"
)

// panel is one small plan of several on a sheet.
type panel struct {
	cell box // all that belongs to it, words included
	plan box // the plan's own box
	view view
}

// panels divides b into n plans of one room, with a line of words above each
// and room for one scale bar at the foot of b.
func (s *sheet) panels(room []geom.Point2, b box, n int) []panel {
	rooms := make([][]geom.Point2, n)
	for i := range rooms {
		rooms[i] = room
	}
	if s.opt.Labels == None {
		return s.panelsOf(rooms, b, func(float64) float64 { return 0 }, 0, 0.5*s.em)
	}
	b.y0 += 1.7 * s.em
	return s.panelsOf(rooms, b, func(float64) float64 { return 1.75 * s.em }, 0, 1.2*s.em)
}

// panelsOf divides b into plans of the given rooms, all at one scale, in the
// number of columns that makes them largest. caption returns the height of the
// words above a plan when its cell is so wide; foot is the height kept free
// below each. It returns nil where there is no room.
func (s *sheet) panelsOf(rooms [][]geom.Point2, b box, caption func(w float64) float64, foot, gap float64) []panel {
	n := len(rooms)
	var w, h float64
	for _, r := range rooms {
		_, _, rw, rh := extent(r, s.opt.TurnDeg)
		w, h = math.Max(w, rw), math.Max(h, rh)
	}
	k, cols, words := -1.0, 1, 0.0
	for c := 1; c <= n; c++ {
		rows := (n + c - 1) / c
		cw := (b.w() - gap*float64(c-1)) / float64(c)
		cap := caption(cw)
		ch := (b.h()-gap*0.6*float64(rows-1))/float64(rows) - cap - foot
		if v := math.Min(cw/w, ch/h); v > k {
			k, cols, words = v, c, cap
		}
	}
	if k <= 0 {
		return nil
	}
	if s.opt.MPerPx > 0 {
		k = math.Min(k, 1/s.opt.MPerPx)
	}
	s.k = k
	cw := (b.w() - gap*float64(cols-1)) / float64(cols)
	ch := k*h + words + foot
	// Plans stand together, as close as their words allow.
	for w := math.Max(k*w, 0.5*cw); w < cw; w += s.em {
		if caption(w) <= words {
			cw = w
			break
		}
	}
	opt := s.opt
	opt.MPerPx = 1 / k
	out := make([]panel, n)
	for i := range out {
		x0 := b.x0 + float64(i%cols)*(cw+gap)
		y1 := b.y1 - float64(i/cols)*(ch+gap*0.6)
		c := box{x0, y1 - ch, x0 + cw, y1}
		v, pb := fitLeft(rooms[i], opt, box{c.x0, c.y0 + foot, c.x1, c.y1 - words})
		out[i] = panel{cell: c, plan: pb, view: v}
	}
	return out
}

// bare is furniture without names, for plans too small for them.
func (s *sheet) bare(v view, plan *geom.Plan) {
	keep := s.opt.Labels
	if keep == Full {
		s.opt.Labels = Short
	}
	s.furniture(v, plan)
	s.opt.Labels = keep
}
