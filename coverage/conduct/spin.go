package conduct

import (
	"math"

	"swathe/geom"
)

// spins finds turns of SpinTurn or more, net, in one sense, with the centre
// within SpinDrift of where the turn began. Turning in the same sense just
// before and after belongs to a spin as long as the robot stays on the spot.
func (r *run) spins() []Event {
	var out []Event
	for _, sense := range []float64{1, -1} {
		turns := func(i int) bool { return r.ticks[i].known && r.ticks[i].turning*sense > r.opt.PivotTurn/2 }
		// A moment's pause does not end a turn, a turn the other way does.
		bridged := make([]bool, len(r.ticks))
		for i := range r.ticks {
			bridged[i] = turns(i)
		}
		stretches(len(r.ticks), func(i int) bool { return !turns(i) }, func(i, j int) {
			if i == 0 || j == len(r.ticks)-1 || float64(j-i+1)*step > 1 {
				return
			}
			for k := i; k <= j; k++ {
				if !r.ticks[k].known || r.ticks[k].turning*sense < -r.opt.StandTurn || r.ticks[k].v > r.opt.PivotSpeed {
					return
				}
			}
			for k := i; k <= j; k++ {
				bridged[k] = true
			}
		})
		stretches(len(r.ticks), func(i int) bool { return bridged[i] }, func(i, j int) {
			out = append(out, r.spinsIn(i, j, sense)...)
		})
	}
	return out
}

// spinsIn finds the spins within ticks i to j, all of which turn in one sense.
func (r *run) spinsIn(i, j int, sense float64) []Event {
	drift := r.opt.SpinDrift * r.diameter()
	var out []Event
	// The ticks turn at least at half a pivot's rate: the turn's first and last
	// degrees lie just outside.
	edge := func(k int) bool {
		return k >= 0 && k < len(r.ticks) && r.ticks[k].known && r.ticks[k].turning*sense > r.opt.StandTurn/2
	}
	for n := 0; n < 3 && edge(i-1); n++ {
		i--
	}
	for n := 0; n < 3 && edge(j+1); n++ {
		j++
	}
	// The clock rounds the corners between driving and turning, so from here on
	// the samples themselves decide.
	ks := r.fine(r.ticks[i].t, r.ticks[j].t)
	for a := 0; a < len(ks); a++ {
		b := a
		for b+1 < len(ks) && ks[b+1].dist(ks[a]) <= drift {
			b++
		}
		if (ks[b].h-ks[a].h)*sense < r.opt.SpinTurn {
			continue
		}
		// What follows on the spot belongs to it even if it has wandered off.
		for b+1 < len(ks) && r.ticks[r.tickAt(ks[b+1].t)].v < r.opt.PivotSpeed {
			b++
		}
		turn := ks[b].h - ks[a].h
		x, y := 0.0, 0.0
		for _, k := range ks[a : b+1] {
			x, y = x+k.x/float64(b-a+1), y+k.y/float64(b-a+1)
		}
		n := math.Abs(turn) / (2 * math.Pi)
		out = append(out, Event{Kind: Spin, Start: ks[a].t, End: ks[b].t, X: x, Y: y, Size: geom.Degrees(math.Abs(turn)), Unit: "deg",
			Figures: map[string]float64{"turn_deg": geom.Degrees(turn), "turns": n}})
		a = b
	}
	return out
}

// fineLook is the spacing of samples below which three are averaged, s.
const fineLook = 0.05

// fine returns the samples between two times; of a quick recording each is the
// mean with its two neighbours, against the noise of a single look.
func (r *run) fine(from, to float64) []tick {
	var out []tick
	for k := max(0, r.index(from)); k < len(r.ss) && r.ss[k].T <= to; k++ {
		s := r.ss[k]
		if s.T < from || !s.Placed() {
			continue
		}
		q := tick{t: s.T, known: true, x: s.X, y: s.Y, h: r.heads[k]}
		if k > 0 && k+1 < len(r.ss) && r.ss[k-1].Placed() && r.ss[k+1].Placed() && r.ss[k+1].T-r.ss[k-1].T < 2*fineLook {
			q.x, q.y, q.h = (r.ss[k-1].X+s.X+r.ss[k+1].X)/3, (r.ss[k-1].Y+s.Y+r.ss[k+1].Y)/3, (r.heads[k-1]+q.h+r.heads[k+1])/3
		}
		out = append(out, q)
	}
	return out
}

// middle returns the mean place of ticks a to b.
func (r *run) middle(a, b int) (x, y float64) {
	n := 0.0
	for k := a; k <= b; k++ {
		if r.ticks[k].known {
			x, y, n = x+r.ticks[k].x, y+r.ticks[k].y, n+1
		}
	}
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	return x / n, y / n
}

// pauses finds stretches of PauseTime or more in which the centre stays within
// PauseDrift and the heading within PauseTurn of where they began, the run
// going on afterwards. A stay in the dock is none.
func (r *run) pauses(stays []stay) []Event {
	var out []Event
	n := len(r.ticks)
	for i := 0; i < n; i++ {
		if !r.stands(r.ticks[i]) {
			continue
		}
		j := i
		for j+1 < n && r.ticks[j+1].known && r.ticks[j+1].dist(r.ticks[i]) <= r.opt.PauseDrift &&
			!(math.Abs(r.ticks[j+1].h-r.ticks[i].h) > r.opt.PauseTurn) { // an unknown heading does not count against it
			j++
		}
		from, to := r.ticks[i].t, r.ticks[j].t
		if to-from < r.opt.PauseTime-step/2 || j == n-1 || inStay(stays, (from+to)/2) {
			continue
		}
		x, y := r.middle(i, j)
		out = append(out, Event{Kind: Pause, Start: from, End: to, X: x, Y: y, Size: to - from, Unit: "s"})
		i = j
	}
	return out
}

// move classes what the robot does at a tick: 0 nothing, 1 ahead, 2 back, 3 left,
// 4 right.
func (r *run) move(k tick) int {
	switch {
	case !k.known:
		return 0
	case k.v >= r.opt.PivotSpeed && k.ahead >= 0:
		return 1
	case k.v >= r.opt.PivotSpeed/2 && k.ahead < 0:
		return 2
	case k.turning >= r.opt.PivotTurn:
		return 3
	case k.turning <= -r.opt.PivotTurn:
		return 4
	case k.v >= r.opt.PivotSpeed/2:
		return 1
	}
	return 0
}

// try is one start of a turn or a move.
type try struct{ from, to int }

// tries lists the turns and moves of a tenth of a second or more that are no
// part of a spin: who spins gets on with something.
func (r *run) tries(spins []Event) []try {
	var out []try
	n := len(r.ticks)
	for i := 0; i < n; i++ {
		m := r.move(r.ticks[i])
		j := i
		for j+1 < n && r.move(r.ticks[j+1]) == m {
			j++
		}
		mid := (r.ticks[i].t + r.ticks[j].t) / 2
		spinning := false
		for _, e := range spins {
			spinning = spinning || mid > e.Start && mid < e.End
		}
		if m != 0 && j > i && !spinning {
			out = append(out, try{i, j})
		}
		i = j
	}
	return out
}

// stucks finds where the robot tried again and again without getting away.
func (r *run) stucks(stays []stay, spins []Event) []Event {
	ts := r.tries(spins)
	room := r.opt.StuckDrift * r.diameter()
	var out []Event
	for i := 0; i < len(ts); i++ {
		var where box
		if !where.take(r, ts[i].from, ts[i].to, room) {
			continue
		}
		j := i
		for j+1 < len(ts) && r.ticks[ts[j+1].from].t-r.ticks[ts[j].to].t <= r.opt.StuckPause && where.take(r, ts[j].to, ts[j+1].to, room) {
			j++
		}
		a := r.ticks[ts[i].from]
		from, to := a.t, r.ticks[ts[j].to].t
		n := j - i + 1
		// A try that leads away within reach of the end is no longer part of it.
		if to-from < r.opt.StuckTime-step/2 || float64(n) < r.opt.StuckTries*math.Max(1, (to-from)/r.opt.StuckTime) || inStay(stays, (from+to)/2) {
			continue
		}
		// One long turn with pauses is a spin, not a struggle: the sense or
		// direction must change again and again.
		changes := 0
		for k := i + 1; k <= j; k++ {
			if r.move(r.ticks[ts[k].from]) != r.move(r.ticks[ts[k-1].from]) {
				changes++
			}
		}
		if float64(changes) < r.opt.StuckTries-1 && !r.jerks(ts[i:j+1]) {
			continue
		}
		x, y := r.middle(ts[i].from, ts[j].to)
		out = append(out, Event{Kind: Stuck, Start: from, End: to, X: x, Y: y, Size: to - from, Unit: "s",
			Figures: map[string]float64{"tries": float64(n)}})
		i = j
	}
	return out
}

// jerks tells whether most tries are short, under a second each.
func (r *run) jerks(ts []try) bool {
	short := 0
	for _, t := range ts {
		if float64(t.to-t.from)*step < 1 {
			short++
		}
	}
	return 2*short > len(ts)
}

// box is the least box about some ticks, floor, m.
type box struct {
	some           bool
	x0, x1, y0, y1 float64
}

// take widens the box by ticks i to j if all of it then lies within d of its
// middle; else, or where the place is not known, it leaves the box as it is.
func (b *box) take(r *run, i, j int, d float64) bool {
	c := *b
	for k := i; k <= j; k++ {
		t := r.ticks[k]
		if !t.known {
			return false
		}
		if !c.some {
			c = box{true, t.x, t.x, t.y, t.y}
		}
		c.x0, c.x1, c.y0, c.y1 = math.Min(c.x0, t.x), math.Max(c.x1, t.x), math.Min(c.y0, t.y), math.Max(c.y1, t.y)
	}
	if math.Hypot(c.x1-c.x0, c.y1-c.y0) > 2*d {
		return false
	}
	*b = c
	return true
}
