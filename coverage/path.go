package coverage

import (
	"math"
	"slices"
	"sort"

	"swathe/geom"
)

// point is a vertex of the path within the run. The robot drove to it from the
// point before unless gap is set.
type point struct {
	t, x, y float64 // s; floor, m
	h       float64 // rad, within half a turn of the point before unless gap
	s       float64 // m travelled since the run's start
	step    int32   // index in Result.Steps of the interval that ends here
	gap     bool    // nothing is known between the point before and this one
	off     bool    // driven to without cleaning
}

// pathOf lists the path within the run, cut at the run's bounds and where the
// tool is switched on or off. Only stretches that are known at both ends are
// joined.
func pathOf(trace *geom.Trace, off []geom.Span) []point { return pathInto(nil, trace, off) }

// pathInto is pathOf into the memory of pts.
func pathInto(pts []point, trace *geom.Trace, off []geom.Span) []point {
	ss := trace.Samples
	if pts = pts[:0]; cap(pts) < len(ss)+16 {
		pts = make([]point, 0, len(ss)+16)
	}
	head := headings(ss)
	cuts := cutsOf(off)
	run := trace.Run
	s := 0.0
	joined := false // the last point of pts is sample i
	for i := 0; i+1 < len(ss); i++ {
		a, b := &ss[i], &ss[i+1]
		if !a.Placed() || !b.Placed() || b.T <= run.From || a.T >= run.To || !(b.T > a.T) {
			joined = false
			continue
		}
		ha := head(i)
		dh := head(i+1) - ha
		if dh > math.Pi || dh < -math.Pi {
			dh = geom.WrapAngle(dh)
		}
		if joined {
			ha = pts[len(pts)-1].h
		}
		q := point{t: b.T, x: b.X, y: b.Y, h: ha + dh, step: int32(i)}
		dx, dy := b.X-a.X, b.Y-a.Y
		q.s = s + math.Sqrt(dx*dx+dy*dy)
		if a.T >= run.From && b.T <= run.To && len(cuts) == 0 { // nearly always
			if !joined {
				pts = append(pts, point{t: a.T, x: a.X, y: a.Y, h: ha, s: s, step: int32(i), gap: true})
			}
			pts = append(pts, q)
			s, joined = q.s, true
			continue
		}
		p := point{t: a.T, x: a.X, y: a.Y, h: ha, s: s, step: int32(i)}
		at := func(t float64) point {
			if t >= b.T {
				return q
			}
			return between(&p, &q, (t-a.T)/(b.T-a.T))
		}
		from, to := math.Max(a.T, run.From), math.Min(b.T, run.To)
		base := at(from).s - s // of a step that begins before the run
		if !joined {
			first := at(from)
			first.s, first.gap = s, true
			pts = append(pts, first)
		}
		for from < to {
			next := to
			if k := sort.SearchFloat64s(cuts, math.Nextafter(from, math.Inf(1))); k < len(cuts) && cuts[k] < to {
				next = cuts[k]
			}
			r := at(next)
			r.s -= base
			r.off = switchedOff(off, (from+next)/2)
			pts = append(pts, r)
			from = next
		}
		s = pts[len(pts)-1].s
		joined = to == b.T
	}
	return pts
}

// headings returns what gives the heading of every sample: its own, else that of
// geom.Headings, else, where none is known at all, the direction of travel.
func headings(ss []geom.Sample) func(i int) float64 {
	if !slices.ContainsFunc(ss, func(s geom.Sample) bool { return math.IsNaN(s.Heading) }) {
		return func(i int) float64 { return ss[i].Heading }
	}
	out := geom.Headings(ss)
	if math.IsNaN(out[0]) {
		last := 0.0
		for i := range ss {
			if i+1 < len(ss) {
				if s, n := &ss[i], &ss[i+1]; s.Placed() && n.Placed() && (s.X != n.X || s.Y != n.Y) {
					last = math.Atan2(n.Y-s.Y, n.X-s.X)
				}
			}
			out[i] = last
		}
	}
	return func(i int) float64 { return out[i] }
}

func cutsOf(off []geom.Span) []float64 {
	var cuts []float64
	for _, s := range off {
		cuts = append(cuts, s.From, s.To)
	}
	sort.Float64s(cuts)
	return cuts
}

func switchedOff(off []geom.Span, t float64) bool {
	for _, s := range off {
		if s.Contains(t) {
			return true
		}
	}
	return false
}
