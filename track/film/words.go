package film

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"swathe/track/paint"
)

// Writer writes the words of a pane: title, clock, share, legend and what happens,
// over the picture or on a panel beside it.
type Writer struct {
	pane             Pane
	speed            float64
	words            Words
	layer            string // the only thing written; "": all
	legend           bool   // the pane explains its colours itself
	area             [4]int // where the words stand
	huge, big, small *paint.Face
	em               float64
	white, dim, dark paint.Colour
}

// Paper is behind panels and bars.
var Paper = paint.Colour{16, 20, 24, 255}

// NewWriter returns a writer for pane i of a film.
func NewWriter(s *Spec, i int) (*Writer, error) {
	p := s.Panes[i]
	w := &Writer{pane: p, speed: s.Speed, words: s.text(), layer: s.Layer, legend: s.Legend[2] == 0, area: p.Panel,
		white: paint.Colour{255, 255, 255, 255}, dim: paint.Colour{176, 184, 192, 255}, dark: paint.Colour{16, 20, 24, 165}}
	if w.area[2] == 0 {
		wide := s.Width / len(s.Panes)
		w.area = [4]int{i * wide, 0, wide, s.Height}
	}
	w.em = Em(s.Width/len(s.Panes), s.Height)
	var err error
	for _, f := range []struct {
		face **paint.Face
		size float64
		bold bool
	}{{&w.huge, 1.7, true}, {&w.big, 1.15, true}, {&w.small, 0.85, false}} {
		if *f.face, err = paint.NewFace(w.em*f.size, f.bold); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// Em is the measure of the words in a pane of w x h px, px.
func Em(w, h int) float64 { return math.Max(9, math.Min(float64(h)/30, float64(w)/32)) }

func (w *Writer) wants(layer string) bool { return w.layer == "" || w.layer == layer }

// Clock writes a time as minutes and seconds.
func Clock(t float64) string {
	s := int(math.Floor(math.Max(0, t) + 1e-6))
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

// shareAt is the share that was cleaned by time t, NaN before anything is known.
func (w *Writer) shareAt(t float64) float64 {
	s := w.pane.Shares
	k := sort.Search(len(s), func(i int) bool { return s[i].T > t })
	switch {
	case len(s) == 0:
		return math.NaN()
	case k == 0:
		return 0
	}
	return s[k-1].V
}

// shareText is the share at time t in words; "" where nothing is known. Until the
// run's end it is rounded down: a run that missed a corner is never at 100 %.
func (w *Writer) shareText(t float64) string {
	v := w.shareAt(t)
	switch {
	case math.IsNaN(v):
		return ""
	case w.pane.Final != "" && t >= w.pane.End-1e-6:
		return fmt.Sprintf(w.words.Share, w.pane.Final)
	}
	return w.shareOf(v)
}

// shareOf writes a share, rounded down.
func (w *Writer) shareOf(v float64) string {
	n := fmt.Sprintf("%.1f %%", math.Floor(v*1000)/10)
	return fmt.Sprintf(w.words.Share, strings.Replace(n, ".", w.words.Decimal, 1))
}

// titles are the lines below the clock.
func (w *Writer) titles() []string {
	lines := []string{w.pane.Title}
	if w.pane.Mark != "" {
		lines = append(lines, w.pane.Mark)
	}
	if w.speed != 1 {
		n := strings.Replace(fmt.Sprintf("%.4g", w.speed), ".", w.words.Decimal, 1)
		lines = append(lines, fmt.Sprintf(w.words.Faster, n))
	}
	return lines
}

// Write writes the words of time t onto the film.
func (w *Writer) Write(c *paint.Canvas, t float64) {
	c.Clip = w.area
	defer func() { c.Clip = [4]int{} }()
	if w.pane.Panel[2] > 0 {
		w.panel(c, t)
		return
	}
	w.head(c, t)
	x0, high := float64(w.area[0]), float64(w.area[1]+w.area[3])
	pad := w.em * 0.5
	if w.legend && w.pane.Log != "" && w.wants("legend") {
		width := legendWidth(w.words, w.small, pad)
		c.Box(int(x0+pad), int(high-2*pad-w.small.Size*1.3-pad*0.4), int(x0+2*pad+width+pad*0.5), int(high-pad), w.dark)
		drawLegend(c, w.words, w.small, pad, x0+2*pad, high-2*pad-w.small.Size*0.1)
	}
	if !w.wants("events") {
		return
	}
	wide := float64(w.area[2])
	y := high - w.em*3.6
	notes := w.notesAt(t)
	for k := len(notes) - 1; k >= 0 && y > float64(w.area[1])+float64(w.area[3])/2; k-- {
		lines := wrap(w.small, notes[k], wide-4*pad)
		width := 0.0
		for _, l := range lines {
			width = math.Max(width, w.small.Width(l))
		}
		x, step := x0+(wide-width)/2, w.small.Size*1.25
		top := y - step*float64(len(lines)-1)
		c.Box(int(x-pad), int(top-w.small.Size*1.05), int(x+width+pad), int(y+w.small.Size*0.4), w.dark)
		for i, l := range lines {
			c.Text(w.small, x, top+float64(i)*step, l, w.white)
		}
		y = top - w.small.Size*1.7
	}
}

// head writes clock, share and title into the pane's corner. A layer has the
// things that it shows where the whole film has them.
func (w *Writer) head(c *paint.Canvas, t float64) {
	pad := w.em * 0.5
	x, y := float64(w.area[0])+pad*2, float64(w.area[1])+pad*2
	clock, share, titles := Clock(t-w.pane.Start), w.shareText(t), w.titles()
	at := x + w.big.Width(clock+"   ")
	box := func(x0, x1, y0, y1 float64) { c.Box(int(x0-pad), int(y0), int(x1+pad), int(y1), w.dark) }
	row, step := w.big.Size*1.25, w.small.Size*1.3
	width := at - x - w.big.Width("   ")
	if share != "" {
		width = at - x + w.big.Width(share)
	}
	wide := 0.0
	for _, l := range titles {
		wide = math.Max(wide, w.small.Width(l))
	}
	end := y + row + step*float64(len(titles)) + pad*0.6
	switch w.layer {
	case "":
		box(x, x+math.Max(width, wide), y-pad, end)
	case "clock":
		box(x, x+w.big.Width(clock), y-pad, y+row)
	case "share":
		if share != "" {
			box(at, x+width, y-pad, y+row)
		}
	case "title":
		box(x, x+wide, y+row, end)
	default:
		return
	}
	if w.wants("clock") {
		c.Text(w.big, x, y+w.big.Size*0.95, clock, w.white)
	}
	if w.wants("share") {
		c.Text(w.big, at, y+w.big.Size*0.95, share, w.white)
	}
	if w.wants("title") {
		for i, l := range titles {
			c.Text(w.small, x, y+row+float64(i)*step+w.small.Size*1.02, l, w.white)
		}
	}
}

// notesAt is what is said of what happens at time t, in the order of its beginning.
func (w *Writer) notesAt(t float64) (out []string) {
	for _, n := range w.pane.Notes {
		if t >= n.From && t <= n.To {
			out = append(out, n.Text)
		}
	}
	return out
}

// drawLegend explains the colours in one row on the base line.
func drawLegend(c *paint.Canvas, t Words, f *paint.Face, pad, x, base float64) {
	white := paint.Colour{255, 255, 255, 255}
	size := f.Size
	c.Text(f, x, base, t.Cleaned, white)
	x += f.Width(t.Cleaned + " ")
	for k, l := range t.Passes {
		col := Colours[k]
		col[3] = 255
		c.Box(int(x), int(base-size*0.75), int(x+size), int(base+size*0.1), col)
		x += size * 1.3
		c.Text(f, x, base, l, white)
		x += f.Width(l) + pad
	}
}

func legendWidth(t Words, f *paint.Face, pad float64) float64 {
	width := f.Width(t.Cleaned + " ")
	for _, l := range t.Passes {
		width += f.Size*1.3 + f.Width(l) + pad
	}
	return width - pad
}

// DrawLegend explains the colours once for all panes of a film, in the middle of
// the place that it has for it.
func (s *Spec) DrawLegend(c *paint.Canvas) error {
	if s.Legend[2] == 0 || s.Layer != "" && s.Layer != "legend" {
		return nil
	}
	em := Em(s.Width/len(s.Panes), s.Height)
	f, err := paint.NewFace(em*0.85, false)
	if err != nil {
		return err
	}
	pad := em * 0.5
	drawLegend(c, s.text(), f, pad, float64(s.Legend[0])+(float64(s.Legend[2])-legendWidth(s.text(), f, pad))/2, float64(s.Legend[1])+float64(s.Legend[3])/2+f.Size*0.35)
	return nil
}

// wrap breaks words into lines of a width; a word that is wider is cut.
func wrap(f *paint.Face, s string, width float64) (lines []string) {
	line := ""
	for _, word := range strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '\n' }) {
		switch next := strings.TrimPrefix(line+" "+word, " "); {
		case line == "" || f.Width(next) <= width:
			line = next
		default:
			lines, line = append(lines, fit(f, line, width)), word
		}
	}
	return append(lines, fit(f, line, width))
}

// fit shortens words to a width.
func fit(f *paint.Face, s string, width float64) string {
	if f.Width(s) <= width {
		return s
	}
	r := []rune(s)
	for len(r) > 1 && f.Width(string(r)+"...") > width {
		r = r[:len(r)-1]
	}
	return string(r) + "..."
}
