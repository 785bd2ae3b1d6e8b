package geom

import "gonum.org/v1/gonum/mat"

// Motion is where something is at one moment and how fast it moves: a place
// along one axis or more in X, then as many speeds, and their covariance P.
type Motion struct {
	X []float64
	P *mat.SymDense
}

// NewMotion returns a state whose unknowns have independent errors.
func NewMotion(x, variances []float64) Motion {
	p := mat.NewSymDense(len(x), nil)
	for i, v := range variances {
		p.SetSym(i, i, v)
	}
	return Motion{x, p}
}

// Predict is the state dt seconds on, under white acceleration of spectral
// density q along each axis.
func (s Motion) Predict(dt, q float64) Motion {
	n := len(s.X) / 2
	o := Motion{append([]float64(nil), s.X...), mat.NewSymDense(2*n, nil)}
	o.P.CopySym(s.P)
	for i := range n {
		o.X[i] += dt * s.X[n+i]
		for j := range n {
			pv, vv := s.P.At(i, n+j), s.P.At(n+i, n+j)
			o.P.SetSym(i, j, s.P.At(i, j)+dt*(pv+s.P.At(j, n+i))+dt*dt*vv)
			o.P.SetSym(i, n+j, pv+dt*vv)
		}
	}
	for i, v := 0, n; i < n; i, v = i+1, v+1 {
		o.P.SetSym(i, i, o.P.At(i, i)+q*dt*dt*dt/3)
		o.P.SetSym(i, v, o.P.At(i, v)+q*dt*dt/2)
		o.P.SetSym(v, v, o.P.At(v, v)+q*dt)
	}
	return o
}

// Update takes in a measurement z, with covariance r, of the unknowns from at on
// (Kalman 1960). One without a positive variance changes nothing.
func (s Motion) Update(at int, z []float64, r mat.Symmetric) Motion {
	n, m := len(s.X), len(z)
	p := mat.DenseCopyOf(s.P).Slice(at, at+m, 0, n)
	var sum mat.SymDense
	sum.AddSym(s.P.SliceSym(at, at+m), r)
	var chol mat.Cholesky
	var gain mat.Dense // transposed
	if !chol.Factorize(&sum) || chol.SolveTo(&gain, p) != nil {
		return s
	}
	o := Motion{append([]float64(nil), s.X...), mat.NewSymDense(n, nil)}
	x := mat.NewVecDense(n, o.X)
	var off, dx mat.VecDense
	off.SubVec(mat.NewVecDense(m, z), mat.NewVecDense(m, s.X[at:at+m]))
	dx.MulVec(gain.T(), &off)
	x.AddVec(x, &dx)
	var dp mat.Dense
	dp.Mul(gain.T(), p)
	for i := range n {
		for j := i; j < n; j++ {
			o.P.SetSym(i, j, s.P.At(i, j)-(dp.At(i, j)+dp.At(j, i))/2)
		}
	}
	return o
}

// Smooth turns filtered states, each from its own measurements and those before,
// into what all measurements say (Rauch, Tung and Striebel 1965), in place.
// pred[i] is state i as predicted from state i-1, dt[i] seconds on; a dt of 0 or
// less: nothing links the two.
func Smooth(filt, pred []Motion, dt []float64) {
	for i := len(filt) - 2; i >= 0; i-- {
		if !(dt[i+1] > 0) {
			continue
		}
		f, p, next := filt[i], pred[i+1], filt[i+1]
		n := len(f.X)
		var chol mat.Cholesky
		// The gain is P F' Ppred^-1, F P with what the speeds move the places by.
		var c mat.Dense // transposed
		fp := mat.DenseCopyOf(f.P)
		for k := range n / 2 {
			row := fp.RowView(k).(*mat.VecDense)
			row.AddScaledVec(row, dt[i+1], fp.RowView(k+n/2))
		}
		if !chol.Factorize(p.P) || chol.SolveTo(&c, fp) != nil {
			continue
		}
		var dx, x mat.VecDense
		dx.SubVec(mat.NewVecDense(n, next.X), mat.NewVecDense(n, p.X))
		x.MulVec(c.T(), &dx)
		var dp, cd, v mat.Dense
		dp.Sub(next.P, p.P)
		cd.Mul(c.T(), &dp)
		v.Mul(&cd, &c)
		o := Motion{make([]float64, n), mat.NewSymDense(n, nil)}
		for i := range n {
			o.X[i] = f.X[i] + x.AtVec(i)
			for j := i; j < n; j++ {
				o.P.SetSym(i, j, f.P.At(i, j)+v.At(i, j))
			}
		}
		filt[i] = o
	}
}
