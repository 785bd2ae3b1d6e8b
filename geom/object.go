package geom

import "math"

// ObjectPose is where a test object lay at a time: the middle of its outline (its
// centroid) on the floor, and by how much it is turned from how the layout has it.
type ObjectPose struct {
	T    float64 `json:"t"` // s from the first frame of the run
	X    float64 `json:"x"` // floor, m
	Y    float64 `json:"y"`
	Turn float64 `json:"turn"` // rad
}

// Dist is how far the middles lie apart, m.
func (p ObjectPose) Dist(q ObjectPose) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }

// ObjectSight is what was seen of a test object of the layout in a recording.
type ObjectSight struct {
	Name    string       `json:"name"`
	Seen    bool         `json:"seen"`             // false: nothing can be said of it, for the reason given
	Reason  string       `json:"reason,omitempty"` // a clause, such as: less than 3 pixels
	Track   []ObjectPose `json:"track,omitempty"`  // in rising time; straight between two, still before the first and after the last
	Present Span         `json:"present"`          // when it lay there, if people laid or took it; zero: throughout

	// Surveyed: nobody looked, for the recording is a path. Until the robot meets
	// it the object lies as the layout has it, so that a path tells that it was
	// kept clear of; it does not tell what became of one that was met.
	Surveyed bool `json:"-"`
}
