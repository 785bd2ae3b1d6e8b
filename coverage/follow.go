package coverage

import (
	"math"
	"sort"

	"swathe/geom"
)

// Following is judged in pieces of an edge this long, m: half the travel
// between two looks at 10 a second and 0.2 m/s.
const followPiece = 0.01

// followOverlap is how far the body may seem to be in the edge and still be
// following it, m: a path is known to a centimetre or so, outlines likewise.
const followOverlap = 0.03

// pieces is one edge cut into pieces.
type pieces struct {
	wall    wall
	length  float64
	exposed []bool    // the piece adjoins open floor
	close   []float64 // m, least clearance at which it was followed; NaN if never
	right   []bool    // the edge was at the robot's right then
}

// edges returns how the robot drove along the walls and each obstacle.
func (m *measurer) edges() []Edge {
	ws := m.room.boundary()
	ps := make([]*pieces, len(ws))
	for i, w := range ws {
		ps[i] = m.cut(w)
	}
	m.follow(ps)
	out := make([]Edge, 0, len(m.room.blocks)+1)
	for b := -1; b < len(m.room.blocks); b++ {
		e := Edge{Name: PlaceWall, ClearanceM: math.NaN(), RightShare: math.NaN()}
		if b >= 0 {
			e.Name = m.room.blocks[b].name
		}
		var own []*pieces
		for _, p := range ps {
			if p.wall.block == b {
				own = append(own, p)
			}
		}
		e.sum(own)
		e.Bands = m.bands(own)
		out = append(out, e)
	}
	return out
}

// cut cuts an edge into pieces and finds those that adjoin open floor.
func (m *measurer) cut(w wall) *pieces {
	p := &pieces{wall: w, length: w.a.Dist(w.b)}
	n := max(1, int(math.Round(p.length/followPiece)))
	p.exposed, p.close, p.right = make([]bool, n), make([]float64, n), make([]bool, n)
	if p.length == 0 {
		return p
	}
	d := w.b.Sub(w.a)
	// A millimetre is less than any outline is surveyed to.
	side := geom.Point2{X: -d.Y, Y: d.X}.Scale(0.001 / p.length)
	for i := range p.exposed {
		at := w.a.Add(d.Scale((float64(i) + 0.5) / float64(n)))
		p.exposed[i] = m.room.open(at.Add(side)) != m.room.open(at.Sub(side))
		p.close[i] = math.NaN()
	}
	return p
}

// sum fills in lengths, clearance and side from an edge's pieces.
func (e *Edge) sum(ps []*pieces) {
	var clear []float64
	right := 0.0
	for _, p := range ps {
		each := p.length / float64(len(p.exposed))
		for i, ok := range p.exposed {
			if !ok {
				continue
			}
			e.LengthM += each
			if c := p.close[i]; !math.IsNaN(c) {
				e.FollowedM += each
				clear = append(clear, c)
				if p.right[i] {
					right += each
				}
			}
		}
	}
	e.FollowedShare = ratio(e.FollowedM, e.LengthM)
	e.RightShare = ratio(right, e.FollowedM)
	if len(clear) > 0 {
		sort.Float64s(clear)
		e.ClearanceM = (clear[(len(clear)-1)/2] + clear[len(clear)/2]) / 2
	}
}

// follow marks the pieces along which the robot drove close and parallel.
func (m *measurer) follow(ps []*pieces) {
	far := m.robot.Reach() + m.opt.FollowDistance
	g := m.grid
	lo := geom.Point2{X: g.X0 - far, Y: g.Y0 - far}
	hi := geom.Point2{X: g.X0 + float64(g.Nx)*g.Cell + far, Y: g.Y0 + float64(g.Ny)*g.Cell + far}
	ws := make([]wall, len(ps))
	for i, p := range ps {
		ws[i] = p.wall
	}
	near := newNearby(ws, lo, hi, far)
	sin := math.Sin(m.opt.FollowAngle)
	for k := 1; k < len(m.pts); k++ {
		p, q := m.pts[k-1], m.pts[k]
		ds := q.s - p.s
		if q.gap || ds <= 0 {
			continue
		}
		i, j := near.bin(geom.Point2{X: q.x, Y: q.y})
		if i < 0 || j < 0 || i >= near.nx || j >= near.ny {
			continue
		}
		for _, w := range near.bins[j*near.nx+i] {
			m.followOne(ps[w], p, q, ds, sin)
		}
	}
}

// followOne marks what the step from p to q, ds long, followed of one edge.
func (m *measurer) followOne(w *pieces, p, q point, ds, sin float64) {
	if w.length == 0 {
		return
	}
	ex, ey := (w.wall.b.X-w.wall.a.X)/w.length, (w.wall.b.Y-w.wall.a.Y)/w.length
	if math.Abs((q.x-p.x)*ey-(q.y-p.y)*ex) > sin*ds {
		return
	}
	rx, ry := q.x-w.wall.a.X, q.y-w.wall.a.Y
	to := rx*ex + ry*ey
	from := to - ((q.x-p.x)*ex + (q.y-p.y)*ey)
	if from > to {
		from, to = to, from
	}
	from, to = math.Max(from, 0), math.Min(to, w.length)
	if from > to {
		return
	}
	off := ex*ry - ey*rx // distance of the centre, left of the edge positive
	clearance := math.Abs(off) - m.extent(q.h, ex, ey, off)
	if clearance > m.opt.FollowDistance || clearance < -followOverlap {
		return
	}
	// The edge is at the robot's right if the way to it is.
	sn, cs := math.Sincos(q.h)
	ahead := cs*ex + sn*ey
	right := (off > 0) == (ahead > 0)
	n := len(w.close)
	each := w.length / float64(n)
	for i := int(from / each); i <= int(to/each) && i < n; i++ {
		if !(w.close[i] <= clearance) {
			w.close[i], w.right[i] = clearance, right
		}
	}
}

// extent returns how far the body reaches from its centre towards an edge of
// direction (ex, ey) that is off to the side, m.
func (m *measurer) extent(h, ex, ey, off float64) float64 {
	if m.robot.Round() {
		return m.robot.Radius()
	}
	// The way to the edge, in the floor frame.
	nx, ny := ey, -ex
	if off < 0 {
		nx, ny = -nx, -ny
	}
	sn, cs := math.Sincos(h)
	best := 0.0
	for _, b := range m.robot.Outline {
		best = math.Max(best, (cs*b.X-sn*b.Y)*nx+(sn*b.X+cs*b.Y)*ny)
	}
	return best
}

// bands measures the coverage in strips along the exposed pieces of an edge.
func (m *measurer) bands(ps []*pieces) []Band {
	out := make([]Band, len(m.opt.Bands))
	widest := 0.0
	for i, w := range m.opt.Bands {
		out[i].WidthM = w
		widest = math.Max(widest, w)
	}
	var ws []wall
	for _, p := range ps {
		ws = append(ws, p.stretches()...)
	}
	if len(ws) == 0 || widest == 0 {
		for i := range out {
			out[i].CoveredShare = math.NaN()
		}
		return out
	}
	g := m.grid
	lo := geom.Point2{X: g.X0, Y: g.Y0}
	hi := geom.Point2{X: g.X0 + float64(g.Nx)*g.Cell, Y: g.Y0 + float64(g.Ny)*g.Cell}
	near := newNearby(ws, lo, hi, widest)
	a := g.Cell * g.Cell
	for k, f := range g.Flags {
		if f&FlagOpen == 0 {
			continue
		}
		d, w, _ := near.near(g.Centre(k))
		if w < 0 {
			continue
		}
		for i := range out {
			if d <= out[i].WidthM {
				out[i].OpenM2 += a
				if g.Passes[k] > 0 {
					out[i].CoveredM2 += a
				}
			}
		}
	}
	for i := range out {
		out[i].CoveredShare = ratio(out[i].CoveredM2, out[i].OpenM2)
	}
	return out
}

// stretches returns the parts of the edge that adjoin open floor.
func (p *pieces) stretches() []wall {
	var out []wall
	n := float64(len(p.exposed))
	at := func(i int) geom.Point2 { return p.wall.a.Add(p.wall.b.Sub(p.wall.a).Scale(float64(i) / n)) }
	for i := 0; i < len(p.exposed); i++ {
		if !p.exposed[i] {
			continue
		}
		j := i
		for j < len(p.exposed) && p.exposed[j] {
			j++
		}
		out = append(out, wall{a: at(i), b: at(j), block: p.wall.block})
		i = j
	}
	return out
}
