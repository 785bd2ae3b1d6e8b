package figure

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"

	"swathe/report/words"
)

// sheet is the page that a picture is drawn on. All lengths are pixels of the
// finished picture from the lower left corner, y up.
type sheet struct {
	c    vg.Canvas
	dpi  float64
	w, h float64
	opt  Options
	pal  palette
	em   float64 // height of ordinary text, pixels
	k    float64 // pixels a metre of the plan drawn last; 0 where there is none

	named []box // where names stand on the plan, which numbers keep clear of
}

// fonts holds Liberation Sans (SIL Open Font License), which has the Latin,
// Greek and Cyrillic alphabets. An SVG states how wide each text is, so that it
// fits with any other sans-serif font too.
var fonts = sync.OnceValue(func() *font.Cache {
	face := func(ttf []byte, w xfont.Weight) font.Face {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic("figure: the built-in font does not parse: " + err.Error())
		}
		return font.Face{Font: font.Font{Typeface: "Liberation", Variant: "Sans", Weight: w}, Face: f}
	}
	return font.NewCache(font.Collection{
		face(liberationsansregular.TTF, xfont.WeightNormal),
		face(liberationsansbold.TTF, xfont.WeightBold),
	})
})

// newSheet lays the page colour and chooses the size of the text.
func newSheet(c vg.Canvas, opt Options) *sheet {
	s := &sheet{c: c, dpi: float64(opt.DPI), w: float64(opt.Width), h: float64(opt.Height), opt: opt, pal: palettes[opt.Theme]}
	s.em = textSize(opt)
	if _, pixels := c.(pngCanvas); !opt.Transparent && !pixels {
		s.fill(s.pal.page, []pt{{0, 0}, {s.w, 0}, {s.w, s.h}, {0, s.h}})
	}
	return s
}

// textSize returns the height of ordinary text in pixels: a fixed share of the
// picture, so that it reads alike at any size on a screen, but not under 7
// points in print (common practice: the smallest text that a reader sees with ease),
// as long as that leaves room for the drawing.
func textSize(opt Options) float64 {
	w, h := float64(opt.Width), float64(opt.Height)
	em := 0.0175 * math.Sqrt(w*h)
	em = math.Max(em, leastText(opt))
	return math.Min(math.Max(em, 9), 0.05*math.Min(w, h)+2)
}

// leastText is 7 points, in pixels.
func leastText(opt Options) float64 { return 7.0 / 72 * float64(opt.DPI) }

// small is the size of small print: somewhat under that of ordinary text, but
// no smaller than textSize allows.
func (s *sheet) small() float64 {
	return math.Max(0.83*s.em, math.Min(s.em, leastText(s.opt)))
}

// pt is a point on the sheet, pixels.
type pt struct{ x, y float64 }

func (s *sheet) len(px float64) vg.Length { return vg.Length(px / s.dpi * 72) }

func (s *sheet) vpt(p pt) vg.Point { return vg.Point{X: s.len(p.x), Y: s.len(p.y)} }

func (s *sheet) path(p *vg.Path, pts []pt, closed bool) {
	for i, q := range pts {
		if i == 0 {
			p.Move(s.vpt(q))
		} else {
			p.Line(s.vpt(q))
		}
	}
	if closed {
		p.Close()
	}
}

// fill fills a polygon.
func (s *sheet) fill(c color.Color, pts []pt) {
	if len(pts) < 3 {
		return
	}
	var p vg.Path
	s.path(&p, pts, true)
	s.c.SetColor(c)
	s.c.Fill(p)
}

// stroke is how a line is drawn.
type stroke struct {
	c     color.Color
	width float64   // pixels
	dash  []float64 // pixels; nil: unbroken
}

// line draws a line through points; closed joins the last to the first.
func (s *sheet) line(k stroke, pts []pt, closed bool) {
	if len(pts) < 2 || k.width <= 0 {
		return
	}
	var p vg.Path
	s.path(&p, pts, closed)
	s.pen(k)
	s.c.Stroke(p)
}

// pen sets colour, width and dashes.
func (s *sheet) pen(k stroke) {
	s.c.SetColor(k.c)
	s.c.SetLineWidth(s.len(k.width))
	d := make([]vg.Length, len(k.dash))
	for i, v := range k.dash {
		d[i] = s.len(v)
	}
	s.c.SetLineDash(d, 0)
}

// disc fills a circle of radius r about p.
func (s *sheet) disc(c color.Color, p pt, r float64) {
	s.fill(c, circle(p, r))
}

// ring draws a circle of radius r about p.
func (s *sheet) ring(k stroke, p pt, r float64) {
	s.line(k, circle(p, r), true)
}

func circle(p pt, r float64) []pt { return polygon(p, r, 48) }

// polygon has n corners on a circle.
func polygon(p pt, r float64, n int) []pt {
	out := make([]pt, n)
	for i := range out {
		a := 2 * math.Pi * float64(i) / float64(n)
		out[i] = pt{p.x + r*math.Cos(a), p.y + r*math.Sin(a)}
	}
	return out
}

// box is a rectangle of the sheet, pixels.
type box struct{ x0, y0, x1, y1 float64 }

func (b box) w() float64 { return b.x1 - b.x0 }
func (b box) h() float64 { return b.y1 - b.y0 }
func (b box) corners() []pt {
	return []pt{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}
}
func (b box) inset(d float64) box { return box{b.x0 + d, b.y0 + d, b.x1 - d, b.y1 - d} }

// image lays a picture onto the rectangle with its lower left corner at
// (x, y). One pixel of img is one pixel of the sheet, and x, y are whole
// numbers, so nothing is smoothed.
func (s *sheet) image(x, y float64, img image.Image) {
	b := img.Bounds()
	if v, ok := s.c.(pngCanvas); ok {
		// The canvas's own way resamples every pixel, which takes seconds for a
		// large picture and blurs the cells' edges.
		dst := v.Image()
		top := int(math.Round(s.h-y)) - b.Dy()
		at := image.Pt(dst.Bounds().Min.X+int(math.Round(x)), dst.Bounds().Min.Y+top)
		draw.Draw(dst, image.Rectangle{Min: at, Max: at.Add(b.Size())}, img, b.Min, draw.Over)
		return
	}
	s.c.DrawImage(vg.Rectangle{
		Min: s.vpt(pt{x, y}),
		Max: s.vpt(pt{x + float64(b.Dx()), y + float64(b.Dy())}),
	}, img)
}

// style is how text is set.
type style struct {
	size   float64 // pixels; 0: the sheet's em
	bold   bool
	c      color.Color // nil: the theme's text colour
	alignX alignX      // of the text to the point; the zero value is left
	alignY alignY      // the zero value is the bottom of the line
	turn   float64     // rad, counter-clockwise
}

type alignX float64
type alignY float64

const (
	left   alignX = 0
	centre alignX = -0.5
	right  alignX = -1
	bottom alignY = 0
	middle alignY = -0.5
	top    alignY = -1
)

func (s *sheet) vstyle(st style) text.Style {
	if st.size == 0 {
		st.size = s.em
	}
	if st.c == nil {
		st.c = s.pal.text
	}
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: s.len(st.size)}
	if st.bold {
		f.Weight = xfont.WeightBold
	}
	return text.Style{Color: st.c, Font: f, Rotation: st.turn, XAlign: text.XAlignment(st.alignX), YAlign: text.YAlignment(st.alignY), Handler: text.Plain{Fonts: fonts()}}
}

// Of Liberation Sans, as shares of its size: the height of a capital, how far
// letters reach below the base line, and above it (the font's OS/2 table).
const (
	capHeight = 0.73
	descent   = 0.21
	ascent    = 0.91
)

// text writes one line at p, in the picture's language. Capitals stand centred about p
// where the text is aligned to the middle.
func (s *sheet) text(st style, p pt, str string) { s.put(st, p, s.opt.Language.Say(str)) }

// put writes a line as it is.
func (s *sheet) put(st style, p pt, str string) {
	if str == "" || s.opt.Labels == None {
		return
	}
	if st.size == 0 {
		st.size = s.em
	}
	v := s.vstyle(st)
	dx := float64(st.alignX) * s.measure(st, str)
	dy := descent * st.size
	switch st.alignY {
	case middle:
		dy = -capHeight / 2 * st.size
	case top:
		dy = -ascent * st.size
	}
	s.c.SetColor(v.Color)
	face := fonts().Lookup(v.Font, v.Font.Size)
	if st.turn == 0 {
		s.c.FillString(face, s.vpt(pt{p.x + dx, p.y + dy}), str)
		return
	}
	s.c.Push()
	defer s.c.Pop()
	s.c.Translate(s.vpt(p))
	s.c.Rotate(st.turn)
	s.c.FillString(face, s.vpt(pt{dx, dy}), str)
}

// width returns how wide str comes out in the picture's language, pixels.
func (s *sheet) width(st style, str string) float64 {
	return s.measure(st, s.opt.Language.Say(str))
}

// measure returns how wide str comes out as it is, pixels.
func (s *sheet) measure(st style, str string) float64 {
	v := s.vstyle(st)
	return float64(v.Width(str)) * s.dpi / 72
}

// wrap puts str into the picture's language and breaks it into lines no wider than w
// where it has spaces; a single word that is wider stays whole.
func (s *sheet) wrap(st style, str string, w float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Split(words.Together(s.opt.Language.Say(str)), " ") {
		if word == "" {
			continue
		}
		next := word
		if line != "" {
			next = line + " " + word
		}
		if line != "" && s.measure(st, next) > w {
			lines, next = append(lines, line), word
		}
		line = next
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// lineHeight is the distance between lines of text, in its size.
const lineHeight = 1.32

// paragraph writes wrapped text from the top of b downwards and returns the
// box that is left beneath it.
func (s *sheet) paragraph(st style, b box, str string) box {
	if s.opt.Labels == None || str == "" {
		return b
	}
	if st.size == 0 {
		st.size = s.em
	}
	st.alignY = top
	for _, l := range s.wrap(st, str, b.w()) {
		x := b.x0
		switch st.alignX {
		case centre:
			x = (b.x0 + b.x1) / 2
		case right:
			x = b.x1
		}
		s.put(st, pt{x, b.y1}, l)
		b.y1 -= st.size * lineHeight
	}
	return b
}
