package figure

import (
	"image"
	"image/color"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg/recorder"
)

// entry is one line of a legend: a sample of the mark and its words.
type entry struct {
	label string
	draw  func(s *sheet, b box) // the sample, into b
	tall  float64               // height of the sample in em; 0: one line
	// furniture: it explains what stands in the room
	furniture bool
}

// swatch is a legend entry with a plain colour.
func swatch(label string, c color.RGBA) entry {
	return entry{label: label, draw: func(s *sheet, b box) {
		s.fill(c, b.corners())
		s.line(stroke{c: s.pal.edge, width: math.Max(1, 0.05*s.em)}, b.corners(), true)
	}}
}

// pattern is a legend entry with a tone.
func pattern(label string, t tone) entry {
	return entry{label: label, draw: func(s *sheet, b box) {
		if _, pixels := s.c.(pngCanvas); !pixels {
			s.vectorTone(t, [][]pt{b.corners()})
			s.line(stroke{c: s.pal.edge, width: math.Max(1, 0.05*s.em)}, b.corners(), true)
			return
		}
		x0, y0 := math.Round(b.x0), math.Round(b.y0)
		w, h := int(math.Round(b.x1)-x0), int(math.Round(b.y1)-y0)
		img := image.NewRGBA(image.Rect(0, 0, w, h))
		for j := 0; j < h; j++ {
			for i := 0; i < w; i++ {
				img.SetRGBA(i, j, t.at(int(x0)+i, int(y0)+h-1-j))
			}
		}
		s.image(x0, y0, img)
		s.line(stroke{c: s.pal.edge, width: math.Max(1, 0.05*s.em)}, b.corners(), true)
	}}
}

// outlined is a legend entry with a dashed outline.
func outlined(label string) entry {
	return entry{label: label, draw: func(s *sheet, b box) {
		s.overhead(b.corners())
	}}
}

// lineEntry is a legend entry with a stroke.
func lineEntry(label string, k func(s *sheet) stroke) entry {
	return entry{label: label, draw: func(s *sheet, b box) {
		y := (b.y0 + b.y1) / 2
		s.line(k(s), []pt{{b.x0, y}, {b.x1, y}}, false)
	}}
}

// heading is a legend entry of words alone.
func heading(label string) entry { return entry{label: label} }

const (
	swatchWide = 1.9 // em
	swatchHigh = 1.0
	entryGap   = 1.55 // em from one entry's top to the next
	wordsGap   = 0.55 // em between sample and words
)

func (s *sheet) entrySize(e entry) (w, h float64) {
	tall := math.Max(entryGap, e.tall+0.55)
	if e.draw == nil {
		return s.width(style{c: s.pal.faint}, e.label), s.em * entryGap
	}
	return s.em*(swatchWide+wordsGap) + s.width(style{}, e.label), s.em * tall
}

func (s *sheet) drawEntry(e entry, x, y1 float64) {
	if e.draw == nil {
		s.text(style{c: s.pal.faint, alignY: middle}, pt{x, y1 - swatchHigh*s.em/2}, e.label)
		return
	}
	tall := math.Max(swatchHigh, e.tall) * s.em
	e.draw(s, box{x, y1 - tall, x + swatchWide*s.em, y1})
	at := pt{x + (swatchWide+wordsGap)*s.em, y1 - swatchHigh*s.em/2}
	s.text(style{alignY: middle}, at, e.label)
}

// column sets a legend in one column of a box's width, from its top.
func (s *sheet) column(es []entry, b box) {
	y := b.y1
	for _, e := range es {
		_, h := s.entrySize(e)
		s.drawEntry(e, b.x0, y)
		y -= h
	}
}

// rows breaks a legend into rows of width w and returns their total height.
func (s *sheet) rows(es []entry, w float64) (rows [][]entry, height float64) {
	var x, rowHigh float64
	var row []entry
	for _, e := range es {
		ew, eh := s.entrySize(e)
		if len(row) > 0 && x+ew > w {
			rows, height = append(rows, row), height+rowHigh
			row, x, rowHigh = nil, 0, 0
		}
		row = append(row, e)
		x += ew + 1.4*s.em
		rowHigh = math.Max(rowHigh, eh)
	}
	if len(row) > 0 {
		rows, height = append(rows, row), height+rowHigh
	}
	return rows, height
}

func (s *sheet) drawRows(rows [][]entry, b box) {
	y := b.y1
	for _, row := range rows {
		x, high := b.x0, 0.0
		for _, e := range row {
			w, h := s.entrySize(e)
			s.drawEntry(e, x, y)
			x += w + 1.4*s.em
			high = math.Max(high, h)
		}
		y -= high
	}
}

// margin is the empty border of a sheet.
func (s *sheet) margin() float64 {
	if s.opt.Labels == None {
		return 0.5 * s.em
	}
	if s.isSmall() {
		return 0.6 * s.em
	}
	return 1.1 * s.em
}

// header writes title, headline and details at the top of b and returns what
// is left. Empty parts take no room.
func (s *sheet) header(b box, title, headline, details string) box {
	b = s.mark(b)
	if s.opt.Labels == None {
		return b
	}
	b = s.paragraph(style{size: 1.05 * s.em, c: s.pal.faint}, b, title)
	big := 1.45 * s.em
	if s.isSmall() {
		big = 1.15 * s.em
	}
	b = s.paragraph(style{size: big, bold: true}, b, headline)
	if details != "" {
		b.y1 -= 0.1 * s.em
		b = s.paragraph(style{}, b, details)
	}
	b.y1 -= 0.55 * s.em
	return b
}

// mark writes the picture's reservation across its top: white on dark or dark
// on white by the theme, whatever else is written, and returns what is left.
func (s *sheet) mark(b box) box {
	if s.opt.Mark == "" {
		return b
	}
	st := style{bold: true, c: s.pal.page}
	pad := 0.35 * s.em
	h := float64(len(s.wrap(st, s.opt.Mark, b.w()-2*pad)))*s.em*lineHeight + 2*pad
	s.fill(s.pal.text, box{b.x0, b.y1 - h, b.x1, b.y1}.corners())
	labels := s.opt.Labels
	s.opt.Labels = Short // a bare drawing bears it too
	s.paragraph(st, box{b.x0 + pad, b.y1 - h, b.x1 - pad, b.y1 - pad}, s.opt.Mark)
	s.opt.Labels = labels
	b.y1 -= h + 0.5*s.em
	return b
}

// footer writes small print at the bottom of b and returns what is left.
func (s *sheet) footer(b box, str string) box {
	if s.opt.Labels != Full || str == "" {
		return b
	}
	st := style{size: s.small(), c: s.pal.faint}
	lines := s.wrap(st, str, b.w())
	h := float64(len(lines)) * st.size * lineHeight
	s.paragraph(st, box{b.x0, b.y0, b.x1, b.y0 + h}, str)
	b.y0 += h + 0.5*s.em
	return b
}

// planSheet lays out a picture of a plan: header, plan, scale bar, legend
// beside or beneath the plan (whichever leaves the plan larger) and small
// print. It returns the view to draw with and the plan's box.
// On a small sheet, such as one of 85 mm, words give way to the plan.
func (s *sheet) planSheet(r planPart, title, headline, details, foot string, legend []entry) (view, box) {
	w := planWords{title, headline, details, foot, legend}
	if s.isSmall() {
		w = s.fewer(r, w)
	}
	return s.layPlan(r, w)
}

// planWords are the words about a plan.
type planWords struct {
	title, headline, details, foot string
	legend                         []entry
}

const (
	smallSheet = 45  // em of a sheet's width below which it is small
	planLeast  = 0.6 // of a small sheet's width or height that its plan takes at least
)

// isSmall tells whether words must give way to the plan.
func (s *sheet) isSmall() bool { return s.w < smallSheet*s.em }

// fewer leaves out of the words what keeps a plan small, the least needed first: small
// print, details, the legend's figures, its furniture. All of them stand in the
// picture's description.
func (s *sheet) fewer(r planPart, w planWords) planWords {
	best, most := w, 0.0
	for range 5 {
		probe := *s
		probe.c = new(recorder.Canvas)
		_, b := probe.layPlan(r, w)
		share := math.Max(b.w()/s.w, b.h()/s.h)
		if share > most {
			best, most = w, share
		}
		if share >= planLeast {
			break
		}
		switch {
		case w.foot != "":
			w.foot = ""
		case w.details != "":
			w.details = ""
		default:
			w.legend = shorter(w.legend)
		}
	}
	return best
}

// shorter is a legend without its heading and figures, or where there are none without
// furniture, which explains itself.
func shorter(legend []entry) (out []entry) {
	figures := false
	for _, e := range legend {
		name, _, ok := strings.Cut(e.label, "  ")
		figures = figures || ok
		e.label = name
		out = append(out, e)
	}
	return slices.DeleteFunc(out, func(e entry) bool { return e.draw == nil || e.furniture && !figures })
}

// layPlan is planSheet with the words as they are.
func (s *sheet) layPlan(r planPart, words planWords) (view, box) {
	b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), words.title, words.headline, words.details)
	b = s.footer(b, words.foot)
	legend := words.legend
	if s.opt.Labels == None {
		v, pb := fit(r.room, s.opt.TurnDeg, s.opt.MPerPx, b)
		s.k = v.k
		return v, pb
	}
	bar := 1.5 * s.em // room for the scale bar under the plan
	colW, colH := 0.0, 0.0
	for _, e := range legend {
		w, h := s.entrySize(e)
		colW, colH = math.Max(colW, w), colH+h
	}
	side := box{b.x0, b.y0 + bar, b.x1 - colW - 1.2*s.em, b.y1}
	rows, rowsH := s.rows(legend, b.w())
	under := box{b.x0, b.y0 + bar + rowsH + 0.6*s.em, b.x1, b.y1}
	_, _, w, h := extent(r.room, s.opt.TurnDeg)
	scale := func(q box) float64 { return math.Min(q.w()/w, q.h()/h) }
	var v view
	var pb box
	if scale(side) >= scale(under) && colH <= b.h() || scale(under) <= 0 {
		// Against the left margin, so that plan and words share one edge.
		v, pb = fitLeft(r.room, s.opt, side)
		s.column(legend, box{pb.x1 + 1.2*s.em, b.y0, b.x1, pb.y1})
	} else {
		v, pb = fitLeft(r.room, s.opt, under)
		s.drawRows(rows, box{b.x0, b.y0, b.x1, pb.y0 - bar - 0.6*s.em})
	}
	s.scaleBar(v, pt{pb.x0, pb.y0 - 0.95*s.em}, math.Max(0.3*pb.w(), 4*s.em))
	s.k = v.k
	return v, pb
}

// fitLeft is fit with the plan against the upper left of b.
func fitLeft(room []point2, opt Options, b box) (view, box) {
	v, pb := fit(room, opt.TurnDeg, opt.MPerPx, b)
	dx, dy := math.Round(pb.x0-b.x0), math.Round(b.y1-pb.y1)
	v.ox, v.oy = v.ox-dx, v.oy+dy
	return v, box{pb.x0 - dx, pb.y0 + dy, pb.x1 - dx, pb.y1 + dy}
}

// planPart is what planSheet needs to know of a plan.
type planPart struct{ room []point2 }
