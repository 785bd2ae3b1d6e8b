package conduct

import (
	"math"
	"sort"

	"swathe/geom"
)

// What a robot does when it touches something.
const (
	Stops  = "stops"
	Turns  = "turns"
	Slides = "slides"
)

// contactLeave is by how much the body must leave before a touch is over, m;
// contactLook is how long before it may have been ContactFrom away, s. A body that
// follows an edge and comes nearer by a few millimetres has not run into it.
const (
	contactLeave = 0.005
	contactLook  = 1.5
	contactAfter = 1.0 // s in which it answers
)

// contacts finds where the body ran into a wall or obstacle.
func (r *run) contacts(stays []stay) []Event {
	var out []Event
	n := len(r.ticks)
	for i := 0; i < n; i++ {
		if !(r.far[i] <= r.opt.ContactGap) {
			continue
		}
		j := i
		for j+1 < n && r.far[j+1] <= r.opt.ContactGap+contactLeave {
			j++
		}
		if e, ok := r.contact(i, j); ok && !atDock(r, stays, e) {
			out = append(out, e)
		}
		i = j
	}
	return out
}

// atDock tells whether the touch is a part of driving into the dock.
func atDock(r *run, stays []stay, e Event) bool {
	if r.plan.Dock == nil {
		return false
	}
	d := geom.Point2{X: r.plan.Dock.X, Y: r.plan.Dock.Y}
	if d.Dist(geom.Point2{X: e.X, Y: e.Y}) > r.diameter() {
		return false
	}
	for _, s := range stays {
		if e.Start > s.from-10 && e.Start < s.to+10 {
			return true
		}
	}
	return false
}

// contact judges the ticks i to j, in which the body is near enough to touch.
func (r *run) contact(i, j int) (Event, bool) {
	back := ticksIn(contactLook)
	from := -1
	for k := i - 1; k >= max(0, i-back) && r.ticks[k].known; k-- {
		if r.far[k] >= r.opt.ContactFrom {
			from = k
			break
		}
	}
	if from < 0 {
		return Event{}, false
	}
	towards := (r.far[from] - r.far[i]) / (r.ticks[i].t - r.ticks[from].t)
	if towards < r.opt.ContactSpeed {
		return Event{}, false
	}
	// Of the approach, what lies before the clock's window rounds it.
	calm := max(0, from-1)
	speed, course := r.ticks[calm].v, r.ticks[calm].course
	if !(speed > r.opt.StandSpeed) {
		speed, course = r.ticks[from].v, r.ticks[from].course
	}
	start := r.contactTime(r.ticks[from].t, r.ticks[j].t)
	k, ok := r.sampled(start)
	if !ok {
		return Event{}, false
	}
	_, near := r.clearance(geom.Pose{X: k.x, Y: k.y, Heading: k.h})
	does, ok := r.answer(start, i, j, near)
	if !ok {
		return Event{}, false
	}
	// Head on is 90 degrees. What passes a corner alongside has not run into it.
	angle := math.NaN()
	way := near.Point.Sub(k.at())
	if !r.robot.Round() {
		// What a body with corners runs into it meets across its edge.
		side := geom.Point2{X: -near.Along.Y, Y: near.Along.X}
		way = side.Scale(math.Copysign(1, side.X*way.X+side.Y*way.Y))
	}
	if !math.IsNaN(course) && way.Norm() > 0 {
		s, c := math.Sincos(course)
		into := math.Max(0, (c*way.X+s*way.Y)/way.Norm())
		angle = math.Asin(math.Min(1, into))
		if speed*into < r.opt.ContactSpeed || angle < r.opt.ContactAngle {
			return Event{}, false
		}
	}
	e := Event{Kind: Contact, Start: start, End: r.ticks[j].t, X: k.x, Y: k.y, Size: speed, Unit: "m/s",
		Figures: map[string]float64{"speed_mps": speed, "angle_deg": geom.Degrees(angle), "contact_x_m": near.Point.X, "contact_y_m": near.Point.Y},
		Words:   map[string]string{"with": near.Name, "reaction": does}}
	e.End = math.Max(e.Start, e.End)
	return e, true
}

// sampled returns the pose at time t between the samples about it.
func (r *run) sampled(t float64) (tick, bool) {
	i := r.index(t)
	if i < 0 || !samplesOK(r.ss[i]) {
		return tick{}, false
	}
	if i+1 >= len(r.ss) || !samplesOK(r.ss[i+1]) {
		return tick{t: t, known: true, x: r.ss[i].X, y: r.ss[i].Y, h: r.heads[i]}, true
	}
	a, b := r.ss[i], r.ss[i+1]
	u := (t - a.T) / (b.T - a.T)
	return tick{t: t, known: true, x: a.X + u*(b.X-a.X), y: a.Y + u*(b.Y-a.Y), h: r.heads[i] + u*(r.heads[i+1]-r.heads[i])}, true
}

// contactTime returns when, between two times, the body first came as near as it
// stayed: the clock's window would round the corner.
func (r *run) contactTime(from, to float64) float64 {
	a, b := max(0, r.index(from)), r.index(to)
	far := make([]float64, 0, b-a+1)
	for k := a; k <= b; k++ {
		far = append(far, math.NaN())
		if samplesOK(r.ss[k]) {
			far[k-a], _ = r.clearance(geom.Pose{X: r.ss[k].X, Y: r.ss[k].Y, Heading: r.heads[k]})
		}
	}
	var close []float64
	for _, f := range far {
		if f <= r.opt.ContactGap {
			close = append(close, f)
		}
	}
	if len(close) == 0 {
		return from
	}
	sort.Float64s(close)
	// The nearest quarter, so that the noise of the nearest look of all does
	// not count; 2 mm is twice the noise of a good path.
	level := close[len(close)/4] + 0.002
	for k, f := range far {
		if f > level || math.IsNaN(f) {
			continue
		}
		if k > 0 && far[k-1] > level {
			u := (far[k-1] - level) / (far[k-1] - f)
			return r.ss[a+k-1].T + u*(r.ss[a+k].T-r.ss[a+k-1].T)
		}
		return r.ss[a+k].T
	}
	return from
}

// answer tells what the robot did on touching: it slides if it goes on along
// what it touches, turns if its heading changes, and stops if it does neither.
func (r *run) answer(start float64, i, j int, near geom.Near) (string, bool) {
	a := r.tickAt(start)
	end := r.tickAt(start + contactAfter)
	slid := 0.0
	for k := max(a, i); k < min(j, end); k++ {
		d := r.ticks[k+1].at().Sub(r.ticks[k].at())
		slid += d.X*near.Along.X + d.Y*near.Along.Y
	}
	stopped := false
	for k := a; k <= end && r.ticks[k].known; k++ {
		if r.ticks[k].v < 2*r.opt.StandSpeed || r.ticks[k].ahead < 2*r.opt.StandSpeed {
			stopped = true
			break
		}
	}
	turned := 0.0
	for k := a; k <= end && r.ticks[k].known; k++ {
		turned = math.Max(turned, math.Abs(r.ticks[k].h-r.ticks[a].h))
	}
	switch {
	case math.Abs(slid) >= r.opt.ContactSlide && !stopped:
		return Slides, true
	case turned >= r.opt.ContactTurn:
		return Turns, true
	case stopped:
		return Stops, true
	}
	return "", false
}
