package scene

import (
	"container/heap"
	"math"

	"swathe/geom"
)

// Ground is the floor as a driver sees it: how far each point is from the
// nearest wall or obstacle.
type Ground struct {
	room      []geom.Point2
	blocks    [][]geom.Point2
	lo, hi    geom.Point2
	step      float64
	nx, ny    int
	clearance []float64 // on the grid, m
}

// NewGround takes the room's walls, its obstacles and the overhead pieces that
// are lower than the robot as blocks.
func NewGround(plan *geom.Plan, height float64) *Ground {
	g := &Ground{room: ring(plan.Room), step: 0.04}
	for _, o := range plan.Obstacles {
		g.blocks = append(g.blocks, ring(o.Outline))
	}
	for _, o := range plan.Overhead {
		if o.Height <= height {
			g.blocks = append(g.blocks, ring(o.Outline))
		}
	}
	g.lo, g.hi = g.room[0], g.room[0]
	for _, p := range g.room {
		g.lo = geom.Point2{X: min(g.lo.X, p.X), Y: min(g.lo.Y, p.Y)}
		g.hi = geom.Point2{X: max(g.hi.X, p.X), Y: max(g.hi.Y, p.Y)}
	}
	g.nx, g.ny = int((g.hi.X-g.lo.X)/g.step)+2, int((g.hi.Y-g.lo.Y)/g.step)+2
	g.clearance = make([]float64, g.nx*g.ny)
	for j := range g.ny {
		for i := range g.nx {
			g.clearance[j*g.nx+i] = g.Clear(g.node(i, j))
		}
	}
	return g
}

func (g *Ground) node(i, j int) geom.Point2 {
	return geom.Point2{X: g.lo.X + float64(i)*g.step, Y: g.lo.Y + float64(j)*g.step}
}

// Clear returns the distance of p from the nearest wall or obstacle, m;
// negative where the floor is not open.
func (g *Ground) Clear(p geom.Point2) float64 {
	d := ringDist(g.room, p)
	if !ringHolds(g.room, p) {
		d = -d
	}
	for _, b := range g.blocks {
		e := ringDist(b, p)
		if ringHolds(b, p) {
			e = -e
		}
		d = min(d, e)
	}
	return d
}

func ringDist(r []geom.Point2, p geom.Point2) float64 {
	d := math.Inf(1)
	a := r[len(r)-1]
	for _, b := range r {
		d = min(d, segDist(p.X, p.Y, a.X, a.Y, b.X, b.Y))
		a = b
	}
	return d
}

func ringHolds(r []geom.Point2, p geom.Point2) bool {
	in := false
	a := r[len(r)-1]
	for _, b := range r {
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
		a = b
	}
	return in
}

// away returns the unit vector away from the nearest wall at p.
func (g *Ground) away(p geom.Point2) geom.Point2 {
	const h = 1e-5
	d := geom.Point2{
		X: g.Clear(geom.Point2{X: p.X + h, Y: p.Y}) - g.Clear(geom.Point2{X: p.X - h, Y: p.Y}),
		Y: g.Clear(geom.Point2{X: p.X, Y: p.Y + h}) - g.Clear(geom.Point2{X: p.X, Y: p.Y - h}),
	}
	n := d.Norm()
	if n == 0 {
		return geom.Point2{}
	}
	return d.Scale(1 / n)
}

// open tells whether a body that needs room d can go straight from a to b.
func (g *Ground) open(a, b geom.Point2, d float64) bool {
	n := int(a.Dist(b)/0.01) + 1
	for i := 0; i <= n; i++ {
		if g.Clear(a.Add(b.Sub(a).Scale(float64(i)/float64(n)))) < d-1e-3 {
			return false
		}
	}
	return true
}

// contour goes once along the line on which the clearance is d, wall on the
// right, from the point of it nearest to start; points 1 cm apart. It gives up
// with what it has where the line cannot be followed.
func (g *Ground) contour(start geom.Point2, d float64) []geom.Point2 {
	p := start
	for range 2000 {
		c := g.Clear(p)
		if math.Abs(c-d) < 1e-4 {
			break
		}
		p = p.Add(g.away(p).Scale(clamp(d-c, -0.02, 0.02)))
	}
	up := g.away(p)
	h := geom.Point2{X: up.Y, Y: -up.X}
	const step = 0.01
	out := []geom.Point2{p}
	for len(out) < 20000 {
		moved := false
		for range 36 {
			q := p.Add(h.Scale(step))
			c := g.Clear(q)
			q = q.Add(g.away(q).Scale(clamp(d-c, -step, step)))
			fwd := q.Sub(p)
			if g.Clear(q) > d-1.5e-3 && fwd.X*h.X+fwd.Y*h.Y > 0.3*step {
				if n := fwd.Norm(); n > 0 {
					h = fwd.Scale(1 / n)
				}
				p = q
				moved = true
				break
			}
			s, co := math.Sincos(geom.Radians(10))
			h = geom.Point2{X: co*h.X - s*h.Y, Y: s*h.X + co*h.Y}
		}
		if !moved {
			break
		}
		out = append(out, p)
		if len(out) > 60 && p.Dist(out[0]) < 1.5*step {
			break
		}
	}
	return out
}

// route finds a way from a to b for a body that needs room d: A* (Hart,
// Nilsson, Raphael 1968) on the grid, then pulled straight. nil: there is none.
func (g *Ground) route(a, b geom.Point2, d float64) []geom.Point2 {
	if g.open(a, b, min(d, min(g.Clear(a), g.Clear(b)))) {
		return []geom.Point2{a, b}
	}
	from, to := g.nearestFree(a, d), g.nearestFree(b, d)
	if from < 0 || to < 0 {
		return nil
	}
	cost := make([]float64, g.nx*g.ny)
	prev := make([]int, g.nx*g.ny)
	for i := range cost {
		cost[i], prev[i] = math.Inf(1), -1
	}
	cost[from] = 0
	goal := g.node(to%g.nx, to/g.nx)
	q := &queue{{from, 0}}
	for q.Len() > 0 {
		k := heap.Pop(q).(queued).node
		if k == to {
			break
		}
		i, j := k%g.nx, k/g.nx
		for dj := -1; dj <= 1; dj++ {
			for di := -1; di <= 1; di++ {
				x, y := i+di, j+dj
				if x < 0 || y < 0 || x >= g.nx || y >= g.ny || g.clearance[y*g.nx+x] < d {
					continue
				}
				n := y*g.nx + x
				c := cost[k] + g.step*hypot(float64(di), float64(dj))
				if c < cost[n]-1e-12 {
					cost[n], prev[n] = c, k
					heap.Push(q, queued{n, c + g.node(x, y).Dist(goal)})
				}
			}
		}
	}
	if math.IsInf(cost[to], 1) {
		return nil
	}
	var back []geom.Point2
	for k := to; k >= 0; k = prev[k] {
		back = append(back, g.node(k%g.nx, k/g.nx))
	}
	way := []geom.Point2{a}
	for i := len(back) - 1; i >= 0; i-- {
		way = append(way, back[i])
	}
	way = append(way, b)
	out := []geom.Point2{a}
	for i := 0; i < len(way)-1; {
		j := len(way) - 1
		for j > i+1 && !g.open(way[i], way[j], d) {
			j--
		}
		out = append(out, way[j])
		i = j
	}
	return out
}

// Free is the spot nearest to p that is so far, m, from everything.
func (g *Ground) Free(p geom.Point2, d float64) geom.Point2 {
	k := g.nearestFree(p, d)
	return g.node(k%g.nx, k/g.nx)
}

func (g *Ground) nearestFree(p geom.Point2, d float64) int {
	best, at := math.Inf(1), -1
	for k, c := range g.clearance {
		if c >= d {
			if e := p.Dist(g.node(k%g.nx, k/g.nx)); e < best {
				best, at = e, k
			}
		}
	}
	return at
}

type queued struct {
	node int
	cost float64
}

type queue []queued

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, j int) bool { return q[i].cost < q[j].cost }
func (q queue) Swap(i, j int)      { q[i], q[j] = q[j], q[i] }
func (q *queue) Push(x any)        { *q = append(*q, x.(queued)) }
func (q *queue) Pop() any {
	n := len(*q) - 1
	x := (*q)[n]
	*q = (*q)[:n]
	return x
}
