package proof

import (
	"math"
	"sort"

	"swathe/coverage/conduct"
	"swathe/report/accuracy"
)

// Two events of a kind are the same one if they overlap in time, or begin
// within nearTime, and happen within nearPlace of each other where both have a
// place. An ordinary robot does nothing twice within that.
const (
	nearTime  = 2.0 // s
	nearPlace = 0.5 // m
)

// countEvents pairs the events of the true path with those found, kind by kind.
// What is told because the robot was not seen is no event of its path.
func countEvents(truth, found []conduct.Event) []accuracy.Events {
	by := map[string]*accuracy.Events{}
	at := func(kind string) *accuracy.Events {
		if by[kind] == nil {
			by[kind] = &accuracy.Events{Kind: kind}
		}
		return by[kind]
	}
	taken := make([]bool, len(found))
	for _, a := range truth {
		if unpaired(a.Kind) {
			continue
		}
		e := at(a.Kind)
		e.Drawn++
		best, gap := -1, math.Inf(1)
		for i, b := range found {
			if !taken[i] && same(a, b) && math.Abs(a.Start-b.Start) < gap {
				best, gap = i, math.Abs(a.Start-b.Start)
			}
		}
		if best >= 0 {
			taken[best] = true
			e.Found++
		}
	}
	for i, b := range found {
		if !taken[i] && !unpaired(b.Kind) {
			at(b.Kind).MadeUp++
		}
	}
	out := []accuracy.Events{}
	for _, e := range by {
		out = append(out, *e)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Kind < out[j].Kind })
	return out
}

// unpaired kinds are no events of the path: what was out of sight, and what lies
// within the doubt of where things are.
func unpaired(kind string) bool {
	return kind == conduct.Hidden || kind == conduct.Carried || kind == conduct.Near
}

func same(a, b conduct.Event) bool {
	if a.Kind != b.Kind {
		return false
	}
	if d := math.Hypot(a.X-b.X, a.Y-b.Y); d > nearPlace {
		return false
	}
	return a.Start <= b.End && b.Start <= a.End || math.Abs(a.Start-b.Start) <= nearTime
}
