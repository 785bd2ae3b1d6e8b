package figure

import (
	"math"
	"math/rand/v2"
	"testing"
)

// area is the signed area within rings: what lies on the left of each counts.
func ringArea(rings [][]pt) (a float64) {
	for _, r := range rings {
		for i, p := range r {
			q := r[(i+1)%len(r)]
			a += (p.x*q.y - q.x*p.y) / 2
		}
	}
	return a
}

// The outlines of random cells hold exactly these cells: by area, and by asking at the
// middle of each cell.
func TestOutlinesHoldTheirCells(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	for range 200 {
		nx, ny := 1+rng.IntN(12), 1+rng.IntN(12)
		cells, n := make([]bool, nx*ny), 0
		for i := range cells {
			if cells[i] = rng.Float64() < 0.6; cells[i] {
				n++
			}
		}
		rings := outlines(nx, ny, func(k int) bool { return cells[k] })
		if a := ringArea(rings); math.Abs(a-float64(n)) > 1e-9 {
			t.Fatalf("%d x %d: %d cells, outlines of %g", nx, ny, n, a)
		}
		for k, want := range cells {
			in := false
			at := crossings(rings, float64(k%nx)+0.5)
			for i := 0; i+1 < len(at); i += 2 {
				in = in || at[i] < float64(k/nx)+0.5 && float64(k/nx)+0.5 < at[i+1]
			}
			if in != want {
				t.Fatalf("%d x %d: cell %d is in: %v, by its outline %v", nx, ny, k, want, in)
			}
		}
	}
}

// A disc and a slanting edge of cells become smooth: few corners, an area within a
// hundredth, and no corner farther than the slack from the true edge and its stairs.
func TestContoursAreNoStairs(t *testing.T) {
	const n, r = 200, 80.0
	for name, in := range map[string]func(x, y float64) float64{ // how far inside, cells
		"disc":  func(x, y float64) float64 { return r - math.Hypot(x-n/2, y-n/2) },
		"slant": func(x, y float64) float64 { return (0.3*x - y + 70) / math.Hypot(0.3, 1) },
	} {
		rings := outlines(n, n, func(k int) bool { return in(float64(k%n)+0.5, float64(k/n)+0.5) > 0 })
		stairs, corners, worst, before := 0, 0, 0.0, ringArea(rings)
		for i, ring := range rings {
			stairs += len(ring)
			rings[i] = straightened(ring, contourSlack)
			for _, p := range rings[i] {
				if p.x > 1 && p.y > 1 && p.x < n-1 && p.y < n-1 {
					worst = math.Max(worst, math.Abs(in(p.x, p.y)))
				}
			}
			corners += len(rings[i])
		}
		off := math.Abs(ringArea(rings)/before - 1)
		t.Logf("%s: %d corners of %d left, area %.2f %% off (bound 1), at most %.2f cells from the edge (bound 1.1)", name, corners, stairs, 100*off, worst)
		if corners*5 > stairs || off > 0.01 || worst > 1.1 {
			t.Errorf("%s is a staircase, or elsewhere", name)
		}
	}
}
