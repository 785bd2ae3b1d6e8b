package geom

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// CameraError is a camera that cannot be solved: which, why, and how to mend
// it. Marks are the marks it names (indices into CameraSpec.Marks), if any.
type CameraError struct {
	Camera, Reason string
	Marks          []int
}

func (e *CameraError) Error() string { return fmt.Sprintf("camera %q: %s", e.Camera, e.Reason) }

// SolveOptions steer SolveCamera. Every prior is the standard deviation of a
// Gaussian; it is what one knows of a lens before looking at its marks, so that
// a term that the marks do not settle stays near its usual value instead of
// bending the picture's border. A prior of 0 holds the term at its usual value.
type SolveOptions struct {
	PixelNoise  float64 // px, of a mark's pixel along one axis before anything is known
	NoiseWeight float64 // how many residuals that first guess of the noise is worth
	HeightSigma float64 // m, of a lens height that was measured

	FocalView  float64 // rad, the usual horizontal field of view of a room camera
	FocalPrior float64 // of the logarithm of the focal length
	K1, K2, K3 float64 // priors about 0
	Tangential float64 // p1 and p2
	Centre     float64 // share of the picture's width, about the picture's middle

	// Outlier is the distance of a mark from where the others put it, in
	// standard deviations, beyond which the mark is left out.
	Outlier float64
}

// DefaultSolveOptions returns the options that gave the least floor error at
// the height of a robot's top on drawn room cameras (TestSolveAccuracy holds
// them against alternatives). With 14 marks of 0.22 px noise, root mean square
// over the floor between the marks and at the room's corners:
//
//   - lens centred exactly: 0.8 and 1.9 mm with the centre held, 0.9 and
//     2.0 mm with it free within 0.3 % of the width;
//   - centre off by 4 px and tangential terms of 0.0005, as real lenses have:
//     1.5 mm with it held (and at times no answer at a corner), 1.1 and 2.6 mm
//     with it free;
//   - the same, tilted by 15 to 35 degrees: 1.8 and 3.9 mm, 1.1 and 2.5 mm.
//
// So the centre is given a narrow freedom. Leaving out k2 costs 4 mm and far
// more at the corners; the widths of the priors on k1 and k2 matter only below
// 8 marks, where narrow is better. k3 gains nothing.
func DefaultSolveOptions() SolveOptions {
	return SolveOptions{
		PixelNoise: 0.3, NoiseWeight: 4, HeightSigma: 0.005,
		FocalView: Radians(70), FocalPrior: 0.4,
		K1: 0.25, K2: 0.1, Tangential: 0.0005, Centre: 0.003,
		Outlier: 4.5,
	}
}

// Validate tells what is wrong with the options.
func (o SolveOptions) Validate() error {
	pos := []struct {
		name string
		v    float64
	}{{"PixelNoise", o.PixelNoise}, {"HeightSigma", o.HeightSigma}, {"FocalView", o.FocalView}, {"FocalPrior", o.FocalPrior}, {"Outlier", o.Outlier}}
	for _, p := range pos {
		if !(p.v > 0) {
			return fmt.Errorf("camera options: %s is %g; it should be above 0", p.name, p.v)
		}
	}
	for _, v := range []float64{o.NoiseWeight, o.K1, o.K2, o.K3, o.Tangential, o.Centre} {
		if !(v >= 0) {
			return fmt.Errorf("camera options: a prior is %g; it should be 0 or more", v)
		}
	}
	return nil
}

// param numbers the unknowns of a camera. The pose comes first and is always
// solved.
type param int

const (
	pRotX   param = iota // rad, small turn about the camera's own axes
	pRotY                //
	pRotZ                //
	pX                   // m, the lens's place
	pY                   //
	pZ                   //
	pFocal               // logarithm of the focal length in pixels
	pK1                  //
	pK2                  //
	pP1                  // Brown; k3 of a Fisheye
	pP2                  // Brown; k4 of a Fisheye
	pK3                  // Brown only
	pCx                  // px
	pCy                  //
	nParams = int(pCy) + 1
)

// stepOf is the half-width of a central difference for p: far above the
// rounding of a pixel (1e-12), far below its curvature.
func (s *solver) stepOf(p param) float64 {
	switch p {
	case pCx, pCy:
		return 1e-3
	}
	return 1e-6
}

// solver holds one camera's least-squares problem.
type solver struct {
	spec  CameraSpec
	opts  SolveOptions
	free  []param          // the unknowns, in order
	prior [nParams]float64 // standard deviation about usual, +Inf: none
	usual [nParams]float64 // centre of the prior
	base  [nParams]float64 // values of the unknowns that are not free
	r0    [3][3]float64    // rotation that the small turn is added to
	noise float64          // px
	off   []bool           // marks left out
	scale []float64        // px per m at each mark, for its survey sigma
	limit int              // iterations at most
}

func newSolver(spec CameraSpec, opts SolveOptions) *solver {
	s := &solver{spec: spec, opts: opts, noise: opts.PixelNoise, limit: 100,
		off: make([]bool, len(spec.Marks)), scale: make([]float64, len(spec.Marks))}
	for p := range s.prior {
		s.prior[p] = math.Inf(1)
	}
	w := float64(spec.Width)
	s.usual[pFocal] = math.Log(w / 2 / math.Tan(opts.FocalView/2))
	if spec.Model == Fisheye {
		// Equidistant: half the width is half the angle; such lenses see
		// about twice as much.
		s.usual[pFocal] = math.Log(w / (2 * opts.FocalView))
	}
	s.usual[pCx], s.usual[pCy] = (w-1)/2, (float64(spec.Height)-1)/2
	s.prior[pFocal], s.prior[pK1], s.prior[pK2], s.prior[pK3] = opts.FocalPrior, opts.K1, opts.K2, opts.K3
	s.prior[pP1], s.prior[pP2] = opts.Tangential, opts.Tangential
	s.prior[pCx], s.prior[pCy] = opts.Centre*w, opts.Centre*w
	if spec.Model == Fisheye {
		s.prior[pP1], s.prior[pP2], s.prior[pK3] = 0, 0, 0
	}
	if !math.IsNaN(spec.LensHeight) {
		s.usual[pZ], s.prior[pZ] = spec.LensHeight, opts.HeightSigma
	}
	s.base = s.usual
	for p := param(0); int(p) < nParams; p++ {
		if p >= pFocal && (spec.Lens != nil || s.prior[p] == 0) {
			continue
		}
		s.free = append(s.free, p)
	}
	return s
}

// values spreads the free unknowns out over all.
func (s *solver) values(x []float64) [nParams]float64 {
	v := s.base
	for i, p := range s.free {
		v[p] = x[i]
	}
	return v
}

func (s *solver) pack(v [nParams]float64) []float64 {
	x := make([]float64, len(s.free))
	for i, p := range s.free {
		x[i] = v[p]
	}
	return x
}

func (s *solver) lens(v [nParams]float64) Lens {
	if s.spec.Lens != nil {
		return *s.spec.Lens
	}
	f := math.Exp(v[pFocal])
	l := Lens{Model: s.spec.Model, Fx: f, Fy: f, Cx: v[pCx], Cy: v[pCy]}
	l.Dist = [5]float64{v[pK1], v[pK2], v[pP1], v[pP2], v[pK3]}
	return l
}

// camera makes the camera of x. The lens's field, which is slow to find, is
// left out: see NewCamera for a finished one.
func (s *solver) camera(x []float64) Camera {
	v := s.values(x)
	return Camera{Width: s.spec.Width, Height: s.spec.Height, Lens: s.lens(v), r2max: math.Inf(1),
		R: Mul3(Rotation(v[pRotX], v[pRotY], v[pRotZ]), s.r0), Centre: Point3{v[pX], v[pY], v[pZ]}}
}

// behind is the residual, in standard deviations, of a mark behind the lens:
// large, finite, and the same all over, so that no such place is a minimum.
const behind = 1e6

// residuals of the marks (two each, 0 for one that is left out), then of the
// priors of the free unknowns.
func (s *solver) residuals(dst, x []float64) {
	c := s.camera(x)
	for i, m := range s.spec.Marks {
		dst[2*i], dst[2*i+1] = 0, 0
		if s.off[i] {
			continue
		}
		q, ok := c.Project(m.Floor)
		if !ok {
			dst[2*i], dst[2*i+1] = behind, behind
			continue
		}
		w := 1 / s.sigma(i)
		dst[2*i], dst[2*i+1] = (q.X-m.Pixel.X)*w, (q.Y-m.Pixel.Y)*w
	}
	n := 2 * len(s.spec.Marks)
	for _, p := range s.free {
		if math.IsInf(s.prior[p], 1) {
			continue
		}
		v := s.values(x)
		dst[n] = (v[p] - s.usual[p]) / s.prior[p]
		n++
	}
}

// sigma is the standard uncertainty of mark i's pixel along one axis, survey
// included, px.
func (s *solver) sigma(i int) float64 { return math.Hypot(s.noise, s.spec.Marks[i].Sigma*s.scale[i]) }

func (s *solver) rows() int {
	n := 2 * len(s.spec.Marks)
	for _, p := range s.free {
		if !math.IsInf(s.prior[p], 1) {
			n++
		}
	}
	return n
}

// run solves from v; afterwards the small turn is folded into s.r0.
func (s *solver) run(v [nParams]float64, huber float64) (*LMResult, error) {
	o := DefaultLMOptions()
	o.Huber, o.Tolerance, o.MaxIterations = huber, 1e-8, s.limit
	step := make([]float64, len(s.free))
	for i, p := range s.free {
		step[i] = s.stepOf(p)
	}
	r, err := LevenbergMarquardt(LeastSquares{M: s.rows(), Residuals: s.residuals, Step: step}, s.pack(v), o)
	if err != nil {
		return nil, err
	}
	s.fold(r)
	return r, nil
}

// fold moves the small turn of a result into s.r0, so that covariances are
// about the answer itself.
func (s *solver) fold(r *LMResult) {
	v := s.values(r.X)
	s.r0 = Orthonormal(Mul3(Rotation(v[pRotX], v[pRotY], v[pRotZ]), s.r0))
	for i, p := range s.free {
		if p <= pRotZ {
			r.X[i] = 0
		}
	}
}

// updateScale finds what a metre is worth at each mark, px.
func (s *solver) updateScale(x []float64) {
	c := s.camera(x)
	for i, m := range s.spec.Marks {
		if _, j, ok := c.ProjectJac(m.Floor); ok {
			det := math.Abs(j[0][0]*j[1][1] - j[0][1]*j[1][0])
			s.scale[i] = math.Sqrt(det)
		}
	}
}

// updateNoise sets the pixel noise from the residuals, together with the first
// guess, which counts as NoiseWeight residuals; dof is what the marks leave
// over once the unknowns are paid for. It returns dof.
func (s *solver) updateNoise(r *LMResult) float64 {
	chi, n := 0.0, 0.0
	marks := 2 * len(s.spec.Marks)
	for i := 0; i < marks; i++ {
		chi += r.Weights[i] * r.Residuals[i] * r.Residuals[i]
		if !s.off[i/2] {
			n += r.Weights[i]
		}
	}
	dof := n - s.paid(r)
	o := s.opts
	s.noise = math.Sqrt((o.NoiseWeight*o.PixelNoise*o.PixelNoise + s.noise*s.noise*chi) / (o.NoiseWeight + math.Max(0, dof)))
	return dof
}

// paid is the number of unknowns that the marks, rather than the priors,
// settle: the trace of the marks' part of the projection onto the answer.
func (s *solver) paid(r *LMResult) float64 {
	cov, err := r.Covariance()
	if err != nil {
		return float64(len(s.free))
	}
	sum := 0.0
	for i := 0; i < 2*len(s.spec.Marks); i++ {
		row := r.Jacobian.RawRowView(i)
		sum += r.Weights[i] * mat.Inner(mat.NewVecDense(len(row), row), cov, mat.NewVecDense(len(row), row))
	}
	return sum
}
