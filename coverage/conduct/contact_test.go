package conduct

import (
	"math"
	"math/rand"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// meet draws a robot that drives at a sofa whose face is at x = 4, and does one
// of several things with its body gap m from it.
func meet(form string, gap, fps float64, seed int64) *pen {
	p := newPen(1.5, 2+0.3*rand.New(rand.NewSource(seed)).Float64(), 0, seed)
	p.dt = 1 / fps
	face := 4 - 0.17 - gap // the centre, when it is that near
	to := func(x float64) { p.drive(x-p.pose.X, 0.3, 0) }
	switch form {
	case "curves away":
		to(face - 0.25)
		p.drive(0.25*geom.Radians(130), 0.3, 130).drive(0.6, 0.3, 0)
	case "brakes, backs off":
		const a = 0.7 // m/s2
		to(face - 0.09/(2*a))
		x := p.pose.X
		p.forT(0.3/a, func(u float64) { t := u * 0.3 / a; p.pose.X = x + 0.3*t - a*t*t/2 })
		p.wait(0.4).drive(-0.08, 0.15, 0).turn(100).drive(0.6, 0.3, 0)
	case "stops at once, turns":
		to(face)
		p.wait(0.2).turn(120).drive(0.6, 0.3, 0)
	case "bumps, backs off":
		to(face)
		p.wait(0.4).drive(-0.06, 0.15, 0).turn(100).drive(0.6, 0.3, 0)
	case "slides along, nose into it":
		p = newPen(2.9, 1.2, 45, seed)
		p.dt = 1 / fps
		p.drive((face-2.9)*math.Sqrt2, 0.3, 0)
		y := p.pose.Y
		p.forT(1.5, func(u float64) { p.pose.Y = y + 0.3*u })
		p.turn(100).drive(0.5, 0.3, 0)
	}
	return p
}

// kinds draws runs that meet the sofa, surveyed with 5 mm at every corner and
// followed with a bias of 2 mm, and counts what they are told as.
func kinds(t *testing.T, form string, gap, fps float64, runs int) map[string]int {
	t.Helper()
	out := map[string]int{}
	for seed := int64(1); seed <= int64(runs); seed++ {
		tr := meet(form, gap, fps, seed).trace()
		rng := rand.New(rand.NewSource(1000 + seed))
		bx, by := 0.002*rng.NormFloat64(), 0.002*rng.NormFloat64()
		for i := range tr.Samples {
			tr.Samples[i].X, tr.Samples[i].Y, tr.Samples[i].Sigma = tr.Samples[i].X+bx, tr.Samples[i].Y+by, 0.0022
		}
		sofa := corners(4, 0.5, 5, 3.5)
		for i := range sofa {
			sofa[i].X, sofa[i].Y = sofa[i].X+0.005*rng.NormFloat64(), sofa[i].Y+0.005*rng.NormFloat64()
		}
		plan, err := geom.NewPlan(geom.PlanSpec{Name: "test", Room: corners(0, 0, 5.5, 4), Obstacles: []geom.Piece{ring("sofa", 0.4, sofa)}})
		if err != nil {
			t.Fatal(err)
		}
		opt := coverage.DefaultOptions()
		opt.Cell, opt.WidthStep, opt.Raster = 0.05, 0, false
		cov, err := coverage.Measure(tr, plan, wren, opt)
		if err != nil {
			t.Fatal(err)
		}
		res, err := Find(tr, plan, wren, cov, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		what := "nothing"
		for _, e := range res.Events {
			switch {
			case e.Kind == Contact:
				what = Contact
			case e.Kind == Near && what != Contact:
				what = Near
				if lo, hi := e.Figures["distance_low_m"], e.Figures["distance_high_m"]; lo > 0 || hi < lo {
					t.Errorf("near from %g to %g m: %s", lo, hi, e)
				}
			}
			if seed == 1 && (e.Kind == Contact || e.Kind == Near) {
				t.Logf("%s at %.0f mm: %s", form, 1000*gap, e)
			}
		}
		out[what]++
	}
	return out
}

// Passes that touch nothing are not told as contact: none of 100 at 20 mm, at
// most 5 of 100 at 5 mm, which is as near as corners are surveyed.
func TestPassesAreNoContact(t *testing.T) {
	for _, gap := range []float64{0.02, 0.01, 0.005} {
		all := map[string]int{}
		for _, c := range []struct {
			form string
			fps  float64
			runs int
		}{{"curves away", 30, 20}, {"curves away", 12, 14}, {"brakes, backs off", 30, 20}, {"brakes, backs off", 12, 13}, {"stops at once, turns", 30, 20}, {"stops at once, turns", 12, 13}} {
			for k, n := range kinds(t, c.form, gap, c.fps, c.runs) {
				t.Logf("%2.0f mm, %s, %.0f looks a second: %s %d of %d", 1000*gap, c.form, c.fps, k, n, c.runs)
				all[k] += n
			}
		}
		most := 5
		if gap >= 0.02 {
			most = 0
		}
		t.Logf("%2.0f mm: contact %d of 100 (allowed %d), near %d", 1000*gap, all[Contact], most, all[Near])
		if all[Contact] > most {
			t.Errorf("%d of 100 passes at %.0f mm are told as contact", all[Contact], 1000*gap)
		}
		if gap == 0.005 && all[Near] < 60 {
			t.Errorf("only %d of 100 passes at 5 mm are told as near", all[Near])
		}
	}
}

// Contact that the motion shows is told as such: a stop that no braking makes,
// with the robot backing off, and sliding with the nose into it.
func TestContactIsShown(t *testing.T) {
	for _, c := range []struct {
		form  string
		fps   float64
		least int
	}{{"bumps, backs off", 30, 18}, {"bumps, backs off", 15, 16}, {"slides along, nose into it", 30, 18}, {"slides along, nose into it", 12, 18}} {
		got := kinds(t, c.form, 0, c.fps, 20)
		t.Logf("%s, %.0f looks a second: contact %d, near %d, nothing %d of 20, at least %d wanted", c.form, c.fps, got[Contact], got[Near], got["nothing"], c.least)
		if got[Contact] < c.least {
			t.Errorf("%s: only %d of 20 told as contact", c.form, got[Contact])
		}
	}
}
