package sight

import "math"

// inPlace tells whether two small pictures show one room from one place, whatever
// the light, the exposure or the white balance made of it: whether their
// gradients point the same way where the second has edges. That no change of
// light turns, a camera that moved turns all of it. Over n edges whose directions
// have nothing to do with each other the mean of the cosines is 0 with sigma
// 1/sqrt(2n); it must be sureOfPlace of those, and more than at any place a pixel or
// more beside.
func inPlace(p, ref *Plane) bool {
	const reach = 3
	type edge struct {
		at     int
		gx, gy float64 // unit length
	}
	gradient := func(q *Plane, k int) (gx, gy float64) {
		return float64(int(q.Pix[k+1]) - int(q.Pix[k-1])), float64(int(q.Pix[k+q.Stride]) - int(q.Pix[k-q.Stride]))
	}
	var edges []edge
	for y := reach + 1; y < ref.H-reach-1; y++ {
		for x := reach + 1; x < ref.W-reach-1; x++ {
			gx, gy := gradient(ref, y*ref.Stride+x)
			if m := math.Hypot(gx, gy); m >= leastEdge {
				edges = append(edges, edge{y*p.Stride + x, gx / m, gy / m})
			}
		}
	}
	if len(edges) < 50 {
		return false
	}
	agree := func(dx, dy int) float64 {
		sum := 0.0
		for _, e := range edges {
			gx, gy := gradient(p, e.at+dy*p.Stride+dx)
			if m := math.Hypot(gx, gy); m >= 1 {
				sum += (gx*e.gx + gy*e.gy) / m
			}
		}
		return sum / float64(len(edges))
	}
	here := agree(0, 0)
	if here < sureOfPlace/math.Sqrt(2*float64(len(edges))) {
		return false
	}
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			if (dx != 0 || dy != 0) && agree(dx, dy) >= here {
				return false
			}
		}
	}
	return true
}

const (
	leastEdge   = 10 // grey levels over two small pixels: more than their noise
	sureOfPlace = 8
)
