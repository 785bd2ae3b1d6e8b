package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"

	"swathe/coverage"
	"swathe/geom"
)

// contourSlack is how far a contour may lie from the edges of the cells, in cells: a
// slanting edge of cells is a staircase that leaves a straight line by half a cell.
const contourSlack = 0.75

// contours draws the cells of each class as areas with smooth outlines. Areas of the
// classes from k on lie within those from k - 1 on and are laid over them, so that no
// gap opens between two classes whose common edge is smoothed.
func (s *sheet) contours(v view, g *coverage.Grid, class []uint8, tones *[256]tone) {
	top := slices.Max(class)
	loops := make([][][]pt, int(top)+2)
	for k := 1; k <= int(top); k++ {
		if k > 1 && !slices.Contains(class, uint8(k-1)) {
			loops[k] = loops[k-1]
			continue
		}
		for _, ring := range outlines(g.Nx, g.Ny, func(i int) bool { return class[i] >= uint8(k) }) {
			ring = straightened(ring, contourSlack)
			if len(ring) < 3 {
				continue
			}
			out := make([]pt, len(ring))
			for i, q := range ring {
				out[i] = v.px(geom.Point2{X: g.X0 + q.x*g.Cell, Y: g.Y0 + q.y*g.Cell})
			}
			loops[k] = append(loops[k], out)
		}
	}
	for k := 1; k <= int(top); k++ {
		if slices.Contains(class, uint8(k)) {
			s.vectorGround(tones[k], loops[k])
		}
	}
	for k := 1; k <= int(top); k++ { // marks of what is left of each
		if slices.Contains(class, uint8(k)) {
			s.vectorMarks(tones[k], slices.Concat(loops[k], loops[k+1]))
		}
	}
}

// vectorTone paints the area within rings (even-odd).
func (s *sheet) vectorTone(t tone, rings [][]pt) {
	s.vectorGround(t, rings)
	s.vectorMarks(t, rings)
}

func (s *sheet) vectorGround(t tone, rings [][]pt) {
	if len(rings) == 0 || t.ground.A == 0 {
		return
	}
	var p vg.Path
	for _, r := range rings {
		s.path(&p, r, true)
	}
	s.c.SetColor(t.ground)
	s.c.Fill(p)
}

// vectorMarks draws the lines or dots of a tone within rings (even-odd).
func (s *sheet) vectorMarks(t tone, rings [][]pt) {
	if t.pattern == flat || len(rings) == 0 {
		return
	}
	// u runs across the lines, w along them; both in pixels of the sheet.
	turn := func(p pt) pt { return p }
	back := turn
	step, first := t.period/2, t.period/4
	switch t.pattern {
	case rising:
		turn = func(p pt) pt { return pt{(p.x + p.y) / math.Sqrt2, (p.y - p.x) / math.Sqrt2} }
		back = func(p pt) pt { return pt{(p.x - p.y) / math.Sqrt2, (p.x + p.y) / math.Sqrt2} }
		step, first = t.period/math.Sqrt2, t.period/2/math.Sqrt2
	case falling:
		turn = func(p pt) pt { return pt{(p.x - p.y) / math.Sqrt2, (p.x + p.y) / math.Sqrt2} }
		back = func(p pt) pt { return pt{(p.x + p.y) / math.Sqrt2, (p.y - p.x) / math.Sqrt2} }
		step, first = t.period/math.Sqrt2, t.period/2/math.Sqrt2
	case dotLattice:
		step, first = t.period, t.period/2
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	turned := make([][]pt, len(rings))
	for i, r := range rings {
		for _, q := range r {
			q = turn(q)
			turned[i] = append(turned[i], q)
			lo, hi = math.Min(lo, q.x), math.Max(hi, q.x)
		}
	}
	var p vg.Path
	for u := first + step*math.Ceil((lo-first)/step); u <= hi; u += step {
		at := crossings(turned, u)
		for i := 0; i+1 < len(at); i += 2 {
			if t.pattern != dotLattice {
				s.path(&p, []pt{back(pt{u, at[i]}), back(pt{u, at[i+1]})}, false)
				continue
			}
			for w := first + step*math.Ceil((at[i]-first)/step); w <= at[i+1]; w += step {
				s.path(&p, polygon(pt{u, w}, t.size, 12), true) // the PDF library draws no arcs within a path
			}
		}
	}
	if len(p) == 0 {
		return
	}
	s.c.SetColor(t.mark)
	if t.pattern == dotLattice {
		s.c.Fill(p)
		return
	}
	s.c.SetLineWidth(s.len(t.size))
	s.c.SetLineDash(nil, 0)
	s.c.Stroke(p)
}

// crossings is where the line x = u enters and leaves the area within rings, in
// rising order.
func crossings(rings [][]pt, u float64) []float64 {
	var out []float64
	for _, r := range rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if (a.x <= u) != (b.x <= u) {
				out = append(out, a.y+(b.y-a.y)*(u-a.x)/(b.x-a.x))
			}
		}
	}
	slices.Sort(out)
	return out
}

// outlines are the closed edges of the cells (nx by ny, row by row) that are in, in
// cells from the first one's lower left corner; what is in lies on the left of each.
func outlines(nx, ny int, in func(k int) bool) (rings [][]pt) {
	has := func(i, j int) bool { return i >= 0 && j >= 0 && i < nx && j < ny && in(j*nx+i) }
	// The steps from a corner along an edge: right, up, left, down.
	step := [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}
	// An edge that goes that way from corner (i, j) has in on its left.
	edge := func(i, j, d int) bool {
		switch d {
		case 0:
			return has(i, j) && !has(i, j-1)
		case 1:
			return has(i-1, j) && !has(i, j)
		case 2:
			return has(i-1, j-1) && !has(i-1, j)
		}
		return has(i, j-1) && !has(i-1, j-1)
	}
	done := make([]bool, 4*(nx+1)*(ny+1))
	key := func(i, j, d int) int { return 4*(j*(nx+1)+i) + d }
	for j := 0; j <= ny; j++ {
		for i := 0; i <= nx; i++ {
			if !edge(i, j, 0) || done[key(i, j, 0)] {
				continue
			}
			var ring []pt
			x, y, d := i, j, 0
			for open := true; open; {
				done[key(x, y, d)] = true
				ring = append(ring, pt{float64(x), float64(y)})
				x, y = x+step[d][0], y+step[d][1]
				// To the left first: where two areas touch at a corner they are two.
				open = false
				for _, turn := range []int{1, 0, 3} {
					if e := (d + turn) % 4; edge(x, y, e) {
						d, open = e, !done[key(x, y, e)]
						break
					}
				}
			}
			rings = append(rings, ring)
		}
	}
	return rings
}

// straightened leaves out the corners of a ring that lie within slack of the line
// through those kept (Douglas and Peucker 1973).
func straightened(ring []pt, slack float64) []pt {
	n := len(ring)
	if n < 5 {
		return ring
	}
	far, best := 0, -1.0
	for i, p := range ring {
		if d := math.Hypot(p.x-ring[0].x, p.y-ring[0].y); d > best {
			far, best = i, d
		}
	}
	keep := make([]bool, n+1)
	closed := append(slices.Clone(ring), ring[0])
	keep[0], keep[far], keep[n] = true, true, true
	var halve func(a, b int)
	halve = func(a, b int) {
		at, most := -1, slack
		p, q := closed[a], closed[b]
		l := math.Hypot(q.x-p.x, q.y-p.y)
		for i := a + 1; i < b; i++ {
			d := math.Hypot(closed[i].x-p.x, closed[i].y-p.y)
			if l > 0 {
				d = math.Abs((closed[i].x-p.x)*(q.y-p.y)-(closed[i].y-p.y)*(q.x-p.x)) / l
			}
			if d > most {
				at, most = i, d
			}
		}
		if at >= 0 {
			keep[at] = true
			halve(a, at)
			halve(at, b)
		}
	}
	halve(0, far)
	halve(far, n)
	var out []pt
	for i, p := range ring {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}
