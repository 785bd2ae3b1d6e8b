package figure

import (
	"image/color"
	"math"
	"runtime"
	"sync"

	"swathe/coverage"
	"swathe/geom"
)

// Classes of a cell in the pass map.
const (
	classNone    uint8 = iota // not open floor
	classMissed               // open, in reach, not cleaned
	classOut                  // open, out of the tool's reach, not cleaned
	classUnknown              // may have been cleaned unseen
	classPass1                // cleaned once; the next three follow on
	classPass2
	classPass3
	classPass4
	classes
)

// passClass returns the class of every cell of g.
func passClass(g *coverage.Grid) []uint8 {
	out := make([]uint8, len(g.Flags))
	for k, f := range g.Flags {
		switch {
		case f&coverage.FlagOpen == 0:
		case g.Passes[k] > 0:
			out[k] = classPass1 + uint8(min(g.Passes[k], 4)) - 1
		case f&coverage.FlagUnknown != 0:
			out[k] = classUnknown
		case f&coverage.FlagReachable != 0:
			out[k] = classMissed
		default:
			out[k] = classOut
		}
	}
	return out
}

// area returns the m2 of each class.
func classAreas(g *coverage.Grid, class []uint8) (m2 [classes]float64) {
	for _, c := range class {
		m2[c] += g.Cell * g.Cell
	}
	return m2
}

// cellMap draws cells: paint gives the colour of class c, with the pattern of
// the sheet pixel (x, y) where the class has one. A cell smaller than a pixel
// is averaged with its neighbours in that pixel.
func (s *sheet) cellMap(v view, b box, g *coverage.Grid, class []uint8, paint func(c uint8, x, y int) color.RGBA) {
	s.cellColours(v, b, g, func(k, x, y int) color.RGBA { return paint(class[k], x, y) })
}

// cellColours is the same with a colour of each cell k of its own.
func (s *sheet) cellColours(v view, b box, g *coverage.Grid, paint func(k, x, y int) color.RGBA) {
	// Samples across a pixel: one at least, and no fewer than one a cell.
	n := min(4, max(1, int(math.Ceil(1/(g.Cell*v.k)-1e-9))))
	step := 1 / (float64(n) * v.k)
	look := func(p geom.Point2, x, y int) uint32 {
		if n == 1 {
			k := g.Index(p)
			if k < 0 {
				return 0
			}
			return pack(paint(k, x, y))
		}
		var r, gr, bl, al, cnt uint32
		for i := 0; i < n; i++ {
			for j := 0; j < n; j++ {
				dx := (float64(i) - float64(n-1)/2) * step
				dy := (float64(j) - float64(n-1)/2) * step
				cnt++
				if k := g.Index(geom.Point2{X: p.X + dx, Y: p.Y + dy}); k >= 0 {
					c := paint(k, x, y)
					r, gr, bl, al = r+uint32(c.R), gr+uint32(c.G), bl+uint32(c.B), al+uint32(c.A)
				}
			}
		}
		return pack(color.RGBA{uint8(r / cnt), uint8(gr / cnt), uint8(bl / cnt), uint8(al / cnt)})
	}
	img, x, y := v.cellImage(b, look)
	s.image(x, y, img)
}

func pack(c color.RGBA) uint32 {
	return uint32(c.R)<<24 | uint32(c.G)<<16 | uint32(c.B)<<8 | uint32(c.A)
}

// hatched returns the colour of pixel (x, y) in a pattern of lines at 45
// degrees, period and width in pixels, smoothed at the lines' edges.
func hatched(line, ground color.RGBA, period, width float64, x, y int) color.RGBA {
	d := math.Mod(float64(x)+float64(y), period)
	d = math.Abs(d-period/2) / math.Sqrt2
	return mix(ground, line, math.Min(1, math.Max(0, width/2+0.5-d)))
}

// dotted is the same with dots of the given radius on a square lattice.
func dotted(dot, ground color.RGBA, period, radius float64, x, y int) color.RGBA {
	dx := math.Mod(float64(x), period) - period/2
	dy := math.Mod(float64(y), period) - period/2
	return mix(ground, dot, math.Min(1, math.Max(0, radius+0.5-math.Hypot(dx, dy))))
}

// passPaint gives the colours of the pass map.
func (s *sheet) passPaint(c uint8, x, y int) color.RGBA {
	switch c {
	case classMissed:
		return s.missedAt(x, y)
	case classOut:
		return s.hatchAt(x, y)
	case classUnknown:
		return s.dotsAt(x, y)
	case classNone:
		return color.RGBA{}
	}
	return s.passAt(int(c-classPass1), x, y)
}

// missedAt is floor that was missed: lines that fall where those of floor out of
// reach rise.
func (s *sheet) missedAt(x, y int) color.RGBA {
	return hatched(missedLine, missedColour, math.Max(6, 0.7*s.em), math.Max(1, 0.07*s.em), x, 1<<20-y)
}

// passAt is floor that was cleaned i + 1 times: dots tell twice, lines 3 times from
// their neighbours where colour is lost.
func (s *sheet) passAt(i, x, y int) color.RGBA {
	c := PassColours[i]
	switch i {
	case 1:
		return dotted(mix(c, PassColours[3], 0.6), c, math.Max(5, 0.6*s.em), math.Max(0.5, 0.06*s.em), x, y)
	case 2:
		return hatched(mix(c, PassColours[0], 0.5), c, math.Max(5, 0.6*s.em), math.Max(0.7, 0.05*s.em), 2*x, 0)
	}
	return c
}

// passSwatch is passAt of one class.
func (s *sheet) passSwatch(i int) func(x, y int) color.RGBA {
	return func(x, y int) color.RGBA { return s.passAt(i, x, y) }
}

func (s *sheet) hatchAt(x, y int) color.RGBA {
	return hatched(s.pal.hatch, s.pal.hatchGround, math.Max(5, 0.5*s.em), math.Max(1, 0.07*s.em), x, y)
}

func (s *sheet) dotsAt(x, y int) color.RGBA {
	return dotted(s.pal.dots, s.pal.dotsGround, math.Max(5, 0.5*s.em), math.Max(1, 0.1*s.em), x, y)
}

// parallel calls f for 0 to n-1 on every processor.
func parallel(n int, f func(int)) {
	var wg sync.WaitGroup
	workers := min(runtime.GOMAXPROCS(0), n)
	for w := 0; w < workers; w++ {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := w; i < n; i += workers {
				f(i)
			}
		}()
	}
	wg.Wait()
}
