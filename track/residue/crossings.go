package residue

import (
	"math"

	"swathe/geom"
)

// widestFork is how far, degrees, a strand may turn from the common stretch of a
// crossing into its own: at a right angle each turns by 45.
const widestFork = 75

// doubled tells which middle lines two strands share. Two that cross at a sharp
// angle lie on each other over w / sin(angle / 2), w being their width, and have
// one middle line there, which forks at both ends into two lines that both go on
// nearly straight. A strand that ends upon another leaves no such fork: there the
// line that is crossed goes straight on and the other comes from the side. wide is
// the strands' width in the lines' units.
func doubled(lines [][]geom.Point2, loose [][2]bool, wide float64) []bool {
	type end struct {
		line, at int // which of its ends, 0 or 1
		dir      geom.Point2
	}
	var nodes [][]end
	var where []geom.Point2
	of := make([][2]int, len(lines))
	for i, l := range lines {
		for at := range 2 {
			of[i][at] = -1
			if loose[i][at] || len(l) < 2 {
				continue
			}
			p := l[0]
			if at == 1 {
				p = l[len(l)-1]
			}
			k := 0
			for ; k < len(where); k++ {
				if p.Dist(where[k]) < 2 {
					break
				}
			}
			if k == len(where) {
				where, nodes = append(where, p), append(nodes, nil)
			}
			of[i][at] = k
			nodes[k] = append(nodes[k], end{i, at, leaving(l, at, wide)})
		}
	}
	trunk := func(i, at int) bool {
		k := of[i][at]
		if k < 0 || of[i][0] == of[i][1] || len(nodes[k])%2 == 0 {
			return false
		}
		back := leaving(lines[i], at, wide).Scale(-1)
		var on []geom.Point2
		for _, e := range nodes[k] {
			if (e.line != i || e.at != at) && bend(back, e.dir) < widestFork {
				on = append(on, e.dir)
			}
		}
		if len(on) != 2 || len(nodes[k]) > 3 && (len(nodes[k])-3)%2 != 0 {
			return false
		}
		// The two must not be one strand that goes by.
		return math.Max(bend(back, on[0]), bend(back, on[1])) < bend(on[0].Scale(-1), on[1])
	}
	out := make([]bool, len(lines))
	for i := range lines {
		out[i] = trunk(i, 0) && trunk(i, 1)
	}
	return out
}

// bend is the angle between two directions, degrees.
func bend(a, b geom.Point2) float64 {
	return math.Abs(math.Atan2(a.X*b.Y-a.Y*b.X, a.X*b.X+a.Y*b.Y)) * 180 / math.Pi
}

// leaving is the direction in which a line leaves its end: of a short one its
// chord, of a long one that from one width to three, for nearer by the crossing
// bends it.
func leaving(l []geom.Point2, at int, wide float64) geom.Point2 {
	p := func(i int) geom.Point2 {
		if at == 1 {
			i = len(l) - 1 - i
		}
		return l[i]
	}
	a, b, s := 0, len(l)-1, 0.0
	for i := 1; i < len(l); i++ {
		s += p(i).Dist(p(i - 1))
		if a == 0 && s > wide {
			a = i
		}
		if s > 3*wide {
			b = i
			break
		}
	}
	if s < 2*wide {
		a = 0
	}
	return p(b).Sub(p(a))
}

// folded is how much more than its middle line a strand must cover to be one that
// folds upon itself: a piece's own error by area is about a per cent.
const folded = 1.04

// sideways is how far from a middle line a strand's width is summed, px.
const sideways = 3

// widths appends the strand's width, m, at every place of a line that lies two of
// sideways from both its ends: what is covered across it. line is in pixels from
// (x0, y0) of the roi, s the same on the floor.
func (c *change) widths(dst []float64, o *small, line []geom.Point2, s Strand, from geom.Point2) []float64 {
	if len(s) != len(line) {
		return dst // it leaves the patch
	}
	steps := make([]float64, len(line))
	for i := 1; i < len(line); i++ {
		steps[i] = steps[i-1] + line[i].Dist(line[i-1])
	}
	for i := 2; i < len(line)-2; i++ {
		if steps[i] < 2*sideways || steps[len(line)-1]-steps[i] < 2*sideways {
			continue
		}
		d := line[i+2].Sub(line[i-2])
		long := d.Norm()
		if long == 0 {
			continue
		}
		n := geom.Point2{X: -d.Y / long, Y: d.X / long}
		const step = 0.25
		sum := 0.0
		for t := -float64(sideways); t <= sideways; t += step {
			sum += step * c.sample(o.alpha, from.Add(line[i]).Add(n.Scale(t)))
		}
		at := from.Add(line[i])
		k := min(max(int(at.Y+0.5), 0), c.h-1)*c.w + min(max(int(at.X+0.5), 0), c.w-1)
		// A pixel is as long on the floor as the line says, and as wide as its area
		// then leaves.
		dst = append(dst, sum*float64(c.area[k])*long/s[i+2].Dist(s[i-2]))
	}
	return dst
}

// sample is a plane of the roi at p, straight lines between pixels.
func (c *change) sample(v []float32, p geom.Point2) float64 {
	x, y := min(max(int(p.X), 0), c.w-2), min(max(int(p.Y), 0), c.h-2)
	fx, fy := float32(p.X-float64(x)), float32(p.Y-float64(y))
	a, b := v[y*c.w+x:], v[(y+1)*c.w+x:]
	return float64((a[0]*(1-fx)+a[1]*fx)*(1-fy) + (b[0]*(1-fx)+b[1]*fx)*fy)
}
