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

// panels divides b into n plans at one scale, in the number of columns that
// makes them largest, with a line of words above each and room for one scale
// bar at the foot of b.
func (s *sheet) panels(room []geom.Point2, b box, n int) []panel {
	caption, foot, gap := 1.75*s.em, 1.7*s.em, 1.2*s.em
	if s.opt.Labels == None {
		caption, foot, gap = 0, 0, 0.5*s.em
	}
	return s.panelsWith(room, b, n, caption, foot, gap)
}

func (s *sheet) panelsWith(room []geom.Point2, b box, n int, caption, foot, gap float64) []panel {
	b.y0 += foot
	_, _, w, h := extent(room, s.opt.TurnDeg)
	best, cols := -1.0, 1
	for c := 1; c <= n; c++ {
		rows := (n + c - 1) / c
		cw := (b.w() - gap*float64(c-1)) / float64(c)
		ch := (b.h()-gap*0.6*float64(rows-1))/float64(rows) - caption
		if k := math.Min(cw/w, ch/h); k > best {
			best, cols = k, c
		}
	}
	if best <= 0 {
		return nil
	}
	k := best
	if s.opt.MPerPx > 0 {
		k = math.Min(k, 1/s.opt.MPerPx)
	}
	rows := (n + cols - 1) / cols
	cw := (b.w() - gap*float64(cols-1)) / float64(cols)
	ch := math.Min((b.h()-gap*0.6*float64(rows-1))/float64(rows), k*h+caption)
	// Columns no wider than the plans, so that they stand together.
	cw = math.Min(cw, math.Max(k*w, cw*0.5))
	out := make([]panel, n)
	for i := range out {
		x0 := b.x0 + float64(i%cols)*(cw+gap)
		y1 := b.y1 - float64(i/cols)*(ch+gap*0.6)
		c := box{x0, y1 - ch, x0 + cw, y1}
		inner := c
		inner.y1 -= caption
		opt := s.opt
		opt.MPerPx = 1 / k
		v, pb := fitLeft(room, opt, inner)
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
