package courses

import (
	"math"
	"math/rand"
	"testing"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
)

// noisy adds 1 mm and 1 degree to a true path, which a measurement is allowed.
func noisy(tr *geom.Trace, seed int64) *geom.Trace {
	rng := rand.New(rand.NewSource(seed))
	for i := range tr.Samples {
		s := &tr.Samples[i]
		s.X += 0.001 * rng.NormFloat64()
		s.Y += 0.001 * rng.NormFloat64()
		s.Heading += geom.Radians(1) * rng.NormFloat64()
	}
	return tr
}

func find(t testing.TB, tr *geom.Trace, plan *geom.Plan, robot geom.Robot) (*conduct.Result, *coverage.Result) {
	t.Helper()
	opt := coverage.DefaultOptions()
	opt.Cell, opt.WidthStep = 0.01, 0
	cov, err := coverage.Measure(tr, plan, robot, opt)
	if err != nil {
		t.Fatal(err)
	}
	res, err := conduct.Find(tr, plan, robot, cov, conduct.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return res, cov
}

// What an event must keep to: its start, its place, the turn of a spin in each
// turn of it.
const (
	startOff = 1.0  // s
	placeOff = 0.05 // m
	turnOff  = 5.0  // degrees a turn
)

// drawnTurn is by how much the path turns in one sense about time t, degrees: a
// turn that a spin runs into belongs to it.
func drawnTurn(truth *scene.Truth, t float64) float64 {
	k := 0
	for truth.Times[k] < t {
		k++
	}
	way := truth.Poses[k+1].Heading - truth.Poses[k].Heading
	a, b := k, k+1
	// Between two turns in the same sense the rate passes through nought.
	for a > 0 && (truth.Poses[a].Heading-truth.Poses[a-1].Heading)*way >= 0 && truth.Poses[a].Heading != truth.Poses[max(0, a-3)].Heading {
		a--
	}
	for b+3 < len(truth.Poses) && (truth.Poses[b+1].Heading-truth.Poses[b].Heading)*way >= 0 && truth.Poses[b+3].Heading != truth.Poses[b].Heading {
		b++
	}
	return geom.Degrees(truth.Poses[b].Heading - truth.Poses[a].Heading)
}

func TestCourses(t *testing.T) {
	seed := int64(5)
	t.Logf("seed %d", seed)
	for _, c := range scenetest.Courses() {
		t.Run(c.Name, func(t *testing.T) {
			truth := c.Truth()
			if !truth.Moved {
				t.Fatal("the robot never moves")
			}
			res, cov := find(t, noisy(truth.Trace(), seed), c.Scene.Plan, c.Scene.Robot)
			for _, e := range res.Events {
				t.Logf("found %-8s %6.2f..%6.2f (%.2f, %.2f) %s", e.Kind, e.Start, e.End, e.X, e.Y, e)
			}
			matched := make([]bool, len(res.Events))
			for _, w := range truth.Events {
				if w.Kind == conduct.EdgeRetry && newShare(res, cov, w) > conduct.DefaultOptions().RevisitShare {
					// An edge retry is of floor that is clean; what was drawn cleans it.
					t.Logf("the drawn edge retry sweeps %.0f %% of new floor, so it is none", 100*newShare(res, cov, w))
					continue
				}
				match(t, truth, res, matched, w)
			}
			for i, e := range res.Events {
				switch e.Kind {
				case conduct.Spin, conduct.Pause, conduct.Stuck, conduct.Contact, conduct.Swerve, conduct.EdgeRetry, conduct.Outside, conduct.Carried, conduct.Hidden, conduct.Dock:
					if !matched[i] && c.TestObjects == nil {
						t.Errorf("nothing like it was drawn: %s", e)
					}
				}
			}
			for _, l := range truth.Lanes {
				if !hasLane(res, (l.Start+l.End)/2) {
					t.Errorf("the lane from %.1f to %.1f s was not found", l.Start, l.End)
				}
			}
			sum := 0.0
			for _, e := range res.Ledger.Entries {
				sum += e.TimeS
				if e.TimeS > 0 {
					t.Logf("%-26s %7.2f s %6.2f m", e.Name, e.TimeS, e.DistanceM)
				}
			}
			if math.Abs(sum-cov.Motion.DurationS) > 1e-6 {
				t.Errorf("the ledger sums to %.6f s, the run lasts %.6f s", sum, cov.Motion.DurationS)
			}
			switch c.Name {
			case "bounce":
				if res.Rows.Pattern != conduct.PatternRandom || len(res.Rows.Blocks) != 0 {
					t.Errorf("random driving told as %q with %d blocks of rows", res.Rows.Pattern, len(res.Rows.Blocks))
				}
			case "rows_twice":
				checkRows(t, res, truth)
			}
		})
	}
}

// newShare is the share of new floor in what was swept from the end of the
// first to the start of the last visit that was drawn.
func newShare(res *conduct.Result, cov *coverage.Result, w scene.Event) float64 {
	fresh := 0.0
	for i := 1; i < len(cov.Curve); i++ {
		a, b := cov.Curve[i-1], cov.Curve[i]
		if a.T >= w.Start+10 && b.T <= w.End {
			fresh += b.NewM2PerMin / 60 * (b.T - a.T)
		}
	}
	swept := 0.0
	for i := 1; i < len(cov.Curve); i++ {
		if a, b := cov.Curve[i-1], cov.Curve[i]; a.T >= w.Start+10 && b.T <= w.End {
			swept += b.SweptM2 - a.SweptM2
		}
	}
	return fresh / swept
}

// match looks for the drawn event w among those found.
func match(t *testing.T, truth *scene.Truth, res *conduct.Result, matched []bool, w scene.Event) {
	t.Helper()
	for i, e := range res.Events {
		if e.Kind != w.Kind || matched[i] || math.Abs(e.Start-w.Start) > startOff {
			continue
		}
		matched[i] = true
		// Drawn events note where they end; most are where they begin.
		x, y := w.X, w.Y
		switch w.Kind {
		case conduct.Contact, conduct.Swerve, conduct.Undock, conduct.Outside:
			k := 0
			for truth.Times[k] < e.Start {
				k++
			}
			x, y = truth.Poses[k].X, truth.Poses[k].Y
		}
		off := math.Hypot(e.X-x, e.Y-y)
		t.Logf("%s: start off by %.2f s (allowed %g), place by %.0f mm (allowed %.0f)", w.Kind, e.Start-w.Start, startOff, off*1000, placeOff*1000)
		if off > placeOff && w.Kind != conduct.Revisit {
			t.Errorf("%s: place off by %.0f mm", w.Kind, off*1000)
		}
		if w.Kind == conduct.Spin {
			want := drawnTurn(truth, w.Start+1)
			got := e.Figures["turn_deg"]
			t.Logf("spin: %.1f degrees, drawn %.1f", got, want)
			if math.Abs(got-want) > turnOff*math.Abs(want)/360 {
				t.Errorf("spin of %.1f degrees, drawn %.1f", got, want)
			}
		}
		return
	}
	t.Errorf("the %s drawn from %.2f to %.2f s was not found", w.Kind, w.Start, w.End)
}

// checkRows holds rows along the room and then across it against the lanes drawn.
func checkRows(t *testing.T, res *conduct.Result, truth *scene.Truth) {
	t.Helper()
	if len(res.Rows.Blocks) != 2 || len(res.Rows.Changes) != 1 {
		t.Fatalf("%d blocks of rows and %d changes, want 2 and 1", len(res.Rows.Blocks), len(res.Rows.Changes))
	}
	change := math.NaN()
	for _, l := range truth.Lanes {
		if math.Abs(l.From.X-l.To.X) < 0.01 {
			change = l.Start
			break
		}
	}
	got := res.Rows.Changes[0].T
	t.Logf("change at %.1f s, drawn at %.1f (allowed 5 s)", got, change)
	if math.Abs(got-change) > 5 {
		t.Errorf("change at %.1f s, drawn at %.1f", got, change)
	}
	for i, deg := range []float64{0, 90} {
		b := res.Rows.Blocks[i]
		var v []float64
		for _, l := range truth.Lanes {
			if across := math.Abs(l.From.X-l.To.X) < 0.01; across == (i == 1) {
				v = append(v, l.From.Y)
				if across {
					v[len(v)-1] = l.From.X
				}
			}
		}
		spacing := math.Abs(v[1] - v[0])
		t.Logf("rows at %.2f degrees (drawn %g, allowed 1), %.1f mm apart (drawn %.1f, allowed 5)", geom.Degrees(b.Direction), deg, b.SpacingM*1000, spacing*1000)
		if math.Abs(geom.Degrees(b.Direction)-deg) > 1 || math.Abs(b.SpacingM-spacing) > 0.005 {
			t.Errorf("rows at %.2f degrees, %.1f mm apart", geom.Degrees(b.Direction), b.SpacingM*1000)
		}
		if b.SecondLayer != (i == 1) {
			t.Errorf("block %d: second layer is %v", i, b.SecondLayer)
		}
	}
}
