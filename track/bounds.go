package track

import (
	"math"

	"swathe/geom"
)

type runBounds struct {
	run            geom.Span
	started, ended string
	moved          bool
}

// bounds finds the run: from the moment the robot first moves of itself to the
// last (contract: its centre by more than 5 mm or its heading by more than 3
// degrees, not carried).
func bounds(l []linked, job Job, opt Options) runBounds {
	b := runBounds{started: geom.StartedAtRest, ended: geom.EndedStood}
	first, atRest := firstMove(l, opt, 1)
	last, rests := firstMove(l, opt, -1)
	if first < 0 || last < 0 || l[last].T <= l[first].T {
		return b
	}
	b.moved = true
	b.run = geom.Span{From: l[first].T, To: l[last].T}
	if !atRest {
		b.started = geom.StartedMoving
		if unseen, _ := unseenFor(l, -1); unseen > unseenEdge {
			b.started = geom.StartedUnseen
		}
	}
	unseen, stood := unseenFor(l, 1)
	switch {
	case rests && AtDock(job.Plan, job.Robot, l[last].pose.X, l[last].pose.Y):
		b.ended = geom.EndedDocked // whoever fetches it afterwards
	case carriedAfter(l, last):
		b.ended = geom.EndedCarried
	case unseen > unseenEdge && (!rests || stood < shortRest):
		b.ended = geom.EndedLost
	case !rests:
		b.ended = geom.EndedRecording
	}
	return b
}

// firstMove finds the first look, in time's sense dir, at which the robot has
// left the place where it rested: index and whether it rested at all. -1 if it
// never moves.
func firstMove(l []linked, opt Options, dir int) (at int, rested bool) {
	n := len(l)
	i := 0
	if dir < 0 {
		i = n - 1
	}
	in := func(k int) bool { return k >= 0 && k < n }
	for in(i) && (!l[i].Found || l[i].state != geom.Seen) {
		i += dir
	}
	for in(i) {
		// The place of rest: the median over a short time, as long as it does
		// not yet leave it.
		rx, ry, rh, restT := rest(l, i, dir, opt)
		moves := -1
		k := i
		for ; in(k); k += dir {
			s := &l[k]
			if s.state == geom.Carried {
				break
			}
			if s.state != geom.Seen || !s.Found {
				continue
			}
			d := math.Hypot(s.pose.X-rx, s.pose.Y-ry)
			turned := !math.IsNaN(rh) && !math.IsNaN(s.pose.Heading) && s.source != geom.HeadingTravel &&
				math.Abs(s.pose.Heading-rh) > opt.StartTurn+2*s.sigmaH
			if (d > opt.StartMove || turned) && stays(l, k, dir, geom.Pose{X: rx, Y: ry, Heading: rh}, opt) {
				moves = k
				break
			}
		}
		if moves < 0 && in(k) { // carried before it moved: begin anew behind
			i = k
			for in(i) && l[i].state == geom.Carried {
				i += dir
			}
			continue
		}
		if moves < 0 {
			return -1, true
		}
		// A person's touch that shifts a standing robot is no start, nor is an
		// outline that hops from one edge to another.
		next, ok := pushed(l, moves, dir)
		if !ok {
			next, ok = hopped(l, moves, dir, rx, ry, opt)
		}
		if ok && next != i {
			i = next
			continue
		}
		return moves, math.Abs(l[moves].T-l[i].T) > restT
	}
	return -1, false
}

// rest is the robot's place at look i: the median over the next half second,
// shorter if it moves off. restT is the time that it must have stood to count
// as at rest, s.
func rest(l []linked, i, dir int, opt Options) (x, y, h, restT float64) {
	var xs, ys, hs []float64
	for k := i; k >= 0 && k < len(l) && math.Abs(l[k].T-l[i].T) < 0.5; k += dir {
		if !l[k].Found || l[k].state != geom.Seen {
			continue
		}
		if math.Hypot(l[k].pose.X-l[i].pose.X, l[k].pose.Y-l[i].pose.Y) > opt.StartMove {
			break
		}
		xs, ys = append(xs, l[k].pose.X), append(ys, l[k].pose.Y)
		if !math.IsNaN(l[k].pose.Heading) {
			hs = append(hs, l[k].pose.Heading)
		}
	}
	return geom.Median(xs), geom.Median(ys), geom.Median(hs), 0.3
}

// stays tells whether the robot is still away from its place of rest a moment
// later: one wild look is no move.
func stays(l []linked, k, dir int, at geom.Pose, opt Options) bool {
	away, back := 0, 0
	for m := k; m >= 0 && m < len(l) && math.Abs(l[m].T-l[k].T) < 0.45; m += dir {
		if !l[m].Found {
			continue
		}
		d := math.Hypot(l[m].pose.X-at.X, l[m].pose.Y-at.Y)
		t := 0.0
		if !math.IsNaN(at.Heading) && !math.IsNaN(l[m].pose.Heading) && l[m].source != geom.HeadingTravel {
			t = math.Abs(l[m].pose.Heading - at.Heading)
		}
		if d > opt.StartMove*0.8 || t > opt.StartTurn*0.8 {
			away++
		} else {
			back++
		}
	}
	return away > 0 && back*4 <= away
}

// pushed tells whether a move that begins at look k is a person's: somebody is
// at the robot, and it stands again within a moment and for longer than that.
func pushed(l []linked, k, dir int) (next int, ok bool) {
	if !personAt(&l[k]) {
		return 0, false
	}
	return standsAgain(l, k, dir, 4, 2)
}

// hopTimes is how many times linked.hop the outline of a robot that stands hops
// at most from one edge to another that is much like it.
const hopTimes = 4

// hopped tells whether a move from a place of rest that begins at look k is the
// outline's alone: it is no farther than the outline may err, and within a
// second it stands again, for as long as that.
func hopped(l []linked, k, dir int, rx, ry float64, opt Options) (next int, ok bool) {
	m, ok := standsAgain(l, k, dir, 1, 1)
	if !ok || math.Hypot(l[k].pose.X-rx, l[k].pose.Y-ry) <= opt.StartMove { // it turns
		return 0, false
	}
	return m, math.Hypot(l[m].pose.X-rx, l[m].pose.Y-ry) < opt.StartMove+hopTimes*l[m].hop
}

// standsAgain is the first look, from look k on in time's sense dir and within
// so many seconds, from which the robot stands for longer than some time, s.
func standsAgain(l []linked, k, dir int, within, long float64) (m int, ok bool) {
	for m = k; m >= 0 && m < len(l) && math.Abs(l[m].T-l[k].T) < within; m += dir {
		end := m
		for e := m; e >= 0 && e < len(l) && l[e].still; e += dir {
			end = e
		}
		if math.Abs(l[end].T-l[m].T) > long {
			return m, true
		}
	}
	return 0, false
}

func carriedAfter(l []linked, last int) bool {
	for k := last + 1; k < len(l); k++ {
		if l[k].state == geom.Carried {
			return true
		}
	}
	return false
}

// AtDock tells whether a robot whose centre is at x, y (floor, m) stands where
// the plan's dock has it: within a third of its diameter. Without a dock it does
// not; plan may be nil.
func AtDock(plan *geom.Plan, robot geom.Robot, x, y float64) bool {
	return plan != nil && plan.Dock != nil && math.Hypot(x-plan.Dock.X, y-plan.Dock.Y) < 2*robot.Radius()/3
}
