package plan

import (
	"math"
	"math/rand"
	"testing"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Published table: J. Cohen, Statistical Power Analysis for the Behavioral
// Sciences, 2nd edition, 1988, table 2.4.1, two-sided 5 %: number in each of two
// groups at powers of 80 % and 90 %, as quoted in public course notes. Cohen
// prints the nearest whole number, so that the exact one lies within 0.5 of it,
// and within 1 where he rounded up.
func TestPowerAgainstPublishedTable(t *testing.T) {
	for _, c := range []struct{ d, n80, n90 float64 }{
		{0.1, 1571, 2102}, {0.2, 393, 526}, {0.3, 175, 234}, {0.4, 99, 132}, {0.5, 64, 85}, {0.6, 45, 59}, {0.7, 33, 44}, {0.8, 26, 34},
	} {
		for _, k := range [][2]float64{{0.8, c.n80}, {0.9, c.n90}} {
			if below, above := PowerOf(k[1]-1, c.d), PowerOf(k[1]+0.5, c.d); below > k[0] || above < k[0] {
				t.Errorf("d = %g: with %g in each group the power is %.5f; the table has %g there", c.d, k[1], PowerOf(k[1], c.d), k[0])
			}
		}
	}
	// Examples printed in the documentation of R's power.t.test and of the
	// package pwr. The first leaves out the far side of the test, less than 1e-6.
	if p := PowerOf(20, 1); math.Abs(p-0.8689528) > 1e-6 {
		t.Errorf("20 in each group, d = 1: %.7f, R has 0.8689528", p)
	}
	for _, c := range [][3]float64{{22.02110, 1, 0.9}, {63.76561, 0.5, 0.8}} {
		if p := PowerOf(c[0], c[1]); math.Abs(p-c[2]) > 1e-6 {
			t.Errorf("%g in each group, d = %g: %.7f, R has %g", c[0], c[1], p, c[2])
		}
	}
	if n := trialsFor(0.5, 0.8); n != 64 {
		t.Errorf("d = 0.5 needs %d for 80 %%, Cohen has 64", n)
	}
}

// Against drawn groups, a test for each.
func TestPowerAgainstDrawing(t *testing.T) {
	const seed, draws = 5, 20000
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for _, c := range []struct {
		n int
		d float64
	}{{2, 3}, {3, 2}, {3, 0}, {5, 1.5}, {8, 0.7}} {
		hits := 0
		crit := distuv.StudentsT{Sigma: 1, Nu: float64(2*c.n - 2)}.Quantile(0.975)
		a, b := make([]float64, c.n), make([]float64, c.n)
		for range draws {
			for i := range a {
				a[i], b[i] = rng.NormFloat64(), c.d+rng.NormFloat64()
			}
			ma, va := stat.MeanVariance(a, nil)
			mb, vb := stat.MeanVariance(b, nil)
			if math.Abs(mb-ma)/math.Sqrt((va+vb)/float64(c.n)) > crit {
				hits++
			}
		}
		want, got := float64(hits)/draws, PowerOf(float64(c.n), c.d)
		if bound := 4 * math.Sqrt(got*(1-got)/draws); math.Abs(got-want) > bound {
			t.Errorf("n = %d, d = %g: %.4f, drawn %.4f, bound %.4f", c.n, c.d, got, want, bound)
		}
	}
}

// Without a difference the test is wrong in 5 % of cases, whatever the number.
func TestPowerOfNothing(t *testing.T) {
	for _, n := range []float64{2, 3, 10, 1000} {
		if p := PowerOf(n, 0); math.Abs(p-0.05) > 1e-8 {
			t.Errorf("n = %g: %.10f, want 0.05", n, p)
		}
	}
	for _, bad := range [][2]float64{{0, 1}, {-1, 1}, {1, 0}, {math.NaN(), 1}, {1, math.Inf(1)}} {
		if _, err := NewPower(bad[0], bad[1]); err == nil {
			t.Errorf("scatter %g, difference %g passed", bad[0], bad[1])
		}
	}
}
