package conduct

import (
	"math"
	"testing"

	"swathe/geom"
)

func TestRows(t *testing.T) {
	for _, deg := range []float64{0, 30, 90} {
		p := newPen(0.6, 0.6, 0, 21)
		p.pose.Heading = geom.Radians(deg)
		p.ss[0].Heading = p.pose.Heading
		if deg == 30 {
			p.pose.X, p.pose.Y = 1.8, 0.6
		}
		if deg == 90 {
			p.pose.X = 4.0 // its rows go to the left
		}
		const n, length, spacing = 10, 2.0, 0.155
		p.rows(n, length, spacing, 0.3)
		res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
		if len(res.Rows.Blocks) != 1 {
			t.Fatalf("%d blocks of rows, want 1", len(res.Rows.Blocks))
		}
		b := res.Rows.Blocks[0]
		if b.Lanes != n || res.Rows.Pattern != PatternRows {
			t.Errorf("%d lanes, pattern %s, want all %d", b.Lanes, res.Rows.Pattern, n)
		}
		within(t, "direction", geom.Degrees(geom.WrapAngle(2*(b.Direction-geom.Radians(deg)))/2), 0, 1)
		within(t, "spacing", b.SpacingM, spacing, 0.005)
		within(t, "overlap", b.OverlapM, 0.18-spacing, 0.005)
		within(t, "straightness", b.RMSM, 0, 0.002)
		if len(b.Spacings) != n-1 {
			t.Errorf("%d spacings, want %d", len(b.Spacings), n-1)
		}
	}
}

// Rows one way, then across them: two blocks, the second a second layer, and the
// change found when it happens.
func twoLayers() (p *pen, change float64) {
	p = newPen(0.6, 0.6, 0, 22)
	p.rows(12, 1.87, 0.17, 0.3) // ends at y = 2.47
	p.to(2.47, 2.47, 0.3)
	p.turn(geom.Degrees(geom.WrapAngle(-math.Pi/2 - p.pose.Heading)))
	change = p.t
	for i := 0; i < 12; i++ {
		p.drive(1.87, 0.3, 0)
		side := -90.0
		if i%2 == 1 {
			side = 90
		}
		if i < 11 {
			p.turn(side).drive(0.17, 0.3, 0).turn(side)
		}
	}
	return p, change
}

func TestDirectionChange(t *testing.T) {
	p, change := twoLayers()
	res, _ := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
	if len(res.Rows.Blocks) != 2 || len(res.Rows.Changes) != 1 {
		t.Fatalf("%d blocks and %d changes, want 2 and 1", len(res.Rows.Blocks), len(res.Rows.Changes))
	}
	c := res.Rows.Changes[0]
	within(t, "change", c.T, change, 5)
	within(t, "from", math.Abs(math.Sin(c.From)), 0, 0.0175)
	within(t, "to", geom.Degrees(c.To), 90, 1)
	if res.Rows.Blocks[0].SecondLayer || !res.Rows.Blocks[1].SecondLayer {
		t.Error("the second block is the second layer, the first is not")
	}
}

// bounce drives straight to a wall, backs off, turns by chance and goes on.
func bounce(seed int64, until float64) *pen {
	p := newPen(2.5, 2, 0, seed)
	p.dt = 0.1
	p.pose.Heading = p.rng.Float64() * 2 * math.Pi
	p.ss[0].Heading = p.pose.Heading
	ahead := func(heading float64) float64 {
		s, c := math.Sincos(heading)
		d := math.Inf(1)
		for _, w := range []struct{ k, to float64 }{{c, 4.83 - p.pose.X}, {-c, p.pose.X - 0.17}, {s, 3.83 - p.pose.Y}, {-s, p.pose.Y - 0.17}} {
			if w.k > 1e-9 {
				d = math.Min(d, w.to/w.k)
			}
		}
		return d
	}
	for p.t < until {
		if d := ahead(p.pose.Heading); d > 0.02 {
			p.drive(d, 0.3, 0)
			p.drive(-math.Min(0.05, d/2), 0.15, 0)
		}
		// By chance, but not into the wall again: its bumper tells it where that is.
		turn := 0.0
		for try := 0; try < 20; try++ {
			turn = 60 + 120*p.rng.Float64()
			if p.rng.Float64() < 0.5 {
				turn = -turn
			}
			if ahead(p.pose.Heading+geom.Radians(turn)) > 0.3 {
				break
			}
		}
		p.turn(turn)
	}
	return p
}

// Random driving has no rows, whatever the seed.
func TestRandomHasNoRows(t *testing.T) {
	const first, n = 1000, 500
	t.Logf("seeds %d to %d", first, first+n-1)
	random, plan := 0, newPlan(t, 5, 4, nil)
	for seed := int64(first); seed < first+n; seed++ {
		tr := bounce(seed, 300).trace()
		res := rowsOnly(t, tr, plan)
		if len(res.Blocks) != 0 || res.RowsM != 0 {
			t.Errorf("seed %d: %d blocks of rows in random driving: %+v", seed, len(res.Blocks), res.Blocks)
		}
		if res.Pattern == PatternRandom {
			random++
		}
	}
	t.Logf("%d of %d recognised as random", random, n)
	if random < n*9/10 {
		t.Errorf("only %d of %d runs recognised as random", random, n)
	}
}

// Half an hour of random driving is neither stuck nor spinning, swerves nowhere
// and edge retries nothing, though it meets the walls again and again.
func TestRandomMakesNothingUp(t *testing.T) {
	const first, n = 700, 6
	t.Logf("seeds %d to %d", first, first+n-1)
	total, plan := 0.0, newPlan(t, 5, 4, nil)
	for seed := int64(first); seed < first+n; seed++ {
		res, cov := find(t, bounce(seed, 310).trace(), plan, wren)
		total += cov.Motion.DurationS
		for _, e := range res.Events {
			switch e.Kind {
			case Spin, Stuck, Swerve, EdgeRetry, Pause, Outside, Hidden, Carried:
				t.Errorf("seed %d: false %s: %s", seed, e.Kind, e)
			}
		}
	}
	t.Logf("%.1f minutes", total/60)
	if total < 30*60 {
		t.Errorf("only %.1f minutes driven", total/60)
	}
}

func TestErratic(t *testing.T) {
	rows := newPen(0.6, 0.6, 0, 23).rows(8, 3, 0.16, 0.3)
	for name, p := range map[string]*pen{"rows": rows, "random, seed 24": bounce(24, 120)} {
		res, cov := find(t, p.trace(), newPlan(t, 5, 4, nil), wren)
		turn, way := 0.0, 0.0
		for _, e := range res.Erratic {
			turn, way = turn+e.TurnDeg, way+e.DistanceM
			if e.DistanceM > 1 && math.Abs(e.TurnPerMetre-e.TurnDeg/e.DistanceM) > 1e-9 {
				t.Errorf("%+v", e)
			}
		}
		within(t, name+": turning", turn, p.turned, 0.03*p.turned)
		within(t, name+": way", way, cov.Motion.DistanceM, 0.01)
		t.Logf("%s: %.0f degrees a metre", name, turn/way)
	}
}
