package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/geom"
)

func randomRobot(rng *rand.Rand) geom.Robot {
	return geom.Robot{Diameter: 0.25 + 0.2*rng.Float64(), Height: 0.1, Tools: []geom.Tool{{
		Name: "brush", Width: 0.1 + 0.2*rng.Float64(), Ahead: 0.2 * (rng.Float64() - 0.5), Left: 0.1 * (rng.Float64() - 0.5)}}}
}

// The pass rule taken literally at single spots: the line is followed in small
// steps and the spot is touched where it crosses the line between its ends.
// A spot whose fate hangs on less than a twentieth of a cell at a line's end, or
// half
// a millimetre of travel, is not asked.
func bruteForce(pts []point, tool geom.Tool, radius float64, spot geom.Point2, cell float64) (passes int, clear bool) {
	last, clear := math.Inf(-1), true
	for k := 1; k < len(pts); k++ {
		p, q := pts[k-1], pts[k]
		if q.gap || math.Hypot(p.x-spot.X, p.y-spot.Y) > 1 {
			continue
		}
		// Body coordinates of the spot along the step: along > 0 means that the
		// line has not reached it.
		body := func(u float64) (along, across float64) {
			h := p.h + u*(q.h-p.h)
			dx, dy := spot.X-p.x-u*(q.x-p.x), spot.Y-p.y-u*(q.y-p.y)
			s, c := math.Sincos(h)
			return c*dx + s*dy - tool.Ahead, -s*dx + c*dy - tool.Left
		}
		const parts = 8
		a0, _ := body(0)
		for i := 1; i <= parts; i++ {
			u0, u1 := float64(i-1)/parts, float64(i)/parts
			a1, _ := body(u1)
			if (a0 > 0) != (a1 > 0) {
				for lo, hi, n := u0, u1, 0; ; n++ {
					mid := (lo + hi) / 2
					if a, across := body(mid); n == 40 {
						if gap := math.Abs(across) - tool.Width/2; math.Abs(gap) < 0.05*cell {
							clear = false
						} else if gap < 0 {
							at := p.s + mid*(q.s-p.s)
							if math.Abs(at-last-radius) < 0.0005 {
								clear = false
							}
							if at-last > radius {
								passes++
							}
							last = at
						}
						break
					} else if (a > 0) == (a0 > 0) {
						lo = mid
					} else {
						hi = mid
					}
				}
			}
			a0 = a1
		}
	}
	return passes, clear
}

func TestPassesAgainstBruteForce(t *testing.T) {
	const seed, cell = 99, 0.005
	rng := rand.New(rand.NewPCG(seed, 2))
	asked, skipped, most := 0, 0, 0
	for i := 0; i < 12; i++ {
		robot := randomRobot(rng)
		pts := pathOf(randomPath(rng, 2.2, 2, 25).trace(), nil)
		g := roomOf(planOf(rect(0, 0, 2.2, 2)), 0.1).openGrid(cell)
		s := newSweeper(g, robot.Radius())
		s.run(pts, robot.Tools[0], nil, nil)
		for n := 0; n < 150; n++ {
			k := rng.IntN(len(s.cells))
			want, clear := bruteForce(pts, robot.Tools[0], robot.Radius(), g.Centre(k), cell)
			if !clear {
				skipped++
				continue
			}
			asked++
			most = max(most, want)
			if got := int(s.cells[k].passes()); got != want {
				t.Errorf("seed %d, path %d, spot %v: %d passes, taken literally %d", seed, i, g.Centre(k), got, want)
			}
		}
	}
	t.Logf("seed %d: %d spots agree, %d too close to call, up to %d passes", seed, asked, skipped, most)
	if asked < 1000 || most < 3 {
		t.Errorf("only %d spots were asked, with up to %d passes: the test says little", asked, most)
	}
}

// More path never covers less, nor sweeps less.
func TestMorePathNeverCoversLess(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 3))
	plan := planOf(rect(0, 0, 2.2, 2))
	for i := 0; i < 10; i++ {
		robot, ss := randomRobot(rng), randomPath(rng, 2.2, 2, 8).ss
		var before Block
		for n := 2; n <= len(ss); n += len(ss) / 8 {
			b := sweptIn(t, traceOf(ss[:n]), plan, robot, 0.01)
			if b.CoveredM2 < before.CoveredM2 || b.SweptM2 < before.SweptM2 {
				t.Fatalf("path %d cut at %d: covered %g after %g, swept %g after %g", i, n, b.CoveredM2, before.CoveredM2, b.SweptM2, before.SweptM2)
			}
			before = b
		}
	}
}

// Turning room and path together changes nothing but the raster's error.
func TestTurningChangesNothing(t *testing.T) {
	const seed = 6
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 3))
	worst := 0.0
	for i := 0; i < 8; i++ {
		robot, tr := randomRobot(rng), randomPath(rng, 2.2, 2, 8).trace()
		a := sweptIn(t, tr, planOf(rect(0, 0, 2.2, 2)), robot, 0.005)
		turn := 2 * math.Pi * rng.Float64()
		b := sweptIn(t, turnTrace(tr, turn), planOf(turnRing(rect(0, 0, 2.2, 2), turn)), robot, 0.005)
		for _, d := range []float64{b.CoveredM2/a.CoveredM2 - 1, b.SweptM2/a.SweptM2 - 1, b.PassesM2[2]/a.PassesM2[2] - 1} {
			worst = math.Max(worst, math.Abs(d))
			if math.Abs(d) > 0.004 {
				t.Errorf("path %d turned by %.3f: off by %.3f %%: %+v, before %+v", i, turn, 100*d, b.PassesM2, a.PassesM2)
			}
		}
	}
	t.Logf("worst %.3f %% (allowed 0.4 %%)", 100*worst)
}

// Splitting the room along a cell border adds up exactly.
func TestSplittingTheRoomAddsUp(t *testing.T) {
	const seed = 8
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 3))
	for i := 0; i < 8; i++ {
		robot, tr := randomRobot(rng), randomPath(rng, 2, 2, 8).trace()
		// Whole powers of two: the three grids have the very same centres.
		const cell = 1.0 / 128
		whole := sweptIn(t, tr, planOf(rect(0, 0, 2, 2)), robot, cell)
		left := sweptIn(t, tr, planOf(rect(0, 0, 0.75, 2)), robot, cell)
		rest := sweptIn(t, tr, planOf(rect(0.75, 0, 2, 2)), robot, cell)
		for n := range whole.PassesM2 {
			if d := left.PassesM2[n] + rest.PassesM2[n] - whole.PassesM2[n]; math.Abs(d) > 1e-9 {
				t.Errorf("path %d, %d passes: the parts differ from the whole by %g m2", i, n, d)
			}
		}
	}
}

// Halving the cell changes the covered area by at most its perimeter x cell.
func TestHalvingTheCell(t *testing.T) {
	const seed = 9
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 3))
	for i := 0; i < 8; i++ {
		robot, tr := randomRobot(rng), randomPath(rng, 2, 2, 5).trace()
		for _, cell := range []float64{0.04, 0.02, 0.01} {
			a, b := swept(t, tr, robot, cell), swept(t, tr, robot, cell/2)
			// The perimeter is at most both sides of the path and its ends.
			bound := cell * (2*pathOf(tr, nil)[len(tr.Samples)-1].s + 20)
			if math.Abs(a.CoveredM2-b.CoveredM2) > bound {
				t.Errorf("cell %g: %g m2, halved %g", cell, a.CoveredM2, b.CoveredM2)
			}
		}
	}
}

// A path of one moment, or of none known, covers nothing and fails nothing.
func TestEmptyPath(t *testing.T) {
	lost := geom.Sample{X: math.NaN(), Y: math.NaN(), Heading: math.NaN(), State: geom.Lost}
	later := lost
	later.T = 10
	for _, ss := range [][]geom.Sample{{{X: 1, Y: 1}}, {lost}, {lost, later}} {
		res := measure(t, traceOf(ss), planOf(rect(0, 0, 2, 2)), bar(0.2, 0, 0), DefaultOptions())
		if res.Coverage.CoveredM2 != 0 || res.Motion.DistanceM != 0 {
			t.Errorf("%d samples covered %g m2 over %g m", len(ss), res.Coverage.CoveredM2, res.Motion.DistanceM)
		}
	}
	if _, err := Measure(&geom.Trace{}, planOf(rect(0, 0, 2, 2)), bar(0.2, 0, 0), DefaultOptions()); err == nil {
		t.Error("a trace without samples was measured")
	}
}

// Expected distinct cells after n steps of the lattice walk, exactly, by walking
// every one of the 4^n walks: 2, 2.75, 3.5, 4.171875, 4.84375, 5.47265625,
// 6.1015625, 6.70184326 (computed from the definition).
func TestLatticeWalk(t *testing.T) {
	const cell, steps = 0.1, 8
	want := []float64{2, 2.75, 3.5, 4.171875, 4.84375, 5.47265625, 6.1015625, 6.70184326171875}
	g := roomOf(planOf(rect(0, 0, 17*cell, 17*cell)), 0).openGrid(cell)
	s := newSweeper(g, 0.05)
	dot := geom.SideBrush{Reach: 0.4 * cell} // holds no centre but the one that it is on
	moves := [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}
	sums := make([]int, steps)
	var walk func(path [][2]int)
	walk = func(path [][2]int) {
		if n := len(path) - 1; n > 0 {
			s.newCells = 0
			for i := 1; i <= n; i++ {
				p, q := g.Centre(path[i-1][1]*g.Nx+path[i-1][0]), g.Centre(path[i][1]*g.Nx+path[i][0])
				s.disc(dot, point{x: p.X, y: p.Y, s: float64(i-1) * cell}, point{x: q.X, y: q.Y, s: float64(i) * cell})
			}
			sums[n-1] += s.newCells
			for _, c := range path { // only these were touched
				s.cells[c[1]*g.Nx+c[0]] = cell0
			}
			if n == steps {
				return
			}
		}
		at := path[len(path)-1]
		for _, m := range moves {
			walk(append(path[:len(path):len(path)], [2]int{at[0] + m[0], at[1] + m[1]}))
		}
	}
	walk([][2]int{{8, 8}})
	for n := range sums {
		if got := float64(sums[n]) / math.Pow(4, float64(n+1)); got != want[n] {
			t.Errorf("after %d steps %v distinct cells, want exactly %v", n+1, got, want[n])
		}
	}
}

// cell0 is an open cell that nothing has swept.
var cell0 = newCell(true)

// Lines thrown at random cover 1 - exp(-c) of a room and pass its spots as often
// as a Poisson count of mean c says (computed from the closed form): within four
// standard errors over 300 seeds.
func TestPoissonLines(t *testing.T) {
	const w, seeds = 0.25, 300
	rad := math.Hypot(5, 4)/2 + w
	for _, c := range []float64{0.5, 1, 2} {
		var share [seeds][5]float64
		for seed := range share {
			rng := rand.New(rand.NewPCG(uint64(seed), 77))
			// A Poisson number of lines, by the gaps between them.
			mean := 2 * rad * c / w
			var ss []geom.Sample
			tm := 0.0
			for at := rng.ExpFloat64(); at < mean; at += rng.ExpFloat64() {
				p, a := rad*(2*rng.Float64()-1), 2*math.Pi*rng.Float64()
				sn, cs := math.Sincos(a)
				mx, my := 2.5-sn*p, 2+cs*p
				ss = append(ss,
					geom.Sample{T: tm, X: mx - 5*cs, Y: my - 5*sn, Heading: a},
					geom.Sample{T: tm + 1, X: mx + 5*cs, Y: my + 5*sn, Heading: a},
					geom.Sample{T: tm + 2, X: math.NaN(), Y: math.NaN(), State: geom.Lost})
				tm += 3
			}
			if len(ss) == 0 {
				share[seed][0] = 1
				continue
			}
			b := sweptIn(t, traceOf(ss), planOf(rect(0, 0, 5, 4)), bar(w, 0, 0), 0.05)
			for n := range b.PassesM2 {
				share[seed][n] = b.PassesM2[n] / 20
			}
		}
		prob, rest := math.Exp(-c), 1.0
		for n := 0; n < 5; n++ {
			want := prob
			if n == 4 {
				want = rest
			}
			rest -= prob
			prob *= c / float64(n+1)
			sum, sq := 0.0, 0.0
			for _, s := range share {
				sum += s[n]
				sq += s[n] * s[n]
			}
			m := sum / seeds
			se := math.Sqrt((sq/seeds - m*m) / (seeds - 1))
			t.Logf("c = %g, %d passes: %.4f, want %.4f, standard error %.4f", c, n, m, want, se)
			if math.Abs(m-want) > 4*se {
				t.Errorf("c = %g, %d passes: %.4f of the floor, want %.4f within 4 x %.4f (seeds 0 to %d)", c, n, m, want, se, seeds-1)
			}
		}
	}
}

// A path of 200 km counts as many passes as its laps: what a cell remembers of
// travel grows coarser, never wrong.
func TestVeryLongPath(t *testing.T) {
	const laps, side = 20000, 2.5
	var ss []geom.Sample
	at := 0.0
	for lap := 0; lap < laps; lap++ {
		for k, p := range [4]geom.Point2{{X: 1, Y: 1}, {X: 1 + side, Y: 1}, {X: 1 + side, Y: 1 + side}, {X: 1, Y: 1 + side}} {
			h := math.Pi / 2 * float64(k)
			for _, turn := range [2]float64{h - math.Pi/2, h} { // a turn on the spot at each corner
				ss = append(ss, geom.Sample{T: at, X: p.X, Y: p.Y, Heading: turn})
				at++
			}
		}
	}
	robot := geom.Robot{Diameter: 0.3, Height: 0.1, Tools: []geom.Tool{{Name: "brush", Width: 0.1}}}
	g := roomOf(planOf(rect(0, 0, 4.5, 4.5)), 0.1).openGrid(0.05)
	s := newSweeper(g, robot.Radius())
	pts := pathOf(traceOf(ss), nil)
	s.run(pts, robot.Tools[0], nil, nil)
	if length := pts[len(pts)-1].s; length < 199e3 {
		t.Fatalf("the path is %.0f m long", length)
	}
	i, j := g.cellOf(geom.Point2{X: 1 + side/2, Y: 1.01})
	if got := int(s.cells[j*g.Nx+i].passes()); got != laps {
		t.Errorf("%d passes over the middle of a side, want %d", got, laps)
	}
}
