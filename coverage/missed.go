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
	places := make(map[int]place)
	total := 0.0
	for k, f := range g.Flags {
		if f&FlagReachable == 0 {
			continue
		}
		at := pl.at(g.Centre(k))
		by[at.kind].OfM2 += a
		if g.Passes[k] == 0 {
			left[k] = true
			places[k] = at
			by[at.kind].AreaM2 += a
			total += a
		}
	}
	for _, k := range kinds {
		by[k].Share = ratio(by[k].AreaM2, total)
		res.MissedBy = append(res.MissedBy, *by[k])
	}
	res.Missed = []Patch{}
	for _, cells := range patches(g, left) {
		area := float64(len(cells)) * a
		if area < m.opt.MinPatch {
			res.Slivers += area
			continue
		}
		p := Patch{AreaM2: area, Polygon: outlineOf(g, cells), Beside: besideOf(cells, places)}
		c := middle(g, cells)
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

// patches returns the pieces of a mask that hang together by cells' sides, in
// the order of their lowest cells.
func patches(g *Grid, mask []bool) [][]int {
	seen := make([]bool, len(mask))
	var out [][]int
	for k, in := range mask {
		if !in || seen[k] {
			continue
		}
		cells := []int{k}
		seen[k] = true
		for n := 0; n < len(cells); n++ {
			q := cells[n]
			i, j := q%g.Nx, q/g.Nx
			visit := func(ok bool, r int) {
				if ok && mask[r] && !seen[r] {
					seen[r] = true
					cells = append(cells, r)
				}
			}
			visit(i > 0, q-1)
			visit(i < g.Nx-1, q+1)
			visit(j > 0, q-g.Nx)
			visit(j < g.Ny-1, q+g.Nx)
		}
		out = append(out, cells)
	}
	return out
}

// besideOf returns what most of the patch's cells that lie beside anything lie
// beside; "open floor" if hardly any do.
func besideOf(cells []int, places map[int]place) string {
	n := map[string]int{}
	beside := 0
	for _, k := range cells {
		if p := places[k]; p.kind != PlaceOpen {
			n[p.name]++
			beside++
		}
	}
	if float64(beside) < besideShare*float64(len(cells)) {
		return PlaceOpen
	}
	best := PlaceOpen
	for name, c := range n {
		if best == PlaceOpen || c > n[best] || c == n[best] && name < best {
			best = name
		}
	}
	return best
}

// middle returns the centre of the cell of the patch that is nearest to the
// patch's centroid.
func middle(g *Grid, cells []int) geom.Point2 {
	var c geom.Point2
	for _, k := range cells {
		c = c.Add(g.Centre(k))
	}
	c = c.Scale(1 / float64(len(cells)))
	if k := g.Index(c); k >= 0 {
		for _, q := range cells {
			if q == k {
				return c
			}
		}
	}
	best := cells[0]
	for _, k := range cells {
		if g.Centre(k).Dist(c) < g.Centre(best).Dist(c) {
			best = k
		}
	}
	return g.Centre(best)
}
