package courses

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/track/scene"
)

func box(x0, y0, x1, y1 float64) []geom.Point2 {
	return []geom.Point2{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func piece(t testing.TB, name string, pts []geom.Point2) geom.Piece {
	t.Helper()
	return geom.Piece{Name: name, Outline: geom.Ring(pts), Height: 0.4}
}

// In half an hour and more of ordinary runs nothing is told that did not happen.
func TestOrdinaryRuns(t *testing.T) {
	plans := []struct {
		room      []geom.Point2
		obstacles []geom.Piece
		dock      *geom.Pose
	}{
		{box(0, 0, 3.4, 2.6), nil, &geom.Pose{X: 0.2, Y: 1.3}},
		{box(0, 0, 4, 3), []geom.Piece{piece(t, "sofa", box(2.6, 2.2, 4, 3)), piece(t, "stool", box(1.2, 0.9, 1.55, 1.25))}, &geom.Pose{X: 0.2, Y: 1.6}},
		{box(0, 0, 4.4, 3.2), []geom.Piece{piece(t, "bed", box(1.4, 1.8, 3, 3.2))}, nil},
		{[]geom.Point2{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 1.6}, {X: 2.2, Y: 1.6}, {X: 2.2, Y: 3}, {X: 0, Y: 3}}, nil, nil},
	}
	robot := geom.Robot{Name: "pipit", Diameter: 0.34, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02}}}
	total := 0.0
	for i, pl := range plans {
		plan, err := geom.NewPlan(geom.PlanSpec{Name: "room", Room: pl.room, Obstacles: pl.obstacles, Dock: pl.dock})
		if err != nil {
			t.Fatal(err)
		}
		for k, run := range []func(*geom.Plan, geom.Robot, scene.RunOptions) scene.Drive{scene.MappingRun, scene.MappedRun} {
			seed := uint64(10*i + k + 1)
			o := scene.DefaultRunOptions(robot)
			o.Pilot.Seed = seed
			o.Limit = 500
			d := run(plan, robot, o)
			s := scene.DefaultScene(nil, plan, robot)
			s.Seed, s.Path, s.Length = seed, d.Path, d.Path.End()
			truth := scene.Truth{Times: s.Frames(), Events: d.Events, Lanes: d.Lanes}
			for _, at := range truth.Times {
				truth.Poses = append(truth.Poses, s.Path.At(at))
			}
			truth.Run = geom.Span{From: o.Rest, To: d.Path.End() - o.Stand}
			tr := drifting(noisy(truth.Trace(), int64(seed)), int64(seed))
			res, cov := find(t, tr, plan, robot)
			total += cov.Motion.DurationS
			name := fmt.Sprintf("room %d, run %d, seed %d", i, k, seed)
			// What the true path swept anew tells whether a revisit was one.
			exact := truth.Trace()
			_, swept := find(t, exact, plan, robot)
			spins, undocks := 0, 0
			if plan.Dock != nil {
				undocks = 1 // at its start
			}
			for _, e := range d.Events {
				if e.Kind == conduct.Spin {
					spins++
				}
			}
			for _, e := range res.Events {
				switch e.Kind {
				case conduct.Spin:
					spins--
				case conduct.Undock:
					undocks--
				case conduct.Revisit:
					if share := newWithin(exact, swept, e); share > 2*conduct.DefaultOptions().RevisitShare {
						t.Errorf("%s: false revisit, %.0f %% of what it swept was new: %s", name, 100*share, e)
					}
				case conduct.Stuck, conduct.Contact, conduct.Swerve, conduct.EdgeRetry, conduct.Outside, conduct.Pause, conduct.Hidden, conduct.Carried:
					t.Errorf("%s: false %s: %s", name, e.Kind, e)
				}
			}
			if spins != 0 {
				t.Errorf("%s: %d spins missed (negative: made up)", name, spins)
			}
			if undocks != 0 {
				t.Errorf("%s: %d times of leaving the dock missed (negative: made up)", name, undocks)
			}
			missed := 0
			for _, l := range truth.Lanes {
				if l.From.Dist(l.To) >= 0.6 && !hasLane(res, (l.Start+l.End)/2) {
					missed++
					t.Logf("lane %.1f-%.1f %v %v not found", l.Start, l.End, l.From, l.To)
				}
			}
			t.Logf("%s: %.0f s, %d of %d lanes not found, pattern %s, %d blocks, %d changes", name, cov.Motion.DurationS, missed, len(truth.Lanes), res.Rows.Pattern, len(res.Rows.Blocks), len(res.Rows.Changes))
			if 20*missed > len(truth.Lanes) {
				t.Errorf("%s: %d of %d lanes not found", name, missed, len(truth.Lanes))
			}
		}
	}
	t.Logf("%.1f minutes of ordinary runs", total/60)
	if total < 30*60 {
		t.Errorf("only %.1f minutes driven, want 30", total/60)
	}
}

// drifting adds an error of 3 mm that stays alike for seconds, as one of the
// camera's does.
func drifting(tr *geom.Trace, seed int64) *geom.Trace {
	const sigma, alike = 0.003, 3.0 // m, s
	rng := rand.New(rand.NewSource(seed))
	x, y, last := sigma*rng.NormFloat64(), sigma*rng.NormFloat64(), 0.0
	for i := range tr.Samples {
		s := &tr.Samples[i]
		keep := math.Exp(-(s.T - last) / alike)
		last = s.T
		q := sigma * math.Sqrt(1-keep*keep)
		x, y = keep*x+q*rng.NormFloat64(), keep*y+q*rng.NormFloat64()
		s.X, s.Y = s.X+x, s.Y+y
	}
	return tr
}

// hasLane tells whether a lane of rows was found that is driven at time t.
func hasLane(res *conduct.Result, t float64) bool {
	for _, f := range res.Rows.Lanes {
		if f.Block >= 0 && f.Start < t && f.End > t {
			return true
		}
	}
	return false
}

// newWithin is the share of new floor in what was swept during an event.
func newWithin(tr *geom.Trace, cov *coverage.Result, e conduct.Event) float64 {
	fresh, swept := 0.0, 0.0
	for i, s := range cov.Steps {
		if tr.Samples[i].T >= e.Start && tr.Samples[i+1].T <= e.End {
			fresh, swept = fresh+s.NewM2, swept+s.PassM2
		}
	}
	return fresh / swept
}
