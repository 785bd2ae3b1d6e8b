package work

import (
	"math"
	"testing"

	"swathe/geom"
)

// TestCrossings: a robot that comes over a patch, goes away, stands near it, comes
// again and turns back at once makes two crossings, seen when it is away for good.
func TestCrossings(t *testing.T) {
	patch := []geom.Point2{{X: 2, Y: -0.1}, {X: 2.3, Y: -0.1}, {X: 2.3, Y: 0.2}, {X: 2, Y: 0.2}}
	const radius, speed, step = 0.17, 0.3, 0.1
	tr := &geom.Trace{}
	x, now := 0.0, 0.0
	drive := func(to float64) {
		for math.Abs(to-x) > 1e-9 {
			x += math.Copysign(math.Min(speed*step, math.Abs(to-x)), to-x)
			now += step
			tr.Samples = append(tr.Samples, geom.Sample{T: now, X: x, Y: 0, State: geom.Seen})
		}
	}
	drive(3) // over it; behind it from x = 2.3 + 0.17 + 0.15 on, at 2.62 / 0.3 = 8.73 s
	drive(2.35)
	drive(3)
	drive(2.5) // near by, not over it
	drive(3)
	before, got := crossings(tr, patch, radius)
	if math.Abs(before-(2-radius-clearOf)/speed+showFor/2) > 0.11 {
		t.Errorf("before is %.2f s", before)
	}
	// 3 is reached at 10 s; it shows for 1.2 s first then, 8.73 + 1.2 s.
	// Samples, and the ends of a leg, lie on steps: each may add one.
	want := []crossing{{1, 2.62/speed + showFor/2}, {2, 10 + 2*0.65/speed - 0.38/speed + showFor/2}}
	if len(got) != len(want) {
		t.Fatalf("crossings %v, want %v", got, want)
	}
	for i := range want {
		if got[i].n != want[i].n || math.Abs(got[i].t-want[i].t) > 3*step {
			t.Errorf("crossing %v, want %v", got[i], want[i])
		}
	}
	if !hiddenAt(tr, patch, radius, 7) || hiddenAt(tr, patch, radius, 2) {
		t.Error("the patch is hidden at 7 s and shows at 2 s")
	}
	// What was not seen shows nothing.
	for i := range tr.Samples {
		tr.Samples[i].State = geom.Lost
	}
	if before, got := crossings(tr, patch, radius); !math.IsNaN(before) || len(got) > 0 {
		t.Errorf("of a lost robot: before %v, crossings %v", before, got)
	}
}
