package track

import (
	"math"

	"swathe/geom"
)

// What a recording shows before the robot is first seen and after it is last
// seen is lost, unless the robot shows to have stood there: then it stands at
// one place at the nearest sightings, and the picture differs from the empty
// room by as much as it does while it stands. A robot that is driven or carried
// away leaves that much less.
const (
	standBeside  = 3.0   // s of sightings next to the edge that must show it at one place
	standAtLeast = 1.0   // s that they must span
	standShare   = 0.25  // of the difference, by which the picture may differ from that
	standSlack   = 0.001 // and of the picture: noise and light
)

// stoodBeyond tells whether the robot stood throughout the looks [i, j), which
// reach to one end of the recording, where it is seen next to them.
func stoodBeyond(l []linked, i, j int, opt Options) bool {
	dir, at := 1, j // sightings lie behind
	if i > 0 {
		dir, at = -1, i-1
	}
	if at < 0 || at >= len(l) {
		return false
	}
	var changed []float64
	last := at
	for k := at; k >= 0 && k < len(l) && math.Abs(l[k].T-l[at].T) <= standBeside; k += dir {
		if !l[k].Found {
			continue
		}
		if math.Hypot(l[k].X-l[at].X, l[k].Y-l[at].Y) > opt.StartMove+3*noise(&l[at]) {
			break
		}
		changed = append(changed, l[k].Changed)
		last = k
	}
	if math.Abs(l[last].T-l[at].T) < standAtLeast || len(changed) < 4 {
		return false
	}
	usual := geom.Median(changed)
	if usual <= standSlack { // it hardly shows: its absence would not either
		return false
	}
	for k := i; k < j; k++ {
		if math.Abs(l[k].Changed-usual) > standShare*usual+standSlack/2 || l[k].Crowd > opt.Crowd {
			return false
		}
	}
	return true
}

// restBeyond lets the looks beyond the first and the last sighting, where the
// robot stood, belong to the rest beside them.
func restBeyond(l []linked) {
	first, last := -1, -1
	for i := range l {
		if l[i].Found {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first < 0 {
		return
	}
	for k := 0; k < first; k++ {
		if l[k].state == geom.Bridged {
			l[k].still, l[k].rest = l[first].still, l[first].rest
		}
	}
	for k := last + 1; k < len(l); k++ {
		if l[k].state == geom.Bridged {
			l[k].still, l[k].rest = l[last].still, l[last].rest
		}
	}
}

// unseenEdge is for how long the robot may be missing at an end of the
// recording, s, and still be said to have been driving there: as long as a path
// may be without rows (contract).
const unseenEdge = 1.0

// shortRest is for how long a robot that is lost from then on must have stood
// before that counts as its end, s: as long as a pause (contract).
const shortRest = 5.0

// unseenFor is how long the recording goes on beyond the last known look in
// time's sense dir, s, and how long the robot stood there before.
func unseenFor(l []linked, dir int) (unseen, stood float64) {
	i, end := 0, len(l)-1
	if dir > 0 {
		i, end = end, 0
	}
	edge := l[i].T
	for i != end && cut(l[i].state) {
		i -= dir
	}
	unseen = math.Abs(edge - l[i].T)
	at := l[i].T
	for l[i].still {
		stood = math.Abs(at - l[i].T)
		if i == end {
			break
		}
		i -= dir
	}
	return unseen, stood
}
