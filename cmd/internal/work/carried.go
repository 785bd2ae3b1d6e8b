package work

import (
	"math"

	"swathe/geom"
	"swathe/track"
)

// ownMove is how far a robot has moved when it moves of itself, m, as for the
// start of a run.
const ownMove = 0.005

// carry returns the trace with the stretches in which the tester says that the
// robot was carried, beside those that were seen. A run does not begin or end
// in such a stretch: it begins with the first movement behind it, and ends with
// the last before it; one that stood in the dock by then ended there. The trace
// given is not changed.
func carry(t *geom.Trace, spans []geom.Span, plan *geom.Plan, robot geom.Robot) *geom.Trace {
	if len(spans) == 0 {
		return t
	}
	out := *t
	out.Samples = append([]geom.Sample(nil), t.Samples...)
	in := func(at float64) bool {
		for _, s := range spans {
			if s.Contains(at) {
				return true
			}
		}
		return false
	}
	for i := range out.Samples {
		if in(out.Samples[i].T) {
			out.Samples[i].State = geom.Carried
		}
	}
	for _, s := range spans {
		out.Reasons = append(out.Reasons, geom.Gap{Span: s, State: geom.Carried, Reason: "as stated in the recording's notes"})
	}
	if in(out.Run.From) {
		out.Run.From, _ = moveFrom(out.Samples, out.Run.From, 1)
		out.Started = geom.StartedAtRest
	}
	if in(out.Run.To) {
		var stood *geom.Sample
		out.Run.To, stood = moveFrom(out.Samples, out.Run.To, -1)
		out.Ended = geom.EndedCarried
		if stood != nil && stood.T-out.Run.To >= stoodFor && track.AtDock(plan, robot, stood.X, stood.Y) {
			out.Ended = geom.EndedDocked
		}
	}
	if !(out.Run.To > out.Run.From) {
		out.Run.To = out.Run.From
	}
	return &out
}

// stoodFor is how long a robot stands that has come to rest, s: longer than the
// pause of one that turns at a wall.
const stoodFor = 2.0

// moveFrom returns the time, at or behind from in time's sense dir, at which the
// robot has left the place where it was first known and not carried, and the
// sample at that place; nil if there is none.
func moveFrom(s []geom.Sample, from float64, dir int) (at float64, stood *geom.Sample) {
	i := 0
	if dir < 0 {
		i = len(s) - 1
	}
	known := func(k int) bool { return s[k].State == geom.Seen || s[k].State == geom.Bridged }
	rest := -1
	for ; i >= 0 && i < len(s); i += dir {
		if (s[i].T-from)*float64(dir) < 0 || !known(i) {
			continue
		}
		if rest < 0 {
			rest = i
		}
		if math.Hypot(s[i].X-s[rest].X, s[i].Y-s[rest].Y) > ownMove {
			return s[i].T, &s[rest]
		}
	}
	return from, nil
}
