package coverage

import (
	"math"
	"sort"

	"swathe/geom"
)

// cornerAngle: two edges make a corner of the free floor where the ways to them
// part by this much, and no more than its supplement. A spot before the corner
// of an obstacle has both ways the same; one between two parallel walls has
// them opposite.
const cornerAngle = math.Pi / 4

// beside is how much of a patch must lie beside something for the patch to be
// called after it.
const besideShare = 0.1

// place says what a cell lies beside.
type place struct {
	kind string // one of the Place constants
	name string // as Patch.Beside spells it
}

// placer tells what floor lies beside.
type placer struct {
	room  room
	near  *nearby
	limit float64
}

// newPlacer: margin is how far from an edge the tool cannot reach anyway, m.
func (m *measurer) newPlacer(margin float64) *placer {
	g := m.grid
	limit := m.opt.Beside + margin
	lo := geom.Point2{X: g.X0, Y: g.Y0}
	hi := geom.Point2{X: g.X0 + float64(g.Nx)*g.Cell, Y: g.Y0 + float64(g.Ny)*g.Cell}
	return &placer{room: m.room, limit: limit, near: newNearby(m.room.boundary(), lo, hi, limit)}
}

// at returns what the floor point lies beside.
func (p *placer) at(c geom.Point2) place {
	for _, o := range p.room.overhead {
		if o.ring.contains(c) {
			return place{PlaceOverhead, "under " + o.name}
		}
	}
	d, k, foot := p.near.near(c)
	if k < 0 {
		return place{PlaceOpen, PlaceOpen}
	}
	if d > 0 && p.near.any(c, func(f geom.Point2) bool {
		cos := ((f.X-c.X)*(foot.X-c.X) + (f.Y-c.Y)*(foot.Y-c.Y)) / (d * f.Dist(c))
		return math.Abs(cos) <= math.Cos(cornerAngle)
	}) {
		return place{PlaceCorner, PlaceCorner}
	}
	if b := p.near.ws[k].block; b >= 0 {
		return place{PlaceObstacle, p.room.blocks[b].name}
	}
	return place{PlaceWall, PlaceWall}
}

// any tells whether ok holds for the nearest point of any edge within the limit.
func (n *nearby) any(p geom.Point2, ok func(foot geom.Point2) bool) bool {
	i, j := n.bin(p)
	if i < 0 || j < 0 || i >= n.nx || j >= n.ny {
		return false
	}
	for _, k := range n.bins[j*n.nx+i] {
		f := n.ws[k].foot(p)
		if f.Dist(p) <= n.limit && f != p && ok(f) {
			return true
		}
	}
	return false
}

// missed fills in Missed, MissedBy and Slivers.
func (m *measurer) missed(res *Result, tool geom.Tool) {
	if m.where == nil {
		return // what it missed of a floor that is not known is not known either
	}
	g := m.grid
	a := g.Cell * g.Cell
	pl := m.newPlacer(math.Max(0, m.robot.Reach()-toolReach(tool)))
	kinds := []string{PlaceCorner, PlaceWall, PlaceObstacle, PlaceOverhead, PlaceOpen}
	by := map[string]*PlaceShare{}
	for _, k := range kinds {
		by[k] = &PlaceShare{Place: k}
	}
	left := make([]bool, len(g.Flags))
	// What each missed cell lies beside, as an index in names.
	beside := make([]uint16, len(g.Flags))
	names := []string{PlaceOpen}
	index := map[string]uint16{PlaceOpen: 0}
	total := 0.0
	for k, f := range g.Flags {
		if f&FlagReachable == 0 {
			continue
		}
		at := pl.at(g.Centre(k))
		by[at.kind].OfM2 += a
		if g.Passes[k] != 0 {
			continue
		}
		n, ok := index[at.name]
		if !ok {
			n = uint16(len(names))
			index[at.name] = n
			names = append(names, at.name)
		}
		left[k], beside[k] = true, n
		by[at.kind].AreaM2 += a
		total += a
	}
	for _, k := range kinds {
		by[k].Share = ratio(by[k].AreaM2, total)
		res.MissedBy = append(res.MissedBy, *by[k])
	}
	res.Missed = []Patch{}
	pieces, of := patches(g, left, int(m.opt.Neck/2/g.Cell))
	tr := newTracer(g, of)
	for n, cells := range pieces {
		area := float64(len(cells)) * a
		if area < m.opt.MinPatch {
			res.Slivers += area
			continue
		}
		p := Patch{AreaM2: area, Polygon: tr.outline(cells), Beside: besideOf(cells, beside, names)}
		c := middle(g, cells, of, int32(n+1))
		p.X, p.Y = c.X, c.Y
		for _, k := range cells {
			if g.Flags[k]&FlagUnknown != 0 {
				p.UnknownM2 += a
			}
		}
		res.Missed = append(res.Missed, p)
	}
	sort.SliceStable(res.Missed, func(i, j int) bool { return res.Missed[i].AreaM2 > res.Missed[j].AreaM2 })
}

// patches returns the pieces of a mask, each hanging together by cells' sides, in
// the order of their lowest cells, and for every cell the number of its piece,
// from 1; 0 for none. Every cell is in one piece.
//
// What hangs together only by necks narrower than 2r+1 cells is cut there: the
// mask is shrunk by r cells, what is left of it is told apart, and each part
// grows back. Narrow strips that nothing grows back into are pieces of their own.
func patches(g *Grid, mask []bool, r int) (pieces [][]int32, of []int32) {
	of = make([]int32, len(mask))
	// grow adds to a piece, from its cells [at:], what allowed has, up to depth steps.
	grow := func(cells []int32, n int32, at, depth int, allowed []bool) []int32 {
		for end := len(cells); at < end && depth > 0; depth-- {
			for ; at < end; at++ {
				q := int(cells[at])
				i, j := q%g.Nx, q/g.Nx
				visit := func(ok bool, k int) {
					if ok && allowed[k] && of[k] == 0 {
						of[k] = n
						cells = append(cells, int32(k))
					}
				}
				visit(i > 0, q-1)
				visit(i < g.Nx-1, q+1)
				visit(j > 0, q-g.Nx)
				visit(j < g.Ny-1, q+g.Nx)
			}
			end = len(cells)
		}
		return cells
	}
	seed := func(allowed []bool) {
		for k, in := range allowed {
			if in && of[k] == 0 {
				n := int32(len(pieces) + 1)
				of[k] = n
				pieces = append(pieces, grow([]int32{int32(k)}, n, 0, len(mask), allowed))
			}
		}
	}
	if r > 0 {
		seed(shrink(g, mask, r))
		// All grow a step at a time, so that none takes what is nearer to another;
		// from a corner of the shrunk mask its own corner is 2r steps off.
		at := make([]int, len(pieces))
		for step := 0; step < 2*r; step++ {
			for n := range pieces {
				from := at[n]
				at[n] = len(pieces[n])
				pieces[n] = grow(pieces[n], int32(n+1), from, 1, mask)
			}
		}
	}
	seed(mask)
	return pieces, of
}

// shrink returns the cells of a mask that have it all round them, r cells far in
// either direction.
func shrink(g *Grid, mask []bool, r int) []bool {
	run := func(in, out []bool, n, stride, lines, next int) {
		for l := 0; l < lines; l++ {
			since := 0 // cells of the mask up to here
			for i := 0; i < n; i++ {
				k := l*next + i*stride
				if !in[k] {
					since = 0
					continue
				}
				if since++; since > 2*r {
					out[k-r*stride] = true
				}
			}
		}
	}
	rows, both := make([]bool, len(mask)), make([]bool, len(mask))
	run(mask, rows, g.Nx, 1, g.Ny, g.Nx)
	run(rows, both, g.Ny, g.Nx, g.Nx, 1)
	return both
}

// besideOf returns what most of the patch's cells that lie beside anything lie
// beside; "open floor" if hardly any do.
func besideOf(cells []int32, beside []uint16, names []string) string {
	n := make([]int, len(names))
	for _, k := range cells {
		n[beside[k]]++
	}
	if float64(len(cells)-n[0]) < besideShare*float64(len(cells)) {
		return PlaceOpen
	}
	best := 0
	for i := 1; i < len(names); i++ {
		if best == 0 || n[i] > n[best] || n[i] == n[best] && names[i] < names[best] {
			best = i
		}
	}
	return names[best]
}

// middle returns the centroid of patch n if that lies in it, else the centre of
// its cell that is nearest to there.
func middle(g *Grid, cells []int32, of []int32, n int32) geom.Point2 {
	var c geom.Point2
	for _, k := range cells {
		c = c.Add(g.Centre(int(k)))
	}
	c = c.Scale(1 / float64(len(cells)))
	if k := g.Index(c); k >= 0 && of[k] == n {
		return c
	}
	best := g.Centre(int(cells[0]))
	for _, k := range cells {
		if q := g.Centre(int(k)); q.Dist(c) < best.Dist(c) {
			best = q
		}
	}
	return best
}
