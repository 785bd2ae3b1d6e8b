package geom

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// MarkResidual is how far a mark shows from where the solved camera puts it.
type MarkResidual struct {
	Mark   int     // index into CameraSpec.Marks
	Px     Point2  // pixel as entered less pixel as solved
	M      float64 // the same at the mark's height, m; NaN if its pixel does not show that height
	LooM   float64 // m, where the other marks put it, without it; NaN if they do not settle a camera
	LooPx  float64 // the same in pixels; NaN likewise
	Unused bool    // left out of the solution as an outlier
}

// Solution is a camera with what is known about it.
type Solution struct {
	Camera    *Camera
	Solved    []string // what the marks settled
	NotSolved []string // what they did not, each with what was done instead
	Residuals []MarkResidual

	MarkRMSPx    float64   // px, over the marks used: distance, not per axis
	MarkRMSM     float64   // m
	LeaveOneOutM float64   // m, root mean square over the marks used; NaN if too few marks
	TapeErrors   []float64 // m, solved less measured; NaN where a pixel does not show the floor

	// Cov is the covariance of the unknowns named by Params: turns about the
	// camera's axes (rad), place (m), logarithm of the focal length, then
	// distortion and centre (px) as far as they were solved.
	Cov      *mat.SymDense
	Params   []string
	Noise    float64 // px, standard uncertainty of a mark's pixel along one axis
	Warnings []string
	Misfits  []Misfit // marks left out, each of which has a warning too

	s *solver
	x []float64
}

var paramNames = [nParams]string{"turn x", "turn y", "turn z", "x", "y", "height", "log focal length", "k1", "k2", "p1", "p2", "k3", "centre column", "centre row"}

// MinMarks is the least number of marks that settle a camera on a plane.
const MinMarks = 4

// SolveCamera solves a camera from its marks by least squares, with
// DefaultSolveOptions. A lens that is given is kept and only the pose solved.
// A lens height that is given is held to 5 mm (HeightSigma): a tape to a
// ceiling is good to that, and marks on the floor alone settle height and
// focal length together only weakly, or not at all if the camera looks
// straight down. The error is a *CameraError.
func SolveCamera(spec CameraSpec) (*Solution, error) {
	return SolveCameraWith(spec, DefaultSolveOptions())
}

// SolveCameraWith is SolveCamera with options.
func SolveCameraWith(spec CameraSpec, opts SolveOptions) (*Solution, error) {
	if err := opts.Validate(); err != nil {
		return nil, err
	}
	if spec.Model == "" {
		spec.Model = Brown
	}
	if err := checkSpec(spec); err != nil {
		return nil, err
	}
	s, r, why, err := solveAll(spec, opts)
	if err != nil {
		return nil, err
	}
	sol := &Solution{}
	if free, sigma, wrong := s.contradictsHeight(r); wrong {
		sol.Warnings = append(sol.Warnings, fmt.Sprintf("measure the height again, from the floor to the front of the lens, or check the survey: the marks put the lens %.2f m (+- %.2f m) above the floor, not %.2f m, so the given height was not used",
			free, sigma, spec.LensHeight))
		spec.LensHeight = math.NaN()
		if s, r, why, err = solveAll(spec, opts); err != nil {
			return nil, err
		}
	}
	if s, r, err = dropOutliers(s, r); err != nil {
		return nil, err
	}
	if err := checkFit(s, r); err != nil {
		return nil, err
	}
	sol.s, sol.x, sol.Noise = s, r.X, s.noise
	c := s.camera(r.X)
	sol.Camera = NewCamera(spec.Width, spec.Height, c.Lens, c.R, c.Centre)
	if sol.Cov, err = r.Covariance(); err != nil {
		return nil, &CameraError{Camera: spec.Name, Reason: "spread the marks over the whole floor, not in one corner or along one line: the camera cannot be solved from these"}
	}
	for _, p := range s.free {
		sol.Params = append(sol.Params, paramNames[p])
	}
	sol.measure()
	sol.misfits(why)
	sol.describe()
	return sol, nil
}

// checkSpec refuses what cannot be solved.
func checkSpec(spec CameraSpec) error {
	no := func(format string, a ...any) error {
		return &CameraError{Camera: spec.Name, Reason: fmt.Sprintf(format, a...)}
	}
	if spec.Width < 2 || spec.Height < 2 {
		return no("frame is %d x %d; give the size of its recordings in pixels", spec.Width, spec.Height)
	}
	if spec.Model != Brown && spec.Model != Fisheye {
		return no("lens model %q is not known; use %q or %q", spec.Model, Brown, Fisheye)
	}
	if l := spec.Lens; l != nil {
		if !(l.Fx > 0 && l.Fy > 0) {
			return no("focal lengths are %g and %g; they should be above 0 pixels", l.Fx, l.Fy)
		}
		sum := l.Fx + l.Fy + l.Cx + l.Cy
		for _, k := range l.Dist {
			sum += k
		}
		if math.IsNaN(sum) || math.IsInf(sum, 0) {
			return no("a number of the lens is not finite")
		}
	}
	if h := spec.LensHeight; !math.IsNaN(h) && !(h > 0 && h < 1000) {
		return no("height is %g; give the lens's height above the floor in metres", h)
	}
	n := len(spec.Marks)
	if n < MinMarks {
		return no("it has %d marks; survey at least %d, better a dozen, spread over the floor", n, MinMarks)
	}
	var pts []Point3
	var px []Point2
	for i, m := range spec.Marks {
		f := m.Floor.X + m.Floor.Y + m.Floor.Z + m.Pixel.X + m.Pixel.Y + m.Sigma
		if math.IsNaN(f) || math.IsInf(f, 0) {
			return no("a number of mark %d is not finite", i+1)
		}
		if m.Sigma < 0 {
			return no("mark %d has a sigma of %g m; it should be 0 or more", i+1, m.Sigma)
		}
		if m.Floor.Z >= spec.LensHeight {
			return no("mark %d, %g m high, is not below the lens at %g m; correct one of them", i+1, m.Floor.Z, spec.LensHeight)
		}
		if l := spec.Lens; l != nil {
			if _, _, ok := l.Undistort(m.Pixel); !ok {
				return no("check the model of the lens and the signs and order of its distortion (k1, k2, p1, p2, k3): as given, it images nothing at the pixel of mark %d, (%g, %g)", i+1, m.Pixel.X, m.Pixel.Y)
			}
		}
		pts, px = append(pts, m.Floor), append(px, m.Pixel)
	}
	if collinear(pts) {
		return no("the marks lie on one line on the floor; survey some well away from it")
	}
	if collinear(flat(px)) {
		return no("the marks' pixels lie on one line in the picture; check them, and survey marks well away from that line")
	}
	for i := range pts {
		rest := append(append([]Point3(nil), pts[:i]...), pts[i+1:]...)
		if collinear(rest) {
			return no("all marks but number %d lie on one line; survey at least two away from it", i+1)
		}
	}
	return nil
}

// collinearShare: points whose spread across their line is less than this
// share of the spread along it settle nothing across it: a pixel's noise there
// turns into 50 pixels at the same distance on the other side.
const collinearShare = 0.02

func collinear(pts []Point3) bool {
	p := bestPlane(pts)
	return !(p.spread[1] > collinearShare*p.spread[0])
}

func flat(px []Point2) []Point3 {
	out := make([]Point3, len(px))
	for i, p := range px {
		out[i] = Point3{p.X, p.Y, 0}
	}
	return out
}

// wildShare of the picture's width: marks that fit no camera better than this
// (root mean square) are not marks of one camera.
const wildShare = 0.02

// robustAt is where residuals, in standard deviations, begin to count
// linearly while outliers may still be among them.
const robustAt = 2

// solveAll solves from every start and keeps the best answer. Where the marks do
// not agree on it, it weighs what may be wrong with them and leaves out those
// that the others contradict; the account is nil if there was nothing to weigh.
func solveAll(spec CameraSpec, opts SolveOptions) (*solver, *LMResult, *explanation, error) {
	s, r := bestStart(spec, opts)
	if r != nil && s.agree(r) {
		// A lens may fold a mark far outside its field back onto its pixel.
		if c := s.camera(r.X); s.shows(NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre)) {
			return s, r, nil, nil
		}
	}
	h := &hearing{spec: spec, opts: opts}
	h.hear()
	b := h.best
	switch {
	case b != nil && b.mirrored:
		return nil, nil, nil, &CameraError{Camera: spec.Name, Reason: "swap or negate one coordinate of every mark: they fit a mirrored floor. Seen from above, x runs right and y up the plan; pixel rows count down from the top"}
	case b != nil && len(b.wrong) == 0 && r != nil:
		return s, r, nil, nil // no mark is worse than the rest: all are vague, or the height is wrong
	case b == nil || len(b.wrong) == 0 || 2*len(b.wrong) >= len(spec.Marks) && len(spec.Marks) >= minForOutlier:
		return nil, nil, nil, &CameraError{Camera: spec.Name, Reason: fmt.Sprintf("check floor and pixel of each mark, and that the frame size is that of their picture: no camera above the floor would see the marks like this, and no more than half of the %d agree", len(spec.Marks))}
	}
	if open := h.rivals(); open != nil {
		says := fmt.Sprintf("the marks disagree, and %d are too few to show which is wrong: check floor and pixel of marks %s, or survey two more", len(spec.Marks), listed(open))
		if r != nil && s.rms(r) <= wildShare*float64(spec.Width) {
			return s, r, &explanation{says: says}, nil
		}
		return nil, nil, nil, &CameraError{Camera: spec.Name, Marks: open, Reason: says}
	}
	b.off = make([]bool, len(spec.Marks))
	for _, i := range b.wrong {
		b.off[i] = true
	}
	if s, r = h.fit(spec, b.off, b); r == nil {
		return nil, nil, nil, &CameraError{Camera: spec.Name, Marks: b.wrong, Reason: b.alone()}
	}
	return s, s.settle(r, robustAt), b, nil
}

// contradictsHeight holds a height that was given against the one that the
// marks give without it: a wrong height would bend the whole camera, and make
// good marks look wrong.
func (s *solver) contradictsHeight(r *LMResult) (free, sigma float64, wrong bool) {
	if math.IsNaN(s.spec.LensHeight) || len(s.used()) < 6 {
		return 0, 0, false
	}
	t := *s
	t.scale = append([]float64(nil), s.scale...)
	t.spec.LensHeight = math.NaN()
	t.prior[pZ] = math.Inf(1)
	q, err := t.run(s.values(r.X), robustAt)
	if err != nil {
		return 0, 0, false
	}
	q = t.settle(q, robustAt)
	cov, err := q.Covariance()
	if err != nil {
		return 0, 0, false
	}
	k := int(pZ) // the pose comes first among the unknowns
	free, sigma = q.X[k], math.Sqrt(cov.At(k, k))
	return free, sigma, math.Abs(free-s.spec.LensHeight) > s.opts.Outlier*math.Hypot(sigma, s.opts.HeightSigma)
}

// checkFit refuses marks that fit no camera.
func checkFit(s *solver, r *LMResult) error {
	rms := s.rms(r)
	if rms <= wildShare*float64(s.spec.Width) {
		return nil
	}
	i, d := s.worst(r)
	return &CameraError{Camera: s.spec.Name, Marks: []int{i}, Reason: fmt.Sprintf("check floor and pixel of each mark, and that none were swapped: the marks fit no camera, they are off by %.0f px RMS, most of all mark %d (%.0f px)", rms, i+1, d)}
}

// shows tells whether all marks lie in the camera's field.
func (s *solver) shows(c *Camera) bool {
	for i, m := range s.spec.Marks {
		if _, ok := c.Project(m.Floor); !ok && !s.off[i] {
			return false
		}
	}
	return true
}

// settle alternates between the noise and the answer, each of which the other
// depends on, until neither changes.
func (s *solver) settle(r *LMResult, huber float64) *LMResult {
	for i := 0; i < 4; i++ {
		s.updateScale(r.X)
		s.updateNoise(r)
		next, err := s.run(s.values(r.X), huber)
		if err != nil {
			break
		}
		r = next
	}
	return r
}

// rms is the root mean square distance of the marks used, px.
func (s *solver) rms(r *LMResult) float64 {
	sum, n := 0.0, 0
	for i := range s.spec.Marks {
		if !s.off[i] {
			d := s.distance(r, i)
			sum += d * d
			n++
		}
	}
	return math.Sqrt(sum / float64(n))
}

func (s *solver) distance(r *LMResult, i int) float64 {
	return math.Hypot(r.Residuals[2*i], r.Residuals[2*i+1]) * s.sigma(i)
}

func (s *solver) worst(r *LMResult) (mark int, px float64) {
	for i := range s.spec.Marks {
		if d := s.distance(r, i); d > px {
			mark, px = i, d
		}
	}
	return mark, px
}

// without solves again with mark i left out, starting from x.
func (s *solver) without(i int, x []float64, huber float64) (*solver, *LMResult) {
	t := *s
	t.off = append([]bool(nil), s.off...)
	t.scale = append([]float64(nil), s.scale...)
	t.off[i] = true
	r, err := t.run(s.values(x), huber)
	if err != nil {
		return nil, nil
	}
	return &t, r
}

// used returns the indices of the marks that are not left out.
func (s *solver) used() (idx []int) {
	for i, off := range s.off {
		if !off {
			idx = append(idx, i)
		}
	}
	return idx
}
