package doubt

import (
	"math"

	"swathe/geom"
)

// Bounds within which a thinned path keeps to the whole one: a tenth of what a
// path is known to.
const (
	thinM   = 0.0003
	thinRad = 0.003
)

// thin returns the path with those samples left out that lie, at their time,
// on the straight line between the ones kept. No stretch gets longer than
// maxGap seconds, so that noise with knots so far apart still shows.
func thin(t *geom.Trace, maxGap float64) *geom.Trace {
	out := *t
	ss := t.Samples
	out.Samples = append(make([]geom.Sample, 0, len(ss)/4), ss[0])
	last := 0
	for last < len(ss)-1 {
		next := last + 1
		for next+1 < len(ss) && next-last < maxRun && ss[next+1].T-ss[last].T <= maxGap && straight(ss[last:next+2]) {
			next++
		}
		out.Samples = append(out.Samples, ss[next])
		last = next
	}
	return &out
}

// maxRun bounds the work on a stretch.
const maxRun = 32

// straight tells whether the inner samples lie between the outer two.
func straight(ss []geom.Sample) bool {
	a, b := ss[0], ss[len(ss)-1]
	if a.State != geom.Seen || b.State != geom.Seen || math.IsNaN(a.X) || math.IsNaN(b.X) {
		return false
	}
	same := math.IsNaN(a.Heading) == math.IsNaN(b.Heading) && math.IsNaN(a.Sigma) == math.IsNaN(b.Sigma)
	for _, s := range ss[1 : len(ss)-1] {
		u := (s.T - a.T) / (b.T - a.T)
		if !same || s.State != geom.Seen || math.IsNaN(s.Heading) != math.IsNaN(a.Heading) ||
			math.Abs(a.X+u*(b.X-a.X)-s.X) > thinM || math.Abs(a.Y+u*(b.Y-a.Y)-s.Y) > thinM ||
			math.Abs(a.Heading+u*(b.Heading-a.Heading)-s.Heading) > thinRad {
			return false
		}
	}
	return true
}
