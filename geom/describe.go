package geom

import (
	"fmt"
	"math"
)

// measure fills in residuals, leave-one-out errors and tapes.
func (sol *Solution) measure() {
	s := sol.s
	var px2, m2, loo2 float64
	n, nm, nl := 0, 0, 0
	for i, m := range s.spec.Marks {
		r := MarkResidual{Mark: i, M: math.NaN(), LooM: math.NaN(), LooPx: math.NaN(), Unused: s.off[i]}
		q, _ := sol.Camera.Project(m.Floor)
		r.Px = m.Pixel.Sub(q)
		if f, ok := sol.Camera.Floor(m.Pixel, m.Floor.Z); ok {
			r.M = f.Dist(Point2{m.Floor.X, m.Floor.Y})
		}
		if s.off[i] {
			r.LooM, r.LooPx = r.M, r.Px.Norm()
		} else {
			r.LooM, r.LooPx = sol.leaveOut(i)
			px2 += r.Px.Norm() * r.Px.Norm()
			n++
			if !math.IsNaN(r.M) {
				m2 += r.M * r.M
				nm++
			}
			if !math.IsNaN(r.LooM) {
				loo2 += r.LooM * r.LooM
				nl++
			}
		}
		sol.Residuals = append(sol.Residuals, r)
	}
	sol.MarkRMSPx = math.Sqrt(px2 / float64(n))
	sol.MarkRMSM, sol.LeaveOneOutM = math.NaN(), math.NaN()
	if nm == n {
		sol.MarkRMSM = math.Sqrt(m2 / float64(n))
	}
	if nl == n {
		sol.LeaveOneOutM = math.Sqrt(loo2 / float64(n))
	}
	for _, t := range s.spec.Tapes {
		a, oka := sol.Camera.Floor(t.From, 0)
		b, okb := sol.Camera.Floor(t.To, 0)
		e := math.NaN()
		if oka && okb {
			e = a.Dist(b) - t.Length
		}
		sol.TapeErrors = append(sol.TapeErrors, e)
	}
}

// leaveOut returns how far from mark i the other marks put it; NaN if they do
// not settle a camera.
func (sol *Solution) leaveOut(i int) (m, px float64) {
	s := sol.s
	var rest []Point3
	for _, k := range s.used() {
		if k != i {
			rest = append(rest, s.spec.Marks[k].Floor)
		}
	}
	if len(rest) < MinMarks || collinear(rest) {
		return math.NaN(), math.NaN()
	}
	t, r := s.without(i, sol.x, math.Inf(1))
	if t == nil {
		return math.NaN(), math.NaN()
	}
	c := t.camera(r.X)
	full := NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre)
	mk := s.spec.Marks[i]
	q, ok := full.Project(mk.Floor)
	f, ok2 := full.Floor(mk.Pixel, mk.Floor.Z)
	if !ok || !ok2 {
		return math.NaN(), math.NaN()
	}
	return f.Dist(Point2{mk.Floor.X, mk.Floor.Y}), q.Dist(mk.Pixel)
}

// settledShare: an unknown counts as solved once the marks have narrowed what
// was known of it beforehand to less than this share.
const settledShare = 0.5

// heightShare: a height known to worse than this share of itself is not
// settled: it moves a robot's top, 0.1 m high and 2 m out under a 2.5 m high
// lens, by 2 mm.
const heightShare = 0.02

// describe says in words what was solved, what was not, and what to mend.
func (sol *Solution) describe() {
	s := sol.s
	spec := s.spec
	note := func(list *[]string, format string, a ...any) { *list = append(*list, fmt.Sprintf(format, a...)) }
	sigma := func(p param) float64 {
		for i, q := range s.free {
			if q == p {
				return math.Sqrt(sol.Cov.At(i, i))
			}
		}
		return math.NaN()
	}
	note(&sol.Solved, "orientation")
	h := sol.Camera.Centre.Z
	given := !math.IsNaN(spec.LensHeight)
	low := sigma(pZ) < heightShare*h
	switch {
	case low && given && sigma(pZ) > settledShare*s.opts.HeightSigma:
		note(&sol.Solved, "position on the plan")
		note(&sol.NotSolved, "height: kept at the given %.3f m within %.0f mm; the marks hardly determine it", spec.LensHeight, 1000*s.opts.HeightSigma)
	case low:
		note(&sol.Solved, "position")
	default:
		note(&sol.Solved, "position on the plan")
	}
	if spec.Lens != nil {
		note(&sol.NotSolved, "lens: as given")
	} else {
		focal := sigma(pFocal)
		if low && focal < 2*heightShare {
			note(&sol.Solved, "focal length")
		} else if low {
			note(&sol.NotSolved, "focal length: %.0f px, known only to %.0f %%", sol.Camera.Lens.Fx, 100*focal)
		}
		for _, p := range []param{pK1, pK2} {
			switch sd := sigma(p); {
			case math.IsNaN(sd):
				note(&sol.NotSolved, "%s: set to 0", paramNames[p])
			case sd < settledShare*s.prior[p]:
				note(&sol.Solved, "%s", paramNames[p])
			default:
				note(&sol.NotSolved, "%s: kept near 0; the marks hardly determine it (%.2f +- %.2f)", paramNames[p], s.values(sol.x)[p], sd)
			}
		}
		sol.describeHeld(note, sigma)
	}
	if !low {
		note(&sol.NotSolved, "height and focal length: the marks fit any height from about %.2f m to %.2f m, with a matching focal length; %.2f m suits a usual lens", h-sigma(pZ), h+sigma(pZ), h)
		note(&sol.Warnings, "measure the height of the lens above the floor and write it as height, or survey two marks raised by half a metre or more: marks on the floor alone do not separate this camera's height from its focal length, and the robot's top would be placed wrongly (by about %.0f mm at 2 m for a top 0.1 m high)",
			1000*2*0.1*sigma(pZ)/(h*h))
	}
	sol.warn(note)
}

func (sol *Solution) describeHeld(note func(*[]string, string, ...any), sigma func(param) float64) {
	if math.IsNaN(sigma(pCx)) {
		note(&sol.NotSolved, "centre: set to the middle of the picture")
	} else {
		note(&sol.NotSolved, "centre: kept near the middle of the picture")
	}
	switch {
	case sol.s.spec.Model == Fisheye:
		note(&sol.NotSolved, "k3, k4: set to 0")
	case math.IsNaN(sigma(pP1)):
		note(&sol.NotSolved, "p1, p2, k3: set to 0")
	default:
		note(&sol.NotSolved, "p1, p2, k3: kept near 0")
	}
}

// vagueFloor, m: beyond it the camera, not the outline, limits the path.
const vagueFloor = 0.005

// worstSigma is the largest FloorSigma on a 5 x 5 grid over the box of the
// marks, 0.1 m above the floor.
func (sol *Solution) worstSigma() float64 {
	x0, x1 := math.Inf(1), math.Inf(-1)
	y0, y1 := math.Inf(1), math.Inf(-1)
	for _, i := range sol.s.used() {
		f := sol.s.spec.Marks[i].Floor
		x0, x1 = math.Min(x0, f.X), math.Max(x1, f.X)
		y0, y1 = math.Min(y0, f.Y), math.Max(y1, f.Y)
	}
	worst := 0.0
	for i := 0.0; i <= 4; i++ {
		for k := 0.0; k <= 4; k++ {
			worst = math.Max(worst, sol.FloorSigma(Point3{x0 + (x1-x0)*i/4, y0 + (y1-y0)*k/4, 0.1}))
		}
	}
	return worst
}

// manyPixels of residual (root mean square) say that something is wrong with
// the marks as a whole; a careful click is good to half a pixel.
const manyPixels = 3

func (sol *Solution) warn(note func(*[]string, string, ...any)) {
	s := sol.s
	for i, m := range s.spec.Marks {
		if !sol.Camera.InFrame(m.Pixel) {
			note(&sol.Warnings, "check the frame size: mark %d, at pixel (%.1f, %.1f), lies outside the picture of %d x %d", i+1, m.Pixel.X, m.Pixel.Y, s.spec.Width, s.spec.Height)
		}
	}
	if n := len(s.used()); n < 6 {
		note(&sol.Warnings, "survey a dozen marks: with %d a mistyped one may not be noticed", n)
	}
	if sol.MarkRMSPx > manyPixels {
		note(&sol.Warnings, "check the survey and the pixels: the marks are off by %.1f px RMS, %.0f mm on the floor", sol.MarkRMSPx, 1000*sol.MarkRMSM)
	}
	if worst := sol.worstSigma(); worst > vagueFloor {
		note(&sol.Warnings, "survey more marks, out to the corners of the room, or give the lens: positions between the marks are uncertain by up to %.0f mm (standard uncertainty, at the height of a robot's top)", 1000*worst)
	}
	w, h := float64(s.spec.Width-1), float64(s.spec.Height-1)
	for _, p := range []Point2{{0, 0}, {w, 0}, {w, h}, {0, h}} {
		if _, _, ok := sol.Camera.Lens.Undistort(p); ok {
			continue
		}
		if s.spec.Lens != nil {
			note(&sol.Warnings, "check the model of the lens and the signs and order of its distortion (k1, k2, p1, p2, k3): as given, it images nothing into the picture's corners, so a robot there cannot be located")
		} else {
			note(&sol.Warnings, "survey marks nearer to the picture's corners, or give the lens: as solved, it images nothing into them, so a robot there cannot be located")
		}
		break
	}
	if s.spec.Lens != nil {
		return
	}
	// Marks that fill a small part of the picture leave the rest to guesswork.
	x0, x1 := math.Inf(1), math.Inf(-1)
	y0, y1 := math.Inf(1), math.Inf(-1)
	for _, i := range s.used() {
		p := s.spec.Marks[i].Pixel
		x0, x1 = math.Min(x0, p.X), math.Max(x1, p.X)
		y0, y1 = math.Min(y0, p.Y), math.Max(y1, p.Y)
	}
	if share := (x1 - x0) * (y1 - y0) / float64(s.spec.Width*s.spec.Height); share < 0.15 {
		note(&sol.Warnings, "survey marks nearer to the room's corners: the marks cover only %.0f %% of the picture", 100*share)
	}
}
