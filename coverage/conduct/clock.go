package conduct

import (
	"math"
	"sort"

	"swathe/coverage"
	"swathe/geom"
)

// step is the spacing of the even clock on which the run is looked at, s, and
// half the window over which place and motion are fitted. A straight line is
// fitted to the samples within the window: at 30 samples a second and 1 mm of
// noise that leaves 0.3 mm of place and 2 mm/s of speed, and it rounds the
// corner of a sudden stop over a fifth of a second.
const (
	step   = 0.1
	window = 0.2
)

// tick is one moment of the even clock.
type tick struct {
	t       float64
	known   bool    // seen or bridged; else all of the rest is NaN
	x, y    float64 // floor, m
	h       float64 // rad, unwrapped
	v       float64 // m/s
	ahead   float64 // m/s along the heading: negative in reverse
	turning float64 // rad/s
	course  float64 // rad, direction of travel; NaN when hardly moving
}

func (k tick) at() geom.Point2 { return geom.Point2{X: k.x, Y: k.y} }

func (k tick) dist(o tick) float64 { return math.Hypot(k.x-o.x, k.y-o.y) }

// sums are what was done from the start of the run up to a sample.
type sums struct{ new, pass, swept, dist float64 }

// run is what every finder works on.
type run struct {
	trace *geom.Trace
	plan  *geom.Plan
	robot geom.Robot
	cov   *coverage.Result
	opt   Options

	ss    []geom.Sample
	heads []float64 // of each sample, rad; the last known one where there is none
	upTo  []sums    // at each sample
	ticks []tick

	breaks []geom.Span // between two recordings of one run

	far  []float64 // m, the body's clearance at each tick; NaN if unknown
	near []geom.Near
}

func newRun(trace *geom.Trace, plan *geom.Plan, robot geom.Robot, cov *coverage.Result, opt Options) *run {
	r := &run{trace: trace, plan: plan, robot: robot, cov: cov, opt: opt, ss: trace.Samples, heads: geom.Headings(trace.Samples)}
	r.findBreaks()
	r.upTo = make([]sums, len(r.ss))
	for i, s := range cov.Steps {
		a := r.upTo[i]
		r.upTo[i+1] = sums{a.new + s.NewM2, a.pass + s.PassM2, a.swept + s.SweptM2, a.dist + s.DistanceM}
	}
	n := int(math.Floor((trace.Run.To-trace.Run.From)/step + 1e-9))
	for i := 0; i <= n; i++ {
		r.ticks = append(r.ticks, r.look(trace.Run.From+float64(i)*step))
	}
	r.far, r.near = make([]float64, len(r.ticks)), make([]geom.Near, len(r.ticks))
	for i, k := range r.ticks {
		r.far[i] = math.NaN()
		if k.known {
			r.far[i], r.near[i] = r.clearance(geom.Pose{X: k.x, Y: k.y, Heading: k.h})
		}
	}
	return r
}

// breakTime, s: samples farther apart than this, and than five times what is
// usual, have a break of the recording between them.
const breakTime = 2.0

// findBreaks finds the breaks between recordings of one run.
func (r *run) findBreaks() {
	var dts []float64
	for i := 1; i < len(r.ss); i++ {
		dts = append(dts, r.ss[i].T-r.ss[i-1].T)
	}
	if len(dts) == 0 {
		return
	}
	limit := math.Max(breakTime, 5*geom.Median(dts))
	for i, dt := range dts {
		if dt > limit && r.ss[i].Placed() && r.ss[i+1].Placed() {
			r.breaks = append(r.breaks, geom.Span{From: r.ss[i].T, To: r.ss[i+1].T})
		}
	}
}

// inBreak returns the break that t lies in; ok is false if there is none.
func (r *run) inBreak(t float64) (geom.Span, bool) {
	for _, b := range r.breaks {
		if t > b.From && t < b.To {
			return b, true
		}
	}
	return geom.Span{}, false
}

// index returns the last sample at or before t; -1 if there is none.
func (r *run) index(t float64) int {
	return sort.Search(len(r.ss), func(i int) bool { return r.ss[i].T > t }) - 1
}

// look fits place and motion at time t.
func (r *run) look(t float64) tick {
	nan := math.NaN()
	none := tick{t: t, x: nan, y: nan, h: nan, v: nan, ahead: nan, turning: nan, course: nan}
	i := r.index(t + 1e-9)
	if i < 0 || !r.ss[i].Placed() || i+1 < len(r.ss) && r.ss[i].T < t-1e-9 && !r.ss[i+1].Placed() {
		return none
	}
	if _, ok := r.inBreak(t); ok {
		return none
	}
	lo, hi := i, i
	for lo > 0 && r.ss[lo-1].Placed() && r.ss[lo-1].T >= t-window-1e-9 {
		lo--
	}
	for hi+1 < len(r.ss) && r.ss[hi+1].Placed() && r.ss[hi+1].T <= t+window+1e-9 {
		hi++
	}
	// A clock slower than the window still has the two samples about t.
	if hi == i && hi+1 < len(r.ss) && r.ss[hi+1].Placed() {
		hi++
	}
	if lo == hi && lo > 0 && r.ss[lo-1].Placed() {
		lo--
	}
	// Straight lines through x, y and heading at once: this is done ten times a
	// second of every run.
	var n, st, stt float64
	var sx, sy, sh, stx, sty, sth float64
	for k := lo; k <= hi; k++ {
		d := r.ss[k].T - t
		n, st, stt = n+1, st+d, stt+d*d
		sx, sy, sh = sx+r.ss[k].X, sy+r.ss[k].Y, sh+r.heads[k]
		stx, sty, sth = stx+d*r.ss[k].X, sty+d*r.ss[k].Y, sth+d*r.heads[k]
	}
	k := none
	k.known = true
	det := n*stt - st*st
	if det <= 1e-12 {
		k.x, k.y, k.h, k.v, k.ahead, k.turning = sx/n, sy/n, sh/n, 0, 0, 0
		return k
	}
	fit := func(s, ts float64) (v, slope float64) {
		return (stt*s - st*ts) / det, (n*ts - st*s) / det
	}
	var vx, vy float64
	k.x, vx = fit(sx, stx)
	k.y, vy = fit(sy, sty)
	k.h, k.turning = fit(sh, sth)
	k.v = math.Hypot(vx, vy)
	if k.v > r.opt.StandSpeed {
		k.course = math.Atan2(vy, vx)
	}
	if math.IsNaN(k.h) { // no heading was ever known: the direction of travel serves
		k.h, k.turning = k.course, 0
	}
	k.ahead = k.v
	if sn, cs := math.Sincos(k.h); !math.IsNaN(k.h) {
		k.ahead = vx*cs + vy*sn
	}
	return k
}

// done returns what was done up to time t, in proportion within an interval.
func (r *run) done(t float64) sums {
	t = math.Max(r.trace.Run.From, math.Min(r.trace.Run.To, t))
	i := r.index(t)
	if i < 0 {
		return sums{}
	}
	if i+1 >= len(r.ss) {
		return r.upTo[i]
	}
	from, to := math.Max(r.ss[i].T, r.trace.Run.From), math.Min(r.ss[i+1].T, r.trace.Run.To)
	if to <= from {
		return r.upTo[i]
	}
	u := math.Max(0, math.Min(1, (t-from)/(to-from)))
	a, b := r.upTo[i], r.upTo[i+1]
	return sums{a.new + u*(b.new-a.new), a.pass + u*(b.pass-a.pass), a.swept + u*(b.swept-a.swept), a.dist + u*(b.dist-a.dist)}
}

// between returns what was done in a stretch of time.
func (r *run) between(from, to float64) sums {
	a, b := r.done(from), r.done(to)
	return sums{b.new - a.new, b.pass - a.pass, b.swept - a.swept, b.dist - a.dist}
}

// tickAt returns the index of the tick nearest to t, within range.
func (r *run) tickAt(t float64) int {
	i := int(math.Round((t - r.trace.Run.From) / step))
	return max(0, min(len(r.ticks)-1, i))
}

// stands tells whether the robot neither moves nor turns at a tick.
func (r *run) stands(k tick) bool {
	return k.known && k.v < r.opt.StandSpeed && math.Abs(k.turning) < r.opt.StandTurn
}

// pivots tells whether it turns on the spot.
func (r *run) pivots(k tick) bool {
	return k.known && k.v < r.opt.PivotSpeed && math.Abs(k.turning) >= r.opt.PivotTurn
}

// stretches calls fn with every maximal run of ticks [i, j] for which ok holds.
func stretches(n int, ok func(int) bool, fn func(i, j int)) {
	for i := 0; i < n; i++ {
		if !ok(i) {
			continue
		}
		j := i
		for j+1 < n && ok(j+1) {
			j++
		}
		fn(i, j)
		i = j
	}
}

// ticksIn returns how many ticks a stretch of s seconds has.
func ticksIn(s float64) int { return int(math.Round(s / step)) }

// meanHeading is the mean heading within three quarters of the window about t,
// rad: unlike a fitted line it never shoots over at the corner of a turn.
func (r *run) meanHeading(t float64) float64 {
	i := r.index(t + 1e-9)
	sum, n := 0.0, 0.0
	for k := i; k >= 0 && r.ss[k].T >= t-0.75*window; k-- {
		sum, n = sum+r.heads[k], n+1
	}
	for k := i + 1; k < len(r.ss) && r.ss[k].T <= t+0.75*window; k++ {
		sum, n = sum+r.heads[k], n+1
	}
	if n == 0 && i >= 0 {
		return r.heads[i]
	}
	return sum / n
}
