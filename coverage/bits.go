package coverage

import (
	"math"
	"math/bits"

	"swathe/geom"
)

// bitmap is a raster of one bit a cell, rows of whole words.
type bitmap struct {
	nx, ny, words int
	bits          []uint64
}

func newBitmap(nx, ny int) *bitmap {
	w := (nx + 63) / 64
	return &bitmap{nx: nx, ny: ny, words: w, bits: make([]uint64, w*ny)}
}

func (b *bitmap) row(j int) []uint64 { return b.bits[j*b.words : (j+1)*b.words] }

func (b *bitmap) get(i, j int) bool { return b.bits[j*b.words+i>>6]>>(i&63)&1 != 0 }

// clear clears the cells [i0, i1) of row j.
func (b *bitmap) clear(j, i0, i1 int) {
	row := b.row(j)
	for i := i0; i < i1; {
		n := min(64-i&63, i1-i)
		row[i>>6] &^= (^uint64(0) >> (64 - n)) << (i & 63)
		i += n
	}
}

// orShifted sets every cell (i+dx, j+dy) for which src has (i, j).
func (b *bitmap) orShifted(src *bitmap, dx, dy int) {
	word, bit := dx>>6, uint(dx&63) // >> rounds down, so bit is 0..63 for a negative dx too
	last := ^uint64(0)
	if r := b.nx & 63; r != 0 {
		last >>= 64 - r
	}
	for j := max(0, -dy); j < min(src.ny, b.ny-dy); j++ {
		from, to := src.row(j), b.row(j+dy)
		for w := range to {
			k := w - word
			var v uint64
			if k >= 0 && k < len(from) {
				v = from[k] << bit
			}
			if bit != 0 && k-1 >= 0 && k-1 < len(from) {
				v |= from[k-1] >> (64 - bit)
			}
			to[w] |= v
		}
		to[len(to)-1] &= last
	}
}

// eachRun calls fn for every maximal run [i0, i1) of set cells in row j.
func (b *bitmap) eachRun(j int, fn func(i0, i1 int)) {
	row := b.row(j)
	i := 0
	for i < b.nx {
		i = scan(row, i, b.nx, 0)
		if i >= b.nx {
			return
		}
		e := scan(row, i, b.nx, ^uint64(0))
		fn(i, e)
		i = e
	}
}

// scan returns the first i' >= i, at most n, whose bit differs from flip's.
func scan(row []uint64, i, n int, flip uint64) int {
	for i < n {
		if w := (row[i>>6] ^ flip) >> (i & 63); w != 0 {
			return min(n, i+bits.TrailingZeros64(w))
		}
		i = i&^63 + 64
	}
	return n
}

// clearConvex clears the cells whose centres are inside a convex polygon, half-open.
func (b *bitmap) clearConvex(g *Grid, pts []geom.Point2) {
	lo, hi := ring(pts).bounds()
	j0 := max(0, ceil((lo.Y-g.Y0)/g.Cell-0.5))
	j1 := min(b.ny-1, int(math.Floor((hi.Y-g.Y0)/g.Cell-0.5)))
	for j := j0; j <= j1; j++ {
		y := g.Y0 + (float64(j)+0.5)*g.Cell
		xl, xr := math.Inf(1), math.Inf(-1)
		for i, p := range pts {
			q := pts[(i+1)%len(pts)]
			if (p.Y > y) != (q.Y > y) {
				x := crossX(p, q, y)
				xl, xr = math.Min(xl, x), math.Max(xr, x)
			}
		}
		if xl < xr {
			b.clear(j, max(0, ceil((xl-g.X0)/g.Cell-0.5)), min(b.nx, ceil((xr-g.X0)/g.Cell-0.5)))
		}
	}
}
