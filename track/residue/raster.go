package residue

import (
	"math"
	"slices"

	"swathe/geom"
)

// raster marks the pixels whose centres lie in a ring of the floor, as seen.
// Parts of the ring that cannot be seen are left out of it.
func raster(g Ground, ring []geom.Point2, w, h int) []bool {
	m := make([]bool, w*h)
	var px []geom.Point2
	for _, p := range along(ring, 0.02) {
		if q, ok := g.Pixel(p); ok {
			px = append(px, q)
		}
	}
	var cuts []float64
	for y := range h {
		cuts = cuts[:0]
		fy := float64(y)
		for i, a := range px {
			b := px[(i+1)%len(px)]
			if (a.Y > fy) != (b.Y > fy) {
				cuts = append(cuts, a.X+(fy-a.Y)/(b.Y-a.Y)*(b.X-a.X))
			}
		}
		slices.Sort(cuts)
		for i := 0; i+1 < len(cuts); i += 2 {
			for x := max(0, int(math.Ceil(cuts[i]))); x < w && float64(x) < cuts[i+1]; x++ {
				m[y*w+x] = true
			}
		}
	}
	return m
}
