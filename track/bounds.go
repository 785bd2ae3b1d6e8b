package track

import (
	"math"

	"swathe/geom"
)

// What counts as moving, and as having stopped.
const (
	moveDistance = 0.005 // m, the run begins when the centre has left its first place by more
	moveTurn     = 3.0   // degrees, or when the heading has turned by more
	moveTurnRad  = moveTurn * math.Pi / 180
	// A robot that has moved that far this soon after the first frame was
	// driving when the recording began: 5 mm in 0.25 s is a tenth of the speed
	// of a slow cleaner.
	movingAtOnce = 0.25 // s
	// stayFor is how long it must stand at the end to have stopped, s: a robot
	// that turns at a wall pauses for less.
	stayFor = 2.0
	// dockRadius is how near to the dock's place the centre ends when docked, m.
	dockRadius = 0.10
)

// Bound finds the run within a trace, as run.json defines it: from the moment
// the robot first moves of itself, its centre by more than 5 mm or its heading
// by more than 3 degrees, to the last. It fills in Run, Started and Ended; dock
// may be nil. It returns false, and changes nothing, if the robot never moves of
// itself.
//
// A heading that rests on the direction of travel shows no turning on the spot
// and is left out of the account.
func Bound(tr *geom.Trace, dock *geom.Pose) bool {
	s := tr.Samples
	own := make([]int, 0, len(s)) // samples at which the robot's place is its own doing
	for i, p := range s {
		if (p.State == geom.Seen || p.State == geom.Bridged) && !math.IsNaN(p.X) {
			own = append(own, i)
		}
	}
	start, ok := leaves(s, own)
	if !ok {
		return false
	}
	back := make([]int, len(own))
	for i, k := range own {
		back[len(own)-1-i] = k
	}
	end, ok := leaves(s, back)
	if !ok || end <= start {
		return false
	}
	tr.Run = geom.Span{From: start, To: end}
	tr.Started = geom.StartedAtRest
	if start-s[own[0]].T < movingAtOnce {
		tr.Started = geom.StartedMoving
	}
	last := own[len(own)-1]
	stood := s[last].T-end >= stayFor
	switch p := s[last]; {
	case dock != nil && math.Hypot(p.X-dock.X, p.Y-dock.Y) <= dockRadius && (stood || carriedAfter(s, last)):
		tr.Ended = geom.EndedDocked
	case stood:
		tr.Ended = geom.EndedStood
	case carriedAfter(s, last):
		tr.Ended = geom.EndedCarried
	default:
		tr.Ended = geom.EndedRecording
	}
	return true
}

func carriedAfter(s []geom.Sample, last int) bool {
	for _, p := range s[last+1:] {
		if p.State == geom.Carried {
			return true
		}
	}
	return false
}

// leaves returns the time at which the robot, followed through the samples
// order, first leaves the pose that it has at the first of them. Where a person
// carries it in between, the pose at which it was put down is the first.
func leaves(s []geom.Sample, order []int) (t float64, ok bool) {
	if len(order) == 0 {
		return 0, false
	}
	ref := s[order[0]]
	for n := 1; n < len(order); n++ {
		i, j := order[n-1], order[n]
		if carriedBetween(s, i, j) {
			ref = s[j]
			continue
		}
		before, now := departure(ref, s[i]), departure(ref, s[j])
		if now > 1 {
			share := 0.0
			if now > before {
				share = math.Max(0, (1-before)/(now-before))
			}
			return s[i].T + share*(s[j].T-s[i].T), true
		}
	}
	return 0, false
}

// departure tells how far pose q is from ref, 1 being just as far as counts as
// moving.
func departure(ref, q geom.Sample) float64 {
	d := math.Hypot(q.X-ref.X, q.Y-ref.Y) / moveDistance
	if ref.Source != geom.HeadingTravel && q.Source != geom.HeadingTravel {
		if turn := math.Abs(q.Heading-ref.Heading) / moveTurnRad; turn > d {
			d = turn // a heading that is not known compares false
		}
	}
	return d
}

func carriedBetween(s []geom.Sample, i, j int) bool {
	if i > j {
		i, j = j, i
	}
	for _, p := range s[i+1 : j] {
		if p.State == geom.Carried {
			return true
		}
	}
	return false
}
