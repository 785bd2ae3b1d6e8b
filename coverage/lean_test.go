package coverage

import (
	"math"
	"testing"

	"swathe/geom"
)

// On the same cells Repeat gives what Measure gives, for every tool, also when
// plan and robot change between two runs.
func TestRepeatIsMeasure(t *testing.T) {
	opt := DefaultOptions()
	opt.Cell = 0.01
	rep, err := NewRepeat(opt, true)
	if err != nil {
		t.Fatal(err)
	}
	robot := mapleRobot()
	robot.Tools = append(robot.Tools, geom.Tool{Name: "pad", Width: 0.2, Ahead: -0.08})
	robot.SideBrushes = []geom.SideBrush{{Ahead: 0.1, Left: -0.1, Reach: 0.06}}
	narrow := robot
	narrow.Tools = append([]geom.Tool(nil), robot.Tools...)
	narrow.Tools[0].Width = 0.1
	square := robot
	square.Diameter, square.Outline = 0, []geom.Point2{{X: 0.15, Y: -0.15}, {X: 0.15, Y: 0.15}, {X: -0.15, Y: 0.15}, {X: -0.15, Y: -0.15}}
	tr, _ := mapleTrace(t, "../testdata/maple/truth/cluttered/siskin_mapped_1")
	plan, empty := maplePlan(), planOf(rect(0, 0, 3.2, 2.4))
	for _, c := range []struct {
		plan  *geom.Plan
		robot *geom.Robot
	}{{plan, &robot}, {plan, &narrow}, {empty, &narrow}, {empty, &robot}, {plan, &square}, {plan, &robot}} {
		want := measure(t, tr, c.plan, *c.robot, opt)
		got, err := rep.Measure(tr, c.plan, c.robot)
		if err != nil {
			t.Fatal(err)
		}
		if got.Motion != want.Motion || got.Floor.OpenM2 != want.Floor.OpenM2 || got.Floor.ReachableM2 != want.Floor.ReachableM2 {
			t.Errorf("floor %+v, motion %+v; want %+v, %+v", got.Floor, got.Motion, want.Floor, want.Motion)
		}
		blocks := map[string]Block{want.Tool: want.Coverage}
		own := map[string]Block{want.Tool: got.Coverage}
		for n, b := range want.OtherTools {
			blocks[n], own[n] = b, got.OtherTools[n]
		}
		if len(blocks) != 3 {
			t.Fatalf("%d tools", len(blocks))
		}
		for name, w := range blocks {
			g := own[name]
			bin := want.Motion.DurationS / CurveBins
			if g.CoveredM2 != w.CoveredM2 || g.SweptM2 != w.SweptM2 || g.ReachableM2 != w.ReachableM2 || g.PassesM2 != w.PassesM2 ||
				g.Redundancy != w.Redundancy || g.RateM2PerMin != w.RateM2PerMin || math.Abs(g.PlateauS-w.PlateauS) > bin {
				t.Errorf("%s: got %+v, want %+v", name, g, w)
			}
			curve := got.Curves[name]
			if n := float64(curve.Open[CurveBins-1]) * 0.0001; math.Abs(n-w.CoveredM2) > 1e-9 {
				t.Errorf("%s: the curve ends at %g m2, covered %g", name, n, w.CoveredM2)
			}
			if n := float64(curve.Reach[CurveBins-1]) * 0.0001; math.Abs(n-w.ReachableShare*w.ReachableM2) > 1e-9 || g.ReachableShare != w.ReachableShare || math.Abs(g.SweptBeyondM2-w.SweptBeyondM2) > 1e-9 {
				t.Errorf("%s: the curve within reach ends at %g m2, share %g, beyond %g; want %g, %g", name, n, g.ReachableShare, g.SweptBeyondM2, w.ReachableShare, w.SweptBeyondM2)
			}
		}
	}
	one, err := NewRepeat(opt, false)
	if err != nil {
		t.Fatal(err)
	}
	if one.Grid() != nil || rep.Grid() != nil {
		t.Error("a grid before the first run, or of several tools")
	}
	if _, err := one.Measure(tr, plan, &robot); err != nil {
		t.Fatal(err)
	}
	got, want := one.Grid(), measure(t, tr, plan, robot, opt).Grid
	for k := range want.Flags {
		if got.Passes[k] != want.Passes[k] || got.Flags[k] != want.Flags[k]&(FlagOpen|FlagReachable) {
			t.Fatalf("cell %d: %d passes, flags %b; want %d, %b", k, got.Passes[k], got.Flags[k], want.Passes[k], want.Flags[k])
		}
	}
	if _, err := rep.Measure(&geom.Trace{}, plan, &robot); err == nil {
		t.Error("no samples: no error")
	}
	if _, err := rep.Measure(tr, plan, &geom.Robot{}); err == nil {
		t.Error("no tool: no error")
	}
	bad := opt
	bad.Cell = 0
	if _, err := NewRepeat(bad, true); err == nil {
		t.Error("no cell: no error")
	}
}
