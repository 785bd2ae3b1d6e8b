package sight

import (
	"math"
	"math/cmplx"
	"sort"

	"gonum.org/v1/gonum/dsp/fourier"

	"swathe/geom"
)

// Turn is how the robot's top was turned at one look.
type Turn struct {
	T     float64 `json:"t"`     // s, of the look
	Angle float64 `json:"angle"` // rad, counter-clockwise on the floor; unwrapped
	Sigma float64 `json:"sigma"` // rad, standard uncertainty
	Match float64 `json:"match"` // normalised correlation with the robot's own picture, 0..1
	// Beside is where the robot's centre lies by its top, from the place that the top was
	// read about, m on the floor; BesideVar its variance along each axis, m^2, 0 where the
	// top cannot tell.
	Beside    [2]float64 `json:"beside,omitzero"`
	BesideVar float64    `json:"beside_var,omitempty"`
	Held      float64    `json:"held,omitempty"` // the same at the heading of the outline, of a robot that is not round
}

// The picture of a top is the sum of two: what is on the robot, which turns
// with it, and reflections of the lamps, which do not. At a heading h its
// harmonic k is W + B exp(-ikh). With the headings of many looks both follow
// by least squares; with both, each look's heading is where the rest, less W,
// correlates best with B. Plain correlation: on so few features it does better
// than phase correlation (Stone, Tao and McGuire, "Analysis of image
// registration noise due to rotationally dependent aliasing").
type topModel struct {
	w, b [textureRings * textureHarmonics]complex128
	norm float64               // sum of |b|^2
	mean [textureRings]float64 // of each ring, less that of all
	ways float64               // 0: one heading was seen only, 1: all alike
}

// topRidge is how many looks' worth of doubt there is that anything but the
// robot is to be seen: while all looks have one heading the two pictures
// cannot be told apart, and all is taken for the robot's.
const topRidge = 15

// goodMatch is the correlation above which a look's turn is taken; below it
// noise does as well.
const goodMatch = 0.4

// turnRounds is how often headings and pictures are solved in turn.
const turnRounds = 4

// lookBlock is how many looks are solved together, half an hour of them: so a
// run's memory does not grow with its hours. A later block begins with what the
// one before it knew of the top, so that their angles agree.
const lookBlock = 20000

// Turns returns the turn of the top at every look at which enough of it showed,
// in the order of time, and forgets the looks. One that cannot be told has a
// match of no more than goodMatch and an angle of 0. Angles are headings as far as the
// direction of travel gave a start; else they have an unknown constant offset.
func (t *Texture) Turns() []Turn {
	t.settle()
	out := t.turns
	t.turns, t.model = nil, nil
	return out
}

// settle turns the looks so far into turns and forgets them.
func (t *Texture) settle() {
	looks := t.looks
	t.looks = t.looks[:0]
	if len(looks) < 8 {
		return
	}
	s := newSolver()
	first := t.firstHeads(looks)
	heads := append([]float64(nil), first...)
	if t.model != nil {
		s.solve(looks, t.model, heads, make([]float64, len(looks)))
	}
	m, match := s.top(looks, heads)
	sure, radius := match != nil && m.judges(match) && t.borneOut(looks, first, heads), 0.0
	// The outline of a robot that is not round tells its heading better than
	// the light on a plain top does.
	if match == nil || t.turned && !sure {
		return
	}
	if sure {
		m, radius = s.recentred(looks, m), t.radius
	}
	if found := s.finish(looks, &m, t.turned, radius); found != nil {
		if !t.large && !(t.clear && sure) { // too small for a heading
			for i := range found {
				found[i] = Turn{T: found[i].T, Match: goodMatch, Beside: found[i].Beside, BesideVar: found[i].BesideVar}
			}
		}
		if t.large || sure && (t.clear || !t.turned) {
			t.turns = append(t.turns, found...)
		}
		t.model = &m
		// What comes is held against half an hour of looks, not against few.
		if sure {
			t.know(&m, match)
		}
		t.soFar.next = math.MaxInt
	}
}

// borneOut tells whether a top turns with the robot, as light on a plain one does not: most
// of its headings must be about those of the outline, of a robot that is not round, or off
// the direction of travel, ahead or astern, by one angle. first are the latter, NaN where
// there is none; with fewer than leastTravel of them nothing speaks against it.
func (t *Texture) borneOut(looks []unwrapped, first, heads []float64) bool {
	var sum complex128
	n := 0.0
	each := func(see func(d float64)) {
		for i := range looks {
			at := first[i]
			if t.turned {
				at = looks[i].pose.Heading
			}
			if d := heads[i] - at; !math.IsNaN(d) {
				see(d)
			}
		}
	}
	each(func(d float64) { sum += cmplx.Rect(1, 2*d); n++ })
	off := cmplx.Phase(sum) / 2
	if t.turned {
		off = 0
	} else if n < leastTravel {
		return true
	}
	near := 0.0
	each(func(d float64) {
		e := math.Abs(geom.WrapAngle(d - off))
		if e < mistaken || !t.turned && math.Pi-e < mistaken {
			near++
		}
	})
	return near > 0.7*n
}

// leastTravel is how many looks at a robot that drives straight begin a picture of its top.
const leastTravel = 10

// firstHeads are the headings to begin with, NaN where there is none.
func (t *Texture) firstHeads(looks []unwrapped) []float64 {
	heads := make([]float64, len(looks))
	if t.turned {
		for i := range looks {
			heads[i] = looks[i].pose.Heading
		}
		return heads
	}
	if travelHeads(looks, heads) < leastTravel {
		// It hardly drives: begin with the first look as the picture.
		for i := range heads {
			heads[i] = math.NaN()
		}
		for i := 0; i < len(looks) && looks[i].t < looks[0].t+0.3; i++ {
			heads[i] = 0
		}
	}
	return heads
}

// top solves headings and pictures of some looks in turn, beginning with some
// headings (NaN: not known), which it fills. match is each look's with the
// pictures of the last round but one, nil where nothing can be solved.
func (s *topSolver) top(looks []unwrapped, heads []float64) (m topModel, match []float64) {
	match = make([]float64, len(looks))
	for round := 0; round < turnRounds; round++ {
		m = s.model(looks, heads)
		if m.norm == 0 {
			return m, nil
		}
		s.solve(looks, &m, heads, match)
	}
	return m, match
}

// hasPicture tells whether looks with these matches (sorted here) have a
// picture of the top. One without matches its own noise now and then; one with
// a picture matches nearly always.
func (m *topModel) hasPicture(match []float64) bool {
	sort.Float64s(match)
	return len(match) > 0 && match[len(match)/3] >= goodMatch && m.norm >= flatTop
}

// travelHeads fills heads with the direction of travel where the robot drives
// straight, NaN elsewhere, and returns how many it filled. It is stricter than
// track's own direction of travel: the top's picture is learned from these looks,
// and a bend would blur it.
func travelHeads(looks []unwrapped, heads []float64) (n int) {
	for i := range looks {
		heads[i] = math.NaN()
		a, b := i, i
		for a > 0 && looks[i].t-looks[a].t < 0.3 {
			a--
		}
		for b+1 < len(looks) && looks[b].t-looks[i].t < 0.3 {
			b++
		}
		if looks[b].t-looks[a].t > 1.2 || a == i || b == i {
			continue
		}
		dx, dy := looks[b].pose.X-looks[a].pose.X, looks[b].pose.Y-looks[a].pose.Y
		d := math.Hypot(dx, dy)
		ex, ey := looks[i].pose.X-looks[a].pose.X, looks[i].pose.Y-looks[a].pose.Y
		if d < 0.06 || math.Abs(ex*dy-ey*dx)/d > 0.03*d { // not straight
			continue
		}
		heads[i] = math.Atan2(dy, dx)
		n++
	}
	return n
}

type topSolver struct {
	fft  *fourier.FFT
	acc  []complex128
	corr []float64
	way  coursing
}

func newSolver() *topSolver {
	return &topSolver{fft: fourier.NewFFT(textureAngles), acc: make([]complex128, textureAngles/2+1), corr: make([]float64, textureAngles)}
}

// model solves for the two pictures from the looks whose heading is known.
func (s *topSolver) model(looks []unwrapped, heads []float64) (m topModel) {
	var e [textureHarmonics]complex128
	var sc, sr [textureRings * textureHarmonics]complex128
	n := 0.0
	for i := range looks {
		u := &looks[i]
		if math.IsNaN(heads[i]) || u.shown < wholeTop {
			continue
		}
		n++
		step := cmplx.Rect(1, heads[i])
		p := complex(1, 0)
		var turn [textureHarmonics]complex128
		for k := range turn {
			p *= step
			turn[k] = p // exp(i (k+1) h)
			e[k] += cmplx.Conj(p)
		}
		g := float64(u.scale)
		for r := 0; r < textureRings; r++ {
			m.mean[r] += float64(u.mean[r])
			for k := 0; k < textureHarmonics; k++ {
				j := r*textureHarmonics + k
				c := complex(g*float64(u.z[2*j]), g*float64(u.z[2*j+1]))
				sc[j] += c
				sr[j] += c * turn[k]
			}
		}
	}
	if n == 0 {
		return m
	}
	for r := range m.mean {
		m.mean[r] /= n
	}
	m.ways = 1 - cmplx.Abs(e[0])/n
	for r := 0; r < textureRings; r++ {
		for k := 0; k < textureHarmonics; k++ {
			j := r*textureHarmonics + k
			// [n+ridge  E][W]   [sum c       ]
			// [E*       n][B] = [sum c e^ikh ]
			det := (n+topRidge)*(n+0.1) - real(e[k])*real(e[k]) - imag(e[k])*imag(e[k])
			m.w[j] = (complex(n+0.1, 0)*sc[j] - e[k]*sr[j]) / complex(det, 0)
			m.b[j] = (complex(n+topRidge, 0)*sr[j] - cmplx.Conj(e[k])*sc[j]) / complex(det, 0)
			m.norm += real(m.b[j])*real(m.b[j]) + imag(m.b[j])*imag(m.b[j])
		}
	}
	return m
}

// correlate fills s.corr with the normalised correlation of a look, less the
// reflections, with the robot's picture at every turn.
func (s *topSolver) correlate(u *unwrapped, m *topModel) {
	for k := range s.acc {
		s.acc[k] = 0
	}
	g := float64(u.scale)
	energy := 0.0
	share := complex(float64(u.shown), 0)
	for r := 0; r < textureRings; r++ {
		for k := 0; k < textureHarmonics; k++ {
			j := r*textureHarmonics + k
			c := complex(g*float64(u.z[2*j]), g*float64(u.z[2*j+1])) - share*m.w[j]
			energy += real(c)*real(c) + imag(c)*imag(c)
			// The correlation at turn h is the sum of c conj(B) e^{ikh}.
			s.acc[k+1] += c * cmplx.Conj(m.b[j])
		}
	}
	s.corr = s.fft.Sequence(s.corr, s.acc)
	d := 2 * math.Sqrt(energy*m.norm*float64(u.shown))
	if d == 0 {
		d = math.Inf(1)
	}
	for i := range s.corr {
		s.corr[i] /= d
	}
}

// best is the turn (rad) of the highest correlation, interpolated, its height
// and its curvature (per rad squared, positive).
func (s *topSolver) best() (angle, match, curve float64) {
	at := 0
	for i, v := range s.corr {
		if v > s.corr[at] {
			at = i
		}
	}
	return s.peak(at)
}

// inBin is best within a bin of a course of turns and a step on either side.
func (s *topSolver) inBin(bin int) (angle, match, curve float64) {
	const per = textureAngles / turnBins
	at := bin * per
	for d := -1; d <= per; d++ {
		if i := mod(bin*per + d); s.corr[i] > s.corr[at] {
			at = i
		}
	}
	return s.peak(at)
}

// peak is the height about angle number at, with the parabola through its
// neighbours.
func (s *topSolver) peak(at int) (angle, match, curve float64) {
	a, b, c := s.corr[mod(at-1)], s.corr[at], s.corr[mod(at+1)]
	off := 0.0
	den := a - 2*b + c
	if den < 0 {
		off = math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/den))
	}
	const step = 2 * math.Pi / textureAngles
	return (float64(at) + off) * step, b, -den / (step * step)
}

// near is the highest correlation within slip of a turn.
func (s *topSolver) near(turn float64) float64 {
	const slip = textureAngles / 45 // 8 degrees
	at := int(math.Round(turn / (2 * math.Pi) * textureAngles))
	v := math.Inf(-1)
	for d := -slip; d <= slip; d++ {
		v = math.Max(v, s.corr[mod(at+d)])
	}
	return v
}

// judges tells whether the picture of the top is beyond doubt by its looks'
// matches, which are sorted here: then it judges fits.
func (m *topModel) judges(match []float64) bool {
	return m.hasPicture(match) && match[len(match)/4] > surely && m.ways > fewWays
}

func mod(i int) int { return ((i % textureAngles) + textureAngles) % textureAngles }

// each decides the turns of some looks together and hands them on one by one.
func (s *topSolver) each(looks []unwrapped, m *topModel, see func(i int, angle, match, curve float64)) {
	s.way.begin(len(looks))
	for i := range looks {
		s.correlate(&looks[i], m)
		s.way.add(looks[i].t, s.corr)
	}
	for i, bin := range s.way.course() {
		s.correlate(&looks[i], m)
		a, v, curve := s.inBin(bin)
		see(i, a, v, curve)
	}
}

// solve gives every look its heading, NaN where nothing matches there.
func (s *topSolver) solve(looks []unwrapped, m *topModel, heads, match []float64) {
	s.each(looks, m, func(i int, a, v, _ float64) {
		match[i], heads[i] = v, a
		if v <= goodMatch {
			heads[i] = math.NaN()
		}
	})
}

// finish returns the turns that are good enough, unwrapped, with sigmas; turned
// tells whether the looks have headings of their own, and radius, m, is that of the
// top where its picture tells its place too, else 0.
func (s *topSolver) finish(looks []unwrapped, m *topModel, turned bool, radius float64) []Turn {
	var out []Turn
	var all []float64
	last := math.NaN()
	c := newCentring(m)
	s.each(looks, m, func(i int, a, v, curve float64) {
		u := &looks[i]
		all = append(all, v)
		t := Turn{T: u.t, Match: v}
		if turned {
			t.Held = s.near(u.pose.Heading)
		}
		if v < goodMatch || curve <= 0 {
			t.Match = math.Min(v, goodMatch)
			out = append(out, t)
			return
		}
		off := float64(u.centre)
		if radius > 0 {
			if d, ok := c.centre(u, a); ok {
				t.Beside, t.BesideVar = [2]float64{d.X * radius, d.Y * radius}, d.variance*radius*radius
				a, off = d.heading, math.Sqrt(d.variance)*float64(u.px)
				if !turned { // else it is held against the match at the outline's heading
					t.Match = math.Max(v, d.match)
				}
			}
		}
		a = geom.WrapAngle(a)
		if !math.IsNaN(last) {
			a = last + geom.WrapAngle(a-last)
		}
		last = a
		t.Angle, t.Sigma = a, turnSigma(u, off, t.Match, curve)
		out = append(out, t)
	})
	if !m.hasPicture(all) {
		return nil
	}
	return out
}

// turnSigma is the uncertainty of a turn: from the noise that the height of
// the correlation tells of and its curvature, with as many independent samples
// as the top has pixels over four (neighbours share light and compression);
// and from the centre (centre: px), where an error e at radius R turns the picture by e/R.
func turnSigma(u *unwrapped, centre, match, curve float64) float64 {
	r := float64(u.px)
	pixels := math.Pi * r * r * (textureOuter*textureOuter - textureInner*textureInner) * float64(u.shown) / 4
	noise := math.Max(0, 1-match*match) / math.Max(match, 0.1)
	c := centre / r
	return math.Sqrt(noise/(curve*pixels) + c*c + 2e-5)
}
