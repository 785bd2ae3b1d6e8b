package overlay

import (
	"math"

	"swathe/geom"
	"swathe/track/film"
)

// Sizes of films that are not as recorded, px: upright, and two runs beside each other.
const (
	uprightWidth, uprightHeight = 1080, 1920
	besideWidth, besideHeight   = 1920, 1080
)

// size is the film's: as asked for, upright or side by side as those are shown, or as
// recorded, cut to the aspect.
func size(panes []film.Pane, o FilmOptions) (w, h int) {
	w, h = o.Width, o.Height
	if w == 0 {
		switch {
		case o.Aspect == "9:16":
			w, h = uprightWidth, uprightHeight
		case len(panes) > 1:
			w, h = besideWidth, besideHeight
		default:
			c := panes[0].Camera
			w, h = c.Width, c.Height
			if want := 16.0 / 9; o.Aspect == "16:9" && float64(w)/float64(h) > want {
				w = int(math.Round(float64(h) * want))
			} else if o.Aspect == "16:9" {
				h = int(math.Round(float64(w) / want))
			}
		}
	}
	return w / (2 * len(panes)) * 2 * len(panes), h / 2 * 2
}

// arrange gives pictures, words and legend their places in the film.
func arrange(s *film.Spec, o FilmOptions) {
	wide, legend := s.Width/len(s.Panes), 0
	stacked := s.Layer == "" && !s.Overlay && (len(s.Panes) > 1 || s.Height > s.Width)
	em := film.Em(wide, s.Height)
	if stacked {
		legend = int(2.2 * em)
		s.Legend = [4]int{0, s.Height - legend, s.Width, legend}
	}
	for i := range s.Panes {
		p := &s.Panes[i]
		area := [4]int{i * wide, 0, wide, s.Height - legend}
		if !stacked {
			p.Crop = crop(&p.Camera, &p.Plan, float64(wide)/float64(s.Height))
			if s.Layer != "" {
				p.Crop = [4]int{0, 0, p.Camera.Width, p.Camera.Height}
			}
			p.At = film.FitInto(p.Crop[2], p.Crop[3], area)
			continue
		}
		stack(p, area, em)
	}
	if stacked { // clocks and titles of two runs stand on one line
		level(s.Panes)
	}
}

// stack places a pane's picture and the panel of its words below it or beside it,
// whichever shows the room larger.
func stack(p *film.Pane, area [4]int, em float64) {
	x, y, w, h := area[0], area[1], area[2], area[3]
	low := int(em * (4.5 + 1.2*film.NoteLines)) // clock, title and some lines of what happens
	narrow := int(13 * em)
	below, side := [4]int{x, y, w, h - low}, [4]int{x, y, w - narrow, h}
	cb, cs := close(&p.Camera, &p.Plan, aspect(below)), close(&p.Camera, &p.Plan, aspect(side))
	ab, as := film.FitInto(cb[2], cb[3], below), film.FitInto(cs[2], cs[3], side)
	if scale := float64(ab[2]) / float64(cb[2]); scale*1.05 >= float64(as[2])/float64(cs[2]) {
		ab[1] = y
		p.Crop, p.At, p.Panel = cb, ab, [4]int{x, y + ab[3], w, h - ab[3]}
		return
	}
	as[0] = x
	p.Crop, p.At, p.Panel = cs, as, [4]int{x + as[2], y, w - as[2], h}
}

// level begins the panels below two pictures at the same height.
func level(panes []film.Pane) {
	top := 0
	for _, p := range panes {
		if p.Panel[0] > p.At[0] && p.Panel[1] == p.At[1] {
			return // beside
		}
		top = max(top, p.Panel[1])
	}
	for i := range panes {
		p := &panes[i]
		p.At[1] += (top - p.Panel[1]) / 2
		p.Panel[3] -= top - p.Panel[1]
		p.Panel[1] = top
	}
}

func aspect(box [4]int) float64 { return float64(max(1, box[2])) / float64(max(1, box[3])) }

// roomMargin is how much of the room's size is shown round it at least.
const roomMargin = 0.03

// crop is the part of a camera's frame that a film of an aspect shows: as much
// as fits, with the room as near to its middle as the frame allows. Where such
// a part would cut the room it is wider or higher than the aspect, and bars
// fill the film.
func crop(c *geom.Camera, plan *geom.Plan, aspect float64) [4]int {
	w, h := float64(c.Width), float64(c.Height)
	if w/h > aspect {
		w = h * aspect
	} else {
		h = w / aspect
	}
	lo, hi, ok := roomBox(c, plan)
	mid := geom.Point2{X: float64(c.Width) / 2, Y: float64(c.Height) / 2}
	if ok {
		mid = lo.Add(hi).Scale(0.5)
		w, h = math.Max(w, math.Min(hi.X-lo.X, float64(c.Width))), math.Max(h, math.Min(hi.Y-lo.Y, float64(c.Height)))
	}
	iw, ih := min(c.Width, int(math.Round(w))), min(c.Height, int(math.Round(h)))
	x, y := int(math.Round(mid.X-w/2)), int(math.Round(mid.Y-h/2))
	return [4]int{max(0, min(c.Width-iw, x)), max(0, min(c.Height-ih, y)), iw, ih}
}

// close is the smallest part of a frame that shows the room and has an aspect, as far
// as the frame goes; the whole frame where a part of the room does not show.
func close(c *geom.Camera, plan *geom.Plan, aspect float64) [4]int {
	lo, hi, ok := roomBox(c, plan)
	if !ok {
		return [4]int{0, 0, c.Width, c.Height}
	}
	w, h, mid := hi.X-lo.X, hi.Y-lo.Y, lo.Add(hi).Scale(0.5)
	w, h = math.Min(float64(c.Width), math.Max(w, h*aspect)), math.Min(float64(c.Height), math.Max(h, w/aspect))
	iw, ih := min(c.Width, int(math.Ceil(w))), min(c.Height, int(math.Ceil(h)))
	return [4]int{max(0, min(c.Width-iw, int(mid.X-w/2))), max(0, min(c.Height-ih, int(mid.Y-h/2))), iw, ih}
}

// roomBox is the box of the room in the picture, with its margin, cut to the
// frame; ok is false where a part of the room does not show at all.
func roomBox(c *geom.Camera, plan *geom.Plan) (lo, hi geom.Point2, ok bool) {
	cam := geom.NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre)
	lo, hi = geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for i, a := range plan.Room {
		b := plan.Room[(i+1)%len(plan.Room)]
		// Along each wall, for a lens bends it.
		for u := 0.0; u < 1; u += 0.125 {
			px, good := cam.Project(geom.Point3{X: a[0] + u*(b[0]-a[0]), Y: a[1] + u*(b[1]-a[1])})
			if !good {
				return lo, hi, false
			}
			lo.X, lo.Y = math.Min(lo.X, px.X), math.Min(lo.Y, px.Y)
			hi.X, hi.Y = math.Max(hi.X, px.X), math.Max(hi.Y, px.Y)
		}
	}
	m := hi.Sub(lo).Scale(roomMargin)
	lo, hi = lo.Sub(m), hi.Add(m)
	lo = geom.Point2{X: math.Max(0, lo.X), Y: math.Max(0, lo.Y)}
	hi = geom.Point2{X: math.Min(float64(c.Width), hi.X), Y: math.Min(float64(c.Height), hi.Y)}
	return lo, hi, hi.X > lo.X && hi.Y > lo.Y
}
