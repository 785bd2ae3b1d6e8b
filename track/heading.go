package track

import (
	"fmt"
	"math"

	"swathe/geom"
)

// travelSpan is half the time over which a direction of travel is taken, s;
// travelMin the way that it must cover, m: at 1 mm of noise that is 2 degrees.
// An outline may leap from one edge to another, wholeSlip times linked.slip, at
// either end: that is no travel.
const (
	travelSpan = 0.25
	travelMin  = 0.04
	wholeSlip  = 4
)

// travelDir is the direction in which the centre moves at look i, rad, and how
// fast, m/s. The centre
// is the turning centre, so a robot on wheels moves along its own axis.
func travelDir(l []linked, i int) (dir, speed float64, ok bool) {
	if cut(l[i].state) || l[i].still {
		return 0, 0, false
	}
	a, b := i, i
	for a > 0 && !cut(l[a-1].state) && l[i].T-l[a].T < travelSpan {
		a--
	}
	for b+1 < len(l) && !cut(l[b+1].state) && l[b].T-l[i].T < travelSpan {
		b++
	}
	// As much before as after, or an arc tilts the chord.
	if a == i || b == i || math.IsNaN(l[a].pose.X) || math.IsNaN(l[b].pose.X) {
		return 0, 0, false
	}
	dx, dy := l[b].pose.X-l[a].pose.X, l[b].pose.Y-l[a].pose.Y
	dist, way := math.Hypot(dx, dy), 0.0
	for k := a; k < b; k++ {
		way += math.Hypot(l[k+1].pose.X-l[k].pose.X, l[k+1].pose.Y-l[k].pose.Y)
	}
	if dist < math.Max(travelMin, wholeSlip*(l[a].slip+l[b].slip)) || dist < 0.95*way {
		return 0, 0, false
	}
	return math.Atan2(dy, dx), dist / (l[b].T - l[a].T), true
}

// headings fills heading, its sigma and its source for all looks. Nothing is
// made up: before a plain robot first drives, where it may have turned on the
// spot unseen, and where no drive settles which end is its front, the heading is
// NaN and its source unknown.
func headings(l []linked, job Job, opt Options) (warnings []string) {
	tops := textureOffset(l)
	if tops.why != "" {
		warnings = append(warnings, tops.why)
	}
	bodies := outlineOffset(l, job)
	z := make([]angleFix, len(l))
	last := math.NaN() // the heading so far, to choose the whole turn
	for i := range l {
		s := &l[i]
		z[i] = angleFix{t: s.T, cut: i == 0 || cut(l[i-1].state) || cut(s.state), still: s.still}
		if cut(s.state) {
			continue
		}
		var m, sg float64
		switch {
		case s.Source == "texture" && tops.ok:
			m, sg = s.Turn+tops.offset[i], math.Hypot(s.TurnSigma, 0.01)
			s.source = geom.HeadingTexture
		case s.Source == "marker":
			m, sg = s.Turn, s.TurnSigma
			s.source = geom.HeadingMarker
		case s.Source == "outline" && !math.IsNaN(bodies[i]):
			m, sg = s.Turn+bodies[i], s.TurnSigma
			s.source = geom.HeadingOutline
		default:
			continue
		}
		if !math.IsNaN(last) {
			m = last + geom.WrapAngle(m-last)
		}
		last = m
		z[i].a, z[i].r, z[i].ok = m, sg*sg, true
	}
	held := holdTurns(l, z, opt)
	if why := fillTravel(l, z, tops.unsettled); why != "" {
		warnings = append(warnings, why)
	}
	out := smoothAngles(z, opt.TurnAccel*opt.TurnAccel)
	for i := range l {
		l[i].pose.Heading, l[i].sigmaH = out[i].X[0], math.Sqrt(math.Max(0, out[i].P.At(0, 0)))
		if h := held[i]; !math.IsNaN(h) {
			l[i].pose.Heading = h
		}
	}
	nameSources(l, z)
	unseenTurns(l, z)
	for i := range l {
		if math.IsNaN(l[i].pose.Heading) {
			l[i].source, l[i].sigmaH = geom.HeadingUnknown, math.NaN()
		}
	}
	return warnings
}

// vote is what the direction of travel at one look says of the turn of a top, or
// an outline, there.
type vote struct {
	at  int
	d   float64 // rad, travel less turn
	way float64 // m, driven there
}

// votes are those of all looks from..to whose turn has the given source.
func votes(l []linked, from, to int, source string) (v []vote) {
	for i := from; i < to; i++ {
		if l[i].Source != source {
			continue
		}
		dir, speed, good := travelDir(l, i)
		if !good {
			continue
		}
		dt := 0.0
		if i > 0 {
			dt += math.Min(travelSpan, l[i].T-l[i-1].T) / 2
		}
		if i+1 < len(l) {
			dt += math.Min(travelSpan, l[i+1].T-l[i].T) / 2
		}
		v = append(v, vote{i, geom.WrapAngle(dir - l[i].Turn), speed * dt})
	}
	return v
}

// along adds up the way on which votes lie about an axis, ahead or astern of it,
// m; all is the way of all of them.
func along(v []vote, axis float64) (ahead, astern, all float64) {
	for _, q := range v {
		e := math.Abs(geom.WrapAngle(q.d - axis))
		all += q.way
		switch {
		case e < 20*deg:
			ahead += q.way
		case e > 160*deg:
			astern += q.way
		}
	}
	return ahead, astern, all
}

// A cleaner drives ahead, but for a hand's breadth now and then: which end is
// its front is settled where it has driven aheadLeast m one way, and mostAhead
// times as far as the other. On the drawn rooms and courses of the tests the
// ratio is 8 and more.
const (
	aheadLeast = 0.4
	mostAhead  = 3
)

// settled tells whether a drive settles which end is the front.
func settled(ahead, astern float64) bool { return ahead >= aheadLeast && ahead >= mostAhead*astern }

const noFront = "put a printed marker on top: which end of the robot is its front is unclear (it drove %.1f m one way along its axis and %.1f m the other), so its headings are left empty"

// topOffset is what to add, at every look, to the turn of the top's picture to
// have the heading.
type topOffset struct {
	offset    []float64
	ok        bool
	unsettled bool // the picture turns with the robot, but nothing says which end is its front
	why       string
}

// textureOffset ties the turn of the top's picture down by the direction of
// travel wherever the robot drives. Where most of the driving is at odds with
// the texture's turns the texture is not the robot's (a reflection stands still
// while the robot turns) and is not used.
func textureOffset(l []linked) (o topOffset) {
	v := votes(l, 0, len(l), "texture")
	if len(v) < 5 {
		return o
	}
	// Driving ahead and in reverse differ by half a turn: find the axis first.
	twice, w := make([]float64, len(v)), make([]float64, len(v))
	for k, q := range v {
		twice[k], w[k] = geom.WrapAngle(2*q.d), q.way
	}
	axis := circularMedian(twice, w) / 2
	ahead, astern, all := along(v, axis)
	if (ahead+astern)/all < 0.6 {
		o.why = fmt.Sprintf("the pattern on the robot's top does not turn with it (it agrees with travel on %.0f %% of the path), so the heading comes from the direction of travel", 100*(ahead+astern)/all)
		return o
	}
	if astern > ahead {
		axis, ahead, astern = geom.WrapAngle(axis+math.Pi), astern, ahead
	}
	if !settled(ahead, astern) {
		o.unsettled, o.why = true, fmt.Sprintf(noFront, ahead, astern)
		return o
	}
	o.offset, o.ok = slowOffset(l, v, axis), true
	return o
}

// offsetMemory is over how long the offset may wander, s. The reference
// picture is one for the run, so that it hardly does.
const offsetMemory = 45

// slowOffset refines the offset locally: the weighted mean of what nearby
// straight driving says, drawn towards the run's.
func slowOffset(l []linked, v []vote, axis float64) []float64 {
	const bins = 5.0 // s
	n := int(l[len(l)-1].T/bins) + 1
	num, den := make([]float64, n), make([]float64, n)
	for _, q := range v {
		e := geom.WrapAngle(q.d - axis)
		if math.Abs(e) > math.Pi/2 {
			e = geom.WrapAngle(e + math.Pi)
		}
		if math.Abs(e) > 8*deg {
			continue
		}
		b := int(math.Max(0, l[q.at].T) / bins)
		num[b] += q.way * e
		den[b] += q.way
	}
	mean := make([]float64, n)
	for b := range mean {
		var s, t float64
		for c := range num {
			g := float64(b-c) * bins / offsetMemory
			if math.Abs(g) < 3 {
				k := math.Exp(-0.5 * g * g)
				s += k * num[c]
				t += k * den[c]
			}
		}
		mean[b] = s / (t + 1) // as if 1 m of way had agreed with the run
	}
	offset := make([]float64, len(l))
	for i := range l {
		p := math.Max(0, l[i].T)/bins - 0.5
		b := int(math.Max(0, math.Min(float64(n-1), math.Floor(p))))
		c := min(b+1, n-1)
		u := math.Max(0, math.Min(1, p-float64(b)))
		offset[i] = axis + mean[b]*(1-u) + mean[c]*u
	}
	return offset
}

// travelSigma is the uncertainty of a heading taken from travel, rad.
const travelSigma = 3 * deg

// stretchOfTime is how near in time a texture must be for its turn to bridge a
// look without one, s.
const stretchOfTime = 1.0

// fillTravel gives looks without a picture of the top the direction of travel,
// where that is far from any that has one. Reversing shows as a direction that
// flips within a moment: nothing on wheels turns round so fast. After any
// longer stop the robot is taken to go ahead again. Beside a look whose heading was
// measured that tells which way it goes. Where all this makes it go
// astern too much for the front to be settled, or that is known already, no
// look is given any and why says so.
func fillTravel(l []linked, z []angleFix, unsettled bool) (why string) {
	near := nearest(z)
	if unsettled {
		return ""
	}
	head := math.NaN()                  // the heading so far, to choose the whole turn
	way, wayT := math.NaN(), math.NaN() // the last direction of travel and its time
	back, borne := false, false         // it goes astern; a measured heading has borne that out
	var gone [2]float64                 // m, ahead and astern where none has
	var filled []int
	for i := range l {
		if cut(l[i].state) {
			head, way, back = math.NaN(), math.NaN(), false
			continue
		}
		dir, speed, good := travelDir(l, i)
		if good {
			switch since := l[i].T - wayT; {
			case z[i].ok:
				back, borne = math.Abs(geom.WrapAngle(dir-z[i].a)) > math.Pi/2, true
			case math.IsNaN(way):
				back, borne = false, false
			case since < flipTime && math.Abs(geom.WrapAngle(dir-way)) > flipAngle:
				back = !back
			case since > stopTime:
				back, borne = false, false
			}
			way, wayT = dir, l[i].T
		}
		if z[i].ok {
			head = z[i].a
		}
		if z[i].ok || !good || near[i] < stretchOfTime {
			continue
		}
		step := speed * math.Min(travelSpan, l[i].T-l[max(i-1, 0)].T)
		n := 0
		if back {
			dir, n = dir+math.Pi, 1
		}
		if !borne {
			gone[n] += step
		}
		if !math.IsNaN(head) {
			dir = head + geom.WrapAngle(dir-head)
		}
		z[i].a, z[i].r, z[i].ok = dir, travelSigma*travelSigma, true
		l[i].source = geom.HeadingTravel
		head = dir
		filled = append(filled, i)
	}
	if gone[1] > aheadLeast && !settled(gone[0], gone[1]) {
		for _, i := range filled {
			z[i].ok, l[i].source = false, geom.HeadingUnknown
		}
		return fmt.Sprintf(noFront, gone[0], gone[1])
	}
	return ""
}

// A direction that turns by more than flipAngle within flipTime (s) is a
// reverse: household robots need a second and more for half a turn. A pause of
// more than stopTime (s) in which nothing can be said is a stop.
const (
	flipAngle = 150 * deg
	flipTime  = 0.8
	stopTime  = 0.5
)

// nearest is the time from each look to the nearest with a measured turn.
func nearest(z []angleFix) []float64 {
	d := make([]float64, len(z))
	last := math.Inf(-1)
	for i := range z {
		if z[i].ok {
			last = z[i].t
		}
		d[i] = z[i].t - last
	}
	last = math.Inf(1)
	for i := len(z) - 1; i >= 0; i-- {
		if z[i].ok {
			last = z[i].t
		}
		d[i] = math.Min(d[i], last-z[i].t)
	}
	return d
}

// nameSources names the source of headings that were filled in between
// measured ones, by the nearer of them.
func nameSources(l []linked, z []angleFix) {
	prev := -1
	for i := range l {
		if z[i].ok {
			prev = i
			continue
		}
		if math.IsNaN(l[i].pose.Heading) {
			continue
		}
		next := i + 1
		for next < len(z) && !z[next].ok && next-i < 200 {
			next++
		}
		switch {
		case prev >= 0 && (next >= len(z) || !z[next].ok || l[i].T-l[prev].T <= l[next].T-l[i].T):
			l[i].source = l[prev].source
		case next < len(z):
			l[i].source = l[next].source
		}
	}
}
