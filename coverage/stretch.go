package coverage

import "math"

// timeSlack is how far a moment within a straight stretch may lie from the one
// that even driving gives, s.
const timeSlack = 0.01

// stretch joins steps of a path into one as long as all places between lie
// where the straight way from its first to its last has them, to a tolerance:
// as functions of travel, x, y, heading and time are straight lines. Each
// point narrows the slopes that such a line may have from the first point on.
type stretch struct {
	slack  [4]float64 // m, m, rad, s
	turn   float64    // rad, the most that a stretch may turn
	lo, hi [4]float64 // of the slopes, a metre
}

// newStretch returns a stretch that keeps both ends of a line that reach m from
// the turning centre within slack (m).
func newStretch(slack, reach, turn float64) *stretch {
	// The line's ends add what the place and the turn are off.
	half := slack / 2
	return &stretch{slack: [4]float64{half / math.Sqrt2, half / math.Sqrt2, half / math.Max(reach, half), timeSlack}, turn: turn}
}

// begin forgets all points.
func (s *stretch) begin() {
	for i := range s.lo {
		s.lo[i], s.hi[i] = math.Inf(-1), math.Inf(1)
	}
}

// takes tells whether a stretch from first to p lies well enough to every point
// taken since begin, and if so takes p.
func (s *stretch) takes(first, p *point) bool {
	ds := p.s - first.s
	dh := p.h - first.h
	if !(ds > 0) || dh > s.turn || -dh > s.turn {
		return false
	}
	inv := 1 / ds
	m := [4]float64{(p.x - first.x) * inv, (p.y - first.y) * inv, dh * inv, (p.t - first.t) * inv}
	if m[0] < s.lo[0] || m[0] > s.hi[0] || m[1] < s.lo[1] || m[1] > s.hi[1] ||
		m[2] < s.lo[2] || m[2] > s.hi[2] || m[3] < s.lo[3] || m[3] > s.hi[3] {
		return false
	}
	for i := range m {
		// Compared by hand: min and max take care of numbers that are none.
		if lo := m[i] - s.slack[i]*inv; lo > s.lo[i] {
			s.lo[i] = lo
		}
		if hi := m[i] + s.slack[i]*inv; hi < s.hi[i] {
			s.hi[i] = hi
		}
	}
	return true
}

// between returns the point at share u of the way from a to b.
func between(a, b *point, u float64) point {
	r := *b
	r.x, r.y, r.h = a.x+u*(b.x-a.x), a.y+u*(b.y-a.y), a.h+u*(b.h-a.h)
	r.s, r.t = a.s+u*(b.s-a.s), a.t+u*(b.t-a.t)
	return r
}
