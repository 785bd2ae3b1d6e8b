package track

import (
	"fmt"
	"math"

	"swathe/geom"
)

// travelSpan is half the time over which a direction of travel is taken, s;
// travelMin the way that it must cover, m: at 1 mm of noise that is 2 degrees.
const (
	travelSpan = 0.25
	travelMin  = 0.04
)

// travelDir is the direction in which the centre moves at look i. The centre
// is the turning centre, so a robot on wheels moves along its own axis.
func travelDir(l []linked, i int) (dir, dist float64, ok bool) {
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
	dist = math.Hypot(dx, dy)
	way := 0.0
	for k := a; k < b; k++ {
		way += math.Hypot(l[k+1].pose.X-l[k].pose.X, l[k+1].pose.Y-l[k].pose.Y)
	}
	if dist < travelMin || dist < 0.95*way {
		return 0, dist, false
	}
	return math.Atan2(dy, dx), dist, true
}

// headings fills heading, its sigma and its source for all looks.
func headings(l []linked, job Job, opt Options) (warnings []string) {
	offset, ok, why := textureOffset(l)
	if why != "" {
		warnings = append(warnings, why)
	}
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
		case s.Source == "texture" && ok:
			m, sg = s.Turn+offset[i], math.Hypot(s.TurnSigma, 0.01)
			s.source = geom.HeadingTexture
		case s.Source == "marker":
			m, sg = s.Turn, s.TurnSigma
			s.source = geom.HeadingMarker
		case s.Source == "outline":
			m, sg = s.Turn, s.TurnSigma
			s.source = geom.HeadingTexture
		default:
			continue
		}
		if !math.IsNaN(last) {
			m = last + geom.WrapAngle(m-last)
		}
		last = m
		z[i].a, z[i].r, z[i].ok = m, sg*sg, true
	}
	fillTravel(l, z)
	out := runAngle(z, opt.TurnAccel*opt.TurnAccel)
	for i := range l {
		l[i].pose.Heading, l[i].sigmaH = out[i].a, math.Sqrt(math.Max(0, out[i].pa))
		if math.IsNaN(out[i].a) {
			l[i].source = geom.HeadingUnknown
		}
	}
	nameSources(l, z)
	return warnings
}

// textureOffset is, at every look, what to add to the turn of the top's
// picture to have the heading: the direction of travel ties it down wherever
// the robot drives. Where most of the driving is at odds with the texture's
// turns the texture is not the robot's (a reflection stands still while the
// robot turns) and is not used.
func textureOffset(l []linked) (offset []float64, ok bool, why string) {
	var d, w []float64
	var at []int
	for i := range l {
		if l[i].Source != "texture" {
			continue
		}
		dir, dist, good := travelDir(l, i)
		if !good {
			continue
		}
		d = append(d, geom.WrapAngle(dir-l[i].Turn))
		w = append(w, dist)
		at = append(at, i)
	}
	if len(d) < 5 {
		return nil, false, ""
	}
	// Driving ahead and in reverse differ by half a turn: find the axis first.
	twice := make([]float64, len(d))
	for k := range d {
		twice[k] = geom.WrapAngle(2 * d[k])
	}
	axis := circularMedian(twice, w) / 2
	var ahead, astern, all float64
	for k := range d {
		e := geom.WrapAngle(d[k] - axis)
		all += w[k]
		switch {
		case math.Abs(e) < 20*deg:
			ahead += w[k]
		case math.Abs(e) > 160*deg:
			astern += w[k]
		}
	}
	if (ahead+astern)/all < 0.6 {
		return nil, false, fmt.Sprintf("the picture of the robot's top does not turn with the robot (it agrees with the travel on %.0f %% of the way); the heading is taken from the direction of travel", 100*(ahead+astern)/all)
	}
	if astern > ahead {
		axis = geom.WrapAngle(axis + math.Pi)
	}
	return slowOffset(l, d, w, at, axis), true, ""
}

// offsetMemory is over how long the offset may wander, s. The reference
// picture is one for the run, so that it hardly does.
const offsetMemory = 45

// slowOffset refines the offset locally: the weighted mean of what nearby
// straight driving says, drawn towards the run's.
func slowOffset(l []linked, d, w []float64, at []int, axis float64) []float64 {
	const bins = 5.0 // s
	n := int(l[len(l)-1].T/bins) + 1
	num, den := make([]float64, n), make([]float64, n)
	for k, i := range at {
		e := geom.WrapAngle(d[k] - axis)
		if math.Abs(e) > math.Pi/2 {
			e = geom.WrapAngle(e + math.Pi)
		}
		if math.Abs(e) > 8*deg {
			continue
		}
		b := int(math.Max(0, l[i].T) / bins)
		num[b] += w[k] * e
		den[b] += w[k]
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
		mean[b] = s / (t + 3) // as if 3 m of way had agreed with the run
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
// longer stop the robot is taken to go ahead again.
func fillTravel(l []linked, z []angleFix) {
	near := nearest(z)
	head := math.NaN()                  // the heading so far, to choose the whole turn
	way, wayT := math.NaN(), math.NaN() // the last direction of travel and its time
	back := false
	for i := range l {
		if z[i].ok {
			head, way, back = z[i].a, math.NaN(), false
			continue
		}
		if cut(l[i].state) {
			head, way, back = math.NaN(), math.NaN(), false
			continue
		}
		if near[i] < stretchOfTime {
			continue
		}
		dir, _, good := travelDir(l, i)
		if !good {
			continue
		}
		if since := l[i].T - wayT; !math.IsNaN(way) {
			switch {
			case since < flipTime && math.Abs(geom.WrapAngle(dir-way)) > flipAngle:
				back = !back
			case since > stopTime:
				back = false
			}
		}
		way, wayT = dir, l[i].T
		if back {
			dir += math.Pi
		}
		if !math.IsNaN(head) {
			dir = head + geom.WrapAngle(dir-head)
		}
		z[i].a, z[i].r, z[i].ok = dir, travelSigma*travelSigma, true
		l[i].source = geom.HeadingTravel
		head = dir
	}
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

// angleFix is a measured heading for the smoother.
type angleFix struct {
	t, a, r float64
	ok      bool
	cut     bool // nothing links this moment to the one before
	still   bool // the centre stands (it may turn all the same)
}

type angleState struct{ a, w, pa, paw, pw float64 }

// runAngle is the constant-rate filter and Rauch-Tung-Striebel smoother of the
// heading: white angular acceleration of spectral density q. A heading without
// any measurement in its stretch is NaN.
func runAngle(z []angleFix, q float64) []angleState {
	n := len(z)
	pred, filt := make([]angleState, n), make([]angleState, n)
	known := make([]bool, n)
	for i := range z {
		if i == 0 || z[i].cut {
			pred[i] = angleState{pa: 1e4, pw: 4}
			for k := i; k < n && (k == i || !z[k].cut); k++ {
				if z[k].ok {
					pred[i].a = z[k].a
					known[i] = true
					break
				}
			}
		} else {
			p, dt := filt[i-1], z[i].t-z[i-1].t
			known[i] = known[i-1]
			// Without a measurement the rate dies out within a second or so:
			// a robot that is not seen to turn is not made to spin.
			w := p.w
			if !z[i].ok && !z[i-1].ok {
				w *= math.Exp(-dt / 0.5)
			}
			pred[i] = angleState{a: p.a + dt*w, w: w, pa: p.pa + 2*dt*p.paw + dt*dt*p.pw + q*dt*dt*dt/3,
				paw: p.paw + dt*p.pw + q*dt*dt/2, pw: math.Min(p.pw+q*dt, 40)}
		}
		filt[i] = pred[i]
		if z[i].ok {
			s := pred[i].pa + z[i].r
			e := z[i].a - pred[i].a
			// One wild angle must not swing the rest.
			if lim := 6*math.Sqrt(s) + 0.1; math.Abs(e) > lim {
				s += e * e
			}
			ka, kw := pred[i].pa/s, pred[i].paw/s
			filt[i] = angleState{a: pred[i].a + ka*e, w: pred[i].w + kw*e, pa: (1 - ka) * pred[i].pa,
				paw: (1 - ka) * pred[i].paw, pw: pred[i].pw - kw*pred[i].paw}
		}
	}
	out := make([]angleState, n)
	for i := n - 1; i >= 0; i-- {
		out[i] = filt[i]
		if !known[i] {
			out[i].a, out[i].pa = math.NaN(), math.NaN()
			continue
		}
		if i == n-1 || z[i+1].cut {
			continue
		}
		out[i] = backAngle(filt[i], pred[i+1], out[i+1], z[i+1].t-z[i].t)
	}
	return out
}

func backAngle(f, p, nx angleState, dt float64) angleState {
	det := p.pa*p.pw - p.paw*p.paw
	if det <= 0 {
		return f
	}
	// C = P F' Ppred^-1 with F = [1 dt; 0 1].
	m00, m01 := f.pa+dt*f.paw, f.paw
	m10, m11 := f.paw+dt*f.pw, f.pw
	i00, i01, i11 := p.pw/det, -p.paw/det, p.pa/det
	c00, c01 := m00*i00+m01*i01, m00*i01+m01*i11
	c10, c11 := m10*i00+m11*i01, m10*i01+m11*i11
	da, dw := nx.a-p.a, nx.w-p.w
	d00, d01, d11 := nx.pa-p.pa, nx.paw-p.paw, nx.pw-p.pw
	o := f
	o.a += c00*da + c01*dw
	o.w += c10*da + c11*dw
	o.pa += c00*c00*d00 + 2*c00*c01*d01 + c01*c01*d11
	o.paw += c00*(d00*c10+d01*c11) + c01*(d01*c10+d11*c11)
	o.pw += c10*c10*d00 + 2*c10*c11*d01 + c11*c11*d11
	return o
}
