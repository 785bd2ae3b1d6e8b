package coverage

import (
	"math"
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
func pathOf(trace *geom.Trace, off []geom.Span) []point {
	ss := trace.Samples
	heads := headings(ss)
	cuts := cutsOf(off)
	pts := make([]point, 0, len(ss)+16)
	s := 0.0
	joined := false // the last point of pts is sample i
	for i := 0; i+1 < len(ss); i++ {
		a, b := ss[i], ss[i+1]
		if !known(a) || !known(b) || b.T <= trace.Run.From || a.T >= trace.Run.To || !(b.T > a.T) {
			joined = false
			continue
		}
		ha := heads[i]
		if joined {
			ha = pts[len(pts)-1].h
		}
		dh := geom.WrapAngle(heads[i+1] - heads[i])
		length := math.Hypot(b.X-a.X, b.Y-a.Y)
		at := func(t float64) point {
			if t <= a.T {
				return point{t: a.T, x: a.X, y: a.Y, h: ha}
			}
			u := (t - a.T) / (b.T - a.T)
			if t >= b.T {
				return point{t: b.T, x: b.X, y: b.Y, h: ha + dh}
			}
			return point{t: t, x: a.X + u*(b.X-a.X), y: a.Y + u*(b.Y-a.Y), h: ha + u*dh}
		}
		from, to := math.Max(a.T, trace.Run.From), math.Min(b.T, trace.Run.To)
		if !joined {
			p := at(from)
			p.s, p.step, p.gap = s, int32(i), true
			pts = append(pts, p)
		}
		for from < to {
			next := to
			if k := sort.SearchFloat64s(cuts, from); len(cuts) > 0 {
				for k < len(cuts) && cuts[k] <= from {
					k++
				}
				if k < len(cuts) && cuts[k] < to {
					next = cuts[k]
				}
			}
			p := at(next)
			s += length * (next - from) / (b.T - a.T)
			p.s, p.step = s, int32(i)
			p.off = switchedOff(off, (from+next)/2)
			pts = append(pts, p)
			from = next
		}
		joined = to == b.T
	}
	return pts
}

// known tells whether the sample's place may be driven to and from.
func known(s geom.Sample) bool {
	return s.State != geom.Lost && s.State != geom.Carried && !math.IsNaN(s.X) && !math.IsNaN(s.Y)
}

// headings returns a heading for every sample: its own, else the last one
// known, else (before any is known) the first, else the direction of travel.
func headings(ss []geom.Sample) []float64 {
	out := make([]float64, len(ss))
	last := math.NaN()
	for i, s := range ss {
		if !math.IsNaN(s.Heading) {
			if math.IsNaN(last) {
				for k := 0; k < i; k++ {
					out[k] = s.Heading
				}
			}
			last = s.Heading
		}
		out[i] = last
	}
	if !math.IsNaN(last) {
		return out
	}
	last = 0
	for i := range out {
		if i+1 < len(ss) && known(ss[i]) && known(ss[i+1]) && (ss[i].X != ss[i+1].X || ss[i].Y != ss[i+1].Y) {
			last = math.Atan2(ss[i+1].Y-ss[i].Y, ss[i+1].X-ss[i].X)
		}
		out[i] = last
	}
	return out
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
