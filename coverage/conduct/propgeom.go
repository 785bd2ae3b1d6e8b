package conduct

import (
	"math"

	"swathe/geom"
)

// moved returns the outline as it lies when its middle, which the layout has at
// mid, is at the pose.
func moved(ring []geom.Point2, mid geom.Point2, p geom.ObjectPose) []geom.Point2 {
	s, c := math.Sincos(p.Turn)
	out := make([]geom.Point2, len(ring))
	for i, q := range ring {
		d := q.Sub(mid)
		out[i] = geom.Point2{X: p.X + c*d.X - s*d.Y, Y: p.Y + s*d.X + c*d.Y}
	}
	return out
}

// poseAt interpolates a track; before its first and after its last pose the
// test object lies still.
func poseAt(track []geom.ObjectPose, t float64) geom.ObjectPose {
	if t <= track[0].T {
		p := track[0]
		p.T = t
		return p
	}
	for i := 1; i < len(track); i++ {
		a, b := track[i-1], track[i]
		if t <= b.T {
			u := (t - a.T) / (b.T - a.T)
			return geom.ObjectPose{T: t, X: a.X + u*(b.X-a.X), Y: a.Y + u*(b.Y-a.Y), Turn: a.Turn + u*geom.WrapAngle(b.Turn-a.Turn)}
		}
	}
	p := track[len(track)-1]
	p.T = t
	return p
}

// nearestOf returns the point of an outline's boundary that is nearest to p.
func nearestOf(ring []geom.Point2, p geom.Point2) geom.Point2 {
	best := ring[0]
	for i, a := range ring {
		if f := footOn(a, ring[(i+1)%len(ring)], p); f.Dist(p) < best.Dist(p) {
			best = f
		}
	}
	return best
}

// depthStep is the spacing of the points of an outline that are tried for how
// deep they lie in a body, m.
const depthStep = 0.01

// depthIn returns how far the outline reaches into the body, m, 0 if it does
// not.
func depthIn(body, ring []geom.Point2) float64 {
	deep := 0.0
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		n := max(1, int(math.Ceil(a.Dist(b)/depthStep)))
		for k := 0; k < n; k++ {
			deep = math.Max(deep, -ringGap(body, a.Add(b.Sub(a).Scale(float64(k)/float64(n)))))
		}
	}
	return deep
}

// inBody returns where floor point q lies in the body frame of a robot at p.
func inBody(p geom.Pose, q geom.Point2) geom.Point2 {
	s, c := math.Sincos(p.Heading)
	x, y := q.X-p.X, q.Y-p.Y
	return geom.Point2{X: c*x + s*y, Y: c*y - s*x}
}
