package conduct

import (
	"math"

	"swathe/geom"
)

// unseen lists the stretches in which the robot was carried or out of sight.
func (r *run) unseen() []Event {
	var out []Event
	ss, run := r.ss, r.trace.Run
	add := func(kind string, i, j int) { // samples i to j are in the state
		from, to := ss[i].T, ss[j].T
		if i > 0 && kind == Carried {
			from = ss[i-1].T
		}
		if j+1 < len(ss) {
			to = ss[j+1].T
		}
		from, to = math.Max(from, run.From), math.Min(to, run.To)
		if to-from < r.opt.HiddenTime && kind == Hidden || to <= from {
			return
		}
		e := Event{Kind: kind, Start: from, End: to, X: math.NaN(), Y: math.NaN(), Size: to - from, Unit: "s", Words: map[string]string{}}
		if i > 0 && ss[i-1].Placed() {
			e.X, e.Y = ss[i-1].X, ss[i-1].Y
		}
		why := r.reason((from + to) / 2)
		if why != "" {
			e.Words["reason"] = why
		}
		if kind == Carried {
			if shown := r.shows((from + to) / 2); shown > 0 {
				e.Figures = map[string]float64{"shown_s": shown}
			}
			out = append(out, e)
			return
		}
		lost := 0.0
		for k := i; k <= j && k+1 < len(ss); k++ {
			if ss[k].State == geom.Lost {
				lost += math.Min(ss[k+1].T, run.To) - math.Max(ss[k].T, run.From)
			}
		}
		e.Figures = map[string]float64{"lost_s": math.Max(0, lost)}
		out = append(out, e)
	}
	for _, b := range r.breaks {
		from, to := math.Max(b.From, run.From), math.Min(b.To, run.To)
		if to <= from {
			continue
		}
		p := r.sampleAt(b.From)
		out = append(out, Event{Kind: Hidden, Start: from, End: to, X: p.X, Y: p.Y, Size: to - from, Unit: "s",
			Figures: map[string]float64{"lost_s": to - from}, Words: map[string]string{"reason": BetweenRecordings}})
	}
	stretches(len(ss), func(i int) bool { return ss[i].State == geom.Carried }, func(i, j int) { add(Carried, i, j) })
	stretches(len(ss), func(i int) bool { return ss[i].State == geom.Lost || ss[i].State == geom.Bridged }, func(i, j int) { add(Hidden, i, j) })
	return out
}

// reason returns why the robot was not seen at time t; empty if nobody says.
func (r *run) reason(t float64) string {
	for _, g := range r.trace.Reasons {
		if g.Contains(t) {
			return g.Reason
		}
	}
	return ""
}

// shows returns the time of the frame that shows who carries the robot at time
// t, s; 0 if none does.
func (r *run) shows(t float64) float64 {
	for _, g := range r.trace.Reasons {
		if g.State == geom.Carried && g.Contains(t) {
			return g.Shows
		}
	}
	return 0
}

// outside finds where the robot's centre was out of the room.
func (r *run) outside() []Event {
	var out []Event
	depth := func(i int) float64 {
		k := r.ticks[i]
		if !k.known || r.plan.Inside(k.at()) {
			return 0
		}
		best := math.Inf(1)
		room := geom.RingCorners(r.plan.Room)
		for a, p := range room {
			best = math.Min(best, footOn(p, room[(a+1)%len(room)], k.at()).Dist(k.at()))
		}
		return best
	}
	stretches(len(r.ticks), func(i int) bool { return r.ticks[i].known && !r.plan.Inside(r.ticks[i].at()) }, func(i, j int) {
		from, to := r.ticks[i].t, r.ticks[j].t
		if to-from < r.opt.OutsideTime-step/2 {
			return
		}
		far := 0.0
		for k := i; k <= j; k++ {
			far = math.Max(far, depth(k))
		}
		out = append(out, Event{Kind: Outside, Start: from, End: to, X: r.ticks[i].x, Y: r.ticks[i].y, Size: to - from, Unit: "s",
			Figures: map[string]float64{"far_m": far}})
	})
	return out
}
