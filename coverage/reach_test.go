package coverage

import (
	"math"
	"testing"

	"swathe/geom"
)

func discReachOf(t *testing.T, plan *geom.Plan, radius, cell float64, start geom.Point2) *discReach {
	t.Helper()
	r := roomOf(plan, 0.09)
	d, ok := newDiscReach(r.openGrid(cell), r, radius, start, 0.05)
	if !ok {
		t.Fatal("no free placement near the start")
	}
	return d
}

// The figures of a 5 x 4 m room, computed from the closed form: placements of
// the centre 4.66 x 3.66 m, dilated by the line's farther end and by the body.
func TestReachOfEmptyRoom(t *testing.T) {
	for _, cell := range []float64{0.01, 0.005} {
		d := discReachOf(t, planOf(rect(0, 0, 5, 4)), 0.17, cell, geom.Point2{X: 1, Y: 1})
		_, line := d.line(geom.Tool{Width: 0.18, Ahead: 0.02})
		rho := math.Hypot(0.09, 0.02)
		within(t, "line reach", line, 4.66*3.66+2*(4.66+3.66)*rho+math.Pi*rho*rho, 18.6*0.0002)
		within(t, "line reach, as published", line, 18.616437, 18.6*0.001)
		_, body := d.body()
		within(t, "body reach", body, 20-(4-math.Pi)*0.17*0.17, 20*0.0002)
	}
}

// A gap as wide as the robot is open, one a millimetre narrower is shut, at
// cells much coarser than the difference: thin walls, long walls, and both askew.
func TestGapWidth(t *testing.T) {
	const radius = 0.17
	for _, cell := range []float64{0.01, 0.005} {
		for _, deep := range []float64{0.02, 0.5} {
			for _, askew := range []float64{0, 0.3, math.Pi / 4} {
				for _, gap := range []float64{0.339, 0.341} {
					turn := func(pts [][2]float64) [][2]float64 {
						s, c := math.Sincos(askew)
						for i, p := range pts {
							pts[i] = [2]float64{c*p[0] - s*p[1], s*p[0] + c*p[1]}
						}
						return pts
					}
					mid := 1.0123
					plan := planOf(turn(rect(0, 0, 4, 2)),
						piece("low", turn(rect(2, 0, 2+deep, mid-gap/2))),
						piece("high", turn(rect(2, mid+gap/2, 2+deep, 2))))
					at := turn([][2]float64{{1, 1}, {3.2, 1}})
					d := discReachOf(t, plan, radius, cell, geom.Point2{X: at[0][0], Y: at[0][1]})
					open := d.free[d.g.Index(geom.Point2{X: at[1][0], Y: at[1][1]})]
					if open != (gap > 2*radius) {
						t.Errorf("gap %.0f mm, walls %.0f mm deep, askew %.2f, cells %.0f mm: open is %v",
							gap*1000, deep*1000, askew, cell*1000, open)
					}
				}
			}
		}
	}
}

func TestOpenArea(t *testing.T) {
	cases := []struct {
		name string
		plan *geom.Plan
		want float64
	}{
		{"empty", planOf(rect(0, 0, 5, 4)), 20},
		{"two obstacles that overlap, one against the wall", planOf(rect(0, 0, 5, 4),
			piece("a", rect(1, 1, 2, 2)), piece("b", rect(1.5, 1.5, 3, 2.5)), piece("c", rect(0, 3, 1, 4))), 20 - 1 - 1.5 + 0.25 - 1},
		{"triangle", planOf([][2]float64{{0, 0}, {3, 0}, {0, 4}}), 6},
		{"triangles that cross", planOf(rect(0, 0, 10, 10),
			piece("a", [][2]float64{{1, 1}, {5, 1}, {3, 5}}), piece("b", [][2]float64{{1, 4}, {3, 0.5}, {5, 4}})), math.NaN()},
	}
	for _, c := range cases {
		got := roomOf(c.plan, 0.1).openArea()
		if math.IsNaN(c.want) { // against a fine raster
			c.want = float64(roomOf(c.plan, 0.1).openGrid(0.005).count(FlagOpen)) * 0.005 * 0.005
			within(t, c.name, got, c.want, 0.003)
			continue
		}
		within(t, c.name, got, c.want, 1e-9)
	}
}

func TestHalfPlane(t *testing.T) {
	for _, c := range []struct{ d, nx, ny, want float64 }{
		{0, 1, 0, 0.5}, {0.25, 1, 0, 0.75}, {-0.25, 0, 3, 0.25}, {0.6, 0, 1, 1}, {-0.6, 1, 0, 0},
		{0, 1, 1, 0.5}, {math.Sqrt2 / 2, 1, 1, 1}, {-math.Sqrt2 / 4, 1, 1, 0.125},
	} {
		within(t, "share of the square", halfPlane(c.d, c.nx, c.ny), c.want, 1e-12)
	}
}
