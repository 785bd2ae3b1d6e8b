package coverage

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

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

func polyReachOf(t *testing.T, plan *geom.Plan, outline []geom.Point2, start geom.Pose) *polyReach {
	t.Helper()
	p, ok := newPolyReach(roomOf(plan, 0.09), outline, 0.005, 36, start, 0.05)
	if !ok {
		t.Fatal("no free placement near the start")
	}
	return p
}

// An outline of 48 corners is a disc for every purpose, so both ways to the
// reach must agree; the placements of the outline are sampled, hence 0.3 %.
func TestOutlineReachAgreesWithDisc(t *testing.T) {
	plan := planOf(rect(0, 0, 5, 4), piece("pillar", rect(2, 1.5, 2.4, 2.1)))
	robot := geom.Robot{Diameter: 0.34}
	tool := geom.Tool{Width: 0.18, Ahead: 0.02}
	d := discReachOf(t, plan, 0.17, 0.005, geom.Point2{X: 1, Y: 1})
	p := polyReachOf(t, plan, robot.Body(48), geom.Pose{X: 1, Y: 1})
	_, want := d.line(tool)
	_, got := p.line(tool)
	within(t, "line reach", got, want, 0.003*want)
	_, want = d.body()
	_, got = p.body()
	within(t, "body reach", got, want, 0.003*want)
}

// A square robot whose line is its whole front edge reaches every point of a
// rectangular room; one whose line is at its middle, w wide, reaches all but a
// strip (s-w)/2 wide and a square of w/2 at each corner.
func TestOutlineReachOfSquare(t *testing.T) {
	const s = 0.3
	square := []geom.Point2{{X: -s / 2, Y: -s / 2}, {X: s / 2, Y: -s / 2}, {X: s / 2, Y: s / 2}, {X: -s / 2, Y: s / 2}}
	p := polyReachOf(t, planOf(rect(0, 0, 3, 2)), square, geom.Pose{X: 1, Y: 1})
	_, got := p.line(geom.Tool{Width: s, Ahead: s / 2})
	within(t, "front edge", got, 6, 0.01*6)
	_, got = p.body()
	within(t, "body", got, 6, 0.005*6)
	w := 0.2
	rim := s/2 - w/2
	_, got = p.line(geom.Tool{Width: w})
	// In a corner, with the robot square to the walls, the line's end cannot be
	// nearer than rim to both; askew it gains a little of that square.
	want := (3-2*rim)*(2-2*rim) - 4*w*w/4
	within(t, "line at the middle", got, want, 0.002*want)
}

// A long robot passes a gap narrower than its length only end on.
func TestLongRobotThroughGap(t *testing.T) {
	long := []geom.Point2{{X: -0.3, Y: -0.1}, {X: 0.3, Y: -0.1}, {X: 0.3, Y: 0.1}, {X: -0.3, Y: 0.1}}
	for _, c := range []struct {
		gap  float64
		open bool
	}{{0.25, true}, {0.18, false}} {
		plan := planOf(rect(0, 0, 4, 2), piece("low", rect(2, 0, 2.1, 1-c.gap/2)), piece("high", rect(2, 1+c.gap/2, 2.1, 2)))
		p := polyReachOf(t, plan, long, geom.Pose{X: 1, Y: 1, Heading: math.Pi / 2})
		mask, _ := p.line(geom.Tool{Width: 0.2})
		if got := mask[p.g.Index(geom.Point2{X: 3, Y: 1})]; got != c.open {
			t.Errorf("gap %.2f m: far side reached is %v", c.gap, got)
		}
	}
}

// count returns how many cells carry the flag.
func (g *Grid) count(flag uint8) int {
	n := 0
	for _, f := range g.Flags {
		if f&flag != 0 {
			n++
		}
	}
	return n
}

// What connects, by runs of cells, is what spreads from cell to cell.
func TestFlood(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := &Grid{Nx: rapid.IntRange(1, 12).Draw(t, "nx"), Ny: rapid.IntRange(1, 12).Draw(t, "ny")}
		mask := rapid.SliceOfN(rapid.Bool(), g.Nx*g.Ny, g.Nx*g.Ny).Draw(t, "mask")
		from := rapid.IntRange(0, len(mask)-1).Draw(t, "from")
		mask[from] = true
		want := make([]bool, len(mask))
		var spread func(i, j int)
		spread = func(i, j int) {
			if i < 0 || j < 0 || i >= g.Nx || j >= g.Ny || !mask[j*g.Nx+i] || want[j*g.Nx+i] {
				return
			}
			want[j*g.Nx+i] = true
			for _, d := range [][2]int{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}} {
				spread(i+d[0], j+d[1])
			}
		}
		spread(from%g.Nx, from/g.Nx)
		flood(g, mask, from)
		if !slices.Equal(mask, want) {
			t.Fatalf("%v, want %v", mask, want)
		}
	})
}
