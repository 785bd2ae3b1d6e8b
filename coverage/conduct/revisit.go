package conduct

import (
	"math"

	"swathe/geom"
)

// revisitLook is the half-width of the window over which the share of new floor
// is judged, s: less would let single cells decide.
const revisitLook = 0.5

// stale tells whether almost nothing of what is swept about tick i is new, and
// whether anything is swept at all.
func (r *run) stale(i int, half float64) (stale, sweeps bool) {
	d := r.between(r.ticks[i].t-half, r.ticks[i].t+half)
	if d.swept <= 0 {
		return true, false
	}
	return d.new < r.opt.RevisitShare*d.swept, true
}

// revisits finds the stretches in which the robot swept next to nothing new. No
// two of them overlap.
func (r *run) revisits(stays []stay, ledger Ledger) []Event {
	n := len(r.ticks)
	old := make([]bool, n)
	for i, k := range r.ticks {
		if k.known && !inStay(stays, k.t) {
			old[i], _ = r.stale(i, revisitLook)
		}
	}
	few := func(a, b int) bool {
		d := r.between(r.ticks[a].t, r.ticks[b].t)
		return d.new < r.opt.RevisitShare*d.swept
	}
	type span struct{ i, j int }
	var all []span
	stretches(n, func(i int) bool { return old[i] }, func(i, j int) {
		// The window blurs either end by half its width.
		for k := 0; k < ticksIn(revisitLook); k++ {
			if i > 0 && r.ticks[i-1].known {
				if s, sweeps := r.stale(i-1, step/2); s && sweeps {
					i--
				}
			}
			if j+1 < n && r.ticks[j+1].known {
				if s, sweeps := r.stale(j+1, step/2); s && sweeps {
					j++
				}
			}
		}
		// A turn on the spot at either end is a part of it, though it may sweep a
		// little that is new.
		spot := func(k int) bool {
			return k >= 0 && k < n && r.ticks[k].known && r.ticks[k].v < r.opt.PivotSpeed && !inStay(stays, r.ticks[k].t)
		}
		a := i
		for spot(a-1) || a-1 > 0 && a > i-ticksIn(window) && r.ticks[a-1].known && spot(a-2) {
			a--
		}
		if few(a, j) {
			i = a
		}
		// What reaches into the one before is one with it, or begins behind it.
		for k := len(all) - 1; k >= 0 && i <= all[k].j; k-- {
			if p := all[k]; few(min(i, p.i), max(j, p.j)) {
				i, j, all = min(i, p.i), max(j, p.j), all[:k]
			} else if i = p.j + 1; i > j {
				return
			}
		}
		all = append(all, span{i, j})
	})
	var out []Event
	for _, s := range all {
		i, j := s.i, s.j
		from, to := r.ticks[i].t, r.ticks[j].t
		d := r.between(from, to)
		if to-from < r.opt.RevisitTime-step/2 || d.dist < r.opt.RevisitWay || !(d.new < r.opt.RevisitShare*d.swept) {
			continue
		}
		why := ledger.mostly(from, to)
		lost := to - from
		for _, fair := range []string{EntryLayer, EntryReturning, EntryLeaving} {
			lost -= ledger.within(fair, from, to)
		}
		lost = math.Max(0, lost)
		x, y := r.middle(i, j)
		out = append(out, Event{Kind: Revisit, Start: from, End: to, X: r.ticks[i].x, Y: r.ticks[i].y, Size: to - from, Unit: "s",
			Figures: map[string]float64{"distance_m": d.dist, "new_share": d.new / d.swept, "lost_s": lost, "middle_x_m": x, "middle_y_m": y},
			Words:   map[string]string{"mostly": why}})
	}
	return out
}

// visit is one time that the robot was at a boundary.
type visit struct {
	from, to int // ticks
	at       geom.Point2
	name     string
}

// visits lists when the body came near to a boundary, heading for it, and left.
func (r *run) visits(stays []stay) []visit {
	var out []visit
	n := len(r.ticks)
	for i := 0; i < n; i++ {
		if !(r.far[i] <= r.opt.EdgeRetryDistance) || inStay(stays, r.ticks[i].t) {
			continue
		}
		// The same visit until it has gone half a diameter away.
		j, last, best := i, i, i
		for j+1 < n && r.far[j+1] < r.radius() {
			j++
			if r.far[j] <= r.opt.EdgeRetryDistance {
				last = j
			}
			if r.far[j] < r.far[best] {
				best = j
			}
		}
		if r.comesTo(i, best) {
			out = append(out, visit{i, last, r.near[best].Point, r.near[best].Name})
		}
		i = j
	}
	return out
}

// comesTo tells whether the robot came to the boundary rather than along it: in
// the second before, it drew nearer by at least half of what it drove.
func (r *run) comesTo(i, best int) bool {
	a := max(0, i-ticksIn(1))
	for a < i && !r.ticks[a].known {
		a++
	}
	way := 0.0
	for k := a; k < best; k++ {
		way += r.ticks[k].dist(r.ticks[k+1])
	}
	return way > 0.03 && r.far[a]-r.far[best] > way/2
}

// oneStretch tells whether visit k lies on one stretch of boundary, a diameter
// long and a little, with all of own.
func (r *run) oneStretch(vs []visit, own []int, k int) bool {
	for _, o := range own {
		if vs[k].at.Dist(vs[o].at) > 1.2*r.diameter() {
			return false
		}
	}
	return true
}

// edgeRetries finds boundaries to which the robot came back again and again although
// they were clean.
func (r *run) edgeRetries(stays []stay) []Event {
	vs := r.visits(stays)
	used := make([]bool, len(vs))
	var out []Event
	for i := range vs {
		if used[i] {
			continue
		}
		own := []int{i}
		other := 0
		for k := i + 1; k < len(vs) && other <= 1; k++ {
			if r.oneStretch(vs, own, k) {
				own = append(own, k)
				other = 0
			} else {
				other++
			}
		}
		if float64(len(own)) < r.opt.EdgeRetryTimes {
			continue
		}
		// Of the visits, a stretch of them that is quick enough and sweeps
		// nothing new between.
		a, b := 0, len(own)-1
		quick := func() bool {
			return r.ticks[vs[own[b]].to].t-r.ticks[vs[own[a]].from].t <= r.opt.EdgeRetryTime*float64(b-a)/(r.opt.EdgeRetryTimes-1)
		}
		fresh := func() bool {
			d := r.between(r.ticks[vs[own[a]].to].t, r.ticks[vs[own[b]].from].t)
			return d.new >= r.opt.RevisitShare*d.swept
		}
		for float64(b-a+1) >= r.opt.EdgeRetryTimes && (!quick() || fresh()) {
			// The first visit may have been the one that cleaned it.
			a++
		}
		if float64(b-a+1) < r.opt.EdgeRetryTimes {
			continue
		}
		first, last := vs[own[a]], vs[own[b]]
		for _, k := range own[a : b+1] {
			used[k] = true
		}
		from, to := r.ticks[first.from].t, r.ticks[last.to].t
		out = append(out, Event{Kind: EdgeRetry, Start: from, End: to, X: first.at.X, Y: first.at.Y, Size: float64(b - a + 1), Unit: "times",
			Words: map[string]string{"beside": first.name}})
	}
	return out
}
