package figure

import (
	"image/color"
	"math"
)

// tone is how an area is painted: plain, or with a pattern of marks on its ground, so
// that it is told from its neighbours where colour is lost.
type tone struct {
	ground, mark color.RGBA
	pattern      patternKind
	period, size float64 // pixels: between two marks along x, and a line's width or a dot's radius
}

type patternKind uint8

// The patterns.
const (
	flat       patternKind = iota
	rising                 // lines from the lower right to the upper left: x + y is the same along each
	falling                // lines from the lower left to the upper right
	upright                // lines straight up
	dotLattice             // on a square lattice
)

func plain(c color.RGBA) tone { return tone{ground: c} }

// across is how far (x, y) lies from the middle of the nearest line, pixels.
func (t tone) across(x, y float64) float64 {
	u, shrink := x+y, math.Sqrt2
	switch t.pattern {
	case falling:
		u = x - y + 1<<20
	case upright:
		u, shrink = 2*x, math.Sqrt2
	}
	return math.Abs(math.Mod(u, t.period)-t.period/2) / shrink
}

// at is the colour of pixel (x, y), smoothed at the edges of marks.
func (t tone) at(x, y int) color.RGBA {
	switch t.pattern {
	case flat:
		return t.ground
	case dotLattice:
		dx := math.Mod(float64(x), t.period) - t.period/2
		dy := math.Mod(float64(y), t.period) - t.period/2
		return mix(t.ground, t.mark, math.Min(1, math.Max(0, t.size+0.5-math.Hypot(dx, dy))))
	}
	return mix(t.ground, t.mark, math.Min(1, math.Max(0, t.size/2+0.5-t.across(float64(x), float64(y)))))
}

// passTone gives the tones of the pass map.
func (s *sheet) passTone(c uint8) tone {
	switch c {
	case classMissed:
		return s.missed()
	case classOut:
		return s.hatch()
	case classUnknown:
		return s.speckled()
	case classNone:
		return tone{}
	}
	return s.pass(int(c - classPass1))
}

// missed is floor that was missed: lines that fall where those of floor out of reach
// rise.
func (s *sheet) missed() tone {
	return tone{missedColour, missedLine, falling, math.Max(6, 0.7*s.em), math.Max(1, 0.07*s.em)}
}

// pass is floor that was cleaned i + 1 times: dots tell twice, lines 3 times from
// their neighbours where colour is lost.
func (s *sheet) pass(i int) tone {
	c := PassColours[i]
	switch i {
	case 1:
		return tone{c, mix(c, PassColours[3], 0.6), dotLattice, math.Max(5, 0.6*s.em), math.Max(0.5, 0.06*s.em)}
	case 2:
		return tone{c, mix(c, PassColours[0], 0.5), upright, math.Max(5, 0.6*s.em), math.Max(0.7, 0.05*s.em)}
	}
	return plain(c)
}

func (s *sheet) hatch() tone {
	return tone{s.pal.hatchGround, s.pal.hatch, rising, math.Max(5, 0.5*s.em), math.Max(1, 0.07*s.em)}
}

func (s *sheet) speckled() tone {
	return tone{s.pal.dotsGround, s.pal.dots, dotLattice, math.Max(5, 0.5*s.em), math.Max(1, 0.1*s.em)}
}
