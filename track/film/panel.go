package film

import (
	"math"

	"swathe/geom"
	"swathe/track/paint"
)

// panel stacks the words on their own ground: clock and share, title, the share
// over time if there is room for it, and what happens.
func (w *Writer) panel(c *paint.Canvas, t float64) {
	pad := w.em * 0.6
	x, y := float64(w.area[0])+pad, float64(w.area[1])+pad
	wide, end := float64(w.area[2])-2*pad, float64(w.area[1]+w.area[3])-pad*0.5
	clock, share := Clock(t-w.pane.Start), w.shareText(t)
	face := w.huge
	if face.Width("0:00:00   "+w.shareOf(1)) > wide {
		face = w.big
	}
	// One line while the longest fits, so that nothing jumps as time goes on.
	y += face.Size
	c.Text(face, x, y, clock, w.white)
	at := x + face.Width("00:00   ")
	if at+face.Width(w.shareOf(1)) > x+wide {
		at = x
		y += face.Size * 1.25
	}
	c.Text(face, at, y, share, w.white)
	y += w.small.Size * 0.4
	for _, l := range w.titles() {
		for _, part := range wrap(w.small, l, wide) {
			y += w.small.Size * 1.3
			c.Text(w.small, x, y, part, w.dim)
		}
	}
	y += w.small.Size * 0.8
	step := w.small.Size * 1.3
	notes := step * float64(NoteLines)
	if room := end - y - notes; room > 7*w.em && len(w.pane.Shares) > 1 {
		high := math.Min(room, wide*0.45)
		w.curve(c, [4]float64{x, y, wide, high - w.small.Size*0.6}, t)
		y += high
	}
	for _, n := range w.notesAt(t) {
		for _, l := range wrap(w.small, n, wide) {
			if y += step; y > end {
				return
			}
			c.Text(w.small, x, y, l, w.white)
		}
		y += w.small.Size * 0.4
	}
}

// NoteLines is how many lines of what happens a panel has room for.
const NoteLines = 4

// curve draws the share over the run's time, as far as it has come.
func (w *Writer) curve(c *paint.Canvas, box [4]float64, t float64) {
	label := w.small.Width("100 % ")
	x0, y0 := box[0]+label, box[1]+w.small.Size*0.6
	x1, y1 := box[0]+box[2], box[1]+box[3]-w.small.Size*1.4
	from, to := w.pane.Start, math.Max(w.pane.End, w.pane.Start+1)
	at := func(s, v float64) geom.Point2 {
		return geom.Point2{X: x0 + (x1-x0)*(s-from)/(to-from), Y: y1 - (y1-y0)*v}
	}
	rule := w.dim
	rule[3] = 90
	for _, v := range []float64{0, 0.5, 1} {
		c.Box(int(x0), int(at(from, v).Y), int(x1), int(at(from, v).Y)+max(1, int(w.em/24)), rule)
		l := map[float64]string{0: "0", 0.5: "50 %", 1: "100 %"}[v]
		c.Text(w.small, x0-w.small.Width(l+" "), at(from, v).Y+w.small.Size*0.35, l, w.dim)
	}
	last := Clock(to - from)
	c.Text(w.small, x0, y1+w.small.Size*1.2, "0:00", w.dim)
	c.Text(w.small, x1-w.small.Width(last), y1+w.small.Size*1.2, last, w.dim)
	var line []geom.Point2
	for _, s := range w.pane.Shares {
		if s.T > t {
			break
		}
		p := at(math.Max(from, s.T), s.V)
		if n := len(line); n > 1 && p.X-line[n-2].X < 1 {
			line[n-1] = p
			continue
		}
		line = append(line, p)
	}
	if v := w.shareAt(t); len(line) > 0 && !math.IsNaN(v) {
		line = append(line, at(math.Min(math.Max(t, from), to), v))
		c.Line(line, false, math.Max(2, w.em/9), paint.Colour{107, 174, 214, 255})
	}
}
