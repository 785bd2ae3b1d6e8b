package sight

import (
	"math"
	"slices"
)

// softness is the edge strength (grey levels per pixel) that counts half: a
// strong edge on one side must not outvote weak ones all round.
const softness = 4

// search moves the outline to where most of it lies on edges, within reach px
// of where it is: every second pixel first, then the pixels round the best. It
// leaves the best places, best first, in f.best.
func (f *Fitter) search(half int, reach float64, mpp float64) {
	n := 2*half + 1
	f.live = f.live[:0]
	for k := range f.rays {
		if f.rays[k].w > 0 {
			f.live = append(f.live, k)
		}
	}
	live := f.live
	// How much each sample counts, and the best within a pixel of it.
	f.soft(n)
	at := func(a, b int, wide []float32) float64 {
		mx, my := float64(a)*mpp/raySpacing, float64(b)*mpp/raySpacing
		var sum float32
		for _, k := range live {
			r := &f.rays[k]
			i := half + int(r.jx*mx+r.jy*my+1000.5) - 1000
			if i >= 0 && i < n {
				sum += wide[k*n+i]
			}
		}
		// Of equal places the nearer one.
		return float64(sum) - 0.02*math.Hypot(float64(a), float64(b))
	}
	// The best few of every second pixel, and the guess itself; which of them
	// is right shows only at full sharpness.
	steps := int(math.Ceil(reach))
	var top [topPlaces]spot
	for i := range top {
		top[i].s = math.Inf(-1)
	}
	for a := -steps; a <= steps; a += 2 {
		for b := -steps; b <= steps; b += 2 {
			if a*a+b*b <= steps*steps {
				keep(&top, spot{a, b, at(a, b, f.wide)})
			}
		}
	}
	f.best = f.best[:0]
	for _, c := range append(top[:], spot{}) {
		if math.IsInf(c.s, -1) {
			continue
		}
		best := spot{s: math.Inf(-1)}
		for a := c.a - 1; a <= c.a+1; a++ {
			for b := c.b - 1; b <= c.b+1; b++ {
				if s := at(a, b, f.near); s > best.s {
					best = spot{a, b, s}
				}
			}
		}
		f.best = append(f.best, best)
	}
	slices.SortFunc(f.best, func(a, b spot) int {
		switch {
		case a.s > b.s:
			return -1
		case a.s < b.s:
			return 1
		}
		return 0
	})
}

// topPlaces is how many places of the coarse search are looked at again.
const topPlaces = 6

// spot is a move of the outline in pixels and its score.
type spot struct {
	a, b int
	s    float64
}

// moved is a fit moved so, at mpp metres a pixel.
func (c spot) moved(fit Fit, mpp float64) Fit {
	fit.Pose.X += float64(c.a) * mpp
	fit.Pose.Y += float64(c.b) * mpp
	return fit
}

// keep takes a spot into the best few: at most one of those that touch.
func keep(top *[topPlaces]spot, c spot) {
	worst := 0
	for i := range top {
		t := &top[i]
		if !math.IsInf(t.s, -1) && abs(t.a-c.a) <= 2 && abs(t.b-c.b) <= 2 {
			if c.s > t.s {
				*t = c
			}
			return
		}
		if t.s < top[worst].s {
			worst = i
		}
	}
	if c.s > top[worst].s {
		top[worst] = c
	}
}

// soft fills near and wide: how much an edge at each sample counts (0..1), the
// best within half a pixel and within one and a half.
func (f *Fitter) soft(n int) {
	if cap(f.near) < len(f.prof) {
		f.near, f.wide = make([]float32, len(f.prof)), make([]float32, len(f.prof))
	}
	f.near, f.wide = f.near[:len(f.prof)], f.wide[:len(f.prof)]
	for _, k := range f.live {
		row, near, wide := f.prof[k*n:(k+1)*n], f.near[k*n:(k+1)*n], f.wide[k*n:(k+1)*n]
		for j, v := range row {
			if j > 0 {
				v = max(v, row[j-1])
			}
			if j+1 < n {
				v = max(v, row[j+1])
			}
			if v <= minEdge {
				near[j] = 0
			} else {
				near[j] = v / (v + softness)
			}
		}
		for j := range wide {
			wide[j] = max(near[max(0, j-2)], near[j], near[min(n-1, j+2)])
		}
	}
}
