package geom

import (
	"errors"
	"math"
)

// Rigid carries floor points from one survey's frame into another's:
// q = turn by Turn, then move by Shift.
type Rigid struct {
	Turn  float64 // rad, counter-clockwise
	Shift Point2  // m
	// Scale is by how much lengths in the second are longer than in the first,
	// as least squares would have it; Apply leaves it out, for two tapes agree
	// on the metre better than two surveys do.
	Scale float64
}

// Apply carries a point.
func (r Rigid) Apply(p Point2) Point2 {
	s, c := math.Sincos(r.Turn)
	return Point2{c*p.X - s*p.Y + r.Shift.X, s*p.X + c*p.Y + r.Shift.Y}
}

// Undo is the inverse of Apply.
func (r Rigid) Undo(p Point2) Point2 {
	s, c := math.Sincos(r.Turn)
	d := p.Sub(r.Shift)
	return Point2{c*d.X + s*d.Y, c*d.Y - s*d.X}
}

// FitRigid returns the turn and shift, without a reflection, that bring from
// onto to with the least sum of squares (Umeyama, IEEE PAMI 13(4), 1991, in the
// plane, where the rotation has a closed form). It errs with fewer than two
// pairs, or when all points of one side are one.
func FitRigid(from, to []Point2) (Rigid, error) {
	if len(from) != len(to) || len(from) < 2 {
		return Rigid{}, errors.New("two surveys can be aligned only with two or more common points")
	}
	n := float64(len(from))
	var ma, mb Point2
	for i := range from {
		ma, mb = ma.Add(from[i].Scale(1/n)), mb.Add(to[i].Scale(1/n))
	}
	var dot, cross, va, vb float64
	for i := range from {
		a, b := from[i].Sub(ma), to[i].Sub(mb)
		dot += a.X*b.X + a.Y*b.Y
		cross += a.X*b.Y - a.Y*b.X
		va += a.X*a.X + a.Y*a.Y
		vb += b.X*b.X + b.Y*b.Y
	}
	if va == 0 || vb == 0 {
		return Rigid{}, errors.New("two surveys cannot be aligned with common points that all lie on one spot")
	}
	r := Rigid{Turn: math.Atan2(cross, dot), Scale: math.Hypot(dot, cross) / va}
	r.Shift = mb.Sub(r.Apply(ma))
	return r, nil
}

// OutlineSpread returns how far two outlines (corners in order, not closed) lie
// apart: root mean square and largest distance of points spread evenly along
// each from the other. Symmetric; 0 for the same outline however it is begun.
func OutlineSpread(a, b []Point2) (rms, worst float64) {
	var sum, n float64
	for _, pair := range [][2][]Point2{{a, b}, {b, a}} {
		for _, p := range along(pair[0]) {
			d := ringDistance(pair[1], p)
			sum, n = sum+d*d, n+1
			worst = math.Max(worst, d)
		}
	}
	return math.Sqrt(sum / n), worst
}

// along returns points spread evenly along a ring, its corners among them.
func along(ring []Point2) []Point2 {
	const pieces = 200
	total := 0.0
	for i, p := range ring {
		total += p.Dist(ring[(i+1)%len(ring)])
	}
	var out []Point2
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		k := max(1, int(math.Ceil(pieces*p.Dist(q)/total)))
		for j := range k {
			out = append(out, lerp(p, q, float64(j)/float64(k)))
		}
	}
	return out
}
