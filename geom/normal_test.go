package geom

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// drawnNormal returns equations with answer x but for noise, as Normal and as
// weighted rows for gonum.
func drawnNormal(rng *rand.Rand, x [3]float64, noise float64) (n Normal, a *mat.Dense, b *mat.VecDense) {
	const m = 12
	a, b = mat.NewDense(m, 3, nil), mat.NewVecDense(m, nil)
	for i := range m {
		j := [3]float64{rng.NormFloat64(), 2 * rng.NormFloat64(), 0.3 * rng.NormFloat64()}
		w := 0.1 + rng.Float64()
		e := j[0]*x[0] + j[1]*x[1] + j[2]*x[2] + noise*rng.NormFloat64()
		n.Add(w, j[0], j[1], j[2], e)
		s := math.Sqrt(w)
		a.SetRow(i, []float64{s * j[0], s * j[1], s * j[2]})
		b.SetVec(i, s*e)
	}
	return n, a, b
}

// Against gonum's QR of the rows themselves and its inverse of their product.
func TestNormalAgainstGonum(t *testing.T) {
	for seed := uint64(1); seed <= 200; seed++ {
		rng := rand.New(rand.NewPCG(seed, 3))
		n, a, b := drawnNormal(rng, [3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}, 0.1)
		var want mat.VecDense
		if err := want.SolveVec(a, b); err != nil {
			t.Fatal(err)
		}
		got, settled := n.Solve()
		if settled != 3 {
			t.Fatalf("seed %d: %d of 3 unknowns are settled", seed, settled)
		}
		for k, v := range got {
			if d := math.Abs(v - want.AtVec(k)); d > 1e-9 {
				t.Errorf("seed %d: unknown %d is %g, want %g", seed, k, v, want.AtVec(k))
			}
		}
		var h, inv mat.Dense
		h.Mul(a.T(), a)
		if err := inv.Inverse(&h); err != nil {
			t.Fatal(err)
		}
		xy, z, ok := n.Variances()
		for k, d := range [4]float64{xy[0] - inv.At(0, 0), xy[1] - inv.At(0, 1), xy[2] - inv.At(1, 1), z - inv.At(2, 2)} {
			if !ok || math.Abs(d) > 1e-9 {
				t.Errorf("seed %d: part %d of the inverse is off by %g (%v)", seed, k, d, ok)
			}
		}
		two, ok := Inverse2([3]float64{n.H[0], n.H[1], n.H[2]})
		if one := two[0]*n.H[0] + two[1]*n.H[1]; !ok || math.Abs(one-1) > 1e-12 {
			t.Errorf("seed %d: the inverse of two unknowns times themselves is %g (%v)", seed, one, ok)
		}
	}
}

// What the equations leave open is said, not made up.
func TestNormalOpen(t *testing.T) {
	var two, one Normal
	for i := range 8 {
		s, c := math.Sincos(float64(i))
		two.Add(1, c, s, 0, 3*c-2*s)
		one.Add(1, c, 2*c, s, c)
	}
	x, settled := two.Solve()
	if settled != 2 || math.Abs(x[0]-3) > 1e-12 || math.Abs(x[1]+2) > 1e-12 || x[2] != 0 {
		t.Errorf("two unknowns without a third: %v, %d settled", x, settled)
	}
	if _, _, ok := two.Variances(); ok {
		t.Error("an unknown without an equation has a variance")
	}
	if _, settled := one.Solve(); settled != 0 {
		t.Errorf("of two unknowns that are one, %d are settled", settled)
	}
	for _, s := range [][3]float64{{}, {1, 1, 1}, {1, 2, 1}, {math.NaN(), 0, 1}} {
		if inv, ok := Inverse2(s); ok {
			t.Errorf("%v has the inverse %v", s, inv)
		}
	}
}

// How long a step takes by hand and by gonum/mat.
func BenchmarkNormal(b *testing.B) {
	n, _, _ := drawnNormal(rand.New(rand.NewPCG(1, 3)), [3]float64{1, 2, 3}, 0.1)
	b.Run("hand", func(b *testing.B) {
		for b.Loop() {
			n.Solve()
		}
	})
	b.Run("gonum", func(b *testing.B) {
		var chol mat.Cholesky
		var x mat.VecDense
		for b.Loop() {
			h := mat.NewSymDense(3, []float64{n.H[0], n.H[1], n.H[3], n.H[1], n.H[2], n.H[4], n.H[3], n.H[4], n.H[5]})
			if !chol.Factorize(h) || chol.SolveVecTo(&x, mat.NewVecDense(3, n.G[:])) != nil {
				b.Fatal("no answer")
			}
		}
	})
}
