package figure

import (
	"errors"

	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// glyphs returns the outlines of str set in f with its base line starting at
// at; ok is false where the font gives no outline.
func glyphs(f font.Face, at vg.Point, str string) (p vg.Path, ok bool) {
	var buf sfnt.Buffer
	size := f.Font.Size.Points()
	// 26.6 fixed point keeps sixty-fourths; ask for a thousand times the size.
	ppem := fixed.I(1000)
	scale := size / 1000
	to := func(q fixed.Point26_6, x vg.Length) vg.Point {
		return vg.Point{
			X: x + vg.Length(float64(q.X)/64*scale),
			Y: at.Y - vg.Length(float64(q.Y)/64*scale),
		}
	}
	x := at.X
	var before sfnt.GlyphIndex
	for i, r := range str {
		g, err := f.Face.GlyphIndex(&buf, r)
		if err != nil {
			return nil, false
		}
		if i > 0 {
			switch k, err := f.Face.Kern(&buf, before, g, ppem, xfont.HintingNone); {
			case err == nil:
				x += vg.Length(float64(k) / 64 * scale)
			case !errors.Is(err, sfnt.ErrNotFound):
				return nil, false
			}
		}
		before = g
		segs, err := f.Face.LoadGlyph(&buf, g, ppem, nil)
		if err != nil {
			return nil, false
		}
		open := false
		for _, s := range segs {
			switch s.Op {
			case sfnt.SegmentOpMoveTo:
				if open {
					p.Close()
				}
				p.Move(to(s.Args[0], x))
				open = true
			case sfnt.SegmentOpLineTo:
				p.Line(to(s.Args[0], x))
			case sfnt.SegmentOpQuadTo:
				p.QuadTo(to(s.Args[0], x), to(s.Args[1], x))
			case sfnt.SegmentOpCubeTo:
				p.CubeTo(to(s.Args[0], x), to(s.Args[1], x), to(s.Args[2], x))
			}
		}
		if open {
			p.Close()
		}
		adv, err := f.Face.GlyphAdvance(&buf, g, ppem, xfont.HintingNone)
		if err != nil {
			return nil, false
		}
		x += vg.Length(float64(adv) / 64 * scale)
	}
	return p, true
}
