package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// The smoother against the slow obvious version: all states of all moments as
// unknowns of one linear least-squares problem, solved densely.
func TestSmootherAgainstDenseSolution(t *testing.T) {
	for seed := uint64(1); seed <= 20; seed++ {
		rng := rand.New(rand.NewPCG(seed, 7))
		q := 0.05 + rng.Float64()
		n := 4 + rng.IntN(8)
		z := make([]fix, n)
		now := 0.0
		for i := range z {
			now += 0.02 + 0.3*rng.Float64()
			a, b := 1e-3*(1+rng.Float64()), 1e-3*(1+rng.Float64())
			c := (rng.Float64() - 0.5) * a * b
			z[i] = fix{t: now, x: rng.NormFloat64(), y: rng.NormFloat64(), r: [3]float64{a * a, c, b * b}, ok: i == 0 || rng.Float64() < 0.7}
		}
		got := smoothFixes(z, q)
		x, p := dense(z, q)
		for i := range z {
			for k := 0; k < 4; k++ {
				if d := math.Abs(got[i].X[k] - x.AtVec(4*i+k)); d > 1e-6 {
					t.Fatalf("seed %d: state %d of moment %d is off by %g", seed, k, i, d)
				}
				want := p.At(4*i+k, 4*i+k)
				if d := math.Abs(got[i].P.At(k, k) - want); d > 1e-6*(want+1e-6) {
					t.Fatalf("seed %d: variance of state %d of moment %d is %g, want %g", seed, k, i, got[i].P.At(k, k), want)
				}
			}
		}
	}
}

// dense solves for all states at once: prior, steps and fixes as one normal
// equation.
func dense(z []fix, q float64) (*mat.VecDense, *mat.Dense) {
	n := 4 * len(z)
	info, rhs := mat.NewDense(n, n, nil), mat.NewVecDense(n, nil)
	prior := diffuse(z)
	for k := 0; k < 4; k++ {
		w := 1 / prior.P.At(k, k)
		info.Set(k, k, info.At(k, k)+w)
		rhs.SetVec(k, rhs.AtVec(k)+w*prior.X[k])
	}
	for i, f := range z {
		if f.ok {
			det := f.r[0]*f.r[2] - f.r[1]*f.r[1]
			a, b, c := f.r[2]/det, -f.r[1]/det, f.r[0]/det
			j := 4 * i
			info.Set(j, j, info.At(j, j)+a)
			info.Set(j, j+1, info.At(j, j+1)+b)
			info.Set(j+1, j, info.At(j+1, j)+b)
			info.Set(j+1, j+1, info.At(j+1, j+1)+c)
			rhs.SetVec(j, rhs.AtVec(j)+a*f.x+b*f.y)
			rhs.SetVec(j+1, rhs.AtVec(j+1)+b*f.x+c*f.y)
		}
		if i == 0 {
			continue
		}
		// The step: next - F this ~ N(0, Q), per axis.
		dt := f.t - z[i-1].t
		qm := mat.NewDense(2, 2, []float64{q * dt * dt * dt / 3, q * dt * dt / 2, q * dt * dt / 2, q * dt})
		var qi mat.Dense
		if err := qi.Inverse(qm); err != nil {
			panic(err)
		}
		for ax := 0; ax < 2; ax++ {
			// Rows: [pos; vel] of next minus F of this.
			idx := [4]int{4*(i-1) + ax, 4*(i-1) + ax + 2, 4*i + ax, 4*i + ax + 2}
			h := mat.NewDense(2, 4, []float64{-1, -dt, 1, 0, 0, -1, 0, 1})
			var hq, add mat.Dense
			hq.Mul(h.T(), &qi)
			add.Mul(&hq, h)
			for r := 0; r < 4; r++ {
				for c := 0; c < 4; c++ {
					info.Set(idx[r], idx[c], info.At(idx[r], idx[c])+add.At(r, c))
				}
			}
		}
	}
	var p mat.Dense
	if err := p.Inverse(info); err != nil {
		panic(err)
	}
	var x mat.VecDense
	x.MulVec(&p, rhs)
	return &x, &p
}

// The heading's smoother gives back a steady turn through its wraps, and
// nothing where nothing was measured.
func TestAngleSmoother(t *testing.T) {
	var z []angleFix
	for i := 0; i < 200; i++ {
		tt := float64(i) / 15
		z = append(z, angleFix{t: tt, a: 1.5 * tt, r: 1e-4, ok: i%3 == 0, cut: i == 0})
	}
	for i, s := range smoothAngles(z, 36) {
		if math.Abs(s.X[0]-1.5*z[i].t) > 0.02 {
			t.Fatalf("at %.2f s the heading is %.3f, want %.3f", z[i].t, s.X[0], 1.5*z[i].t)
		}
	}
	for i := range z {
		z[i].ok = false
	}
	for i, s := range smoothAngles(z, 36) {
		if !math.IsNaN(s.X[0]) {
			t.Fatalf("moment %d has a heading of %g out of nothing", i, s.X[0])
		}
	}
}
