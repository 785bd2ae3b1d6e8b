package doubt

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"

	"swathe/coverage/stats"
)

// Two runs of one robot in one room have brush, survey and camera drawn alike,
// so that these fall out of their difference; another specimen has a brush of
// its own.
func TestCommonCauses(t *testing.T) {
	o := quick()
	o.Draws, o.BudgetDraws = 20, 60
	cam := testCamera(t)
	a := testInput(t, rows(10, 0.15, 220), cam)
	b := testInput(t, rows(10, 0.15, 200), cam)
	other := b
	other.Sample = "B"
	ra, rb, ro := measure(t, a, o), measure(t, b, o), measure(t, other, o)
	if len(ra.Common) != 4 {
		t.Fatalf("%d common causes, want tool, robot, outlines and camera", len(ra.Common))
	}
	for i, c := range ra.Common {
		const figure = "reachable_share"
		x, y, z := c.Change[figure], rb.Common[i].Change[figure], ro.Common[i].Change[figure]
		if c.Key != rb.Common[i].Key || len(x) != 60 || len(y) != 60 {
			t.Fatalf("%s: keys %s and %s, %d draws", c.Input, c.Key, rb.Common[i].Key, len(x))
		}
		left := make([]float64, len(x))
		for k := range x {
			left[k] = y[k] - x[k]
		}
		_, own := stats.MeanSD(x)
		_, rest := stats.MeanSD(left)
		same, apart := stat.Correlation(x, y, nil), stat.Correlation(x, z, nil)
		t.Logf("%s: u of the reachable share %.5f, of the difference of two runs %.5f; correlation %.3f, with another specimen %.3f", c.Input, own, rest, same, apart)
		// The runs differ in 20 s of driving, so little is left of what they share.
		if !(rest < 0.7*own) || same < 0.7 {
			t.Errorf("%s: it does not fall out of the difference", c.Input)
		}
		// Of 60 independent pairs the correlation is 0 +- 0.13.
		if (c.Input == InputTool || c.Input == InputRobot) == (math.Abs(apart) > 0.5) {
			t.Errorf("%s: correlation %.3f with another specimen", c.Input, apart)
		}
	}
}
