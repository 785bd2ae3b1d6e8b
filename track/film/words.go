package film

import (
	"fmt"
	"math"
	"sort"

	"swathe/track/paint"
)

// Writer writes the words onto a pane of the film: title, clock, share,
// legend and what happens.
type Writer struct {
	pane        Pane
	speed       float64
	big, small  *paint.Face
	em          float64
	white, dark paint.Colour
}

// NewWriter returns a writer for a pane that is w x h px in the film.
func NewWriter(p Pane, w, h int, speed float64) (*Writer, error) {
	em := math.Max(9, math.Min(float64(h)/30, float64(w)/32))
	big, err := paint.NewFace(em*1.15, true)
	if err != nil {
		return nil, err
	}
	small, err := paint.NewFace(em*0.85, false)
	if err != nil {
		return nil, err
	}
	return &Writer{pane: p, speed: speed, big: big, small: small, em: em, white: paint.Colour{255, 255, 255, 255}, dark: paint.Colour{16, 20, 24, 165}}, nil
}

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

// Write writes onto the part of c that begins at column x0 and is wide px wide.
func (w *Writer) Write(c *paint.Canvas, x0, wide int, t float64) {
	pad := w.em * 0.5
	x, y := float64(x0)+pad*2, pad*2
	head := Clock(t - w.pane.Start)
	if v := w.shareAt(t); !math.IsNaN(v) {
		// Rounded down: a run that missed a corner is never at 100 %.
		head += fmt.Sprintf("   %.1f %% cleaned", math.Floor(v*1000)/10)
	}
	lines := []string{w.pane.Title}
	if w.pane.Mark != "" {
		lines = append(lines, w.pane.Mark)
	}
	if w.speed != 1 {
		lines = append(lines, fmt.Sprintf("%.4g times as fast", w.speed))
	}
	width := w.big.Width(head)
	for _, l := range lines {
		width = math.Max(width, w.small.Width(l))
	}
	height := w.big.Size*1.25 + float64(len(lines))*w.small.Size*1.3
	c.Box(int(x-pad), int(y-pad), int(x+width+pad), int(y+height+pad*0.6), w.dark)
	y += w.big.Size * 0.95
	c.Text(w.big, x, y, head, w.white)
	y += w.big.Size * 0.3
	for _, l := range lines {
		y += w.small.Size * 1.2
		c.Text(w.small, x, y, l, w.white)
	}
	w.legend(c, float64(x0)+pad*2, float64(c.H)-pad*2)
	w.notes(c, float64(x0), float64(wide), t)
}

// legend explains the colours, in one row above y.
func (w *Writer) legend(c *paint.Canvas, x, y float64) {
	if w.pane.Log == "" {
		return
	}
	pad, size := w.em*0.5, w.small.Size
	width := w.small.Width("cleaned ")
	for _, l := range legend {
		width += size*1.3 + w.small.Width(l) + pad
	}
	c.Box(int(x-pad), int(y-size*1.3-pad*0.4), int(x+width+pad*0.5), int(y+pad), w.dark)
	base := y - size*0.1
	c.Text(w.small, x, base, "cleaned", w.white)
	x += w.small.Width("cleaned ")
	for k, l := range legend {
		col := Colours[k]
		col[3] = 255
		c.Box(int(x), int(base-size*0.75), int(x+size), int(base+size*0.1), col)
		x += size * 1.3
		c.Text(w.small, x, base, l, w.white)
		x += w.small.Width(l) + pad
	}
}

// notes writes what happens at time t, centred low in the pane.
func (w *Writer) notes(c *paint.Canvas, x0, wide, t float64) {
	pad := w.em * 0.5
	y := float64(c.H) - w.em*3.6
	for k := len(w.pane.Notes) - 1; k >= 0 && y > float64(c.H)/2; k-- {
		n := w.pane.Notes[k]
		if t < n.From || t > n.To {
			continue
		}
		text := fit(w.small, n.Text, wide-4*pad)
		width := w.small.Width(text)
		x := x0 + (wide-width)/2
		c.Box(int(x-pad), int(y-w.small.Size*1.05), int(x+width+pad), int(y+w.small.Size*0.4), w.dark)
		c.Text(w.small, x, y, text, w.white)
		y -= w.small.Size * 1.7
	}
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
