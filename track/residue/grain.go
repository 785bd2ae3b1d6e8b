package residue

import (
	"math"
	"slices"

	"swathe/geom"
)

// Grain is one piece of debris.
type Grain struct {
	At   geom.Point2 // floor, m
	Area float64     // m2
	Wide float64     // px, the diameter of a disc of its area
}

// fine is how many times as finely as its pixels a thing's outline is drawn.
const fine = 4

// grains counts pieces of debris within the patch, those that touch one by one:
// where the width between two places is less than the width at both, there are
// two. Widths are distances from the outline on a grid four times as fine.
func (c *change) grains(o *small, g Ground) (out []Grain) {
	a := smooth(o.alpha, c.w, c.h, 0.5)
	label, n := components(dilate(o.mask, c.w, c.h, 1), c.w, c.h)
	if n == 0 {
		return nil
	}
	box := make([][4]int, n+1)
	for i := range box {
		box[i] = [4]int{c.w, c.h, 0, 0}
	}
	for i, l := range label {
		if l > 0 {
			x, y, b := i%c.w, i/c.w, &box[l]
			b[0], b[1], b[2], b[3] = min(b[0], x), min(b[1], y), max(b[2], x), max(b[3], y)
		}
	}
	type heap struct {
		x0, y0          int
		lobes           []lobe
		long, area, sum float64
	}
	var heaps []heap
	for l := int32(1); l <= int32(n); l++ {
		b := box[l]
		x0, y0 := max(0, b[0]-1), max(0, b[1]-1)
		w, h := min(c.w, b[2]+2)-x0, min(c.h, b[3]+2)-y0
		part := make([]float32, w*h)
		sum := 0.0
		for y := range h {
			for x := range w {
				if i := (y0+y)*c.w + x0 + x; label[i] == l {
					part[y*w+x] = a[i]
					sum += float64(o.alpha[i])
				}
			}
		}
		long, area := c.spread(part, w, h, x0, y0, g)
		list := lobes(part, w, h)
		// Fewer than leastGrain pixels are no grain.
		for len(list) > 1 && float64(len(list)) > area/leastGrain {
			list = list[:len(list)-1]
		}
		p := heap{x0: x0, y0: y0, lobes: list, long: long, area: area, sum: sum}
		if sum >= leastGrain {
			heaps = append(heaps, p)
		}
	}
	// Grains of one kind are alike in shape: if most are round, one that is longer
	// than they by more than its pixels explain is two.
	var shapes []float64
	for _, p := range heaps {
		if len(p.lobes) == 1 && p.area >= 10 {
			shapes = append(shapes, p.long)
		}
	}
	usual := geom.Median(shapes)
	for _, p := range heaps {
		whole := 0.0
		for _, q := range p.lobes {
			whole += q.share
		}
		for _, q := range p.lobes {
			px := geom.Point2{X: float64(c.x0+p.x0) + q.x, Y: float64(c.y0+p.y0) + q.y}
			at, ok := g.Floor(px)
			i := (p.y0+int(q.y+0.5))*c.w + p.x0 + int(q.x+0.5)
			if !ok || !c.in[i] {
				continue
			}
			s := p.sum * q.share / whole
			n := 1
			if len(p.lobes) == 1 && usual < round && p.area >= 10 && p.long > oblong*usual+2/p.area {
				n, s = 2, s/2
			}
			for range n {
				out = append(out, Grain{At: at, Area: s * float64(c.area[i]), Wide: 2 * math.Sqrt(math.Max(0, s)/math.Pi)})
			}
		}
	}
	return out
}

// lobe is a grain of a piece: its middle, px, and its part of the piece.
type lobe struct{ x, y, share float64 }

// neck is how much narrower, as a share of the smaller of two grains, a shape
// must be between them, and neckLeast that in pixels.
const neck, neckLeast = 0.12, 0.2

// leastGrain is the least area of a grain, px. Grains whose usual length by
// width is below round are round; one longer by the factor oblong is two.
const (
	leastGrain = 2.5
	round      = 1.25
	oblong     = 1.15
)

// lobes splits one piece, given as shares of pixels, into its grains.
func lobes(part []float32, w, h int) (out []lobe) {
	if w < 2 || h < 2 {
		return nil
	}
	big, bw, bh := enlarge(part, w, h, fine)
	in := make([]bool, len(big))
	top := highest(big, bw, bh, edgeReach*fine)
	for i, v := range big {
		in[i] = v > 0.5*min(1, max(top[i], 0.4))
	}
	d := depths(in, bw, bh)
	// From the deepest outwards: a place joins what it touches, two shapes that
	// meet stay two if both are deeper than the place where they meet by enough.
	var order []int
	for i, v := range d {
		if v > 0 {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(a, b int) int {
		if d[a] != d[b] {
			return int(math.Copysign(1, float64(d[b]-d[a])))
		}
		return a - b
	})
	of := make([]int32, len(d)) // 1 + index into peaks, by union-find
	var peaks []int
	var root []int
	find := func(k int) int {
		for root[k] != k {
			k = root[k]
		}
		return k
	}
	kept := map[int]bool{}
	for _, i := range order {
		var near []int
		neighbours(i, bw, bh, func(j int) {
			if of[j] > 0 {
				if k := find(int(of[j] - 1)); !slices.Contains(near, k) {
					near = append(near, k)
				}
			}
		})
		if len(near) == 0 {
			peaks, root = append(peaks, i), append(root, len(root))
			of[i] = int32(len(peaks))
			continue
		}
		// The deepest of them takes the place and, unless they are grains of their
		// own, the others.
		slices.SortFunc(near, func(a, b int) int { return int(math.Copysign(1, float64(d[peaks[b]]-d[peaks[a]]))) })
		of[i] = int32(near[0] + 1)
		for _, k := range near[1:] {
			top := d[peaks[k]]
			if float64(top-d[i]) > math.Max(neck*float64(top), neckLeast*fine) {
				kept[k] = true
			}
			root[k] = near[0]
		}
	}
	for k := range peaks {
		if root[k] == k || kept[k] {
			r := float64(d[peaks[k]])
			out = append(out, lobe{float64(peaks[k]%bw) / fine, float64(peaks[k]/bw) / fine, r * r})
		}
	}
	return out
}

// spread is how much longer than wide a piece is on the floor, by its second
// moments less those of the blur, and its area in pixels.
func (c *change) spread(part []float32, w, h, x0, y0 int, g Ground) (long, area float64) {
	var m, x, y, xx, xy, yy float64
	for i, a := range part {
		if a := float64(a); a > 0.1 {
			u, v := float64(i%w), float64(i/w)
			m, x, y, xx, xy, yy = m+a, x+a*u, y+a*v, xx+a*u*u, xy+a*u*v, yy+a*v*v
		}
	}
	x, y = x/m, y/m
	// A pixel's width, the smoothing by half a pixel, and a little of the lens.
	const blur = 1.0/12 + 0.25
	xx, xy, yy = xx/m-x*x-blur, xy/m-x*y, yy/m-y*y-blur
	px := geom.Point2{X: float64(c.x0+x0) + x, Y: float64(c.y0+y0) + y}
	p, ok := g.Floor(px)
	q, ok1 := g.Floor(geom.Point2{X: px.X + 1, Y: px.Y})
	r, ok2 := g.Floor(geom.Point2{X: px.X, Y: px.Y + 1})
	if !ok || !ok1 || !ok2 {
		return 1, m
	}
	a, b := q.Sub(p), r.Sub(p)
	fxx := a.X*a.X*xx + 2*a.X*b.X*xy + b.X*b.X*yy
	fyy := a.Y*a.Y*xx + 2*a.Y*b.Y*xy + b.Y*b.Y*yy
	fxy := a.X*a.Y*xx + (a.X*b.Y+b.X*a.Y)*xy + b.X*b.Y*yy
	t, d := (fxx+fyy)/2, math.Sqrt(sq((fxx-fyy)/2)+fxy*fxy)
	return math.Sqrt((t + d) / math.Max(t-d, 0.05*t)), m
}
