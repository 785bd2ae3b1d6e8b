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

// cellMap draws cells, those of class c in a tone. A cell smaller than a pixel is
// averaged with its neighbours in that pixel; SVG and PDF get contours instead.
func (s *sheet) cellMap(v view, b box, g *coverage.Grid, class []uint8, paint func(c uint8) tone) {
	var tones [256]tone
	var has [256]bool
	for _, c := range class {
		if !has[c] {
			has[c], tones[c] = true, paint(c)
		}
	}
	if _, pixels := s.c.(pngCanvas); !pixels {
		s.contours(v, g, class, &tones)
		return
	}
	s.cellColours(v, b, g, func(k, x, y int) color.RGBA { return tones[class[k]].at(x, y) })
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
