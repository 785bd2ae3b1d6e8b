package sight

import (
	"math"

	"swathe/geom"
)

const (
	// sameRest is how far apart two places of a test object at rest may be measured, m,
	// and be one; or this share of a pixel, if that is more.
	sameRest   = 0.0015
	sameRestPx = 0.3
	// handRest is how far apart they must be, m, if the robot was not near in
	// between: less is the light's doing.
	handRest = 0.012
	// offSurvey: a test object that lies this far from where the layout has it, m, was
	// laid elsewhere; less is the doubt of the look.
	offSurvey = 0.012
	// sameTurn is the same of its turn, rad.
	sameTurn = 0.05
	// inRest is how far from its place a test object at rest may be measured with the
	// robot beside it, m.
	inRest = 0.004
)

// rest is a stretch in which a test object lay still.
type rest struct {
	from, to int // looks: the first, the last
	at       geom.Pose
}

// sight tells what was seen of a test object.
func (q *object) sight() ObjectSight {
	s := ObjectSight{ObjectSight: geom.ObjectSight{Name: q.name, Reason: q.reason}, Before: cropOf(q.before, q.after.box).png(), After: q.after.png()}
	if len(q.log) == 0 {
		if s.Reason == "" {
			s.Reason = "its place was never seen clearly"
		}
		return s
	}
	s.Seen, s.Reason = true, ""
	const ever = 1e9 // s, longer than any recording
	if !math.IsNaN(q.laid) || !math.IsNaN(q.taken) {
		s.Present = geom.Span{From: 0, To: ever}
		if !math.IsNaN(q.laid) {
			s.Present.From = q.laid
		}
		if !math.IsNaN(q.taken) {
			s.Present.To = q.taken
		}
	}
	s.Track = q.track()
	return s
}

// track makes of the single looks where the test object lay when: still at one place
// while it was at rest, as measured on the way between.
func (q *object) track() []geom.ObjectPose {
	rests := q.rests()
	first := q.log[0].at
	if len(rests) > 0 {
		first = rests[0].at
	}
	bias := geom.Point2{X: first.X - q.mid.X, Y: first.Y - q.mid.Y}
	if bias.Norm() > offSurvey {
		bias = geom.Point2{}
	}
	pose := func(t float64, at geom.Pose) geom.ObjectPose {
		return geom.ObjectPose{T: t, X: at.X - bias.X, Y: at.Y - bias.Y, Turn: at.Heading}
	}
	var out []geom.ObjectPose
	if len(rests) == 0 {
		for _, l := range q.log {
			out = append(out, pose(l.t, l.at))
		}
		return out
	}
	add := func(p geom.ObjectPose) {
		if n := len(out); n == 0 || p.T > out[n-1].T {
			out = append(out, p)
		}
	}
	for i, r := range rests {
		// What was measured between two places: as long as it fits the first it
		// lies there, and from where it fits the second, there.
		next, last := len(q.log), r.at
		if i+1 < len(rests) {
			next, last = rests[i+1].from, rests[i+1].at
		}
		leave := r.to
		for k := r.to + 1; k < next && (fits(q.log[k], r.at) || !q.log[k].met && loose(q.log[k], r.at)); k++ {
			leave = k
		}
		arrive := next
		if i+1 < len(rests) {
			// It came to rest when it was last found at a new place, or when the
			// robot let go of it.
			for arrive > leave+1 {
				l := q.log[arrive-1]
				if !fits(l, last) && !loose(l, last) && !(l.held && l.at == q.log[next-1].at) {
					break
				}
				arrive--
			}
		}
		add(pose(q.log[r.from].t, r.at))
		add(pose(q.log[leave].t, r.at))
		for k := leave + 1; k < arrive; k++ {
			add(pose(q.log[k].t, q.log[k].at))
		}
		if i+1 < len(rests) && arrive < next {
			add(pose(q.log[arrive].t, last))
		}
	}
	return out
}

// loose tells whether a look is one at a test object at rest that the robot is beside,
// but not at: what it differs by is the shadow's doing.
func loose(l objectLook, at geom.Pose) bool {
	return l.gap > metReach && math.Hypot(l.at.X-at.X, l.at.Y-at.Y) <= handRest
}

// fits tells whether a look with the robot near is one at a test object at rest.
func fits(l objectLook, at geom.Pose) bool {
	tol := inRest
	if l.visible < 0.95 {
		tol = 2 * inRest // part of it is hidden, and the rest may slide along what hides it
	}
	return math.Hypot(l.at.X-at.X, l.at.Y-at.Y) <= tol
}

// rests finds where the test object lay still, of the looks that nothing disturbed.
func (q *object) rests() []rest {
	same := math.Max(sameRest, sameRestPx*q.mpp)
	var out []rest
	var of [][]int
	met := false
	for k, l := range q.log {
		met = met || l.met
		if l.gap < shadowReach || l.visible < 0.9 {
			continue
		}
		n := len(out)
		apart := handRest
		if met {
			apart, met = same, false
		}
		if n > 0 && math.Hypot(l.at.X-out[n-1].at.X, l.at.Y-out[n-1].at.Y) <= apart {
			of[n-1] = append(of[n-1], k)
			out[n-1].to = k
			out[n-1].at = q.middle(of[n-1])
			continue
		}
		out, of = append(out, rest{k, k, l.at}), append(of, []int{k})
	}
	// Looks on the way make no rest, unless they are the last.
	kept, keptOf := out[:0], of[:0]
	for i, r := range out {
		if len(of[i]) < 2 && i < len(out)-1 && i > 0 {
			continue
		}
		if n := len(kept); n > 0 {
			d := math.Hypot(r.at.X-kept[n-1].at.X, r.at.Y-kept[n-1].at.Y)
			if d <= same && math.Abs(geom.WrapAngle(r.at.Heading-kept[n-1].at.Heading)) <= 2*sameTurn {
				keptOf[n-1] = append(keptOf[n-1], of[i]...)
				kept[n-1].to, kept[n-1].at = r.to, q.middle(keptOf[n-1])
				continue
			}
		}
		kept, keptOf = append(kept, r), append(keptOf, of[i])
	}
	for i := range kept {
		if math.Abs(kept[i].at.Heading) < sameTurn {
			kept[i].at.Heading = 0
		}
	}
	return kept
}

// middle is the middle pose of some looks, coordinate by coordinate.
func (q *object) middle(of []int) geom.Pose {
	get := func(f func(objectLook) float64) float64 {
		v := make([]float64, len(of))
		for i, k := range of {
			v[i] = f(q.log[k])
		}
		return median(v)
	}
	first := q.log[of[0]].at.Heading
	return geom.Pose{
		X:       get(func(l objectLook) float64 { return l.at.X }),
		Y:       get(func(l objectLook) float64 { return l.at.Y }),
		Heading: geom.WrapAngle(first + get(func(l objectLook) float64 { return geom.WrapAngle(l.at.Heading - first) })),
	}
}
