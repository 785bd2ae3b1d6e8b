package paint

import (
	"fmt"
	"image"
	"math"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// Face is a typeface at one size. It is for one goroutine.
type Face struct {
	f      font.Face
	Size   float64 // px
	glyphs map[rune]glyph
}

type glyph struct {
	mask    *image.Alpha
	at      image.Point
	advance float64
}

var parsed = sync.OnceValues(func() (*opentype.Font, *opentype.Font) {
	read := func(ttf []byte) *opentype.Font {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic("paint: the built-in font does not parse: " + err.Error())
		}
		return f
	}
	return read(liberationsansregular.TTF), read(liberationsansbold.TTF)
})

// NewFace returns Liberation Sans (SIL Open Font License) at a size, px.
func NewFace(size float64, bold bool) (*Face, error) {
	if !(size >= 4 && size <= 400) {
		return nil, fmt.Errorf("letters of %g px cannot be drawn: give 4 to 400", size)
	}
	regular, heavy := parsed()
	f := regular
	if bold {
		f = heavy
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		return nil, err
	}
	return &Face{f: face, Size: size, glyphs: map[rune]glyph{}}, nil
}

func (f *Face) glyph(r rune) glyph {
	if g, ok := f.glyphs[r]; ok {
		return g
	}
	var g glyph
	box, mask, at, adv, ok := f.f.Glyph(fixed.Point26_6{}, r)
	if !ok {
		box, mask, at, adv, ok = f.f.Glyph(fixed.Point26_6{}, '?')
	}
	if ok {
		g.advance = float64(adv) / 64
		g.at = box.Min
		g.mask = image.NewAlpha(image.Rect(0, 0, box.Dx(), box.Dy()))
		for y := 0; y < box.Dy(); y++ {
			for x := 0; x < box.Dx(); x++ {
				_, _, _, a := mask.At(at.X+x, at.Y+y).RGBA()
				g.mask.Pix[y*g.mask.Stride+x] = uint8(a >> 8)
			}
		}
	}
	f.glyphs[r] = g
	return g
}

// Width returns how wide a line of words comes out, px.
func (f *Face) Width(s string) float64 {
	w := 0.0
	for _, r := range s {
		w += f.glyph(r).advance
	}
	return w
}

// Text writes a line with its base line at y, starting at x.
func (c *Canvas) Text(f *Face, x, y float64, s string, col Colour) {
	for _, r := range s {
		g := f.glyph(r)
		if g.mask != nil {
			ox, oy := int(math.Round(x))+g.at.X, int(math.Round(y))+g.at.Y
			b := g.mask.Bounds()
			for j := 0; j < b.Dy(); j++ {
				for i := 0; i < b.Dx(); i++ {
					if k := g.mask.Pix[j*g.mask.Stride+i]; k > 0 {
						c.Dot(ox+i, oy+j, col, k)
					}
				}
			}
		}
		x += g.advance
	}
}
