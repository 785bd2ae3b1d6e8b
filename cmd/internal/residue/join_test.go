package residue

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/labtest"
	"swathe/cmd/internal/work"
	"swathe/track/residue"
)

// A robot with a brush of 0.20 m and a pad of 0.06 m drives along y = 0.5 m, back
// and forth and forth again over the right half of its way. How often each tool
// passes over a spot follows from the widths by hand.
func TestSoilByPassesOfEachTool(t *testing.T) {
	dir := t.TempDir()
	labtest.Put(t, dir, "lab.yaml", `layouts:
  pantry:
    room: [[0, 0], [3, 0], [3, 1.5], [0, 1.5]]
    patches:
      spill: {outline: [[0.5, 0.3], [2.5, 0.3], [2.5, 1.2], [0.5, 1.2]], kind: stain}
robots:
  wren:
    diameter: 0.3
    height: 0.1
    tools: {brush: {width: 0.2}, pad: {width: 0.06}}
settings: {cell: 0.01, draws: 20, budget_draws: 10}
`)
	var path strings.Builder
	path.WriteString("t_s,x_m,y_m,heading_deg\n")
	at := 0.0
	drive := func(from, to float64) {
		heading, n := 0, int(math.Round(math.Abs(to-from)/0.04))
		if to < from {
			heading = 180
		}
		for i := range n + 1 {
			fmt.Fprintf(&path, "%.2f,%.4f,0.5000,%d\n", at, from+(to-from)*float64(i)/float64(n), heading)
			at += 0.2
		}
		at += 2 // it turns where nothing lies
	}
	drive(0.3, 2.7)
	drive(2.7, 1.5)
	drive(1.5, 2.7)
	labtest.Put(t, dir, "recordings/pantry/wren_mapped_1.csv", path.String())

	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	items, err := work.List(l, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range work.All(context.Background(), l, items, work.Options{}, work.Watcher{}) {
		if o.Kind != work.Measured {
			t.Fatal(o.Reason)
		}
	}
	out := &Outcome{Layout: "pantry", Patches: map[string]*Patch{"spill": {Figures: &residue.Figures{Cells: []residue.Cell{
		{X: 0.905, Y: 0.505, Before: 4e-5, After: 1e-5}, // brush and pad, once
		{X: 0.905, Y: 0.565, Before: 5e-5, After: 2e-5}, // brush alone, once
		{X: 2.105, Y: 0.505, Before: 6e-5, After: 0},    // both, 3 times
		{X: 2.105, Y: 0.435, Before: 7e-5, After: 1e-6}, // brush alone, 3 times
		{X: 0.905, Y: 0.905, Before: 8e-5, After: 8e-5}, // neither
		{X: 2.105, Y: 0.905, Before: 0, After: 3e-6},    // neither, and clean before
	}}}}}
	if err := out.join(context.Background(), l, "pantry/wren_mapped_1", work.Eye{}); err != nil {
		t.Fatal(err)
	}
	type soil struct{ before, after float64 }
	for tool, want := range map[string]struct {
		by            map[string]soil
		passed, never soil
	}{
		"brush": {map[string]soil{"0": {8e-5, 8.3e-5}, "1": {9e-5, 3e-5}, "3": {1.3e-4, 1e-6}}, soil{2.2e-4, 3.1e-5}, soil{8e-5, 8.3e-5}},
		"pad":   {map[string]soil{"0": {2e-4, 1.04e-4}, "1": {4e-5, 1e-5}, "3": {6e-5, 0}}, soil{1e-4, 1e-5}, soil{2e-4, 1.04e-4}},
	} {
		got, ok := out.Patches["spill"].Passes[tool]
		if !ok {
			t.Errorf("%s is not there", tool)
			continue
		}
		same := func(what string, g Soil, w soil) {
			t.Helper()
			if math.Abs(g.BeforeM2-w.before) > 1e-12 || math.Abs(g.AfterM2-w.after) > 1e-12 {
				t.Errorf("%s, %s: %.7f and %.7f m2, want %.7f and %.7f", tool, what, g.BeforeM2, g.AfterM2, w.before, w.after)
			}
			if g.LeftShare == nil || math.Abs(*g.LeftShare-w.after/w.before) > 1e-9 {
				t.Errorf("%s, %s: share left %v, want %.4f", tool, what, g.LeftShare, w.after/w.before)
			}
		}
		same("passed", got.Passed, want.passed)
		same("never", got.Never, want.never)
		if len(got.ByPasses) != len(want.by) {
			t.Errorf("%s: numbers of passes %v, want %v", tool, got.ByPasses, want.by)
		}
		for n, w := range want.by {
			same(n+" passes", got.ByPasses[n], w)
		}
	}

	other := &Outcome{Layout: "attic", Patches: out.Patches}
	if err := other.join(context.Background(), l, "pantry/wren_mapped_1", work.Eye{}); err == nil || !strings.Contains(err.Error(), "is from layout pantry") {
		t.Errorf("a run of another layout: %v", err)
	}
}

// Without soil before there is no share left.
func TestShareOfNothing(t *testing.T) {
	if s := (Soil{AfterM2: 1e-4}).shared(); s.LeftShare != nil {
		t.Errorf("share left %v", *s.LeftShare)
	}
}
