package figure

import (
	"fmt"
	"image"
	"math"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/recorder"
)

// written text with the rectangle that its capitals take, pixels from the lower
// left corner.
type line struct {
	words string
	size  float64 // points
	box
}

// linesOf returns every line of text of a picture and where it stands.
func linesOf(t *testing.T, p *Picture) []line {
	t.Helper()
	c := new(recorder.Canvas)
	p.draw(newSheet(c, p.opt))
	px := float64(p.opt.DPI) / 72
	type frame struct{ x, y, turn float64 }
	at := frame{}
	var kept []frame
	var out []line
	for _, a := range c.Actions {
		switch a := a.(type) {
		case *recorder.Push:
			kept = append(kept, at)
		case *recorder.Pop:
			at, kept = kept[len(kept)-1], kept[:len(kept)-1]
		case *recorder.Translate:
			sin, cos := math.Sincos(at.turn)
			x, y := float64(a.Point.X)*px, float64(a.Point.Y)*px
			at.x, at.y = at.x+cos*x-sin*y, at.y+sin*x+cos*y
		case *recorder.Rotate:
			at.turn += a.Angle
		case *recorder.Scale:
			t.Fatalf("%s: text under a scale", p.Name)
		case *recorder.FillString:
			f := fonts().Lookup(a.Font, a.Size)
			w, h := f.Width(a.String).Points()*px, a.Size.Points()*px*capHeight
			sin, cos := math.Sincos(at.turn)
			b := box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
			for _, q := range [][2]float64{{0, 0}, {w, 0}, {w, h}, {0, h}} {
				x, y := float64(a.Point.X)*px+q[0], float64(a.Point.Y)*px+q[1]
				x, y = at.x+cos*x-sin*y, at.y+sin*x+cos*y
				b = box{math.Min(b.x0, x), math.Min(b.y0, y), math.Max(b.x1, x), math.Max(b.y1, y)}
			}
			out = append(out, line{a.String, a.Size.Points(), b})
		}
	}
	return out
}

func (b box) overlaps(c box) bool {
	return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1
}

// At every size and shape, all words lie within the picture, none of them on
// others, and none is under 7 points in print unless the picture is too small
// for that, as textSize says.
func TestWordsKeepApart(t *testing.T) {
	n := 0
	for _, size := range [][3]int{{800, 600, 100}, {800, 533, 80}, {3000, 2000, 300}, {1280, 720, 96}, {600, 900, 100}, {900, 900, 300}} {
		for _, labels := range []Labels{Short, Full} {
			opt := DefaultOptions()
			opt.Width, opt.Height, opt.DPI, opt.Labels = size[0], size[1], size[2], labels
			for _, p := range gallery(t, opt) {
				lines := linesOf(t, p)
				n += len(lines)
				if len(lines) < 3 {
					t.Errorf("%s: only %d lines of text", p.Name, len(lines))
				}
				what := fmt.Sprintf("%s at %d x %d, %d dpi, labels %s", p.Name, size[0], size[1], size[2], labels)
				least := math.Min(7, (0.05*math.Min(float64(opt.Width), float64(opt.Height))+2)*72/float64(opt.DPI))
				for i, a := range lines {
					if a.size < least-1e-9 {
						t.Errorf("%s: %q is set in %.1f points, want %.1f", what, a.words, a.size, least)
					}
					if a.x0 < 0 || a.y0 < 0 || a.x1 > float64(opt.Width) || a.y1 > float64(opt.Height) {
						t.Errorf("%s: %q leaves the picture: %.0f", what, a.words, a.box)
					}
					for _, b := range lines[:i] {
						if a.overlaps(b.box) {
							t.Errorf("%s: %q and %q lie on each other: %.0f and %.0f", what, a.words, b.words, a.box, b.box)
						}
					}
				}
			}
		}
	}
	t.Logf("%d lines of text", n)
}

// Pairs of letters stand as the font sets them, whatever the size: the ink of a
// line in a PNG is as wide as the font says that the line is.
func TestLettersKeepTheirDistance(t *testing.T) {
	for _, px := range []float64{9, 20, 120} {
		for _, words := range []string{"Tool", "AVAVA", "reach. A pass", "11.1 m", "LTTo"} {
			opt := DefaultOptions()
			var want float64
			p, err := newPicture("test", "test", opt, func(s *sheet) {
				st := style{size: px}
				want = s.width(st, words)
				s.text(st, pt{40, 400}, words)
			})
			if err != nil {
				t.Fatal(err)
			}
			x0, x1 := inkAcross(p.Image())
			// Letters have some air at their sides: a tenth of the size covers it.
			if got := float64(x1 - x0); math.Abs(got-want) > 0.16*px+1.5 {
				t.Errorf("%q at %.0f px: ink %.0f px wide, the font says %.1f", words, px, got, want)
			}
		}
	}
	// Without the pairs' distances this word is wider by a twentieth and more.
	f := fonts().Lookup(newSheet(new(recorder.Canvas), DefaultOptions()).vstyle(style{size: 100}).Font, vg.Points(100))
	last := func(str string) float64 {
		p, ok := glyphs(f, vg.Point{}, str)
		if !ok {
			t.Fatal("no outlines")
		}
		hi := math.Inf(-1)
		for _, c := range p {
			hi = math.Max(hi, c.Pos.X.Points())
		}
		return hi
	}
	sum := 0.0
	for _, r := range "AVAVA" {
		sum += f.Width(string(r)).Points()
	}
	if got := last("AVAVA"); got > 0.95*sum || got > f.Width("AVAVA").Points() {
		t.Errorf("AVAVA is %.1f points wide, its letters alone %.1f, the font says %.1f", got, sum, f.Width("AVAVA").Points())
	}
}

func inkAcross(img image.Image) (x0, x1 int) {
	b := img.Bounds()
	x0, x1 = b.Max.X, b.Min.X
	page := img.At(b.Min.X, b.Min.Y)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if img.At(x, y) != page {
				x0, x1 = min(x0, x), max(x1, x+1)
			}
		}
	}
	return x0, x1
}
