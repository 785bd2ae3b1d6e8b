package stats

import (
	"math"
	"math/rand"
	"testing"
)

// near fails unless |got - want| <= tol; it always says what came out.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	t.Logf("%s: got %.8g, want %.8g, off by %.1e, allowed %.1e", what, got, want, math.Abs(got-want), tol)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.8g, want %.8g within %.1e", what, got, want, tol)
	}
}

// NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of
// Student's t (three decimals); more digits computed from the closed form.
func TestStudentTable(t *testing.T) {
	for i, want := range []float64{12.706205, 4.302653, 3.182446, 2.776445, 2.570582} {
		near(t, "t(.975)", TQuantile(0.975, float64(i+1)), want, 1e-6)
	}
	if q := TQuantile(0.975, math.Inf(1)); math.Abs(q-1.959964) > 1e-6 {
		t.Errorf("t of endless degrees of freedom: %g", q)
	}
	for _, bad := range [][2]float64{{0, 3}, {1, 3}, {0.5, 0}, {0.5, -1}, {math.NaN(), 2}} {
		if q := TQuantile(bad[0], bad[1]); !math.IsNaN(q) {
			t.Errorf("TQuantile(%v) = %g, want NaN", bad, q)
		}
	}
}

// Factors for few values, computed from the closed form (Student, binomial
// coefficients).
func TestFewTrials(t *testing.T) {
	for _, c := range []struct {
		n        int
		half, pp float64
	}{
		{2, 8.98464, 2. / 6},
		{3, 2.48414, 2. / 20},
		{4, 1.59122, 2. / 70},
		{5, 1.24166, 2. / 252},
	} {
		near(t, "t/sqrt n", TQuantile(0.975, float64(c.n-1))/math.Sqrt(float64(c.n)), c.half, 1e-5)
		near(t, "smallest rank p", SmallestRankP(c.n, c.n), c.pp, 1e-12)
	}
	near(t, "five pairs", SmallestSignP(5), 2./32, 1e-15)
	// Computed from the closed form.
	v := []float64{92.1, 93.4, 91.8}
	m, s := MeanSD(v)
	near(t, "mean", m, 92.4333, 1e-4)
	near(t, "s", s, 0.85049, 1e-4)
	near(t, "half-width", (Mean(v, Part{}, 0.95).Interval.Hi-Mean(v, Part{}, 0.95).Interval.Lo)/2, 2.11273, 1e-4)
	if Mean(v[:2], Part{}, 0.95).Interval.Known() || Mean(nil, Part{}, 0.95).Interval.Known() {
		t.Error("two values were given an interval")
	}
}

// Smallest rank probability against full enumeration of the orders.
func TestRankPBrute(t *testing.T) {
	for n := 1; n <= 4; n++ {
		for m := 1; m <= 4; m++ {
			orders, extreme := 0, 0
			for set := 0; set < 1<<(n+m); set++ {
				ones, sum := 0, 0
				for i := 0; i < n+m; i++ {
					if set>>i&1 == 1 {
						ones++
						sum += i
					}
				}
				if ones != n {
					continue
				}
				orders++
				if sum == n*(n-1)/2 || sum == n*(n-1)/2+n*m {
					extreme++
				}
			}
			if got, want := SmallestRankP(n, m), math.Min(1, float64(extreme)/float64(orders)); math.Abs(got-want) > 1e-12 {
				t.Errorf("%d against %d: %g, counted %g", n, m, got, want)
			}
		}
	}
}

// NIST Statistical Reference Datasets, univariate: NumAcc1 and NumAcc4 (values
// from memory). A plain sum of squares fails both.
func TestNISTUnivariate(t *testing.T) {
	m, s := MeanSD([]float64{10000001, 10000003, 10000002})
	near(t, "NumAcc1 mean", m, 10000002, 0)
	near(t, "NumAcc1 sd", s, 1, 0)
	// NumAcc2: 1.2, then 1.1 and 1.3 in turn, 1001 values. NumAcc3 and NumAcc4
	// the same about 1,000,000 and 10,000,000.
	for _, c := range []struct {
		name string
		base float64
		tol  float64
	}{{"NumAcc2", 1, 1e-14}, {"NumAcc3", 1e6, 1e-9}, {"NumAcc4", 1e7, 1e-8}} {
		v := []float64{c.base + .2}
		for i := 0; i < 500; i++ {
			v = append(v, c.base+.1, c.base+.3)
		}
		m, s := MeanSD(v)
		near(t, c.name+" mean", m, c.base+.2, c.base*1e-15)
		near(t, c.name+" sd", s, .1, c.tol)
	}
}

// Newcombe, Statistics in Medicine 17, 1998, 857-872, table I, method 3 (table
// from memory, and computed from the closed form); small counts computed from
// the closed form.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		k, n   int
		lo, hi float64
	}{
		{81, 263, .2553, .3662}, {15, 148, .0624, .1605}, {0, 20, 0, .1611}, {1, 29, .0061, .1718}, {10, 14, .4535, .8828},
		{0, 2, 0, .6576}, {1, 2, .0945, .9055}, {0, 3, 0, .5615}, {3, 3, .4385, 1}, {0, 5, 0, .4345},
		{1, 5, .0362, .6245}, {2, 5, .1176, .7693}, {4, 5, .3755, .9638}, {5, 5, .5655, 1},
	} {
		w := Wilson(c.k, c.n, 0.95)
		near(t, "low", w.Lo, c.lo, 5e-5)
		near(t, "high", w.Hi, c.hi, 5e-5)
		// Law: k of n and n-k of n mirror each other, and the share lies inside.
		m := Wilson(c.n-c.k, c.n, 0.95)
		if math.Abs(m.Lo-(1-w.Hi)) > 1e-12 || !w.Contains(float64(c.k)/float64(c.n)) {
			t.Errorf("%d of %d: %v, mirrored %v", c.k, c.n, w, m)
		}
	}
	for _, c := range [][2]int{{0, 0}, {-1, 3}, {4, 3}} {
		if Wilson(c[0], c[1], 0.95).Known() {
			t.Errorf("%d of %d has an interval", c[0], c[1])
		}
	}
}

// Worked by hand from the closed form: equal groups of variance 1 and 4.
func TestWelch(t *testing.T) {
	a := []float64{1, 2, 3}        // mean 2, variance 1
	b := []float64{4, 6, 8}        // mean 6, variance 4
	d := Welch(a, b, Part{}, 0.95) // 1/3 + 4/3 = 5/3
	df := 25. / 9 / (17. / 18)     // (5/3)^2 / ((1/9)/2 + (16/9)/2)
	near(t, "difference", d.Value, 4, 1e-12)
	near(t, "ratio", d.Ratio, 3, 1e-12)
	near(t, "standard error", d.SE, math.Sqrt(5./3), 1e-12)
	near(t, "degrees of freedom", d.DF, df, 1e-12)
	near(t, "half-width", (d.Interval.Hi-d.Interval.Lo)/2, TQuantile(0.975, df)*math.Sqrt(5./3), 1e-12)
	near(t, "smallest rank p", d.RankP, 0.1, 1e-12)
	// The interval holds 0 exactly if p exceeds 5 %.
	if (d.P > 0.05) != d.Interval.Contains(0) {
		t.Errorf("p = %g, interval %v", d.P, d.Interval)
	}
	if e := Welch(b, a, Part{}, 0.95); math.Abs(e.Value+d.Value) > 1e-12 || math.Abs(e.P-d.P) > 1e-12 {
		t.Error("turned round it differs")
	}
	if two := Welch(a[:2], b, Part{}, 0.95); two.Interval.Known() || two.Value != 4.5 {
		t.Errorf("two against three: %+v", two)
	}
	if flat := Welch([]float64{1, 1, 1}, []float64{2, 2, 2}, Part{}, 0.95); flat.Interval.Known() || !math.IsNaN(flat.P) || flat.Value != 1 {
		t.Errorf("without scatter: %+v", flat)
	}
	p := Paired([]float64{10, 20, 30}, []float64{11, 22, 33}, Part{}, 0.95) // 1, 2, 3: mean 2, s 1
	near(t, "paired", p.Value, 2, 1e-12)
	near(t, "paired half-width", (p.Interval.Hi-p.Interval.Lo)/2, 2.48414, 1e-5)
	if p.Pairs != 3 || p.RankP != 0.25 {
		t.Errorf("paired: %+v", p)
	}
	if q := Paired([]float64{1, 2}, []float64{2, 4}, Part{}, 0.95); q.Interval.Known() || q.Value != 1.5 {
		t.Errorf("two pairs: %+v", q)
	}
}

// Of drawn groups with one true mean, 95 % of the intervals hold it.
func TestIntervalsHold(t *testing.T) {
	const seed, trials = 11, 4000
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	draw := func(n int, sd float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = 5 + sd*rng.NormFloat64()
		}
		return v
	}
	mean, welch, pair := 0, 0, 0
	for i := 0; i < trials; i++ {
		a, b := draw(3, 1), draw(5, 3)
		if Mean(a, Part{}, 0.95).Interval.Contains(5) {
			mean++
		}
		if Welch(a, b, Part{}, 0.95).Interval.Contains(0) {
			welch++
		}
		c := append([]float64(nil), a...)
		for k := range c {
			c[k] += rng.NormFloat64()
		}
		if Paired(a, c, Part{}, 0.95).Interval.Contains(0) {
			pair++
		}
	}
	// Four standard errors of a share of 0.95 in 4000 are 0.0138; Welch's
	// approximation itself is good to about 0.01 with so few.
	for what, n := range map[string]int{"mean": mean, "paired": pair} {
		near(t, what, float64(n)/trials, 0.95, 0.0138)
	}
	near(t, "Welch", float64(welch)/trials, 0.95, 0.025)
}
