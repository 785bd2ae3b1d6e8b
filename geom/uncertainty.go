package geom

import (
	"math"
	"math/rand"

	"gonum.org/v1/gonum/mat"
)

// markJac is d(pixel of mark i)/d(unknowns), by central differences.
func (s *solver) markJac(x []float64, i int) *mat.Dense {
	return s.pixelJac(x, s.spec.Marks[i].Floor)
}

func (s *solver) pixelJac(x []float64, f Point3) *mat.Dense {
	g := mat.NewDense(2, len(x), nil)
	y := append([]float64(nil), x...)
	for k, p := range s.free {
		h := s.stepOf(p)
		y[k] = x[k] + h
		c := s.camera(y)
		hi, _ := c.Project(f)
		y[k] = x[k] - h
		c = s.camera(y)
		lo, _ := c.Project(f)
		y[k] = x[k]
		g.Set(0, k, (hi.X-lo.X)/(2*h))
		g.Set(1, k, (hi.Y-lo.Y)/(2*h))
	}
	return g
}

// FloorSigma returns the standard uncertainty (m, one axis) of the floor
// position of a point at p.Z that shows exactly where p does, from the
// covariance of the camera alone; NaN where p does not show.
func (sol *Solution) FloorSigma(p Point3) float64 {
	_, j, ok := sol.Camera.ProjectJac(p)
	if !ok {
		return math.NaN()
	}
	g := sol.s.pixelJac(sol.x, p)
	inv := mat.NewDense(2, 2, nil)
	if inv.Inverse(mat.NewDense(2, 2, []float64{j[0][0], j[0][1], j[1][0], j[1][1]})) != nil {
		return math.NaN()
	}
	var f, a, v mat.Dense
	f.Mul(inv, g)
	a.Mul(&f, sol.Cov)
	v.Mul(&a, f.T())
	return math.Sqrt((v.At(0, 0) + v.At(1, 1)) / 2)
}

// Perturbed draws a camera from the covariance of the solution, for Monte
// Carlo propagation (JCGM 101).
func (sol *Solution) Perturbed(rng *rand.Rand) *Camera {
	n := len(sol.x)
	var eig mat.EigenSym
	x := append([]float64(nil), sol.x...)
	// Unknowns differ in scale by many powers of ten: factorise the
	// correlations, not the covariance.
	sd := make([]float64, n)
	cor := mat.NewSymDense(n, nil)
	for i := range sd {
		sd[i] = math.Sqrt(sol.Cov.At(i, i))
	}
	for i := 0; i < n; i++ {
		for k := i; k < n; k++ {
			cor.SetSym(i, k, sol.Cov.At(i, k)/(sd[i]*sd[k]))
		}
	}
	eig.Factorize(cor, true)
	var v mat.Dense
	eig.VectorsTo(&v)
	for k, l := range eig.Values(nil) {
		z := rng.NormFloat64() * math.Sqrt(math.Max(0, l))
		for i := range x {
			x[i] += sd[i] * v.At(i, k) * z
		}
	}
	c := sol.s.camera(x)
	return NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre)
}
