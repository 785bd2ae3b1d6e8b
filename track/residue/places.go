package residue

import (
	"math"
	"slices"

	"swathe/geom"
)

// joinSpots is how near two pieces of a stain belong to one spot, m.
const joinSpots = 0.01

// spotsOf gives the spots of a stain: its pieces within the patch, those nearer
// than joinSpots as one. The label of each pixel's spot, from 1.
func spotsOf(c *change, half []bool) map[int32]bool {
	out := map[int32]bool{}
	label, _ := spotLabels(c, half)
	for i, l := range label {
		if l > 0 && c.in[i] && half[i] {
			out[l] = true
		}
	}
	return out
}

func spotLabels(c *change, half []bool) ([]int32, int) {
	r := int(joinSpots / c.side / 2)
	return components(dilate(half, c.w, c.h, r), c.w, c.h)
}

// left is how many spots are left: those of before of which something is, and
// those that are new.
func left(c *change, after, before []bool, spots map[int32]bool) int {
	label, _ := spotLabels(c, before)
	kept, rest := map[int32]bool{}, make([]bool, len(after))
	for i, m := range after {
		switch {
		case !m || !c.in[i]:
		case label[i] > 0:
			kept[label[i]] = true
		default:
			rest[i] = true
		}
	}
	// What hangs together with what is left of a spot is no new one.
	own, n := components(after, c.w, c.h)
	old := make([]bool, n+1)
	for i, l := range own {
		if l > 0 && label[i] > 0 {
			old[l] = true
		}
	}
	fresh := map[int32]bool{}
	for i, l := range own {
		if l > 0 && rest[i] && !old[l] {
			fresh[l] = true
		}
	}
	return len(kept) + len(fresh)
}

// fresh is the area soiled after where nothing was before, m2: further than three
// pixels from it.
func fresh(c *change, after []float32, before []bool) float64 {
	near := dilate(before, c.w, c.h, edgeReach)
	sum := 0.0
	for i, a := range after {
		if c.in[i] && c.open[i] && !near[i] {
			sum += float64(a) * float64(c.area[i])
		}
	}
	return math.Max(0, sum)
}

// across tells where something that differs from the clean floor lies across the
// patch's outline: a robot, a person, or soil beyond the patch.
func across(why *notes, c *change, half []bool, when string) {
	for _, p := range pieces(half, c.w, c.h) {
		in, out := 0, 0
		for _, i := range p {
			if c.in[i] {
				in++
			} else {
				out++
			}
		}
		if in > 20 && out > 20 && float64(out) > 0.1*float64(in) {
			why.add("%s: something crosses the patch's outline (a robot, a person, a shadow, or soil beyond it); the %.0f cm2 inside are counted", when, 1e4*float64(in)*c.side*c.side)
			return
		}
	}
}

// largest sets the largest pieces left.
func (f *Figures) largest(c *change, half []bool, alpha []float32) {
	var list []float64
	for _, p := range pieces(half, c.w, c.h) {
		sum := 0.0
		for _, i := range p {
			if c.in[i] && c.open[i] {
				sum += float64(alpha[i]) * float64(c.area[i])
			}
		}
		if sum > 0 {
			list = append(list, sum)
		}
	}
	slices.SortFunc(list, func(a, b float64) int { return int(math.Copysign(1, b-a)) })
	f.LargestM2 = list[:min(5, len(list))]
}

// edgeBand is how near the wall a place is by the edge, m; near two walls it is
// in the corner.
const edgeBand = 0.05

// placeOf names where a place lies in the room.
func placeOf(room []geom.Point2, p geom.Point2) string {
	n := 0
	for i, a := range room {
		if p.Dist(geom.NearestOn(a, room[(i+1)%len(room)], p)) < edgeBand {
			n++
		}
	}
	return [3]string{"open", "edge", "corner"}[min(n, 2)]
}

// cells gathers soil by squares of the floor.
func cells(g Ground, c *change, before, after []float32) []Cell {
	type key struct{ x, y int }
	sum := map[key]*[2]float64{}
	for i := range before {
		if !c.in[i] || !c.open[i] || before[i] == 0 && after[i] == 0 {
			continue
		}
		p, ok := g.Floor(geom.Point2{X: float64(c.x0 + i%c.w), Y: float64(c.y0 + i/c.w)})
		if !ok {
			continue
		}
		k := key{int(math.Floor(p.X / CellM)), int(math.Floor(p.Y / CellM))}
		if sum[k] == nil {
			sum[k] = &[2]float64{}
		}
		sum[k][0] += float64(before[i]) * float64(c.area[i])
		sum[k][1] += float64(after[i]) * float64(c.area[i])
	}
	var out []Cell
	for k, v := range sum {
		out = append(out, Cell{(float64(k.x) + 0.5) * CellM, (float64(k.y) + 0.5) * CellM, v[0], v[1]})
	}
	slices.SortFunc(out, func(a, b Cell) int {
		if a.Y != b.Y {
			return int(math.Copysign(1, a.Y-b.Y))
		}
		return int(math.Copysign(1, a.X-b.X))
	})
	return out
}
