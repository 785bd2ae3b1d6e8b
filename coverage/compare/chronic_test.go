package compare

import (
	"math"
	"math/bits"
	"math/rand"
	"strings"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// gridsOf makes runs on an n x n floor of 10 mm cells, of which hit says which
// run covers which cell.
func gridsOf(runs, n int, hit func(run, cell int) bool) []*coverage.Grid {
	var out []*coverage.Grid
	for r := 0; r < runs; r++ {
		g := &coverage.Grid{Cell: 0.01, Nx: n, Ny: n, Flags: make([]uint8, n*n), Passes: make([]uint16, n*n)}
		for k := range g.Flags {
			g.Flags[k] = coverage.FlagOpen | coverage.FlagReachable
			if hit(r, k) {
				g.Passes[k] = 1
			}
		}
		out = append(out, g)
	}
	return out
}

func floorPlan(t testing.TB, side float64) *geom.Plan {
	t.Helper()
	p, err := geom.NewPlan(geom.PlanSpec{Name: "floor", Room: []geom.Point2{{}, {X: side}, {X: side, Y: side}, {Y: side}}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The share after k runs against every choice of k, counted out.
func TestAfterBrute(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	const runs, n = 5, 20
	covered := [runs][n * n]bool{}
	for r := range covered {
		for k := range covered[r] {
			covered[r][k] = rng.Float64() < 0.3+0.1*float64(r)
		}
	}
	tg, err := Cumulate(gridsOf(runs, n, func(r, k int) bool { return covered[r][k] }), floorPlan(t, 0.2), 0.09)
	if err != nil {
		t.Fatal(err)
	}
	for k := 1; k <= runs; k++ {
		sum, choices := 0, 0
		for set := uint(1); set < 1<<runs; set++ {
			if bits.OnesCount(set) != k {
				continue
			}
			choices++
			for c := 0; c < n*n; c++ {
				for r := 0; r < runs; r++ {
					if set>>r&1 == 1 && covered[r][c] {
						sum++
						break
					}
				}
			}
		}
		near(t, "after", tg.After[k-1], float64(sum)/float64(choices*n*n), 1e-12)
	}
	product, total := 1.0, 0.0
	for _, q := range tg.MissRates {
		product *= q
	}
	for _, v := range tg.HitsChance {
		total += v
	}
	near(t, "chance of missing every time", tg.ChanceShare, product, 1e-15)
	near(t, "chances add up", total, 1, 1e-12)
}

// Runs that miss at random leave what chance says, and a corner that all of
// them leave out is found to be chronic.
func TestChronicFromChance(t *testing.T) {
	const seed, n, runs = 9, 200, 4
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	random := gridsOf(runs, n, func(int, int) bool { return rng.Float64() < 0.8 })
	tg, err := Cumulate(random, floorPlan(t, 2), 0.09)
	if err != nil {
		t.Fatal(err)
	}
	// 0.2^4 of 40000 cells are 64 +- 8.
	near(t, "missed every time at random", tg.NeverShare, 0.0016, 4*0.0002)
	near(t, "by chance", tg.ChanceShare, 0.0016, 1e-4)
	if tg.Telling || tg.ChronicShare > 0.0008 {
		t.Errorf("random misses are called chronic: %+v", tg.Words())
	}
	// A corner of 0.12 x 0.12 m that nobody comes to.
	corner := gridsOf(runs, n, func(_, k int) bool { return !(k%n < 12 && k/n < 12) && rng.Float64() < 0.95 })
	if tg, err = Cumulate(corner, floorPlan(t, 2), 0.09); err != nil {
		t.Fatal(err)
	}
	near(t, "chronic floor", tg.ChronicShare, 0.0144/4, 0.0005)
	if !tg.Telling || len(tg.Patches) != 1 || tg.Patches[0].Beside != coverage.PlaceCorner || math.Abs(tg.Patches[0].AreaM2-0.0144) > 0.002 {
		t.Errorf("%+v", tg.Patches)
	}
	t.Log(tg.Words())
}

func TestCumulateRefuses(t *testing.T) {
	gs := gridsOf(2, 10, func(int, int) bool { return true })
	if _, err := Cumulate(gs[:1], floorPlan(t, 0.1), 0.1); err == nil {
		t.Error("one run: no error")
	}
	gs[1].X0 = 1
	if _, err := Cumulate(gs, floorPlan(t, 0.1), 0.1); err == nil {
		t.Error("two rooms: no error")
	}
	gs = gridsOf(2, 10, func(int, int) bool { return true })
	for _, g := range gs {
		for k := range g.Flags {
			g.Flags[k] = coverage.FlagOpen
		}
	}
	if _, err := Cumulate(gs, floorPlan(t, 0.1), 0.1); err == nil {
		t.Error("unknown reach: no error")
	}
	all, err := Cumulate(gridsOf(2, 10, func(int, int) bool { return true }), floorPlan(t, 0.1), 0.1)
	if err != nil || all.NeverM2 != 0 || all.After[0] != 1 || len(all.Patches) != 0 {
		t.Errorf("all covered: %+v, %v", all, err)
	}
}

// A strip 5 mm thin along a wall that no run covers is survey, one of 10 mm is
// floor, and so is a patch; what was thin does not grow with more runs.
func TestThinFloorIsSurvey(t *testing.T) {
	const n = 100
	grids := gridsOf(3, n, func(_, k int) bool {
		i, j := k%n, k/n
		return !(i == 0 || j < 2 || i > 40 && i < 50 && j > 40 && j < 50)
	})
	for _, g := range grids {
		g.Cell = 0.005
	}
	got, err := Cumulate(grids, floorPlan(t, 0.5), 0.1)
	if err != nil {
		t.Fatal(err)
	}
	const a = 0.005 * 0.005
	if want := (2*n + 81) * a; math.Abs(got.NeverM2-want) > 1e-12 {
		t.Errorf("%g m2 never covered, want %g", got.NeverM2, want)
	}
	if want := (n - 2) * a; math.Abs(got.SurveyM2-want) > 1e-12 {
		t.Errorf("%g m2 are survey, want %g", got.SurveyM2, want)
	}
	sum := got.RestM2
	for _, p := range got.Patches {
		sum += p.AreaM2
	}
	if math.Abs(sum-got.NeverM2) > 1e-12 {
		t.Errorf("patches sum to %g m2, %g never covered", sum, got.NeverM2)
	}
	t.Log(got.Words())
}

// A share is written without an exponent, whatever it is.
func TestPercent(t *testing.T) {
	for v := 1e-18; v <= 1; v *= 1.07 {
		if got := percent(v); strings.Contains(got, "e") && !strings.HasPrefix(got, "less than") || len(got) > len("less than 0.01 %") {
			t.Fatalf("%g is written %q", v, got)
		}
	}
	for v, want := range map[float64]string{0: "less than 0.01 %", 3.5e-16: "less than 0.01 %", 0.0347: "3.5 %", 0.0999: "10 %", 0.9949: "99 %", 1: "100 %", 0.0996: "10 %"} {
		if got := percent(v); got != want {
			t.Errorf("%g is written %q, want %q", v, got, want)
		}
	}
}
