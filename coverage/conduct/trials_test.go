package conduct

import (
	"math"
	"testing"
)

func TestTrials(t *testing.T) {
	run := func(outcomes ...string) (out []ObjectResult) {
		for i, o := range outcomes {
			out = append(out, ObjectResult{Name: string(rune('a' + i)), Outcome: o})
		}
		return out
	}
	ts := Trials([][]ObjectResult{
		run(RunOver, Avoided, Untested), run(RunOver, Untested, Untested), run(Avoided, "", Untested), run(Untested, Avoided, Untested),
	}, 0.95)
	if len(ts) != 3 {
		t.Fatalf("%d test objects, want 3", len(ts))
	}
	a := ts[0]
	if a.Tested != 3 || a.Untested != 1 || a.Counts[RunOver] != 2 || a.Counts[Avoided] != 1 {
		t.Errorf("%+v", a)
	}
	// 2 of 3, computed from the closed form (Newcombe 1998, method 3); b: 2 of 2,
	// the mirror of the 0 of 2 that ends at 0.6576.
	iv := a.Shares[RunOver]
	if math.Abs(iv.Lo-0.2077) > 5e-5 || math.Abs(iv.Hi-0.9385) > 5e-5 {
		t.Errorf("interval %+v", iv)
	}
	b := ts[1]
	if b.Unknown != 1 || b.Tested != 2 || math.Abs(b.Shares[Avoided].Lo-(1-0.6576)) > 5e-5 || b.Shares[Avoided].Hi != 1 {
		t.Errorf("%+v", b)
	}
}
