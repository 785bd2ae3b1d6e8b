package geom

import (
	"errors"
	"math"
	"math/rand"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// NIST StRD nonlinear regression, Misra1a (data, certified values and standard
// deviations from memory): y = b1 (1 - exp(-b2 x)).
func TestLMMisra1a(t *testing.T) {
	y := []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78}
	x := []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0}
	p := LeastSquares{M: len(x), Residuals: func(dst, b []float64) {
		for i := range x {
			dst[i] = y[i] - b[0]*(1-math.Exp(-b[1]*x[i]))
		}
	}}
	p.Step = []float64{1e-3, 1e-9}
	analytic := p
	analytic.Jacobian = func(dst *mat.Dense, b []float64) {
		for i := range x {
			e := math.Exp(-b[1] * x[i])
			dst.Set(i, 0, -(1 - e))
			dst.Set(i, 1, -b[0]*x[i]*e)
		}
	}
	for name, q := range map[string]LeastSquares{"differences": p, "analytic": analytic} {
		for _, start := range [][]float64{{500, 0.0001}, {250, 0.0005}} {
			r, err := LevenbergMarquardt(q, start, DefaultLMOptions())
			if err != nil {
				t.Fatal(err)
			}
			near(t, name+" b1", r.X[0], 2.3894212918e2, 1e-8)
			near(t, name+" b2", r.X[1], 5.5015643181e-4, 1e-8)
			near(t, name+" sum of squares", 2*r.Cost, 1.2455138894e-1, 1e-9)
			cov, err := r.Covariance()
			if err != nil {
				t.Fatal(err)
			}
			s2 := 2 * r.Cost / float64(len(x)-2)
			near(t, name+" sd(b1)", math.Sqrt(s2*cov.At(0, 0)), 2.7070075241, 1e-5)
			near(t, name+" sd(b2)", math.Sqrt(s2*cov.At(1, 1)), 7.2668688436e-6, 1e-5)
			if !r.Converged {
				t.Error("not converged")
			}
		}
	}
}

func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s: got %.12g, want %.12g to %g of it", what, got, want, rel)
	}
}

// Geometric circle fit, example of Gander, Golub and Strebel, "Least-squares
// fitting of circles and ellipses", BIT 34 (1994) (points and result from
// memory, reproduced from the points).
func TestLMCircle(t *testing.T) {
	pts := []Point2{{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}}
	p := LeastSquares{M: len(pts), Residuals: func(dst, c []float64) {
		for i, q := range pts {
			dst[i] = math.Hypot(q.X-c[0], q.Y-c[1]) - c[2]
		}
	}}
	r, err := LevenbergMarquardt(p, []float64{5, 5, 3}, DefaultLMOptions())
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{4.739782, 2.983533, 4.714226} {
		if math.Abs(r.X[i]-want) > 1e-5 {
			t.Errorf("unknown %d: %.6f, want %.6f", i, r.X[i], want)
		}
	}
	if sse := 2 * r.Cost; math.Abs(sse-1.227599) > 1e-5 {
		t.Errorf("SSE %.6f, want 1.227599", sse)
	}
}

// Straight-line calibration of a thermometer, Guide to the Expression of
// Uncertainty in Measurement (JCGM 100:2008), H.3: intercept, slope, their
// uncertainties and correlation.
func TestLMLine(t *testing.T) {
	tt := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-.171, -.169, -.166, -.159, -.164, -.165, -.156, -.157, -.159, -.161, -.160}
	p := LeastSquares{M: len(b), Residuals: func(dst, y []float64) {
		for i := range b {
			dst[i] = b[i] - y[0] - y[1]*(tt[i]-20)
		}
	}}
	r, err := LevenbergMarquardt(p, []float64{0, 0}, DefaultLMOptions())
	if err != nil {
		t.Fatal(err)
	}
	cov, err := r.Covariance()
	if err != nil {
		t.Fatal(err)
	}
	s := math.Sqrt(2 * r.Cost / 9)
	near(t, "y1", r.X[0], -0.171204, 1e-5)
	near(t, "y2", r.X[1], 0.00218270, 1e-5)
	near(t, "u(y1)", s*math.Sqrt(cov.At(0, 0)), 0.0028776, 1e-4)
	near(t, "u(y2)", s*math.Sqrt(cov.At(1, 1)), 0.00066794, 1e-4)
	near(t, "r", cov.At(0, 1)/math.Sqrt(cov.At(0, 0)*cov.At(1, 1)), -0.930430, 1e-5)
}

// Huber's function keeps one wild value from pulling the answer; plain least
// squares does not.
func TestLMRobust(t *testing.T) {
	seed := int64(3)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	y := make([]float64, 40)
	for i := range y {
		y[i] = 5 + rng.NormFloat64()
	}
	y[7] = 1000
	p := LeastSquares{M: len(y), Residuals: func(dst, c []float64) {
		for i := range y {
			dst[i] = y[i] - c[0]
		}
	}}
	o := DefaultLMOptions()
	plain, _ := LevenbergMarquardt(p, []float64{0}, o)
	o.Huber = 2
	robust, _ := LevenbergMarquardt(p, []float64{0}, o)
	if math.Abs(plain.X[0]-5) < 10 || math.Abs(robust.X[0]-5) > 0.5 {
		t.Errorf("plain %.3f, robust %.3f, truth 5", plain.X[0], robust.X[0])
	}
	if w := robust.Weights[7]; w > 0.01 {
		t.Errorf("the wild value has weight %g", w)
	}
}

func TestLMRefuses(t *testing.T) {
	p := LeastSquares{M: 3, Residuals: func(dst, x []float64) {
		for i := range dst {
			dst[i] = x[0] + x[1] - float64(i)
		}
	}}
	r, err := LevenbergMarquardt(p, []float64{1, 2}, DefaultLMOptions())
	if err != nil {
		t.Fatal(err)
	}
	var ill *IllConditioned
	if _, err := r.Covariance(); !errors.As(err, &ill) || ill.Condition < maxCondition {
		t.Errorf("two unknowns that only show as their sum: %v", err)
	}
	p.Residuals = func(dst, x []float64) { dst[0], dst[1], dst[2] = math.NaN(), 0, 0 }
	if _, err := LevenbergMarquardt(p, []float64{1, 2}, DefaultLMOptions()); err == nil {
		t.Error("NaN residuals were taken")
	}
	for _, o := range []LMOptions{{}, {MaxIterations: 1}, {MaxIterations: 1, Tolerance: 1}, {MaxIterations: 1, Tolerance: 1, Huber: -1}} {
		if _, err := LevenbergMarquardt(p, []float64{1, 2}, o); err == nil {
			t.Errorf("options %+v were taken", o)
		}
	}
	if _, err := LevenbergMarquardt(LeastSquares{M: 1, Residuals: p.Residuals}, []float64{1, 2}, DefaultLMOptions()); err == nil {
		t.Error("one residual for two unknowns was taken")
	}
}
