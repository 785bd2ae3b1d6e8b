package coverage

import (
	"math"
	"sort"

	"swathe/geom"
)

// wall is one edge of what the robot cannot enter: a wall of the room or a side
// of a block.
type wall struct {
	a, b  geom.Point2 // floor, m
	block int         // index in room.blocks; -1: a wall of the room
}

// foot returns the point of the edge that is nearest to p.
func (w wall) foot(p geom.Point2) geom.Point2 {
	d := w.b.Sub(w.a)
	l2 := d.X*d.X + d.Y*d.Y
	if l2 == 0 {
		return w.a
	}
	u := clamp01(((p.X-w.a.X)*d.X + (p.Y-w.a.Y)*d.Y) / l2)
	return geom.Point2{X: w.a.X + u*d.X, Y: w.a.Y + u*d.Y}
}

func (r ring) walls(block int) []wall {
	out := make([]wall, 0, len(r))
	for i, a := range r {
		out = append(out, wall{a, r[(i+1)%len(r)], block})
	}
	return out
}

// boundary returns every edge of the walls and blocks. Edges that lie inside a
// block or outside the room are among them: the way from open floor to such an
// edge crosses another one, so the nearest edge is always a true border.
func (r room) boundary() []wall {
	ws := r.walls.walls(-1)
	for i, b := range r.blocks {
		ws = append(ws, b.ring.walls(i)...)
	}
	return ws
}

// nearby finds the edge nearest to a point among those within limit of it.
type nearby struct {
	ws     []wall
	bins   [][]int32
	lo     geom.Point2
	size   float64 // m, side of a bin
	nx, ny int
	limit  float64
}

// newNearby sorts the edges into bins over the box lo..hi.
func newNearby(ws []wall, lo, hi geom.Point2, limit float64) *nearby {
	n := &nearby{ws: ws, lo: lo, limit: limit, size: math.Max(0.05, limit/2)}
	n.nx = int((hi.X-lo.X)/n.size) + 1
	n.ny = int((hi.Y-lo.Y)/n.size) + 1
	n.bins = make([][]int32, n.nx*n.ny)
	// An edge within limit of a point is within limit and half a diagonal of
	// the middle of the point's bin.
	far := limit + n.size*math.Sqrt2/2
	for k, w := range ws {
		i0, j0 := n.bin(geom.Point2{X: math.Min(w.a.X, w.b.X) - far, Y: math.Min(w.a.Y, w.b.Y) - far})
		i1, j1 := n.bin(geom.Point2{X: math.Max(w.a.X, w.b.X) + far, Y: math.Max(w.a.Y, w.b.Y) + far})
		for j := max(0, j0); j <= min(n.ny-1, j1); j++ {
			for i := max(0, i0); i <= min(n.nx-1, i1); i++ {
				mid := geom.Point2{X: lo.X + (float64(i)+0.5)*n.size, Y: lo.Y + (float64(j)+0.5)*n.size}
				if w.foot(mid).Dist(mid) <= far {
					n.bins[j*n.nx+i] = append(n.bins[j*n.nx+i], int32(k))
				}
			}
		}
	}
	return n
}

func (n *nearby) bin(p geom.Point2) (i, j int) {
	return int(math.Floor((p.X - n.lo.X) / n.size)), int(math.Floor((p.Y - n.lo.Y) / n.size))
}

// near returns the distance to the nearest edge, that edge's index and its
// nearest point; +Inf and -1 if none is within the limit or p is off the box.
func (n *nearby) near(p geom.Point2) (float64, int, geom.Point2) {
	i, j := n.bin(p)
	if i < 0 || j < 0 || i >= n.nx || j >= n.ny {
		return math.Inf(1), -1, geom.Point2{}
	}
	best, which, at := n.limit*n.limit, -1, geom.Point2{}
	for _, k := range n.bins[j*n.nx+i] {
		f := n.ws[k].foot(p)
		if d := (f.X-p.X)*(f.X-p.X) + (f.Y-p.Y)*(f.Y-p.Y); d <= best {
			best, which, at = d, int(k), f
		}
	}
	if which < 0 {
		return math.Inf(1), -1, at
	}
	return math.Sqrt(best), which, at
}

// openArea returns the exact open floor, m2. Between two heights at which
// corners lie or edges cross, the open length of a horizontal line changes
// linearly, so its middle gives the slab's area exactly.
func (r room) openArea() float64 {
	ws := r.boundary()
	var ys []float64
	for i, w := range ws {
		ys = append(ys, w.a.Y)
		for _, v := range ws[i+1:] {
			if y, ok := crossing(w, v); ok {
				ys = append(ys, y)
			}
		}
	}
	sort.Float64s(ys)
	area := 0.0
	for k := 1; k < len(ys); k++ {
		if h := ys[k] - ys[k-1]; h > 0 {
			area += h * r.openLength((ys[k]+ys[k-1])/2)
		}
	}
	return area
}

// crossing returns the height at which two edges cross.
func crossing(w, v wall) (float64, bool) {
	d, e := w.b.Sub(w.a), v.b.Sub(v.a)
	den := d.X*e.Y - d.Y*e.X
	if den == 0 {
		return 0, false
	}
	o := v.a.Sub(w.a)
	t, u := (o.X*e.Y-o.Y*e.X)/den, (o.X*d.Y-o.Y*d.X)/den
	if t < 0 || t > 1 || u < 0 || u > 1 {
		return 0, false
	}
	return w.a.Y + t*d.Y, true
}

// openLength returns how much of the horizontal line at y is open floor.
func (r room) openLength(y float64) float64 {
	type end struct {
		x          float64
		wall, step int // in or out of the room; of a block
	}
	var ends []end
	add := func(g ring, wall bool) {
		var xs []float64
		for i, a := range g {
			if b := g[(i+1)%len(g)]; (a.Y > y) != (b.Y > y) {
				xs = append(xs, crossX(a, b, y))
			}
		}
		sort.Float64s(xs)
		for i, x := range xs {
			e := end{x: x}
			if wall {
				e.wall = 1 - 2*(i%2)
			} else {
				e.step = 1 - 2*(i%2)
			}
			ends = append(ends, e)
		}
	}
	add(r.walls, true)
	for _, b := range r.blocks {
		add(b.ring, false)
	}
	sort.Slice(ends, func(i, j int) bool { return ends[i].x < ends[j].x })
	length, in, blocked := 0.0, 0, 0
	for k, e := range ends {
		if k > 0 && in > 0 && blocked == 0 {
			length += e.x - ends[k-1].x
		}
		in += e.wall
		blocked += e.step
	}
	return length
}
