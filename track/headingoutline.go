package track

import (
	"math"

	"swathe/geom"
)

// A square looks the same at every quarter of a turn, an oblong at every half: of
// such a body the outline tells the heading but for those. It is followed all the
// same, look after look, so that one offset holds for a stretch without a leap,
// and the direction of travel there says which.

// leapTurn is the turn between two looks that no robot makes, rad.
const leapTurn = 40 * deg

// quarter is how the offsets lie that a body may have: nobody builds one that
// looks the same at other angles and has a front.
const quarter = math.Pi / 2

// outlineOffset is what to add, at every look whose heading is the outline's, to
// have the robot's; NaN where nothing says. Only bodies that look alike at other
// headings have any but 0. Where it is not 0 the places are put right as well,
// for the body turns about its own middle then, not about its turning centre.
func outlineOffset(l []linked, job Job) []float64 {
	out := make([]float64, len(l))
	turns := likeTurns(job)
	if len(turns) == 1 {
		return out
	}
	last := math.NaN()
	for i := 0; i < len(l); {
		j, prev := i, -1
		for ; j < len(l); j++ {
			if l[j].Source != "outline" || !l[j].Found {
				continue
			}
			if prev >= 0 && (math.Abs(geom.WrapAngle(l[j].Turn-l[prev].Turn)) > leapTurn || l[j].T-l[prev].T > stretchOfTime || cut(l[j-1].state)) {
				break
			}
			prev = j
		}
		o := bestOffset(votes(l, i, j, "outline"), turns)
		if math.IsNaN(o) && len(turns) > 0 && prev >= 0 {
			o = carryOn(l, i, last, turns)
		}
		for k := i; k < j; k++ {
			out[k] = o
			if l[k].Found && o != 0 && !math.IsNaN(o) {
				turnAbout(&l[k], job, o)
			}
			if l[k].Source == "outline" && l[k].Found {
				last = l[k].Turn + o
			}
		}
		i = max(j, i+1)
	}
	return out
}

// bestOffset is the one of some offsets that the direction of travel bears out;
// NaN where it does not settle it.
func bestOffset(v []vote, turns []float64) float64 {
	best, second, at := 0.0, 0.0, math.NaN()
	for _, o := range turns {
		switch ahead, _, _ := along(v, o); {
		case ahead > best:
			best, second, at = ahead, best, o
		case ahead > second:
			second = ahead
		}
	}
	if !settled(best, second) {
		return math.NaN()
	}
	return at
}

// carryOn is the offset at which the heading goes on as it was before a leap,
// NaN if that is not known.
func carryOn(l []linked, i int, last float64, turns []float64) float64 {
	if math.IsNaN(last) {
		return math.NaN()
	}
	for k := i; k < len(l); k++ {
		if l[k].Source != "outline" || !l[k].Found {
			continue
		}
		for _, o := range turns {
			if math.Abs(geom.WrapAngle(l[k].Turn+o-last)) < leapTurn {
				return o
			}
		}
		break
	}
	return math.NaN()
}

// turnAbout turns a look's robot about the middle of its body.
func turnAbout(s *linked, job Job, by float64) {
	c := geom.Centroid(job.Robot.Outline)
	p := geom.Pose{X: s.pose.X, Y: s.pose.Y, Heading: s.Turn}
	m := p.At(c)
	q := geom.Pose{Heading: s.Turn + by}.At(c)
	s.pose.X, s.pose.Y = m.X-q.X, m.Y-q.Y
}

// likeTurns are the turns, in quarters, after which the body shows the same
// outline to within what a picture tells: always 0.
func likeTurns(job Job) []float64 {
	turns := []float64{0}
	r := job.Robot
	if r.Round() || job.Camera == nil {
		return turns
	}
	mpp := job.Camera.PixelSize(geom.Point3{X: job.Camera.Centre.X, Y: job.Camera.Centre.Y, Z: r.Height})
	if math.IsNaN(mpp) {
		mpp = 0.005
	}
	c := geom.Centroid(r.Outline)
	for k := 1; k < 4; k++ {
		if unlikeness(r.Outline, c, quarter*float64(k)) < alikePx*mpp {
			turns = append(turns, quarter*float64(k))
		}
	}
	return turns
}

// alikePx is the distance of two outlines, px, root mean square, below which a
// fit cannot tell them apart: it counts edges within 1 px as on the outline.
const alikePx = 0.7

// unlikeness is how far a body's outline turned about a point lies from itself,
// root mean square, m.
func unlikeness(body []geom.Point2, c geom.Point2, turn float64) float64 {
	s, cs := math.Sincos(turn)
	sum, n := 0.0, 0.0
	for i, a := range body {
		b := body[(i+1)%len(body)]
		steps := 1 + int(a.Dist(b)/0.01)
		for k := range steps {
			q := a.Add(b.Sub(a).Scale(float64(k) / float64(steps))).Sub(c)
			q = geom.Point2{X: c.X + cs*q.X - s*q.Y, Y: c.Y + s*q.X + cs*q.Y}
			best := math.Inf(1)
			for m, u := range body {
				d := body[(m+1)%len(body)].Sub(u)
				f := 0.0
				if ll := d.X*d.X + d.Y*d.Y; ll > 0 {
					f = math.Max(0, math.Min(1, ((q.X-u.X)*d.X+(q.Y-u.Y)*d.Y)/ll))
				}
				best = math.Min(best, q.Dist(u.Add(d.Scale(f))))
			}
			sum, n = sum+best*best, n+1
		}
	}
	return math.Sqrt(sum / math.Max(n, 1))
}
