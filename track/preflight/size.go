package preflight

import (
	"math"

	"swathe/geom"
	"swathe/track/sight"
)

// sizeStep and sizeSpan are the steps in which the body is made wider and
// narrower about the size at which it was found, and how far.
const (
	sizeStep = 0.005
	sizeSpan = 0.03
)

// size finds the width of the body that sits best. A body fitted too wide has
// all edges inside its outline by the same amount, which no move takes away: the
// mean square of the edges' distance is a parabola over the width, and its
// lowest point the width that shows.
//
// What it gives is the width at the height of lab.yaml: a top 10 mm higher than
// entered shows 0.4 % wider under a lens 2.5 m above the floor.
func (f *Finding) size(set sight.Setup, bg *sight.Background, found []hit, about float64, c *clock) {
	var ratios []float64
	for _, h := range found {
		if h.s.Visible < 0.9 || h.s.Support < 0.7 || h.s.Shift > 0.5 {
			continue
		}
		if k, ok := bestSize(set, bg, h, about); ok {
			ratios = append(ratios, k)
		}
		if len(ratios) == 24 || !c.left() {
			break
		}
	}
	f.Size.Frames = len(ratios)
	if len(ratios) < 3 {
		return
	}
	sd := spread(ratios)
	f.Size.Ratio = known(middle(ratios))
	f.Size.Sigma = known(1.25 * sd / math.Sqrt(float64(len(ratios)))) // of a median
}

// bestSize is the width, as a share of the entry, that sits best in one picture.
func bestSize(set sight.Setup, bg *sight.Background, h hit, about float64) (float64, bool) {
	var s [5]float64 // sums of powers of the width
	var m [3]float64 // and with the mean square
	low, at := math.Inf(1), 0.0
	type point struct{ x, y float64 }
	var pts []point
	for k := about - sizeSpan; k < about+sizeSpan+sizeStep/2; k += sizeStep {
		fit := sight.NewFitter(set.Cam, sight.Resized(set.Robot, k), set.Floor, set.Hidden)
		p, ok := fit.At(&h.pic.Y, &bg.Y, geom.Pose{X: h.s.X, Y: h.s.Y, Heading: h.s.Turn}, 0)
		if !ok || p.Support < 0.6 {
			continue
		}
		q := point{k - about, p.RMS * p.RMS}
		pts = append(pts, q)
		if q.y < low {
			low, at = q.y, q.x
		}
	}
	for _, p := range pts {
		if math.Abs(p.x-at) > 2.6*sizeStep {
			continue // farther off, other edges are taken for the outline
		}
		x := 1.0
		for i := range s {
			s[i] += x
			if i < 3 {
				m[i] += x * p.y
			}
			x *= p.x
		}
	}
	if s[0] < 4 {
		return 0, false
	}
	// Least squares for y = a + b x + c x^2.
	det := s[0]*(s[2]*s[4]-s[3]*s[3]) - s[1]*(s[1]*s[4]-s[3]*s[2]) + s[2]*(s[1]*s[3]-s[2]*s[2])
	b := s[0]*(m[1]*s[4]-s[3]*m[2]) - m[0]*(s[1]*s[4]-s[3]*s[2]) + s[2]*(s[1]*m[2]-m[1]*s[2])
	c := s[0]*(s[2]*m[2]-m[1]*s[3]) - s[1]*(s[1]*m[2]-m[1]*s[2]) + m[0]*(s[1]*s[3]-s[2]*s[2])
	if det == 0 || c/det <= 0 {
		return 0, false
	}
	x := -b / (2 * c)
	if math.Abs(x-at) > 2*sizeStep {
		return 0, false
	}
	return about + x, true
}
