package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"swathe/report/words"
)

// series is one line of a chart.
type series struct {
	xs []float64
	ys []float64
	k  stroke
}

// marks is a mark on a chart with words beside it.
type chartMark struct {
	x, y  float64
	label string
}

// chart is a chart of shares against minutes.
type chart struct {
	lines   []series
	marks   []chartMark
	xLabel  string
	yLabel  string
	xMax    float64
	yMax    float64
	percent bool
}

// draw draws the chart into b and returns the function that maps data to the
// sheet.
func (c chart) draw(s *sheet, b box) func(x, y float64) pt {
	p := plot.New()
	p.BackgroundColor = nil
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, c.xMax, 0, c.yMax
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle = s.vstyle(style{})
		a.Tick.Label = s.vstyle(style{})
		a.Color = s.pal.text
		a.Tick.Color = s.pal.text
		a.Width = s.len(math.Max(1, 0.06*s.em))
		a.Tick.Width = a.Width
		a.Tick.Length = s.len(0.3 * s.em)
		a.Padding = 0
	}
	p.X.Tick.Label.XAlign, p.X.Tick.Label.YAlign = draw.XCenter, draw.YTop
	p.Y.Tick.Label.XAlign, p.Y.Tick.Label.YAlign = draw.XRight, draw.YCenter
	p.X.Label.TextStyle.XAlign, p.X.Label.TextStyle.YAlign = draw.XCenter, draw.YBottom
	p.Y.Label.TextStyle.XAlign, p.Y.Label.TextStyle.YAlign = draw.XCenter, draw.YBottom
	p.X.Label.Padding, p.Y.Label.Padding = s.len(0.3*s.em), s.len(0.3*s.em)
	p.X.Tick.Marker = plot.ConstantTicks(s.ticks(c.xMax, b.w()/(5.5*s.em), false))
	p.Y.Tick.Marker = plot.ConstantTicks(s.ticks(c.yMax, b.h()/(2.2*s.em), c.percent))
	if s.opt.Labels == None {
		p.X.Tick.Marker, p.Y.Tick.Marker = plot.ConstantTicks{}, plot.ConstantTicks{}
	} else {
		p.X.Label.Text, p.Y.Label.Text = s.opt.Language.Say(c.xLabel), s.opt.Language.Say(c.yLabel)
		g := plotter.NewGrid()
		g.Vertical.Color, g.Horizontal.Color = s.pal.grid, s.pal.grid
		g.Vertical.Width, g.Horizontal.Width = s.len(math.Max(1, 0.05*s.em)), s.len(math.Max(1, 0.05*s.em))
		p.Add(g)
	}
	for _, l := range c.lines {
		if len(l.xs) < 2 {
			continue
		}
		xy := make(plotter.XYs, len(l.xs))
		for i := range xy {
			xy[i] = plotter.XY{X: l.xs[i], Y: l.ys[i]}
		}
		line := &plotter.Line{XYs: xy, LineStyle: s.vline(l.k)}
		p.Add(line)
	}
	area := draw.Canvas{Canvas: s.c, Rectangle: vg.Rectangle{Min: s.vpt(pt{b.x0, b.y0}), Max: s.vpt(pt{b.x1, b.y1})}}
	p.Draw(area)
	data := p.DataCanvas(area)
	to := func(x, y float64) pt {
		q := vg.Point{X: data.X(p.X.Norm(x)), Y: data.Y(p.Y.Norm(y))}
		return pt{float64(q.X) * s.dpi / 72, float64(q.Y) * s.dpi / 72}
	}
	lo, hi := to(0, 0), to(c.xMax, c.yMax)
	inked := c.inked(s, to)
	for _, m := range c.marks {
		q := to(m.x, m.y)
		w := box{0, 0, s.width(style{}, m.label), 1.1 * s.em}
		// Where no words have room the mark would say nothing.
		at, ok := s.room(q, w, inked, box{lo.x, lo.y, hi.x, hi.y})
		if !ok || s.opt.Labels == None {
			continue
		}
		if near := at.nearest(q); math.Hypot(near.x-q.x, near.y-q.y) > 1.2*s.em {
			s.line(stroke{c: s.pal.mark, width: math.Max(1, 0.06*s.em)}, []pt{q, near}, false)
		}
		s.disc(s.pal.page, q, 0.38*s.em)
		s.disc(s.pal.mark, q, 0.27*s.em)
		s.backed(style{alignY: top}, pt{at.x0, at.y1}, m.label)
	}
	return to
}

// inked is points on all lines of the chart, less than 0.3 em from one to the next.
func (c chart) inked(s *sheet, to func(x, y float64) pt) (out []pt) {
	for _, l := range c.lines {
		var last pt
		for i := range l.xs {
			p := to(l.xs[i], l.ys[i])
			far := math.Hypot(p.x-last.x, p.y-last.y)
			if i > 0 && far < 0.15*s.em && i < len(l.xs)-1 {
				continue
			}
			if n := int(far/(0.3*s.em)) + 1; i > 0 {
				for k := range n {
					u := float64(k) / float64(n)
					out = append(out, pt{last.x + u*(p.x-last.x), last.y + u*(p.y-last.y)})
				}
			}
			out, last = append(out, p), p
		}
	}
	return out
}

// room is the place nearest to q within area where words as large as w lie over no
// inked point.
func (s *sheet) room(q pt, w box, inked []pt, area box) (at box, ok bool) {
	best := math.Inf(1)
	gap := 0.3 * s.em
	for y := area.y0 + gap; y+w.h()+gap <= area.y1; y += 0.4 * s.em {
		for x := area.x0 + gap; x+w.w()+gap <= area.x1; x += 0.4 * s.em {
			b := box{x, y, x + w.w(), y + w.h()}
			near := b.nearest(q)
			if d := math.Hypot(near.x-q.x, near.y-q.y); d < 0.5*s.em || d >= best ||
				slices.ContainsFunc(inked, func(p pt) bool { return p.x > b.x0-gap && p.x < b.x1+gap && p.y > b.y0-gap && p.y < b.y1+gap }) {
				continue
			} else {
				at, ok, best = b, true, d
			}
		}
	}
	return at, ok
}

// nearest is the point of b nearest to p.
func (b box) nearest(p pt) pt {
	return pt{math.Max(b.x0, math.Min(b.x1, p.x)), math.Max(b.y0, math.Min(b.y1, p.y))}
}

// backed writes text on a ground of the page's colour, so that lines beneath
// do not run through it.
func (s *sheet) backed(st style, p pt, str string) {
	if s.opt.Labels == None || str == "" {
		return
	}
	w, x := s.width(st, str), p.x
	x += float64(st.alignX) * w
	g := 0.12 * s.em
	if !s.opt.Transparent {
		s.fill(s.pal.page, box{x - g, p.y - 1.05*s.em, x + w + g, p.y + 0.02*s.em}.corners())
	}
	s.text(st, p, str)
}

func (s *sheet) vline(k stroke) draw.LineStyle {
	l := draw.LineStyle{Color: k.c, Width: s.len(k.width)}
	for _, d := range k.dash {
		l.Dashes = append(l.Dashes, s.len(d))
	}
	return l
}

// ticks returns at most n round steps from 0 to hi.
func (s *sheet) ticks(hi, n float64, percent bool) []plot.Tick {
	if hi <= 0 || n < 1 {
		return nil
	}
	raw := hi / n
	mag := math.Pow(10, math.Floor(math.Log10(raw)))
	step := 10 * mag
	for _, m := range []float64{1, 2, 5} {
		if m*mag >= raw {
			step = m * mag
			break
		}
	}
	decimals := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	var out []plot.Tick
	for i := 0; float64(i)*step <= hi*(1+1e-9); i++ {
		v := float64(i) * step
		label := words.Number(v, math.NaN(), decimals)
		if percent {
			label = words.Number(v*100, math.NaN(), max(0, decimals-2)) + words.NB + "%"
		}
		out = append(out, plot.Tick{Value: v, Label: s.opt.Language.Say(label)})
	}
	return out
}
