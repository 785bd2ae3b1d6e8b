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

// panelsOf divides b into plans of the given rooms, all at one scale, in the
// number of columns that makes them largest. caption returns the height of the
// words above a plan when its cell is so wide; foot is the height kept free
// below each. It returns nil where there is no room.
func (s *sheet) panelsOf(rooms [][]geom.Point2, b box, caption func(w float64) float64, foot, gap float64) []panel {
	g := s.gridIn(rooms, b, caption, foot, gap)
	return g.panels(s, rooms)
}

// grid is a way to set plans in rows and columns.
type grid struct {
	b            box
	k            float64 // pixels a metre; 0 or less: no room
	cols, rows   int
	words, foot  float64
	gap, cw, ch  float64 // between cells; a cell's width and height
	planW, planH float64 // the largest plan, pixels
}

// gridIn finds the number of columns that makes the plans largest.
func (s *sheet) gridIn(rooms [][]geom.Point2, b box, caption func(w float64) float64, foot, gap float64) grid {
	var best grid
	for c := 1; c <= len(rooms); c++ {
		if g := s.gridOf(rooms, b, c, caption, [2]float64{foot, gap}); g.k > best.k {
			best = g
		}
	}
	return best
}

// gridOf sets plans in so many columns, which share the width of b.
func (s *sheet) gridOf(rooms [][]geom.Point2, b box, cols int, caption func(w float64) float64, footGap [2]float64) grid {
	var w, h float64
	for _, r := range rooms {
		_, _, rw, rh := extent(r, s.opt.TurnDeg)
		w, h = math.Max(w, rw), math.Max(h, rh)
	}
	g := grid{b: b, cols: cols, rows: (len(rooms) + cols - 1) / cols, foot: footGap[0], gap: footGap[1]}
	g.cw = (b.w() - g.gap*float64(cols-1)) / float64(cols)
	g.words = caption(g.cw)
	high := (b.h()-g.gap*0.6*float64(g.rows-1))/float64(g.rows) - g.words - g.foot
	g.k = math.Min(g.cw/w, high/h)
	if s.opt.MPerPx > 0 {
		g.k = math.Min(g.k, 1/s.opt.MPerPx)
	}
	g.planW, g.planH = g.k*w, g.k*h
	g.ch = g.planH + g.words + g.foot
	return g
}

// high is the height of all rows.
func (g grid) high() float64 { return float64(g.rows)*g.ch + float64(g.rows-1)*g.gap*0.6 }

// cell is the box of plan i, words included.
func (g grid) cell(i int) box {
	x0 := g.b.x0 + float64(i%g.cols)*(g.cw+g.gap)
	y1 := g.b.y1 - float64(i/g.cols)*(g.ch+g.gap*0.6)
	return box{x0, y1 - g.ch, x0 + g.cw, y1}
}

// panels are the plans of a grid; nil where there is no room.
func (g grid) panels(s *sheet, rooms [][]geom.Point2) []panel {
	if g.k <= 0 {
		return nil
	}
	s.k = g.k
	opt := s.opt
	opt.MPerPx = 1 / g.k
	out := make([]panel, len(rooms))
	for i := range out {
		c := g.cell(i)
		v, pb := fitLeft(rooms[i], opt, box{c.x0, c.y0 + g.foot, c.x1, c.y1 - g.words})
		out[i] = panel{cell: c, plan: pb, view: v}
	}
	return out
}

// withLegend sets plans and a legend where both together leave the plans
// largest: the legend in rows beneath them, in a column at their right, or in
// the last cell where plans leave it empty.
func (s *sheet) withLegend(rooms [][]geom.Point2, b box, legend []entry, caption func(w float64) float64, footGap [2]float64) []panel {
	if s.opt.Labels == None {
		return s.panelsOf(rooms, b, func(float64) float64 { return 0 }, 0, footGap[1])
	}
	rows, high := s.rows(legend, b.w())
	colW, colH := 0.0, 0.0
	for _, e := range legend {
		w, h := s.entrySize(e)
		colW, colH = math.Max(colW, w), colH+h
	}
	under, side := b, b
	under.y0 += high + 0.5*s.em
	side.x1 -= colW + footGap[1]
	best := s.gridIn(rooms, under, caption, footGap[0], footGap[1])
	draw := func(g grid) {
		y := g.b.y1 - g.high() - 0.5*s.em
		s.drawRows(rows, box{b.x0, y - high, b.x1, y})
	}
	if g := s.gridIn(rooms, side, caption, footGap[0], footGap[1]); g.k > best.k && colH <= g.high() {
		best = g
		draw = func(g grid) { s.column(legend, box{b.x1 - colW, b.y0, b.x1, g.b.y1 - g.words}) }
	}
	for c := 2; c < len(rooms); c++ {
		g := s.gridOf(rooms, b, c, caption, footGap)
		if len(rooms)%c == 0 || g.k < best.k || colW > g.cw || colH > g.ch-g.words {
			continue
		}
		best = g
		draw = func(g grid) {
			free := g.cell(len(rooms))
			s.column(legend, box{free.x0, free.y0, free.x1, free.y1 - g.words})
		}
	}
	// What height is left lies above and below, not all at the foot.
	best.b.y1 -= math.Max(0, best.b.h()-best.high()) / 2
	draw(best)
	return best.panels(s, rooms)
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
