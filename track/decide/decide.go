// Package decide chooses, over a whole run, which of the places that were
// proposed in each frame is the robot's.
//
// The model. In a frame the robot shows at one place or at none. A place that
// was proposed is a peak of the likelihood over the floor: its gain is the log
// of how much more likely the frame is with the robot there than with nothing
// there, and its variance says how wide the peak is. Between frames the robot
// moves at a nearly constant velocity (white acceleration of a given spectral
// density); now and then it is pushed, or was followed wrongly, and leaps as
// far as its greatest speed allows; hardly ever it comes up anywhere. A path's
// score is the log of its share of the probability: for each frame the gain and
// the integral of the step's density over the peak (Laplace's approximation),
// or the cost of a frame in which it does not show. A robot that is not round has
// a heading as well, which turns at a nearly constant rate, and now and then was
// followed the wrong way round; way and turn are independent.
//
// The best path is found by keeping, at every frame, the best few hypotheses,
// each with the Kalman filter of its own past, of those that end alike only
// one (multiple hypothesis tracking: Reid, IEEE Trans. Automatic Control 24,
// 1979; for one target it is Viterbi's algorithm over places with velocities).
// A frame is decided once all hypotheses agree on it, so that memory does not
// grow with the run.
package decide

import (
	"math"
	"slices"
	"sort"
)

// Place is where the robot may be in a frame.
type Place struct {
	X, Y float64 // m
	Var  float64 // m^2, of each coordinate
	Gain float64 // nats

	Heading    float64 // rad
	HeadingVar float64 // rad^2; 0: the place has no heading
}

// Options are the model's constants.
type Options struct {
	Accel    float64 // m/s^2/sqrt(Hz), spectral density of the acceleration
	MaxSpeed float64 // m/s, of a leap
	Area     float64 // m^2, of the room
	Start    float64 // nats, for the first place of all
	Leap     float64 // nats, for a leap
	Anywhere float64 // nats, for coming up anywhere
	Turn     float64 // rad/s^2/sqrt(Hz), spectral density of the turning's acceleration
	Flip     float64 // nats, for a heading that has nothing to do with the last
	Keep     int     // hypotheses
	Window   int     // frames after which the best hypothesis decides, whatever the others say
}

// DefaultOptions returns the constants for a room of so many square metres.
func DefaultOptions(area float64) Options {
	return Options{Accel: 0.8, MaxSpeed: 1.5, Area: math.Max(1, area), Start: -3, Leap: -6, Anywhere: -12, Turn: 6, Flip: -6, Keep: 24, Window: 600}
}

// Decision is what was decided of a frame: the place chosen, -1 for none.
type Decision struct{ Frame, Place int }

// Guess is where a hypothesis expects the robot.
type Guess struct {
	X, Y, VX, VY float64
	Sigma        float64 // m
	Heading      float64 // rad, and
	Turned       bool    // whether it is known at all
	Score        float64 // nats below the best hypothesis
}

type node struct {
	frame, place int
	before       *node
	handed       bool // its decision was given
}

type hypothesis struct {
	score    float64
	x, y     float64
	vx, vy   float64
	p, pv, v float64 // variances of a coordinate and its speed, and between them
	known    bool    // a place was taken
	turn     turning
	since    float64 // s, of its last place
	place    int     // in the last frame
	path     *node
}

// Decider takes in frame after frame. It is for one goroutine.
type Decider struct {
	opt    Options
	hyp    []hypothesis
	next   []hypothesis
	t      float64
	frames int
	done   int // frames decided
	out    []Decision
}

// New returns a Decider that has seen nothing.
func New(opt Options) *Decider {
	return &Decider{opt: opt, hyp: []hypothesis{{since: math.Inf(-1)}}}
}

// fastest is the most that the variance of a speed grows to, m^2/s^2. That of a
// place grows to the room's: wherever it went meanwhile, it is in there.
const fastest = 1

// driven is for how long a robot that no frame shows is driven on as it went,
// s, and coasted how fast its speed is forgotten from then on, s.
const (
	driven  = 0.25
	coasted = 2
)

// turning is the heading of a hypothesis, with the Kalman filter of its own.
type turning struct {
	h, rate  float64 // rad, rad/s
	p, pv, v float64 // variances of heading and rate, and between them
	known    bool
}

// fastestTurn is the most that the variance of a rate grows to, (rad/s)^2; that of
// a heading grows to that of any alike.
const (
	fastestTurn = 4
	anyHeading  = math.Pi * math.Pi / 3
)

// predict moves a heading on by dt.
func (t *turning) predict(accel, dt float64) {
	if !t.known {
		return
	}
	q := accel * accel
	t.p += 2*dt*t.pv + dt*dt*t.v + q*dt*dt*dt/3
	t.pv += dt*t.v + q*dt*dt/2
	t.v += q * dt
	t.p, t.pv = grown(t.p, t.pv, anyHeading)
	t.v, t.pv = grown(t.v, t.pv, fastestTurn)
	t.h += t.rate * dt
}

// take takes in the heading of a place and returns the log of its share of the
// probability, as step does of the place.
func (t *turning) take(heading, v float64, flip float64) float64 {
	v = math.Min(v, anyHeading)
	far := math.Log(2*math.Pi*v)/2 - math.Log(2*math.Pi)
	fresh := turning{h: heading, p: v, v: fastestTurn, known: true}
	if !t.known {
		*t = fresh
		return far
	}
	d := wrapped(heading - t.h)
	s := t.p + v
	near := math.Log(v/s)/2 - d*d/(2*s)
	if far += flip; near < far {
		*t = fresh
		return far
	}
	a, b := t.p/s, t.pv/s
	t.h, t.rate = t.h+a*d, t.rate+b*d
	t.p, t.pv, t.v = (1-a)*t.p, (1-a)*t.pv, t.v-b*t.pv
	return near
}

// wrapped is an angle within half a turn of 0. geom has the same, but this package imports nothing of the project.
func wrapped(a float64) float64 { return math.Remainder(a, 2*math.Pi) }

// grown cuts a variance that has grown beyond most, and takes what it has in
// common with another along: or the matrix is none, and peaks behind a gap have no width.
func grown(v, common, most float64) (float64, float64) {
	if v > most {
		return most, common * math.Sqrt(most/v)
	}
	return v, common
}

// predict moves a hypothesis on by dt.
func (d *Decider) predict(h *hypothesis, dt float64) {
	if !h.known || dt <= 0 {
		return
	}
	q := d.opt.Accel * d.opt.Accel
	h.p += 2*dt*h.pv + dt*dt*h.v + q*dt*dt*dt/3
	h.pv += dt*h.v + q*dt*dt/2
	h.v += q * dt
	h.v, h.pv = grown(h.v, h.pv, fastest)
	h.p, h.pv = grown(h.p, h.pv, d.opt.Area/(2*math.Pi))
	h.turn.predict(d.opt.Turn, dt)
	far, keep := dt, 1.0
	if late := dt - driven; h.since < d.t {
		keep = math.Exp(-dt / coasted)
	} else if late > 0 { // no frame for long is as good as frames that do not show it
		keep = math.Exp(-late / coasted)
		far = driven + coasted*(1-keep)
	}
	h.x += h.vx * far
	h.y += h.vy * far
	h.vx, h.vy = h.vx*keep, h.vy*keep
}

// Expect returns where up to n hypotheses that differ by more than apart (m), or by
// a heading, expect the robot at time t, the best first.
func (d *Decider) Expect(t float64, n int, apart float64) []Guess {
	var out []Guess
	for i := range d.hyp {
		h := d.hyp[i]
		if !h.known {
			continue
		}
		d.predict(&h, t-d.t)
		far := true
		for _, g := range out {
			far = far && (math.Hypot(g.X-h.x, g.Y-h.y) > apart || g.Turned && h.turn.known && math.Abs(wrapped(g.Heading-h.turn.h)) > otherWay)
		}
		if far {
			out = append(out, Guess{h.x, h.y, h.vx, h.vy, math.Sqrt(h.p), h.turn.h, h.turn.known, d.hyp[0].score - h.score})
			if len(out) == n {
				break
			}
		}
	}
	return out
}

// otherWay is the difference, rad, from which on two headings are two ways round.
const otherWay = math.Pi / 6

// Add takes in the places of the next frame, at time t (s, rising), and
// returns which of them the best path so far ends in, -1 for none. miss is the
// log of how often the robot shows at none of the places, nats.
func (d *Decider) Add(t float64, miss float64, places []Place) int {
	d.next = d.next[:0]
	dt := t - d.t
	for i := range d.hyp {
		h := d.hyp[i]
		d.predict(&h, dt)
		m := h
		m.score += miss
		m.place = -1
		d.next = append(d.next, m)
		for k := range places {
			d.next = append(d.next, d.step(&h, &places[k], k, t))
		}
	}
	d.t = t
	d.prune()
	d.frames++
	if d.frames%16 == 0 {
		d.settle()
	}
	return d.hyp[0].place
}

// leapSlack is how far beside its place a robot may have been followed, m: a
// leap back needs no speed.
const leapSlack = 0.03

// step extends a hypothesis, predicted for time t, by a place.
func (d *Decider) step(h *hypothesis, p *Place, k int, t float64) hypothesis {
	o := &d.opt
	n := *h
	n.place, n.since = k, t
	n.score += p.Gain
	if p.HeadingVar > 0 {
		n.score += n.turn.take(p.Heading, p.HeadingVar, o.Flip)
	}
	fresh := func() {
		n.x, n.y, n.vx, n.vy, n.p, n.pv, n.v, n.known = p.X, p.Y, 0, 0, p.Var, 0, 0.1, true
	}
	if !h.known {
		n.score += o.Start
		fresh()
		return n
	}
	s := h.p + p.Var
	dx, dy := p.X-h.x, p.Y-h.y
	near := math.Log(p.Var/s) - (dx*dx+dy*dy)/(2*s)
	far := o.Anywhere + math.Log(2*math.Pi*p.Var/o.Area)
	r := o.MaxSpeed*(t-h.since) + leapSlack
	if dx*dx+dy*dy < r*r {
		far = math.Max(far, o.Leap+math.Log(2*p.Var/(r*r)))
	}
	if near < far {
		n.score += far
		fresh()
		return n
	}
	n.score += near
	a, b := h.p/s, h.pv/s
	n.x, n.y = h.x+a*dx, h.y+a*dy
	n.vx, n.vy = h.vx+b*dx, h.vy+b*dy
	n.p, n.pv, n.v = (1-a)*h.p, (1-a)*h.pv, h.v-b*h.pv
	return n
}

// alike tells whether two hypotheses end so alike that what comes tells them no more apart.
func (g *hypothesis) alike(h *hypothesis) bool {
	return g.known == h.known && g.turn.known == h.turn.known &&
		math.Hypot(g.x-h.x, g.y-h.y) < 0.002+0.3*math.Sqrt(math.Min(g.p, h.p)) &&
		math.Hypot(g.vx-h.vx, g.vy-h.vy) < 0.02+0.3*math.Sqrt(math.Min(g.v, h.v)) &&
		(!g.turn.known || math.Abs(wrapped(g.turn.h-h.turn.h)) < 0.02+0.3*math.Sqrt(math.Min(g.turn.p, h.turn.p)))
}

// prune keeps the best hypotheses, of those that end alike the best one.
func (d *Decider) prune() {
	sort.SliceStable(d.next, func(i, j int) bool { return d.next[i].score > d.next[j].score })
	d.hyp = d.hyp[:0]
	for i := range d.next {
		h := &d.next[i]
		if len(d.hyp) >= d.opt.Keep || h.score < d.next[0].score-60 {
			break
		}
		alike := false
		for j := range d.hyp {
			g := &d.hyp[j]
			if alike = g.alike(h); alike {
				break
			}
		}
		if !alike {
			h.path = &node{frame: d.frames, place: h.place, before: h.path}
			d.hyp = append(d.hyp, *h)
		}
	}
}

// settle decides the frames on which all hypotheses agree, and those that are
// older than the window as the best one has them.
func (d *Decider) settle() {
	common := d.hyp[0].path
	for i := range d.hyp[1:] {
		a, b := common, d.hyp[1+i].path
		for a != b {
			if a == nil || b == nil {
				a, b = nil, nil
				break
			}
			if a.frame >= b.frame {
				a = a.before
			} else {
				b = b.before
			}
		}
		common = a
	}
	if (common == nil || common.handed) && d.frames-d.done > d.opt.Window {
		// Who does not share the best one's past at the window's end goes.
		n := d.hyp[0].path
		for n != nil && n.frame > d.frames-d.opt.Window {
			n = n.before
		}
		kept := d.hyp[:0]
		for _, h := range d.hyp {
			m := h.path
			for m != nil && n != nil && m.frame > n.frame {
				m = m.before
			}
			if m == n {
				kept = append(kept, h)
			}
		}
		d.hyp, common = kept, n
	}
	d.decide(common)
}

func (d *Decider) decide(n *node) {
	at := len(d.out)
	for m := n; m != nil && !m.handed; m = m.before {
		d.out = append(d.out, Decision{m.frame, m.place})
	}
	if n != nil {
		// What builds on it must not hand it out again.
		d.done, n.before, n.handed = n.frame+1, nil, true
	}
	slices.Reverse(d.out[at:])
}

// Decided returns what was decided since it was last called, in the order of
// frames; with end, all that is left.
func (d *Decider) Decided(end bool) []Decision {
	if end {
		d.decide(d.hyp[0].path)
	}
	out := d.out
	d.out = nil
	return out
}

// Frames returns how many frames were taken in, and Done how many of them are decided.
func (d *Decider) Frames() int { return d.frames }

// Done returns how many frames are decided.
func (d *Decider) Done() int { return d.done }
