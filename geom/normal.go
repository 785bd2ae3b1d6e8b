package geom

// Inverse2 inverts the symmetric positive definite matrix xx, xy, yy, such as
// the covariance of a place on the floor; ok is false where to twelve digits it
// has no inverse.
func Inverse2(s [3]float64) (inv [3]float64, ok bool) {
	det := s[0]*s[2] - s[1]*s[1]
	if !(det > 1e-12*s[0]*s[2]) {
		return inv, false
	}
	return [3]float64{s[2] / det, -s[1] / det, s[0] / det}, true
}

// Normal are the normal equations of a weighted least-squares problem with two
// or three unknowns, such as a place and a heading: those of the fits that are
// made many times a frame. By hand they are solved in a hundredth of the time
// that gonum/mat takes for so few unknowns (BenchmarkNormal). Other problems
// are for LevenbergMarquardt.
type Normal struct {
	H [6]float64 // sums of w aa, ab, bb, ac, bc, cc
	G [3]float64 // sums of w ae, be, ce
}

// Add takes in an equation a x + b y + c z = e of weight w.
func (n *Normal) Add(w, a, b, c, e float64) {
	wa, wb := w*a, w*b
	n.H[0] += wa * a
	n.H[1] += wa * b
	n.H[2] += wb * b
	n.G[0] += wa * e
	n.G[1] += wb * e
	if c == 0 {
		return
	}
	wc := w * c
	n.H[3] += wa * c
	n.H[4] += wb * c
	n.H[5] += wc * c
	n.G[2] += wc * e
}

// Solve returns the unknowns and how many of them the equations settle: three;
// two where they say too little of the third, which is 0 then; or none.
func (n *Normal) Solve() (x [3]float64, settled int) {
	h, g := &n.H, &n.G
	det, ax, ay, rest := n.eliminate()
	if !(det > 1e-9*h[0]*h[2]) {
		return x, 0
	}
	bx, by := (h[2]*g[0]-h[1]*g[1])/det, (h[0]*g[1]-h[1]*g[0])/det
	settled = 2
	if h[5] >= 1e-9 && rest > 1e-6*h[5] {
		x[2] = (g[2] - h[3]*bx - h[4]*by) / rest
		settled = 3
	}
	x[0], x[1] = bx-ax*x[2], by-ay*x[2]
	return x, settled
}

// Variances returns, of the inverse of H, the block of the first two unknowns
// and the variance of the third; ok is false where it has no inverse. They are
// those of the answer if a residual of weight 1 has unit variance.
func (n *Normal) Variances() (xy [3]float64, z float64, ok bool) {
	h := &n.H
	det, ax, ay, rest := n.eliminate()
	if !(det*rest > 1e-12*h[0]*h[2]*h[5]) {
		return xy, 0, false
	}
	return [3]float64{h[2]/det + ax*ax/rest, -h[1]/det + ax*ay/rest, h[0]/det + ay*ay/rest}, 1 / rest, true
}

// eliminate takes the first two unknowns out of the third's equation: det is
// the determinant of their block, (ax, ay) how they move as the third does, and
// rest what is left of zz.
func (n *Normal) eliminate() (det, ax, ay, rest float64) {
	h := &n.H
	det = h[0]*h[2] - h[1]*h[1]
	ax, ay = (h[2]*h[3]-h[1]*h[4])/det, (h[0]*h[4]-h[1]*h[3])/det
	return det, ax, ay, h[5] - ax*h[3] - ay*h[4]
}
