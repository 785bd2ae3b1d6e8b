package geom

import (
	"math"
	"math/rand"

	"gonum.org/v1/gonum/mat"
)

// bestStart returns the answer of least cost whose lens is above the floor and
// shows all marks; nil if there is none. Where the marks as a whole give no
// good start, as when two were exchanged, it starts from parts of them.
func bestStart(spec CameraSpec, opts SolveOptions) (*solver, *LMResult) {
	var b search
	b.try(spec, opts, nil)
	if n := len(spec.Marks); n >= minForOutlier && (b.r == nil || b.s.rms(b.r) > wildShare*float64(spec.Width)/4) {
		// With a quarter of the marks wrong, a part of five is all good with
		// probability 0.1 or more (8 marks, two wrong; 0.2 of 13 marks): 60
		// parts miss with probability 0.001 at most. The seed is fixed so that
		// an answer is the same every time.
		rng := rand.New(rand.NewSource(1))
		for i := 0; i < 60; i++ {
			off := make([]bool, n)
			for _, k := range rng.Perm(n)[5:] {
				off[k] = true
			}
			b.try(spec, opts, off)
		}
	}
	if b.r == nil {
		return nil, nil
	}
	b.s.limit = 100
	return b.s, b.s.settle(b.r, robustAt)
}

// A start that brings this many marks this close (px, root mean square) has
// found the camera: no other minimum fits to the noise of a click.
const (
	enoughToStop = 6
	goodStart    = 0.6
)

// search keeps the best answer so far.
type search struct {
	s *solver
	r *LMResult
}

// try solves for all marks from every start that the marks not off give.
func (b *search) try(spec CameraSpec, opts SolveOptions, off []bool) {
	top := math.Inf(-1)
	for _, m := range spec.Marks {
		top = math.Max(top, m.Floor.Z)
	}
	from := newSolver(spec, opts)
	if off != nil {
		from.off = off
	}
	rs, vs := from.starts()
	for i := range rs {
		s := newSolver(spec, opts)
		s.r0 = rs[i]
		if off != nil {
			s.limit = 20 // most parts are bad starts, and a good one needs fewer
		}
		if !math.IsNaN(spec.LensHeight) {
			// Near the measured height from the start: its prior is narrow.
			vs[i][pZ] = spec.LensHeight
		}
		r, err := s.run(vs[i], robustAt)
		if err != nil {
			continue
		}
		c := s.camera(r.X)
		if c.Centre.Z <= top || b.r != nil && r.Cost >= b.r.Cost {
			continue
		}
		if full := NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre); s.shows(full) {
			b.s, b.r = s, r
			if spec.Lens == nil && len(spec.Marks) >= enoughToStop && s.rms(r) < goodStart {
				return
			}
		}
	}
}

// minForOutlier is the least number of marks at which one can be told to be
// wrong: with fewer, two or three others decide alone.
const minForOutlier = 7

// dropOutliers leaves out marks that the others contradict, the worst first,
// a quarter of them at most, and ends with a plain least-squares answer.
func dropOutliers(s *solver, r *LMResult) (*solver, *LMResult, error) {
	for drops := 0; ; drops++ {
		used := s.used()
		if len(used) < minForOutlier || drops >= len(s.spec.Marks)/4 {
			break
		}
		worst, far := -1, s.opts.Outlier
		for _, i := range used {
			t, q := s.without(i, r.X, robustAt)
			if t == nil {
				continue
			}
			if d := t.surprise(q, i); d > far {
				worst, far = i, d
			}
		}
		if worst < 0 {
			break
		}
		t, q := s.without(worst, r.X, robustAt)
		s, r = t, t.settle(q, robustAt)
	}
	plain, err := s.run(s.values(r.X), math.Inf(1))
	if err != nil {
		return nil, nil, &CameraError{Camera: s.spec.Name, Reason: err.Error()}
	}
	return s, s.settle(plain, math.Inf(1)), nil
}

// surprise is how far mark i, which r does not use, lies from where r puts it,
// in standard deviations of that distance; the noise is judged without it.
func (s *solver) surprise(r *LMResult, i int) float64 {
	t := *s
	t.scale = append([]float64(nil), s.scale...)
	t.updateNoise(r)
	cov, err := r.Covariance()
	if err != nil {
		return 0
	}
	c := s.camera(r.X)
	px, ok := c.Project(s.spec.Marks[i].Floor)
	if !ok {
		return math.Inf(1)
	}
	g := t.markJac(r.X, i)
	var a mat.Dense
	a.Mul(g, cov)
	var v mat.Dense
	v.Mul(&a, g.T())
	n2 := t.sigma(i) * t.sigma(i)
	e := s.spec.Marks[i].Pixel.Sub(px)
	inv, _ := Inverse2([3]float64{v.At(0, 0) + n2, v.At(0, 1), v.At(1, 1) + n2})
	return math.Sqrt(inv[0]*e.X*e.X + 2*inv[1]*e.X*e.Y + inv[2]*e.Y*e.Y)
}
