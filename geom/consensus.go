package geom

import (
	"fmt"
	"math"
	"math/rand"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Misfit is a mark that the others contradict, and what it looks like.
type Misfit struct {
	Mark int     // index into CameraSpec.Marks
	Says string  // a sentence for its owner, without a full stop
	At   Point2  // m, where the others put its pixel at its height; NaN if nowhere
	Px   Point2  // px, where they put its floor point; NaN if it does not show
	OffM float64 // m, from the floor point as entered to At; NaN if nowhere
}

// What a mark's error costs, in the negative logarithm of probability. A good
// mark's pixel is Gaussian about its place; a mistyped one may show anywhere in
// the picture alike. So a mark is thought wrong when the others leave it less
// likely than mistyping does: no distance is set by hand.
const (
	mistyped = 0.01 // share of marks that are entered wrongly (value from memory)
	slips    = 12   // kinds of slip of one mark that are looked for: a prior of 1/slips each
	rival    = 3.0  // explanations closer than this (odds of 20 to 1) cannot be told apart
)

// repair is what a mark would be had one slip not been made.
type repair struct {
	mark Mark
	says string
}

// repairs lists the slips that are common (common practice of data entry: a
// decimal point one place off, two numbers exchanged).
func (m Mark) repairs() []repair {
	var out []repair
	add := func(r Mark, format string, a ...any) {
		if r != m {
			out = append(out, repair{r, fmt.Sprintf(format, a...)})
		}
	}
	r := m
	r.Floor.X, r.Floor.Y = m.Floor.Y, m.Floor.X
	add(r, "its x and y seem to be swapped; it would fit as %g, %g", r.Floor.X, r.Floor.Y)
	r = m
	r.Pixel.X, r.Pixel.Y = m.Pixel.Y, m.Pixel.X
	add(r, "the column and row of its pixel seem to be swapped; it would fit as [%g, %g]", r.Pixel.X, r.Pixel.Y)
	for _, part := range []struct {
		name string
		of   func(*Mark) *float64
	}{
		{"x", func(m *Mark) *float64 { return &m.Floor.X }}, {"y", func(m *Mark) *float64 { return &m.Floor.Y }},
		{"the column of its pixel", func(m *Mark) *float64 { return &m.Pixel.X }}, {"the row of its pixel", func(m *Mark) *float64 { return &m.Pixel.Y }},
	} {
		for _, k := range []float64{10, 0.1} {
			r = m
			v := part.of(&r)
			was := *v
			*v, _ = strconv.ParseFloat(strconv.FormatFloat(was*k, 'g', 12, 64), 64) // 0.087 * 10 is not 0.87
			add(r, "the decimal point of %s seems misplaced; %g would fit, not %g", part.name, *v, was)
		}
		r = m
		v := part.of(&r)
		was := *v
		*v = -was
		add(r, "the sign of %s seems wrong; %g would fit, not %g", part.name, *v, was)
	}
	return out
}

// exchanged is what an account says that exchanges two marks.
const exchanged = "exchanged"

// explanation is one account of the marks: which are wrong, and how.
type explanation struct {
	wrong    []int // marks, in order; none: all are as they should be
	says     string
	mirrored bool
	off      []bool // marks not used
	s        *solver
	r        *LMResult
	cost     float64 // negative log probability of all that was entered
}

// hearing weighs explanations against each other.
type hearing struct {
	spec CameraSpec
	opts SolveOptions
	best *explanation
	all  []*explanation
}

// weigh adds what fit gave; price is what its slips cost.
func (h *hearing) weigh(e explanation, price float64) {
	if e.r == nil {
		return
	}
	e.cost = e.s.surprisal(e.r) + price
	if math.IsNaN(e.cost) {
		return
	}
	h.all = append(h.all, &e)
	if h.best == nil || e.cost < h.best.cost {
		h.best = &e
	}
}

// priceOut is the cost of n marks that may show anywhere.
func (h *hearing) priceOut(n int) float64 {
	return float64(n) * (math.Log(float64(h.spec.Width)*float64(h.spec.Height)) - math.Log(mistyped))
}

// surprisal is the negative logarithm of the probability density of the marks
// used and of the lens, with the pixel noise at its most likely value.
func (s *solver) surprisal(r *LMResult) float64 {
	o := s.opts
	var sum, n float64
	for _, i := range s.used() {
		w := s.noise / s.sigma(i)
		d := s.distance(r, i) * w
		sum, n = sum+d*d, n+2
	}
	noise := math.Sqrt((o.NoiseWeight*o.PixelNoise*o.PixelNoise + sum) / (o.NoiseWeight + n))
	cost := o.NoiseWeight * (o.PixelNoise*o.PixelNoise/(2*noise*noise) + math.Log(noise))
	for _, i := range s.used() {
		v := noise*noise + s.spec.Marks[i].Sigma*s.spec.Marks[i].Sigma*s.scale[i]*s.scale[i]
		d := s.distance(r, i)
		cost += d*d/(2*v) + math.Log(2*math.Pi*v)
	}
	for _, v := range r.Residuals[2*len(s.spec.Marks):] {
		cost += v * v / 2
	}
	return cost
}

// agree tells whether the marks used fit their stated noise, survey and lens
// priors: a chi-squared test at the level of SolveOptions.Outlier.
func (s *solver) agree(r *LMResult) bool {
	chi := 0.0
	for _, i := range s.used() {
		d := s.distance(r, i) / math.Hypot(s.opts.PixelNoise, s.spec.Marks[i].Sigma*s.scale[i])
		chi += d * d
	}
	for _, v := range r.Residuals[2*len(s.spec.Marks):] {
		chi += v * v
	}
	dof := 2*len(s.used()) + s.rows() - 2*len(s.spec.Marks) - len(s.free)
	if dof < 1 {
		return true
	}
	tail := math.Erfc(s.opts.Outlier / math.Sqrt2)
	return distuv.ChiSquared{K: float64(dof)}.Survival(chi) > tail
}

// fit solves for the marks not off; from, if not nil, is a camera to begin at.
func (h *hearing) fit(spec CameraSpec, off []bool, from *explanation) (best *solver, at *LMResult) {
	var pts, px []Point3
	top := math.Inf(-1)
	for i, m := range spec.Marks {
		if off == nil || !off[i] {
			pts, px = append(pts, m.Floor), append(px, Point3{m.Pixel.X, m.Pixel.Y, 0})
			top = math.Max(top, m.Floor.Z)
		}
	}
	if len(pts) < MinMarks || collinear(pts) || collinear(px) {
		return nil, nil
	}
	fresh := func() *solver {
		s := newSolver(spec, h.opts)
		s.limit = 30
		if off != nil {
			s.off = slices.Clone(off)
		}
		return s
	}
	var rs [][3][3]float64
	var vs [][nParams]float64
	if from != nil {
		if from.r == nil {
			return nil, nil
		}
		rs, vs = append(rs, from.s.r0), append(vs, from.s.values(from.r.X))
	} else {
		rs, vs = fresh().starts()
	}
	for k := range rs {
		s := fresh()
		s.r0 = rs[k]
		if !math.IsNaN(spec.LensHeight) {
			vs[k][pZ] = spec.LensHeight
		}
		r, err := s.run(vs[k], math.Inf(1))
		if err != nil {
			continue
		}
		c := s.camera(r.X)
		if c.Centre.Z <= top || at != nil && r.Cost >= at.Cost || !s.shows(NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre)) {
			continue
		}
		best, at = s, r
	}
	if at != nil {
		best.updateScale(at.X)
		best.limit = 100
	}
	return best, at
}

// without is the account in which the marks named may lie anywhere.
func (h *hearing) without(wrong ...int) explanation {
	off := make([]bool, len(h.spec.Marks))
	for _, i := range wrong {
		off[i] = true
	}
	e := explanation{wrong: wrong, off: off}
	e.s, e.r = h.fit(h.spec, off, nil)
	h.weigh(e, h.priceOut(len(wrong)))
	return e
}

// changed is the account in which marks were entered otherwise than they are;
// base is the camera of the marks that are left as they stand.
func (h *hearing) changed(base explanation, marks map[int]Mark, says string, price float64) {
	spec := h.spec
	spec.Marks = slices.Clone(h.spec.Marks)
	for i, m := range marks {
		spec.Marks[i] = m
	}
	e := explanation{wrong: base.wrong, off: base.off, says: says}
	e.s, e.r = h.fit(spec, nil, &base)
	h.weigh(e, price-math.Log(mistyped))
}

// settled tells whether the best account so far leaves nothing to explain.
func (h *hearing) settled() bool { return h.best != nil && h.best.s.agree(h.best.r) }

// maxPairs bounds the pairs of marks that are tried one by one.
const maxPairs = 200

// hear finds the likeliest account of marks that no camera shows as they stand:
// all good, the survey mirrored, one mark wrong, two wrong or exchanged, and
// then, from random parts of five, any number wrong. It stops at the first
// level that leaves nothing to explain.
func (h *hearing) hear() {
	n := len(h.spec.Marks)
	h.without()
	flip := h.spec
	flip.Marks = slices.Clone(h.spec.Marks)
	for i := range flip.Marks {
		flip.Marks[i].Floor.Y = -flip.Marks[i].Floor.Y
	}
	m := explanation{mirrored: true}
	m.s, m.r = h.fit(flip, nil, nil)
	h.weigh(m, -math.Log(mistyped))
	if !math.IsNaN(h.spec.LensHeight) {
		free := h.spec
		free.LensHeight = math.NaN()
		e := explanation{}
		e.s, e.r = h.fit(free, nil, nil)
		h.weigh(e, -math.Log(mistyped)-math.Log(h.opts.HeightSigma*math.Sqrt(2*math.Pi)))
	}
	if h.settled() {
		return
	}
	for i := range n {
		base := h.without(i)
		for _, r := range h.spec.Marks[i].repairs() {
			h.changed(base, map[int]Mark{i: r.mark}, r.says, math.Log(slips))
		}
	}
	if h.settled() {
		return
	}
	if n*(n-1)/2 <= maxPairs {
		for i := range n {
			for j := range i {
				base := h.without(j, i)
				a, b := h.spec.Marks[i], h.spec.Marks[j]
				a.Pixel, b.Pixel = b.Pixel, a.Pixel
				h.changed(base, map[int]Mark{i: a, j: b}, exchanged, math.Log(float64(n-1)))
			}
		}
		if h.settled() {
			return
		}
	}
	// With a quarter of the marks wrong a part of five is all good with
	// probability 0.1 or more: 60 parts miss with probability 0.002 at most.
	// The seed is fixed so that an answer is the same every time.
	rng := rand.New(rand.NewSource(1))
	for k := 0; k < 60 && n >= minForOutlier; k++ {
		h.grow(rng.Perm(n)[:5])
	}
}

// grow solves for a few marks and takes in, nearest first, the others that
// agree with those that are in.
func (h *hearing) grow(in []int) {
	off := make([]bool, len(h.spec.Marks))
	for i := range off {
		off[i] = !slices.Contains(in, i)
	}
	var e explanation
	e.s, e.r = h.fit(h.spec, off, nil)
	for e.r != nil {
		near, d := -1, h.opts.Outlier
		for i, o := range off {
			if o {
				if q := e.s.surprise(e.r, i); q < d {
					near, d = i, q
				}
			}
		}
		if near < 0 {
			break
		}
		off[near] = false
		e.s, e.r = h.fit(h.spec, off, &e)
	}
	for i, o := range off {
		if o {
			e.wrong = append(e.wrong, i)
		}
	}
	e.off = off
	h.weigh(e, h.priceOut(len(e.wrong)))
}

// spare is how many numbers of an account's marks are left to check it by, once
// pose and, unless it is given, focal length and two terms of distortion are
// paid for.
func (e *explanation) spare() int {
	n := 2*len(e.s.used()) - 6
	if e.s.spec.Lens == nil {
		n -= 3
	}
	return n
}

// rivals lists the marks of which the best account cannot tell which is wrong:
// those that other accounts, almost as likely, hold to be wrong instead, or all
// where too few numbers are left to check any account by. A slip is one of many
// that were tried, and needs one number more than a mark that is left out.
func (h *hearing) rivals() (marks []int) {
	need := 1
	if h.best.says != "" {
		need = 2
	}
	if len(h.spec.Marks) <= MinMarks || h.best.spare() < need {
		for i := range h.spec.Marks {
			marks = append(marks, i)
		}
		return marks
	}
	for _, e := range h.all {
		if e.cost-h.best.cost < rival && !slices.Equal(e.wrong, h.best.wrong) {
			marks = append(marks, e.wrong...)
		}
	}
	if marks != nil {
		marks = append(marks, h.best.wrong...)
		slices.Sort(marks)
		marks = slices.Compact(marks)
	}
	return marks
}

// listed writes mark numbers as a user reads them.
func listed(marks []int) string {
	var words []string
	for _, i := range marks {
		words = append(words, fmt.Sprint(i+1))
	}
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}
