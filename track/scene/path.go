package scene

import (
	"math"
	"sort"

	"swathe/geom"
)

// TimedPose is where the robot is at a time. The heading is unwrapped.
type TimedPose struct {
	T float64 // s from the first frame
	geom.Pose
	Lift float64 // m above the floor, while it is carried
	Held bool    // a person has it in hand, lifted or not
}

// Path is a list of poses in rising time. Between two of them the robot is
// where linear interpolation puts it; before the first and after the last it
// stands still.
type Path []TimedPose

// At returns the pose at time t.
func (p Path) At(t float64) TimedPose {
	if len(p) == 0 {
		return TimedPose{T: t}
	}
	i := sort.Search(len(p), func(i int) bool { return p[i].T > t })
	var q TimedPose
	switch {
	case i == 0:
		q = p[0]
		q.Held = false
	case i == len(p):
		q = p[i-1]
	default:
		a, b := p[i-1], p[i]
		k := (t - a.T) / (b.T - a.T)
		q = TimedPose{
			Pose: geom.Pose{X: a.X + k*(b.X-a.X), Y: a.Y + k*(b.Y-a.Y), Heading: a.Heading + k*(b.Heading-a.Heading)},
			Lift: a.Lift + k*(b.Lift-a.Lift), Held: a.Held,
		}
	}
	q.T = t
	return q
}

// End returns the time of the last pose, 0 for an empty path.
func (p Path) End() float64 {
	if len(p) == 0 {
		return 0
	}
	return p[len(p)-1].T
}

// Shift returns the path moved by dt in time.
func (p Path) Shift(dt float64) Path {
	q := make(Path, len(p))
	for i, s := range p {
		s.T += dt
		q[i] = s
	}
	return q
}

// Frames returns the times at which the scene's frames are taken, s, strictly
// rising from 0. They depend on the scene's seed and timing alone.
func (s *Scene) Frames() []float64 {
	step := 1 / s.Timing.FPS
	n := int(math.Floor(s.Length*s.Timing.FPS+1e-9)) + 1
	out := make([]float64, 0, n)
	r := NewRand(s.Seed, 0x7131)
	for i := 0; i < n; i++ {
		t := float64(i) * step
		drop := r.Float() < s.Timing.DropShare
		j := s.Timing.Jitter * r.gauss()
		if i == 0 {
			out = append(out, 0)
			continue
		}
		if drop {
			continue
		}
		// Jitter never swaps two frames: a camera's clock only goes forward.
		j = max(-0.4*step, min(0.4*step, j))
		out = append(out, t+j)
	}
	return out
}

// At is a pose at a time with the heading in degrees.
func At(t, x, y, deg float64) TimedPose {
	return TimedPose{T: t, Pose: geom.Pose{X: x, Y: y, Heading: geom.Radians(deg)}}
}
