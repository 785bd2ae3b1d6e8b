package conduct

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/stat"

	"swathe/geom"
)

// What a robot does when it touches something.
const (
	Stops  = "stops"
	Turns  = "turns"
	Slides = "slides"
)

// contactLeave is by how much the body must leave before a meeting is over, m;
// contactLook is how long before it may have been ContactFrom away, s. A body that
// follows an edge and comes nearer by a few millimetres has not met it.
const (
	contactLeave = 0.005
	contactLook  = 1.5
	contactAfter = 1.0 // s in which it answers
)

// guard is the half-width of the 95 % interval of the body's distance from a
// boundary at time t, m: what lies within it of nought cannot be told from a
// contact by where things are (JCGM 106:2012 calls it a guard band).
func (r *run) guard(t float64) float64 {
	sigma := r.opt.PathSigma
	if i := r.index(t + 1e-9); i >= 0 && !math.IsNaN(r.ss[i].Sigma) {
		sigma = r.ss[i].Sigma
	}
	// Of the body's tolerance, a half-width of its diameter, half is its radius's.
	return normal95 * math.Hypot(math.Hypot(r.opt.OutlineSigma, sigma), r.opt.BodyTol/2/math.Sqrt(3))
}

// normal95 is how many standard deviations a normal's 95 % lie within.
const normal95 = 1.96

// meetings finds where the body met a wall or an obstacle: contact where its
// motion shows that, else near.
func (r *run) meetings(stays []stay) []Event {
	var out []Event
	n := len(r.ticks)
	for i := 0; i < n; i++ {
		g := r.guard(r.ticks[i].t)
		if !(r.far[i] <= g) {
			continue
		}
		j := i
		for j+1 < n && r.far[j+1] <= g+contactLeave {
			j++
		}
		if e, ok := r.meeting(i, j); ok && !atDock(r, stays, e) {
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

// meeting judges the ticks i to j, in which the body is so near that by where
// things are it may touch.
func (r *run) meeting(i, j int) (Event, bool) {
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
	start, level := r.closest(r.ticks[from].t, r.ticks[j].t)
	k, ok := r.sampled(start)
	if !ok {
		return Event{}, false
	}
	_, near := r.clearance(geom.Pose{X: k.x, Y: k.y, Heading: k.h})
	does := r.answer(start, i, j, near)
	// Head on is 90 degrees. What passes a corner alongside has not met it.
	angle := math.NaN()
	way := near.Point.Sub(k.at())
	if !r.robot.Round() {
		// What a body with corners meets it meets across its edge.
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
	e := Event{Kind: Near, Start: start, End: math.Max(start, r.ticks[j].t), X: k.x, Y: k.y,
		Figures: map[string]float64{"speed_mps": speed, "angle_deg": geom.Degrees(angle), "nearest_x_m": near.Point.X, "nearest_y_m": near.Point.Y},
		Words:   map[string]string{"with": near.Name, "reaction": does}}
	g := r.guard(start)
	low, high := level-g, level+g
	e.Figures["distance_m"], e.Figures["distance_low_m"], e.Figures["distance_high_m"] = level, low, high
	switch {
	case does == Slides && r.pressed(start, i, j, near) || r.bumped(start) && r.recoils(start):
		e.Kind, e.Size, e.Unit = Contact, speed, "m/s"
	case low > 0:
		return Event{}, false
	default:
		e.Size, e.Unit = math.Max(0, level), "m"
	}
	return e, true
}

// sampled returns the pose at time t between the samples about it.
func (r *run) sampled(t float64) (tick, bool) {
	i := r.index(t)
	if i < 0 || !r.ss[i].Placed() {
		return tick{}, false
	}
	if i+1 >= len(r.ss) || !r.ss[i+1].Placed() {
		return tick{t: t, known: true, x: r.ss[i].X, y: r.ss[i].Y, h: r.heads[i]}, true
	}
	a, b := r.ss[i], r.ss[i+1]
	u := (t - a.T) / (b.T - a.T)
	return tick{t: t, known: true, x: a.X + u*(b.X-a.X), y: a.Y + u*(b.Y-a.Y), h: r.heads[i] + u*(r.heads[i+1]-r.heads[i])}, true
}

// distances returns the body's clearance at the samples of a stretch of time.
func (r *run) distances(from, to float64) (ts, ds []float64) {
	for k := max(0, r.index(from)); k < len(r.ss) && r.ss[k].T <= to; k++ {
		d := math.NaN()
		if r.ss[k].Placed() {
			d, _ = r.clearance(geom.Pose{X: r.ss[k].X, Y: r.ss[k].Y, Heading: r.heads[k]})
		}
		ts, ds = append(ts, r.ss[k].T), append(ds, d)
	}
	return ts, ds
}

// closest returns when, between two times, the body first came as near as it
// stayed (the clock's window would round the corner), and how near that was, m.
func (r *run) closest(from, to float64) (t, level float64) {
	ts, ds := r.distances(from, to)
	least := math.Inf(1)
	for _, d := range ds {
		if d < least {
			least = d
		}
	}
	var close []float64
	for _, d := range ds {
		if d <= least+2*contactLeave {
			close = append(close, d)
		}
	}
	if len(close) == 0 {
		return from, math.NaN()
	}
	sort.Float64s(close)
	// The nearest quarter, so that the noise of the nearest look of all does
	// not count; 2 mm is twice the noise of a good path.
	level = close[len(close)/4]
	k, u := reach(ds, level+0.002)
	if k == 0 {
		return ts[0], level
	}
	return ts[k-1] + u*(ts[k]-ts[k-1]), level
}

// reach returns the first sample at which d is no more than the level, and what
// part of the step before it that takes.
func reach(ds []float64, level float64) (int, float64) {
	for k, d := range ds {
		if !(d <= level) {
			continue
		}
		if k > 0 && ds[k-1] > level {
			return k, (ds[k-1] - level) / (ds[k-1] - d)
		}
		return k, 1
	}
	return 0, 0
}

const (
	// recoilTime, s: within it a robot whose bumper was pressed backs off.
	recoilTime = 3.0
	// recoilWay, m, backwards at the least: ten times a good path's noise.
	recoilWay = 0.01
	// pressAngle, rad: a body that goes along something with its nose so far
	// into it is held by it, for wheels do not roll sideways.
	pressAngle = 20 * math.Pi / 180
)

// bumped tells whether the robot came to rest at a time by a stop faster than it
// brakes, as what drives against something does.
func (r *run) bumped(start float64) bool {
	var ts, xs, ys, restX, restY []float64
	for k := max(0, r.index(start-1)); k < len(r.ss) && r.ss[k].T <= start+0.4; k++ {
		s := r.ss[k]
		if !s.Placed() {
			continue
		}
		ts, xs, ys = append(ts, s.T), append(xs, s.X), append(ys, s.Y)
		if s.T >= start && s.T <= start+0.3 {
			restX, restY = append(restX, s.X), append(restY, s.Y)
		}
	}
	if len(restX) == 0 {
		return false
	}
	// How far it still had to go, along the way that it came. The median is of
	// many looks, so that the noise of one does not count.
	x, y := geom.Median(restX), geom.Median(restY)
	dx, dy := x-xs[0], y-ys[0]
	way := math.Hypot(dx, dy)
	if way == 0 {
		return false
	}
	ds := make([]float64, len(ts))
	for i := range ds {
		ds[i] = ((x-xs[i])*dx + (y-ys[i])*dy) / way
	}
	return stoppedShort(ts, ds, start, r.opt.ContactBrake)
}

// stoppedShort tells whether the distances ds that are left at times ts come to
// nought at time start by a stop faster than the given deceleration. Until it
// brakes a robot's distance falls by v a second; where that line would meet
// nought, one that brakes evenly at a is still v^2/(8a) from it, one that was
// stopped is there.
func stoppedShort(ts, ds []float64, start, brake float64) bool {
	var t, d []float64 // of the approach
	for k := range ts {
		if ts[k]-start >= -0.8 && ts[k]-start <= -0.25 {
			t, d = append(t, ts[k]-start), append(d, ds[k])
		}
	}
	if len(t) < 3 {
		return false
	}
	at, slope := stat.LinearRegression(t, d, nil, false)
	if !(slope < 0) {
		return false
	}
	kink := start - at/slope
	for k := 1; k < len(ts); k++ {
		if ts[k] < kink {
			continue
		}
		u := (kink - ts[k-1]) / (ts[k] - ts[k-1])
		// A step that holds the stop rounds it by a quarter of itself at most.
		lag := ds[k-1] + u*(ds[k]-ds[k-1]) - math.Abs(slope)*(ts[k]-ts[k-1])/4
		return slope*slope >= 8*brake*lag
	}
	return false
}

// recoils tells whether the robot backs off soon after a time, straight from
// where it stopped: before it goes ahead or turns to another side.
func (r *run) recoils(start float64) bool {
	a, b := r.tickAt(start), r.tickAt(start+recoilTime)
	back := 0.0
	for k := a; k < b && r.ticks[k].known && r.ticks[k+1].known; k++ {
		d := r.ticks[k+1].at().Sub(r.ticks[k].at())
		s, c := math.Sincos(r.ticks[k].h)
		if step := d.X*c + d.Y*s; step < 0 {
			back -= step
		}
		if back >= recoilWay {
			return true
		}
		if math.Abs(r.ticks[k].h-r.ticks[a].h) > r.opt.ContactTurn {
			return false
		}
	}
	return false
}

// pressed tells whether the robot went along something with its nose into it:
// the heading is known, not taken from travel, and leans from the travel by
// pressAngle or more, towards what it goes along.
func (r *run) pressed(start float64, i, j int, near geom.Near) bool {
	n, lean := 0.0, 0.0
	for k := max(r.tickAt(start)+2, i); k <= min(j, r.tickAt(start+contactAfter)); k++ {
		t := r.ticks[k]
		if q := r.index(t.t); q < 0 || math.IsNaN(r.ss[q].Heading) || r.ss[q].Source == geom.HeadingTravel || math.IsNaN(t.course) {
			continue
		}
		d := geom.WrapAngle(t.h - t.course)
		way := near.Point.Sub(t.at())
		s, c := math.Sincos(t.course)
		if side := c*way.Y - s*way.X; side < 0 {
			d = -d
		}
		n, lean = n+1, lean+d
	}
	return n >= 3 && lean/n >= pressAngle
}

// answer tells what the robot did on meeting something: it slides if it goes on
// along it, turns if its heading changes, stops if it does neither; empty if it
// drives on.
func (r *run) answer(start float64, i, j int, near geom.Near) string {
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
		return Slides
	case turned >= r.opt.ContactTurn:
		return Turns
	case stopped:
		return Stops
	}
	return ""
}
