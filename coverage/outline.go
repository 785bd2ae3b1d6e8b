package coverage

import (
	"math"

	"swathe/geom"
)

// straightness is how far, in cells, a patch's outline may be from the middles
// of the cell sides that it passes. Two outlines are sqrt(1/2) cells apart at
// the least, so at a third of a cell none can cross another or itself.
const straightness = 1.0 / 3

// tracer walks round patches of cells.
type tracer struct {
	g    *Grid
	of   []int32 // the number of each cell's patch, 0 for none
	seen []uint8 // which sides of each cell were walked: bit d for side d
}

func newTracer(g *Grid, of []int32) *tracer {
	return &tracer{g: g, of: of, seen: make([]uint8, len(of))}
}

// side is a side of a cell, walked with the cell at its left. dir 0: along +x
// below the cell, 1: up its right, 2: along -x above it, 3: down its left.
type side struct{ i, j, dir int }

var (
	ahead = [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}
	right = [4][2]int{{0, -1}, {1, 0}, {0, 1}, {-1, 0}}
)

// has tells whether the cell is of patch n.
func (t *tracer) has(i, j int, n int32) bool {
	return i >= 0 && j >= 0 && i < t.g.Nx && j < t.g.Ny && t.of[j*t.g.Nx+i] == n
}

// next returns the side that carries the border on: round the same cell where
// the patch ends ahead, else along the cell ahead, or round the one to its right.
func (t *tracer) next(s side, n int32) side {
	ai, aj := s.i+ahead[s.dir][0], s.j+ahead[s.dir][1]
	if !t.has(ai, aj, n) {
		return side{s.i, s.j, (s.dir + 1) % 4}
	}
	if ri, rj := ai+right[s.dir][0], aj+right[s.dir][1]; t.has(ri, rj, n) {
		return side{ri, rj, (s.dir + 3) % 4}
	}
	return side{ai, aj, s.dir}
}

// middle returns where the middle of a side is on the floor.
func (t *tracer) middle(s side) geom.Point2 {
	return geom.Point2{
		X: t.g.X0 + (float64(s.i)+0.5+float64(right[s.dir][0])/2)*t.g.Cell,
		Y: t.g.Y0 + (float64(s.j)+0.5+float64(right[s.dir][1])/2)*t.g.Cell,
	}
}

// outline returns the outline of a patch of cells that hang together by their
// sides: the outer ring counter-clockwise, then the holes clockwise. It passes
// through the middles of the border cells' sides, not round their corners, and
// is made straight where it is within a third of a cell of straight: staircases
// become slopes, and its area is the cells' to within their own rounding.
func (t *tracer) outline(cells []int32) [][]geom.Point2 {
	n := t.of[cells[0]]
	var outer []geom.Point2
	var holes [][]geom.Point2
	for _, k := range cells {
		for d := 0; d < 4; d++ {
			s := side{int(k) % t.g.Nx, int(k) / t.g.Nx, d}
			if t.seen[k]&(1<<d) != 0 || t.has(s.i+right[d][0], s.j+right[d][1], n) {
				continue
			}
			var pts []geom.Point2
			for c := int(k); t.seen[c]&(1<<s.dir) == 0; c = s.j*t.g.Nx + s.i {
				t.seen[c] |= 1 << s.dir
				pts = append(pts, t.middle(s))
				s = t.next(s, n)
			}
			pts = straighten(pts, straightness*t.g.Cell)
			if signedArea(pts) > 0 {
				outer = pts
			} else {
				holes = append(holes, pts)
			}
		}
	}
	return append([][]geom.Point2{outer}, holes...)
}

// signedArea returns a ring's area, positive if it runs counter-clockwise.
func signedArea(r []geom.Point2) float64 {
	a := 0.0
	for i, p := range r {
		q := r[(i+1)%len(r)]
		a += p.X*q.Y - q.X*p.Y
	}
	return a / 2
}

// straighten drops points of a closed ring that lie within tol of the line
// between the points kept (Douglas and Peucker, The Canadian Cartographer 1973).
// Four points always stay: the ring's extremes, so that it keeps its turn.
func straighten(r []geom.Point2, tol float64) []geom.Point2 {
	if len(r) <= 4 {
		return r
	}
	keep := make([]bool, len(r))
	ends := []int{}
	for _, f := range []func(p geom.Point2) float64{
		func(p geom.Point2) float64 { return p.X + p.Y/1024 }, func(p geom.Point2) float64 { return -p.X - p.Y/1024 },
		func(p geom.Point2) float64 { return p.Y - p.X/1024 }, func(p geom.Point2) float64 { return -p.Y + p.X/1024 },
	} {
		best := 0
		for i, p := range r {
			if f(p) > f(r[best]) {
				best = i
			}
		}
		keep[best] = true
	}
	for i, k := range keep {
		if k {
			ends = append(ends, i)
		}
	}
	for e, from := range ends {
		to := ends[(e+1)%len(ends)]
		if to <= from {
			to += len(r)
		}
		todo := [][2]int{{from, to}}
		for len(todo) > 0 {
			a, b := todo[len(todo)-1][0], todo[len(todo)-1][1]
			todo = todo[:len(todo)-1]
			far, at := tol, -1
			w := wall{a: r[a%len(r)], b: r[b%len(r)]}
			for i := a + 1; i < b; i++ {
				p := r[i%len(r)]
				if d := w.foot(p).Dist(p); d > far {
					far, at = d, i
				}
			}
			if at >= 0 {
				keep[at%len(r)] = true
				todo = append(todo, [2]int{a, at}, [2]int{at, b})
			}
		}
	}
	var out []geom.Point2
	for i, p := range r {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// ringDistance returns the distance from p to a ring's edges, m.
func (r ring) distance(p geom.Point2) float64 {
	best := math.Inf(1)
	for _, w := range r.walls(-1) {
		best = math.Min(best, w.foot(p).Dist(p))
	}
	return best
}
