package compare

import (
	"fmt"
	"math"
	"testing"

	"swathe/coverage/stats"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	t.Logf("%s: got %.8g, want %.8g, off by %.1e, allowed %.1e", what, got, want, math.Abs(got-want), tol)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.8g, want %.8g within %.1e", what, got, want, tol)
	}
}

// run makes a run with a reachable share and a time to 90 %.
func run(robot, phase string, trial int, share, t90 float64) Run {
	return Run{
		ID: fmt.Sprintf("cluttered/%s_%s_%d", robot, phase, trial), Layout: "cluttered", Robot: robot, Phase: phase, Trial: trial,
		Tool: "brush", ToolWidth: 0.18, Definition: "1", Setup: "a", Room: Layout{"room": {{CornerM: [][2]float64{{0, 0}, {4, 0}, {4, 3}, {0, 3}}}}}, OpenM2: 12, CommonM2: 12, Started: "at rest", Ended: "docked",
		Values:   map[string]float64{"reachable_share": share, "covered_share": 0.9 * share, "time_to_reachable_s.90": t90, "duration_s": 600 + 10*float64(trial)},
		U:        map[string]float64{"reachable_share": 0.003},
		Interval: map[string]stats.Interval{"reachable_share": {Lo: share - 0.006, Hi: share + 0.006}},
	}
}

func six() []Run {
	return []Run{
		run("heron", "mapping", 1, .921, 500), run("heron", "mapping", 2, .934, 510), run("heron", "mapping", 3, .918, 490),
		run("heron", "mapped", 1, .951, 400), run("heron", "mapped", 2, .966, 410), run("heron", "mapped", 3, .949, 395),
	}
}

func mustNew(t *testing.T, runs []Run, o Options) *Comparison {
	t.Helper()
	c, err := New(runs, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// withChest returns the layout with a chest more.
func withChest(l Layout) Layout {
	return Layout{"room": l["room"], "obstacles": {{Name: "a chest", HeightM: 0.4, CornerM: [][2]float64{{1, 1}, {1.5, 1}, {1.5, 1.5}, {1, 1.5}}}}}
}
