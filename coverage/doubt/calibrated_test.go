package doubt

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/coverage"
	"swathe/coverage/stats"
	"swathe/geom"
)

// What each input contributes is held from both sides: against closed forms, and
// against runs that are measured with errors made here, by other code than the
// one that draws. An uncertainty three times too large fails as one three times
// too small does.

// Bounds of the ratio of what is stated to what happens: two standard
// deviations from 120 draws and 120 runs differ by 9 % (one sigma); four of that.
const (
	leastRatio = 0.66
	mostRatio  = 1.5
)

func ratioHolds(t *testing.T, what string, stated, happens float64) {
	t.Helper()
	r := stated / happens
	t.Logf("%s: stated %.5f, happens %.5f, ratio %.2f, allowed %.2f to %.2f", what, stated, happens, r, leastRatio, mostRatio)
	if !(r >= leastRatio && r <= mostRatio) {
		t.Errorf("%s: stated %g, happens %g", what, stated, happens)
	}
}

func budgetOf(t *testing.T, r *Result, input string) map[string]float64 {
	t.Helper()
	for _, b := range r.Budget {
		if b.Input == input {
			return b.U
		}
	}
	t.Fatalf("the budget has no %s", input)
	return nil
}

func TestBudgetIsCalibrated(t *testing.T) {
	const seed, runs = 21, 120
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	tr := rows(10, 0.15, 220)
	o := DefaultOptions()
	o.Draws, o.BudgetDraws, o.Cell = 20, 120, 0.02
	in := testInput(t, tr, testCamera(t))
	r := measure(t, in, o)

	rep, err := coverage.NewRepeat(func() coverage.Options { c := in.Coverage; c.Cell = o.Cell; return c }(), false)
	if err != nil {
		t.Fatal(err)
	}
	// figures measures a path with errors; turned, so that cells even out.
	figures := func(tr *geom.Trace, plan *geom.Plan, robot geom.Robot) *coverage.Lean {
		l, err := rep.Measure(turnTrace(tr, 0.6), turnPlan(plan, 0.6), &robot)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	scatter := func(one func() *coverage.Lean) (share, redundancy, open float64) {
		var a, b, c []float64
		for range runs {
			l := one()
			a, b, c = append(a, l.Coverage.CoveredShare), append(b, l.Coverage.Redundancy), append(c, l.Floor.OpenM2)
		}
		_, share = stats.MeanSD(a)
		_, redundancy = stats.MeanSD(b)
		_, open = stats.MeanSD(c)
		return share, redundancy, open
	}
	plan, robot := testPlan(t), testRobot()

	// Errors of position of 2 mm and of heading of 10 mrad, alike for 2 s: each
	// sample's follows from the one before.
	share, redundancy, _ := scatter(func() *coverage.Lean {
		out := *tr
		out.Samples = append([]geom.Sample(nil), tr.Samples...)
		e := [3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		for i := range out.Samples {
			s := &out.Samples[i]
			if i > 0 {
				k := math.Exp(-(s.T - out.Samples[i-1].T) / 2)
				for j := range e {
					e[j] = k*e[j] + math.Sqrt(1-k*k)*rng.NormFloat64()
				}
			}
			s.X, s.Y, s.Heading = s.X+0.002*e[0], s.Y+0.002*e[1], s.Heading+0.01*e[2]
		}
		return figures(&out, plan, robot)
	})
	path := budgetOf(t, r, InputPath)
	ratioHolds(t, "path, covered share", path["covered_share"], share)
	ratioHolds(t, "path, redundancy", path["redundancy"], redundancy)

	share, redundancy, _ = scatter(func() *coverage.Lean {
		q := robot
		b := q.Tools[0]
		b.Width, b.Ahead, b.Left = b.Width+rng.Float64()*0.004-0.002, b.Ahead+rng.Float64()*0.006-0.003, rng.Float64()*0.006-0.003
		q.Tools = []geom.Tool{b}
		return figures(tr, plan, q)
	})
	tool := budgetOf(t, r, InputTool)
	ratioHolds(t, "tool, covered share", tool["covered_share"], share)
	ratioHolds(t, "tool, redundancy", tool["redundancy"], redundancy)

	share, _, open := scatter(func() *coverage.Lean {
		off := func() float64 { return 0.005 * rng.NormFloat64() }
		room, sofa := box(0, 0, 4, 3), box(1.5, 1, 2.2, 1.8)
		for _, c := range [][]geom.Point2{room, sofa} {
			for i := range c {
				c[i].X, c[i].Y = c[i].X+off(), c[i].Y+off()
			}
		}
		p, err := geom.NewPlan(geom.PlanSpec{Name: "off", Room: room, Obstacles: []geom.Piece{{Name: "sofa", Outline: geom.Ring(sofa), Height: 0.4}}})
		if err != nil {
			t.Fatal(err)
		}
		return figures(tr, p, robot)
	})
	outlines := budgetOf(t, r, InputOutlines)
	ratioHolds(t, "outlines, covered share", outlines["covered_share"], share)
	ratioHolds(t, "outlines, open floor", outlines["open_m2"], open)

	// A robot as much wider reaches as much less along every wall and side: the
	// derivative of the closed form of the reachable floor.
	const radius, sd = 0.17, 1.0 / 1.7320508 // of a rectangular error, of its half-width
	rho := math.Hypot(0.09, 0.02)
	slope := 2*(4+3-4*radius) + 8*rho + 2*(0.7+0.8) + 2*math.Pi*(radius-rho)
	body := budgetOf(t, r, InputRobot)
	ratioHolds(t, "robot's width, reachable floor", body["reachable_m2"], slope*0.001*sd)
	// A top dh higher than told shows the path larger by dh over the way from it to the lens.
	ratioHolds(t, "robot's height, distance", body["distance_m"], in.Result.Motion.DistanceM*0.002*sd/(2.9-0.09))
	// Two rectangular errors of one look each.
	ratioHolds(t, "clock, duration", budgetOf(t, r, InputClock)["duration_s"], 0.1*sd*math.Sqrt2)
}

// Of runs measured along a path that jitters, the distance lies about the middle
// of its interval, and the interval holds the way that was driven.
func TestDistanceStandsInItsInterval(t *testing.T) {
	const seed, runs = 22, 20
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	o := quick()
	o.BudgetDraws, o.Draws, o.Cell = 0, 60, 0.05
	own := rows(10, 0.3, 100)
	c := coverage.DefaultOptions()
	c.Cell, c.Raster, c.WidthStep = 0.05, false, 0
	input := func(tr *geom.Trace) Input {
		res, err := coverage.Measure(tr, testPlan(t), testRobot(), c)
		if err != nil {
			t.Fatal(err)
		}
		return Input{Trace: tr, Plan: testPlan(t), Robot: testRobot(), Coverage: c, Result: res}
	}
	truth := input(own).Result.Motion.DistanceM
	held, where := 0, 0.0
	for range runs {
		tr := *own
		tr.Samples = append([]geom.Sample(nil), own.Samples...)
		for i := range tr.Samples {
			s := &tr.Samples[i]
			s.X, s.Y = s.X+0.001*rng.NormFloat64(), s.Y+0.001*rng.NormFloat64()
		}
		in := input(&tr)
		f := measure(t, in, o).Run["distance_m"]
		t.Logf("truth %.4f measured %.4f jitter %.4f from %.4f to %.4f", truth, in.Result.Motion.DistanceM, in.Result.Motion.JitterM, f.Lo, f.Hi)
		where += (in.Result.Motion.DistanceM - f.Lo) / (f.Hi - f.Lo) / runs
		if f.Lo <= truth && truth <= f.Hi {
			held++
		}
	}
	t.Logf("%d of %d intervals hold the way driven; the distance lies at %.2f of them, 0 their low end, 1 their high one", held, runs, where)
	if held < runs-3 || where < 0.35 || where > 0.65 {
		t.Error("the distance does not stand in its interval")
	}
}
