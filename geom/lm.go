package geom

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// LeastSquares is a problem for LevenbergMarquardt: find x that makes the sum
// of the squares of M residuals least.
type LeastSquares struct {
	// Residuals writes the M residuals at x to dst, each divided by its
	// standard uncertainty if they differ.
	Residuals func(dst, x []float64)
	M         int
	// Jacobian writes d(residual i)/d(x k) to dst (M x len(x)); nil: central
	// differences.
	Jacobian func(dst *mat.Dense, x []float64)
	// Step is the half-width of a central difference for each x; nil: 1e-6 of
	// max(1, |x|).
	Step []float64
}

// LMOptions steer LevenbergMarquardt.
type LMOptions struct {
	MaxIterations int
	Tolerance     float64 // stop once a step changes x, relative to its scale, or the cost by less
	Huber         float64 // residuals beyond it count linearly; +Inf: plain least squares
}

// DefaultLMOptions returns plain least squares to the limit of the arithmetic.
func DefaultLMOptions() LMOptions {
	return LMOptions{MaxIterations: 200, Tolerance: 1e-12, Huber: math.Inf(1)}
}

// Validate tells what is wrong with the options.
func (o LMOptions) Validate() error {
	switch {
	case o.MaxIterations < 1:
		return fmt.Errorf("least squares: MaxIterations is %d; it should be 1 or more", o.MaxIterations)
	case !(o.Tolerance > 0):
		return fmt.Errorf("least squares: Tolerance is %g; it should be above 0", o.Tolerance)
	case !(o.Huber > 0):
		return fmt.Errorf("least squares: Huber is %g; it should be above 0 (infinity: plain least squares)", o.Huber)
	}
	return nil
}

// LMResult is what LevenbergMarquardt found.
type LMResult struct {
	X          []float64
	Residuals  []float64  // at X, M of them, not robust-weighted
	Weights    []float64  // robust weight of each residual, 1 where plain
	Cost       float64    // half the sum of squares (of the Huber function)
	Jacobian   *mat.Dense // at X, M x len(X)
	Iterations int
	Converged  bool // false: MaxIterations came first
}

// IllConditioned tells that a least-squares answer has directions that the
// data do not settle.
type IllConditioned struct{ Condition float64 }

func (e *IllConditioned) Error() string {
	return fmt.Sprintf("least squares: the data do not determine all unknowns (condition number %.2g)", e.Condition)
}

// errNotFinite: a start at which the residuals are no numbers.
var errNotFinite = errors.New("least squares: the residuals at the start are not finite")

// LevenbergMarquardt minimises p from x0 by Levenberg's damping scaled with the
// columns' norms (Marquardt 1963, More 1978), each step from a QR
// factorisation of the damped Jacobian, so that the condition number is not
// squared. x0 is not changed. It errs if the residuals at x0 are not finite or
// the options or sizes are wrong.
func LevenbergMarquardt(p LeastSquares, x0 []float64, opts LMOptions) (*LMResult, error) {
	if err := opts.Validate(); err != nil {
		return nil, err
	}
	n, m := len(x0), p.M
	if n == 0 || m < n || p.Residuals == nil {
		return nil, fmt.Errorf("least squares: %d residuals for %d unknowns", m, n)
	}
	x := append([]float64(nil), x0...)
	r := make([]float64, m)
	p.Residuals(r, x)
	cost := huberCost(r, opts.Huber)
	if math.IsNaN(cost) || math.IsInf(cost, 0) {
		return nil, errNotFinite
	}
	res := &LMResult{Jacobian: mat.NewDense(m, n, nil), Weights: make([]float64, m)}
	var (
		scale  = make([]float64, n)
		trial  = make([]float64, n)
		rt     = make([]float64, m)
		big    = mat.NewDense(m+n, n, nil)
		rhs    = mat.NewVecDense(m+n, nil)
		step   = mat.NewVecDense(n, nil)
		qr     mat.QR
		lambda = 1e-3
	)
	p.jacobian(res.Jacobian, x)
outer:
	for res.Iterations = 0; res.Iterations < opts.MaxIterations; res.Iterations++ {
		for i, v := range r {
			w := math.Sqrt(huberWeight(v, opts.Huber))
			rhs.SetVec(i, -w*v)
			for k := 0; k < n; k++ {
				big.Set(i, k, w*res.Jacobian.At(i, k))
			}
		}
		for k := 0; k < n; k++ {
			s := 0.0
			for i := 0; i < m; i++ {
				s += big.At(i, k) * big.At(i, k)
			}
			scale[k] = math.Max(scale[k], math.Sqrt(s)) // More: never smaller than before
			if scale[k] == 0 {
				scale[k] = 1
			}
		}
		for try := 0; try < 60; try++ {
			for k := 0; k < n; k++ {
				for l := 0; l < n; l++ {
					big.Set(m+k, l, 0)
				}
				big.Set(m+k, k, math.Sqrt(lambda)*scale[k])
			}
			qr.Factorize(big)
			if err := qr.SolveVecTo(step, false, rhs); err != nil {
				var c mat.Condition
				if !errors.As(err, &c) || math.IsInf(float64(c), 0) {
					lambda = math.Max(lambda*10, 1e-12)
					continue
				}
			}
			size, length := 0.0, 0.0
			for k := range trial {
				d := step.AtVec(k)
				trial[k] = x[k] + d
				size += d * scale[k] * d * scale[k]
				length += x[k] * scale[k] * x[k] * scale[k]
			}
			p.Residuals(rt, trial)
			c := huberCost(rt, opts.Huber)
			small := size <= opts.Tolerance*opts.Tolerance*(length+opts.Tolerance)
			if c < cost {
				gain := cost - c
				copy(x, trial)
				copy(r, rt)
				cost = c
				lambda = math.Max(lambda/10, 1e-15)
				p.jacobian(res.Jacobian, x)
				if small || gain <= opts.Tolerance*opts.Tolerance*cost {
					res.Converged = true
					break outer
				}
				continue outer
			}
			if small {
				res.Converged = true
				break outer
			}
			lambda = math.Max(lambda*7, 1e-12)
		}
		// No damping lowers the cost any more: the limit of the arithmetic.
		res.Converged = true
		break
	}
	for i, v := range r {
		res.Weights[i] = huberWeight(v, opts.Huber)
	}
	res.X, res.Residuals, res.Cost = x, r, cost
	return res, nil
}

func (p LeastSquares) jacobian(dst *mat.Dense, x []float64) {
	if p.Jacobian != nil {
		p.Jacobian(dst, x)
		return
	}
	y := append([]float64(nil), x...)
	lo, hi := make([]float64, p.M), make([]float64, p.M)
	for k := range x {
		h := 1e-6 * math.Max(1, math.Abs(x[k]))
		if p.Step != nil {
			h = p.Step[k]
		}
		y[k] = x[k] + h
		p.Residuals(hi, y)
		y[k] = x[k] - h
		p.Residuals(lo, y)
		y[k] = x[k]
		for i := range lo {
			dst.Set(i, k, (hi[i]-lo[i])/(2*h))
		}
	}
}

// huberCost is half the sum of the Huber function, twice differentiable at 0
// and linear beyond k (Huber 1964).
func huberCost(r []float64, k float64) float64 {
	sum := 0.0
	for _, v := range r {
		if a := math.Abs(v); a > k {
			sum += k*a - k*k/2
		} else {
			sum += v * v / 2
		}
	}
	return sum
}

func huberWeight(v, k float64) float64 {
	if a := math.Abs(v); a > k {
		return k / a
	}
	return 1
}

// maxCondition of a column-scaled Jacobian beyond which a covariance has no
// digits left: its square is the inverse of the machine epsilon.
const maxCondition = 6e7

// Covariance returns the inverse of J'WJ at the answer: the covariance of X if
// each residual has unit variance. The error is *IllConditioned when the data
// leave a direction open.
func (r *LMResult) Covariance() (*mat.SymDense, error) {
	m, n := r.Jacobian.Dims()
	j := mat.NewDense(m, n, nil)
	scale := make([]float64, n)
	for k := 0; k < n; k++ {
		for i := 0; i < m; i++ {
			v := r.Jacobian.At(i, k) * math.Sqrt(r.Weights[i])
			j.Set(i, k, v)
			scale[k] += v * v
		}
		if scale[k] = math.Sqrt(scale[k]); scale[k] == 0 {
			return nil, &IllConditioned{math.Inf(1)}
		}
		for i := 0; i < m; i++ {
			j.Set(i, k, j.At(i, k)/scale[k])
		}
	}
	var svd mat.SVD
	if !svd.Factorize(j, mat.SVDThin) {
		return nil, &IllConditioned{math.Inf(1)}
	}
	s := svd.Values(nil)
	if c := s[0] / s[n-1]; !(c < maxCondition) {
		return nil, &IllConditioned{c}
	}
	var v mat.Dense
	svd.VTo(&v)
	cov := mat.NewSymDense(n, nil)
	for a := 0; a < n; a++ {
		for b := a; b < n; b++ {
			sum := 0.0
			for k := 0; k < n; k++ {
				sum += v.At(a, k) * v.At(b, k) / (s[k] * s[k])
			}
			cov.SetSym(a, b, sum/(scale[a]*scale[b]))
		}
	}
	return cov, nil
}
