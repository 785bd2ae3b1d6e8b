package conduct

import (
	"math"
	"swathe/coverage"

	"swathe/geom"
)

// stay is a stretch of time in the dock, ticks and seconds.
type stay struct{ from, to float64 }

func inStay(stays []stay, t float64) bool {
	for _, s := range stays {
		if t >= s.from && t <= s.to {
			return true
		}
	}
	return false
}

// stayPause joins two stays, s: a robot shuffles in its dock.
const stayPause = 3.0

// dockAngle is how far from the dock's direction a robot may stand and be in it, rad:
// half way to standing across it.
const dockAngle = math.Pi / 4

// docked finds when the robot stood in its dock. It is nil if the layout has
// none. A run that starts in the dock or ends there has a stay of no length at
// that end: what lies before and after is no part of the run.
func (r *run) docked() []stay {
	if r.plan.Dock == nil {
		return nil
	}
	d := geom.Point2{X: r.plan.Dock.X, Y: r.plan.Dock.Y}
	near := r.opt.DockDistance * r.diameter()
	n := len(r.ticks)
	var out []stay
	// What lies between two recordings is a stay too if it was in the dock before
	// and after.
	asleep := func(i int) bool {
		b, ok := r.inBreak(r.ticks[i].t)
		return ok && r.sampleAt(b.From).Dist(d) <= near && r.sampleAt(b.To).Dist(d) <= near
	}
	in := func(i int) bool { return r.ticks[i].known && r.ticks[i].at().Dist(d) <= near || asleep(i) }
	stretches(n, in, func(i, j int) {
		// Within it, it must stand, or be where the run begins or ends.
		a, b := -1, -1
		for k := i; k <= j; k++ {
			if r.stands(r.ticks[k]) && r.alongDock(r.ticks[k]) || k == 0 || k == n-1 || asleep(k) {
				if a < 0 {
					a = k
				}
				b = k
			}
		}
		if a < 0 || b == a && a != 0 && a != n-1 {
			return
		}
		s := stay{r.ticks[a].t, r.ticks[b].t}
		if b == n-1 {
			s.to = r.trace.Run.To
		}
		if k := len(out) - 1; k >= 0 && s.from-out[k].to <= stayPause {
			out[k].to = s.to
			return
		}
		out = append(out, s)
	})
	return out
}

// alongDock tells whether the robot lies in the dock's direction, to either side, or
// its heading is not known: one that turns at the dock's place, or passes along the
// wall that the dock stands at, is not in it.
func (r *run) alongDock(k tick) bool {
	h := k.h - r.plan.Dock.Heading
	return math.IsNaN(h) || math.Abs(math.Cos(h)) >= math.Cos(dockAngle)
}

// sampleAt returns the place of the sample at time t.
func (r *run) sampleAt(t float64) geom.Point2 {
	s := r.ss[max(0, r.index(t))]
	return geom.Point2{X: s.X, Y: s.Y}
}

// Docking is what the dock cost: trips, time and distance.
type Docking struct {
	Trips        int     `json:"trips"`     // arrivals in the dock
	DockedS      float64 `json:"docked_s"`  // in it
	ToDockS      float64 `json:"to_dock_s"` // on the way to it
	ToDockM      float64 `json:"to_dock_m"`
	BackS        float64 `json:"back_s"` // from it, back to work
	BackM        float64 `json:"back_m"`
	WithoutS     float64 `json:"without_s"`               // the run's time less all of these
	WithoutM     float64 `json:"without_m"`               // likewise the distance
	RateM2PerMin float64 `json:"without_rate_m2_per_min"` // of new floor without them; NaN if no time is left
	// TimeToReachable is that of the coverage without what of it went to the dock.
	TimeToReachable coverage.Times `json:"without_time_to_reachable_s"`

	to, back []geom.Span
}

// docking sums up the trips.
func (r *run) docking(stays []stay, rows Rows) *Docking {
	if r.plan.Dock == nil {
		return nil
	}
	d := &Docking{}
	run := r.trace.Run
	for _, s := range stays {
		d.DockedS += s.to - s.from
		if s.from > run.From+step {
			d.Trips++
			from := r.wayHome(s.from, rows)
			d.to = append(d.to, geom.Span{From: from, To: s.from})
			d.ToDockS += s.from - from
			d.ToDockM += r.between(from, s.from).dist
		}
		if s.to < run.To-step {
			to := r.wayBack(s.to, rows)
			d.back = append(d.back, geom.Span{From: s.to, To: to})
			d.BackS += to - s.to
			d.BackM += r.between(s.to, to).dist
		}
	}
	for i, t := range r.cov.Coverage.TimeToReachable {
		d.TimeToReachable[i] = t
		for _, spans := range [][]geom.Span{d.to, d.back, staySpans(stays)} {
			for _, s := range spans {
				// NaN stays NaN.
				d.TimeToReachable[i] -= math.Max(0, math.Min(s.To, run.From+t)-s.From)
			}
		}
	}
	all := r.between(run.From, run.To)
	d.WithoutS = run.To - run.From - d.DockedS - d.ToDockS - d.BackS
	d.WithoutM = all.dist - d.ToDockM - d.BackM
	d.RateM2PerMin = math.NaN()
	if d.WithoutS > 0 {
		d.RateM2PerMin = all.new / d.WithoutS * 60
	}
	return d
}

func staySpans(stays []stay) []geom.Span {
	out := make([]geom.Span, 0, len(stays))
	for _, s := range stays {
		out = append(out, geom.Span{From: s.from, To: s.to})
	}
	return out
}

// works tells whether the robot cleans at tick i: it sweeps new floor or drives
// a lane of rows.
func (r *run) works(i int, rows Rows) bool {
	t := r.ticks[i].t
	if inRows(rows, t) {
		return true
	}
	d := r.between(t-revisitLook, t+revisitLook)
	return d.swept > 0 && d.new >= wayNew*d.swept
}

// inRows tells whether the robot drives a lane of rows at time t.
func inRows(rows Rows, t float64) bool {
	for _, l := range rows.Lanes {
		if l.Block >= 0 && t >= l.Start && t <= l.End {
			return true
		}
	}
	return false
}

// A way to or from the dock sweeps hardly anything new: below wayNew of what it
// sweeps. It is at most wayDetour times as long as the straight line, give or
// take a diameter each way, for what stands between.
const (
	wayNew    = 0.2
	wayDetour = 2.5
)

// wayHome returns when the robot set off for the dock that it reached at t.
func (r *run) wayHome(t float64, rows Rows) float64 {
	i := r.tickAt(t)
	end := r.ticks[i]
	far := 0.0
	best := i
	for i > 0 && r.ticks[i-1].known && !inRows(rows, r.ticks[i-1].t) {
		i--
		k := r.ticks[i]
		far += r.ticks[i+1].dist(k)
		if far > wayDetour*k.dist(end)+2*r.diameter() {
			break
		}
		switch {
		case k.v < r.opt.PivotSpeed:
			// The turn towards the dock belongs to the way there, a stop before
			// it does not.
			if best == i+1 && !r.stands(k) {
				best = i
			}
			continue
		case k.dist(end) > 3*r.diameter() && r.works(i, rows) && !r.nears(i, end):
			// A way home across floor not yet cleaned is told by its nearing home.
			return math.Min(r.ticks[best].t, t)
		}
		best = i
	}
	i = best
	return math.Min(r.ticks[i].t, t)
}

// nears tells whether the robot comes nearer to a place at tick i by at least
// half of what it drives.
func (r *run) nears(i int, to tick) bool {
	a, b := max(0, i-ticksIn(window)), min(len(r.ticks)-1, i+ticksIn(window))
	if !r.ticks[a].known || !r.ticks[b].known {
		return false
	}
	return r.ticks[a].dist(to)-r.ticks[b].dist(to) > r.ticks[a].dist(r.ticks[b])/2
}

// wayBack returns when the robot that left the dock at t was at work again.
func (r *run) wayBack(t float64, rows Rows) float64 {
	i := r.tickAt(t)
	start := r.ticks[i]
	far := 0.0
	for i+1 < len(r.ticks) && r.ticks[i+1].known && !r.works(i+1, rows) {
		far += r.ticks[i].dist(r.ticks[i+1])
		if far > wayDetour*r.ticks[i+1].dist(start)+2*r.diameter() {
			break
		}
		i++
	}
	return math.Max(r.ticks[i].t, t)
}

// dockEvents lists arrivals and departures.
func (r *run) dockEvents(stays []stay) []Event {
	var out []Event
	run := r.trace.Run
	for _, s := range stays {
		i := r.tickAt(s.from)
		x, y := r.ticks[i].x, r.ticks[i].y
		if s.from > run.From+step {
			e := Event{Kind: Dock, Start: s.from, End: s.to, X: x, Y: y, Size: s.to - s.from, Unit: "s"}
			if s.to >= run.To-step {
				e.Words = map[string]string{"then": RunEnded}
			}
			out = append(out, e)
		}
		if s.to < run.To-step {
			j := r.tickAt(s.to)
			from := s.to
			// It has left once it is a diameter away.
			for j+1 < len(r.ticks) && r.ticks[j].known && r.ticks[j].dist(r.ticks[i]) < r.diameter() {
				j++
			}
			out = append(out, Event{Kind: Undock, Start: from, End: math.Max(from, r.ticks[j].t), X: x, Y: y, Size: r.ticks[j].t - from, Unit: "s"})
		}
	}
	return out
}
