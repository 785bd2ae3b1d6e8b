package track

import (
	"math"

	"swathe/geom"
)

// When the run of a path measured elsewhere begins and ends. Such a path has no
// pictures, so its rows are taken at their word, with no allowance for wild
// looks.
const (
	pathMove = 0.005   // m, the run begins when the centre has left its first place by more
	pathTurn = 3 * deg // rad, or when the heading has turned by more
	// A robot that has moved that far this soon after the first row was driving
	// when the recording began: 5 mm in 0.25 s is a tenth of the speed of a slow
	// cleaner.
	movingAtOnce = 0.25 // s
	// stayFor is how long it must stand at the end to have stopped, s: a robot
	// that turns at a wall pauses for less.
	stayFor = 2.0
	// dockRadius is how near to the dock's place the centre ends when docked, m.
	dockRadius = 0.10
)

// pathBounds finds the run within a path and fills in Run, Started and Ended;
// dock may be nil. It returns false, and changes nothing, if the robot never
// moves. A heading that rests on the direction of travel shows no turning on the
// spot and is left out of the account.
func pathBounds(tr *geom.Trace, dock *geom.Pose) bool {
	var there []geom.Sample
	for _, p := range tr.Samples {
		if p.State == geom.Seen {
			there = append(there, p)
		}
	}
	start, ok := leaves(there, 1)
	if !ok {
		return false
	}
	end, ok := leaves(there, -1)
	if !ok || end <= start {
		return false
	}
	tr.Run = geom.Span{From: start, To: end}
	tr.Started = geom.StartedAtRest
	if start-there[0].T < movingAtOnce {
		tr.Started = geom.StartedMoving
	}
	last := there[len(there)-1]
	switch stood := last.T-end >= stayFor; {
	case stood && dock != nil && math.Hypot(last.X-dock.X, last.Y-dock.Y) <= dockRadius:
		tr.Ended = geom.EndedDocked
	case stood:
		tr.Ended = geom.EndedStood
	default:
		tr.Ended = geom.EndedRecording
	}
	return true
}

// leaves returns the time at which the robot first leaves the pose that it has
// at the first sample; with dir -1, followed backwards, at the last.
func leaves(s []geom.Sample, dir int) (t float64, ok bool) {
	n := len(s)
	at := func(k int) geom.Sample {
		if dir < 0 {
			return s[n-1-k]
		}
		return s[k]
	}
	for k := 1; k < n; k++ {
		before, now := departure(at(0), at(k-1)), departure(at(0), at(k))
		if now > 1 {
			share := 0.0
			if now > before {
				share = math.Max(0, (1-before)/(now-before))
			}
			return at(k-1).T + share*(at(k).T-at(k-1).T), true
		}
	}
	return 0, false
}

// departure tells how far pose q is from ref, 1 being just as far as counts as
// moving.
func departure(ref, q geom.Sample) float64 {
	d := math.Hypot(q.X-ref.X, q.Y-ref.Y) / pathMove
	if ref.Source != geom.HeadingTravel && q.Source != geom.HeadingTravel {
		if turn := math.Abs(q.Heading-ref.Heading) / pathTurn; turn > d {
			d = turn // a heading that is not known compares false
		}
	}
	return d
}
