package stats

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// JCGM 100:2008, H.2: resistance, reactance and impedance from simultaneous
// readings (data as published; results from memory and computed from the data:
// the GUM prints rounded ones).
func TestGUMH2(t *testing.T) {
	v := []float64{5.007, 4.994, 5.005, 4.990, 4.999}
	i := []float64{19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3}
	p := []float64{1.0456, 1.0438, 1.0468, 1.0428, 1.0433}
	var m, u [3]float64
	for k, s := range [][]float64{v, i, p} {
		mean, sd := MeanSD(s)
		m[k], u[k] = mean, sd/math.Sqrt(5)
	}
	near(t, "V", m[0], 4.9990, 1e-12)
	near(t, "I", m[1], 19.6610e-3, 1e-12)
	near(t, "phi", m[2], 1.04446, 1e-12)
	near(t, "u(V)", u[0], 0.0032094, 5e-8)
	near(t, "u(I)", u[1], 0.0094710e-3, 5e-11)
	near(t, "u(phi)", u[2], 0.00075206, 5e-9)
	vi, vp, ip := stat.Correlation(v, i, nil), stat.Correlation(v, p, nil), stat.Correlation(i, p, nil)
	near(t, "r(V,I)", vi, -0.3553, 1e-4)
	near(t, "r(V,phi)", vp, 0.8576, 1e-4)
	near(t, "r(I,phi)", ip, -0.6451, 1e-4)
	r := [][]float64{{1, vi, vp}, {vi, 1, ip}, {vp, ip, 1}}
	sin, cos := math.Sincos(m[2])
	z := m[0] / m[1]
	cr := []float64{cos / m[1], -z * cos / m[1], -z * sin}
	cx := []float64{sin / m[1], -z * sin / m[1], z * cos}
	cz := []float64{1 / m[1], -z / m[1], 0}
	near(t, "R", z*cos, 127.7322, 1e-4)
	near(t, "X", z*sin, 219.8465, 1e-4)
	near(t, "Z", z, 254.2597, 1e-4)
	uR, uX, uZ := CombinedU(cr, u[:], r), CombinedU(cx, u[:], r), CombinedU(cz, u[:], r)
	near(t, "u(R)", uR, 0.07107, 1e-4)
	near(t, "u(X)", uX, 0.29558, 1e-4)
	near(t, "u(Z)", uZ, 0.23634, 1e-4)
	// The covariance of two results by polarisation: u(a+b)^2 = ua^2 + ub^2 + 2 cov.
	cor := func(a, b []float64, ua, ub float64) float64 {
		s := []float64{a[0] + b[0], a[1] + b[1], a[2] + b[2]}
		us := CombinedU(s, u[:], r)
		return (us*us - ua*ua - ub*ub) / (2 * ua * ub)
	}
	near(t, "r(R,X)", cor(cr, cx, uR, uX), -0.58843, 1e-4)
	near(t, "r(R,Z)", cor(cr, cz, uR, uZ), -0.48526, 1e-4)
	near(t, "r(X,Z)", cor(cx, cz, uX, uZ), 0.99251, 1e-4)
}

// JCGM 100:2008, H.1: the gauge block (from memory, and computed).
func TestGUMH1(t *testing.T) {
	u := []float64{25, 9.7, 2.900, 16.675} // nm
	nu := []float64{18, 25.6, 50, 2}
	uc := CombinedU([]float64{1, 1, 1, 1}, u, nil)
	near(t, "u_c, nm", uc, 31.71, 0.01)
	df := EffectiveDF(u, nu)
	near(t, "effective degrees of freedom", df, 16.66, 0.02)
	tp := TQuantile(0.995, math.Floor(df))
	near(t, "t99(16)", tp, 2.921, 0.0005)
	near(t, "U99 of the rounded 32 nm", tp*32, 93, 0.5)
	// With the second-order terms of H.1.7 the GUM has 34 nm; they are
	// l a (theta) products, 11.7 and 1.7 nm.
	near(t, "with second-order terms", math.Hypot(uc, math.Hypot(11.7, 1.7)), 33.9, 0.1)
	if !math.IsInf(EffectiveDF([]float64{0}, []float64{5}), 1) {
		t.Error("no uncertainty has finite degrees of freedom")
	}
}

// JCGM 101:2008, 9.2: additive models by Monte Carlo (values from memory, and
// computed from the closed form), 10^6 draws, allowed 0.01.
func TestSupplement1Additive(t *testing.T) {
	const seed, m = 3, 1000000
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	rect := func(sd float64) float64 { return sd * math.Sqrt(3) * (2*rng.Float64() - 1) }
	draw := func(f func() float64) []float64 {
		v := make([]float64, m)
		for i := range v {
			v[i] = f()
		}
		return v
	}
	normal := draw(func() float64 { return rng.NormFloat64() + rng.NormFloat64() + rng.NormFloat64() + rng.NormFloat64() })
	flat := draw(func() float64 { return rect(1) + rect(1) + rect(1) + rect(1) })
	wide := draw(func() float64 { return rect(1) + rect(1) + rect(1) + rect(10) })
	for _, c := range []struct {
		name        string
		v           []float64
		u, half, tu float64
	}{
		{"9.2.2, normal inputs", normal, 2.00, 3.92, 0.01},
		{"9.2.3, rectangular inputs", flat, 2.00, 2 * math.Sqrt(3) * (2 - math.Pow(3./5, 0.25)), 0.01},
	} {
		_, sd := MeanSD(c.v)
		near(t, c.name+": u", sd, c.u, c.tu)
		for which, iv := range map[string]Interval{"symmetric": Symmetric(c.v, 0.95), "shortest": Shortest(c.v, 0.95)} {
			// The shortest of two intervals of equal content is the less well
			// settled: twice the tolerance.
			tol := 0.01
			if which == "shortest" {
				tol = 0.08
			}
			near(t, c.name+": "+which+" low", iv.Lo, -c.half, tol)
			near(t, c.name+": "+which+" high", iv.Hi, c.half, tol)
		}
	}
	near(t, "9.2.3: closed form", 2*math.Sqrt(3)*(2-math.Pow(3./5, 0.25)), 3.879407, 1e-6)
	// 9.2.4: one input ten times wider; published as 10.1, the root of 103.
	_, sd := MeanSD(wide)
	near(t, "9.2.4: u", sd, math.Sqrt(103), 0.05)
	near(t, "9.2.4: high", Symmetric(wide, 0.95).Hi, 17.0, 0.05)
}

func TestQuantile(t *testing.T) {
	inf := math.Inf(1)
	v := []float64{1, 2, 3, 4}
	for _, c := range []struct{ p, want float64 }{{0, 1}, {0.125, 1}, {0.25, 1.5}, {0.5, 2.5}, {0.875, 4}, {1, 4}} {
		if q := Quantile(v, c.p); q != c.want {
			t.Errorf("quantile %g: %g, want %g", c.p, q, c.want)
		}
	}
	if q := Quantile([]float64{1, 2, inf, inf}, 0.5); q != inf {
		t.Errorf("half never: %g", q)
	}
	if iv := Symmetric([]float64{5}, 0.95); iv.Known() {
		t.Errorf("one draw: %v", iv)
	}
}

// CombinedU, which the worked examples are recomputed with, returns the standard uncertainty of a result whose sensitivities to
// its inputs are c, the inputs' standard uncertainties u and their correlation
// coefficients r (JCGM 100:2008, equation 16); r nil: not correlated.
func CombinedU(c, u []float64, r [][]float64) float64 {
	sum := 0.0
	for i := range c {
		for j := range c {
			k := 0.0
			switch {
			case i == j:
				k = 1
			case r != nil:
				k = r[i][j]
			}
			sum += c[i] * c[j] * u[i] * u[j] * k
		}
	}
	return math.Sqrt(math.Max(0, sum))
}

// Shortest returns the shortest interval that holds the level's share of the
// draws (JCGM 101:2008, 7.7.4).
func Shortest(draws []float64, level float64) Interval {
	if len(draws) < 2 {
		return NoInterval
	}
	v := slices.Clone(draws)
	slices.Sort(v)
	q := int(level*float64(len(v)) + 0.5)
	q = min(max(q, 1), len(v)-1)
	best := Interval{v[0], v[q]}
	for i := range v[:len(v)-q] {
		if v[i+q]-v[i] < best.Hi-best.Lo {
			best = Interval{v[i], v[i+q]}
		}
	}
	return best
}
