package coverage

import (
	"math"
	"testing"

	"swathe/geom"
)

// The areas here are computed from the closed form unless a source is named.

// at returns the default settings at another cell, without what the test does not look at.
func at(cell float64) Options {
	o := DefaultOptions()
	o.Cell, o.Raster, o.WidthStep = cell, false, 0
	return o
}

// rasterTol is what a raster of 5, 10 and 20 mm cells may be off by, as a share
// of the area, for swathes 0.3 m wide, which is whole cells.
var rasterTol = map[float64]float64{0.005: 0.0005, 0.01: 0.004, 0.02: 0.009}

// often looks 300 times a second, so that the path between two looks is straight
// even in a tight circle.
func (p *pen) often() *pen { p.dt = 1.0 / 300; return p }

func TestSweptLine(t *testing.T) {
	robot := bar(0.3, 0, 0)
	cases := []struct {
		name  string
		trace *geom.Trace
		want  float64
	}{
		{"straight 3 m", newPen(0, 0, 0).drive(3, 0.3, 0).trace(), 0.9},
		{"straight 3 m askew", newPen(0, 0, 0.3).drive(3, 0.3, 0).trace(), 0.9},
		{"straight 3 m along y", newPen(0, 0, math.Pi/2).drive(3, 0.3, 0).trace(), 0.9},
		{"quarter arc", newPen(0, 0, 0).drive(math.Pi/2, 0.3, math.Pi/2).trace(), math.Pi / 2 * 0.3},
		{"circle R 1.0", newPen(0, -1, 0).drive(2*math.Pi, 0.3, 2*math.Pi).trace(), 1.884956},
		{"circle R 0.10, over its own centre", newPen(0, 0, 0).often().drive(0.2*math.Pi, 0.3, 2*math.Pi).trace(), 0.196350},
	}
	for _, c := range cases {
		for cell, tol := range rasterTol {
			got := swept(t, c.trace, robot, cell)
			within(t, c.name, got.CoveredM2, c.want, tol*c.want)
		}
	}
}

// A turn on the spot sweeps pi w^2/4 wherever ahead of the centre the line is:
// a ring between the middle's circle and the ends'. One turn adds no pass.
func TestSpin(t *testing.T) {
	for _, ahead := range []float64{0, 0.02, 0.1, -0.1, 0.3} {
		for _, turns := range []float64{1, 3.5} {
			tr := newPen(1, 1, 0.3).spin(turns*2*math.Pi, 1.5).trace()
			c := swept(t, tr, bar(0.3, ahead, 0), 0.0025)
			within(t, "swept by a spin", c.CoveredM2, math.Pi*0.09/4, 0.003*0.0707)
			if c.PassesM2[2] != 0 || c.Redundancy != 0 {
				t.Errorf("a spin of %g turns passed %g m2 twice, redundancy %g: turning on the spot adds no pass", turns, c.PassesM2[2], c.Redundancy)
			}
		}
	}
}

// A coarse step must sweep the sector, not the triangle between its ends.
func TestSpinInOneStep(t *testing.T) {
	p := newPen(1, 1, 0)
	p.dt = 10
	tr := p.spin(2.5, 1).trace()
	c := swept(t, tr, bar(0.3, 0, 0), 0.0025)
	within(t, "sector", c.CoveredM2, 2.5*0.15*0.15, 0.004*2.5*0.15*0.15)
}

// Turning on the spot travels nothing, and still each spot is touched when the
// line comes to it: a line from the turning centre to the left, at 0.25 rad/s.
func TestSpinTellsWhen(t *testing.T) {
	const rate = 0.25
	tr := traceOf([]geom.Sample{{T: 0, X: 1, Y: 1}, {T: 10, X: 1, Y: 1, Heading: 10 * rate}})
	tool := geom.Tool{Width: 0.3, Left: 0.15}
	g := roomOf(planOf(rect(0, 0, 2, 2)), 0.1).openGrid(0.005)
	s := newSweeper(g, 0.17)
	s.run(pathOf(tr, nil), tool, nil, nil)
	worst, touched := 0.0, 0
	for k := range s.cells {
		c := g.Centre(k)
		if r := math.Hypot(c.X-1, c.Y-1); !s.swept(k) || r < 0.05 {
			continue
		}
		touched++
		when := geom.WrapAngle(math.Atan2(c.Y-1, c.X-1)-math.Pi/2) / rate
		worst = math.Max(worst, math.Abs(float64(s.first[k])-when))
	}
	bound := 0.5 * s.maxTurn(toolReach(tool)) / rate // half a step: see span
	t.Logf("%d spots, at most %.3f s off, bound %.3f", touched, worst, bound)
	if touched < 1000 || worst > bound {
		t.Errorf("%d spots touched, at most %.3f s off, bound %.3f", touched, worst, bound)
	}
}

// Out 3 m and back in reverse, robot radius 0.15: by the pass rule the spots
// within half a radius of the far end are still under their first pass.
func TestOutAndBack(t *testing.T) {
	for _, heading := range []float64{0, math.Pi / 2, 0.3} {
		for _, cell := range []float64{0.005, 0.0025} {
			tr := newPen(0, 0, heading).drive(3, 0.3, 0).drive(-3, 0.3, 0).trace()
			c := swept(t, tr, bar(0.3, 0, 0), cell)
			within(t, "twice", c.PassesM2[2], 0.8775, 0.002)
			within(t, "once", c.PassesM2[1], 0.0225, 0.001)
			within(t, "redundancy", c.Redundancy, 0.8775/0.9, 0.002)
			if c.PassesM2[3] != 0 || c.PassesM2[4] != 0 {
				t.Errorf("out and back passed something more than twice: %v", c.PassesM2)
			}
		}
	}
}

// Standing still is one pass of nothing: the line has no width along the travel.
func TestStandingStill(t *testing.T) {
	c := swept(t, newPen(0, 0, 0).wait(60).trace(), bar(0.3, 0, 0), 0.005)
	if c.CoveredM2 != 0 || c.SweptM2 != 0 {
		t.Errorf("standing covered %g m2, swept %g m2", c.CoveredM2, c.SweptM2)
	}
	if !math.IsNaN(c.PlateauS) || !math.IsNaN(c.MeanPasses) || !math.IsNaN(c.TimeTo[0]) {
		t.Errorf("plateau %g, mean passes %g, time to 50 %% %g: want NaN for all", c.PlateauS, c.MeanPasses, c.TimeTo[0])
	}
}

// Two swathes w wide that cross at an angle overlap in a rhombus w^2/sin.
func TestCrossedSwathes(t *testing.T) {
	const w = 0.3
	for _, c := range []struct{ deg, want float64 }{{90, 0.09}, {45, 0.127279}, {30, 0.18}} {
		for _, base := range []float64{0, 0.35} {
			a := geom.Radians(c.deg)
			s1, c1 := math.Sincos(base)
			s2, c2 := math.Sincos(base + a)
			p := newPen(1-1.5*c1, 1-1.5*s1, base).drive(3, 0.3, 0)
			q := newPen(1-1.5*c2, 1-1.5*s2, base+a).drive(3, 0.3, 0)
			tr := lifted(p.ss, q.ss)
			got := swept(t, tr, bar(w, 0, 0), 0.005)
			within(t, "overlap", got.PassesM2[2], c.want, 0.01*c.want)
			within(t, "union", got.CoveredM2, 1.8-c.want, 0.002*1.8)
		}
	}
}

// lifted joins paths with the robot lost in between.
func lifted(parts ...[]geom.Sample) *geom.Trace {
	var ss []geom.Sample
	t := 0.0
	for _, p := range parts {
		if len(ss) > 0 {
			ss = append(ss, geom.Sample{T: t + 0.5, X: math.NaN(), Y: math.NaN(), Heading: math.NaN(), State: geom.Lost})
			t++
		}
		t0 := p[0].T
		for _, s := range p {
			s.T += t - t0
			ss = append(ss, s)
		}
		t = ss[len(ss)-1].T
	}
	return traceOf(ss)
}

// Parallel swathes L long at a spacing s < w: L (w+s) together, L (w-s) twice.
func TestParallelSwathes(t *testing.T) {
	const l, w, s = 3.0, 0.3, 0.2
	p, q := newPen(0, 0, 0.2).drive(l, 0.3, 0), newPen(-s*math.Sin(0.2), s*math.Cos(0.2), 0.2).drive(l, 0.3, 0)
	c := swept(t, lifted(p.ss, q.ss), bar(w, 0, 0), 0.005)
	within(t, "together", c.CoveredM2, l*(w+s), 0.001*l*(w+s))
	within(t, "twice", c.PassesM2[2], l*(w-s), 0.003*l*(w-s))
	within(t, "swept", c.SweptM2, 2*l*w, 0.001*2*l*w)
}

// The same path seen 30 and 5 times a second sweeps the same.
func TestThinning(t *testing.T) {
	run := func(dt float64) Block {
		p := newPen(0, 0, 0.3)
		p.dt = dt
		tr := p.drive(3, 0.3, 0).drive(1, 0.3, 1).drive(2, 0.3, -0.5).trace()
		return swept(t, tr, bar(0.3, 0.05, 0), 0.005)
	}
	fine, coarse := run(1.0/30), run(1.0/5)
	within(t, "covered at 5 a second", coarse.CoveredM2, fine.CoveredM2, 0.001*fine.CoveredM2)
	within(t, "swept at 5 a second", coarse.SweptM2, fine.SweptM2, 0.001*fine.SweptM2)
}

// A straight drive through 20 m2 covers w v t: 5 % after 1 m2.
func TestTimeToLevel(t *testing.T) {
	tr := newPen(0.2, 1, 0).drive(4.5, 0.3, 0).trace()
	o := at(0.005)
	res := measure(t, tr, planOf(rect(0, 0, 5, 4)), bar(0.3, 0, 0), o)
	for _, p := range res.Curve {
		want := 0.09 * (p.T - tr.Run.From) / 20
		if math.Abs(p.CoveredShare-want) > 1.0/30*0.09/20+1e-4 {
			t.Errorf("at %.2f s covered %.5f, want %.5f", p.T, p.CoveredShare, want)
		}
	}
	within(t, "plateau", res.Coverage.PlateauS, 0.99*15, 1.0/30)
}

// The disc stamp holds exactly the lattice points of the Gauss circle problem
// (OEIS A000328, from memory).
func TestDiscStampCountsLatticePoints(t *testing.T) {
	want := map[int]int{1: 5, 2: 13, 3: 29, 4: 49, 5: 81, 10: 317, 15: 709, 20: 1257, 30: 2821, 50: 7845, 100: 31417}
	for n, count := range want {
		for _, cell := range []float64{0.005, 0.01, 1.0 / 3} {
			g := newGrid(ringOf(rect(0, 0, 211*cell, 211*cell)), cell)
			g.Flags = make([]uint8, g.Nx*g.Ny)
			for k := range g.Flags {
				g.Flags[k] = FlagOpen
			}
			s := newSweeper(g, 0.1)
			c := g.Centre(105*g.Nx + 105)
			p := point{x: c.X, y: c.Y}
			s.disc(geom.SideBrush{Reach: float64(n) * cell}, p, p)
			if s.newCells != count {
				t.Errorf("disc of %d cells (of %g m) holds %d, want %d", n, cell, s.newCells, count)
			}
			got := 0
			g.eachDiscRow(c, float64(n)*cell, func(_, i0, i1 int) { got += i1 - i0 })
			if got != count {
				t.Errorf("row stamp of %d cells (of %g m) holds %d, want %d", n, cell, got, count)
			}
		}
	}
}

// Side brushes are discs: a disc at the centre as wide as the line makes a
// stadium, an arc with round ends, a disc that hides the hole of a tight circle.
func TestSideBrushDisc(t *testing.T) {
	const r = 0.15
	robot := bar(2*r, 0, 0)
	robot.SideBrushes = []geom.SideBrush{{Reach: r}}
	cases := []struct {
		name  string
		trace *geom.Trace
		want  float64
	}{
		{"straight 3 m", newPen(0, 0, 0).drive(3, 0.3, 0).trace(), 0.970686},
		{"straight 3 m askew", newPen(0, 0, 0.3).drive(3, 0.3, 0).trace(), 0.970686},
		{"quarter arc", newPen(0, 0, 0).drive(math.Pi/2, 0.3, math.Pi/2).trace(), 0.541925},
		{"circle R 1.0", newPen(0, -1, 0).drive(2*math.Pi, 0.3, 2*math.Pi).trace(), 1.884956},
		{"circle R 0.10", newPen(0, 0, 0).often().drive(0.2*math.Pi, 0.3, 2*math.Pi).trace(), 0.196350},
	}
	for _, c := range cases {
		for cell, tol := range rasterTol {
			got := swept(t, c.trace, robot, cell, robot.SideBrushes...)
			within(t, c.name, got.CoveredM2, c.want, tol*c.want)
			if closed := c.trace.Samples[0].Pose().At(geom.Point2{}).Dist(c.trace.Samples[len(c.trace.Samples)-1].Pose().At(geom.Point2{})) < 0.01; !closed && got.PassesM2[2] > 0 {
				t.Errorf("%s: %g m2 passed twice", c.name, got.PassesM2[2])
			}
		}
	}
	// Standing for a minute is one pass of the disc, however long it turns.
	got := swept(t, newPen(0, 0, 0).wait(60).trace(), robot, 0.005, robot.SideBrushes...)
	within(t, "standing", got.SweptM2, math.Pi*r*r, 0.002*math.Pi*r*r)
}

// Six lanes 0.5 m apart of a disc 0.25 m in radius in a room of 4 x 3 m, joined
// at the lane ends: all but the corners, 12 - 14 r^2 (1 - pi/4).
func TestSerpentine(t *testing.T) {
	const r = 0.25
	robot := geom.Robot{Diameter: 2 * r, Height: 0.1, Tools: []geom.Tool{{Name: "brush", Width: 2 * r}}, SideBrushes: []geom.SideBrush{{Reach: r}}}
	var ss []geom.Sample
	x, y, tm := 0.25, 0.25, 0.0
	goTo := func(tx, ty float64) {
		d := math.Hypot(tx-x, ty-y)
		n := max(1, int(d/0.01))
		h := math.Atan2(ty-y, tx-x)
		for i := 1; i <= n; i++ {
			u := float64(i) / float64(n)
			tm += d / 0.3 / float64(n)
			ss = append(ss, geom.Sample{T: tm, X: x + u*(tx-x), Y: y + u*(ty-y), Heading: h})
		}
		x, y = tx, ty
	}
	ss = append(ss, geom.Sample{X: x, Y: y})
	for lane := 0; lane < 6; lane++ {
		if lane > 0 {
			goTo(x, y+0.5)
		}
		goTo(4-x, y)
	}
	res := measure(t, traceOf(ss), planOf(rect(0, 0, 4, 3)), robot, at(0.01))
	within(t, "path", res.Motion.DistanceM, 23.5, 1e-9)
	within(t, "covered", res.OtherTools[WithSideBrushes].CoveredM2, 12-14*r*r*(1-math.Pi/4), 0.001*12)
}
