package geom

import "math"

// Tool is a cleaning line: a segment Width long across the heading, its middle
// Ahead of the turning centre (negative: behind) and Left of it. Metres.
type Tool struct {
	Name                string
	Width, Ahead, Left  float64
	WidthTol, OffsetTol float64 // the user's own tolerance (half-width), 0 if none was given
}

// SideBrush is a brush that turns about a body point and reaches Reach around
// it: a disc on the floor. Metres.
type SideBrush struct{ Ahead, Left, Reach float64 }

// Marker is a printed square marker on the robot's top.
type Marker struct {
	Dictionary string  // as OpenCV's aruco module names it, such as 4x4_50
	ID         int     // number within the dictionary
	Side       float64 // m, side of the black square
	Height     float64 // m, height of the print above the floor
	Ahead      float64 // m, marker's centre ahead of the turning centre
	Left       float64 // m, left of it
	Turn       float64 // rad, from the robot's forward axis to the marker's up axis
}

// Robot is a floor cleaner: a disc of Diameter, or an Outline, extruded to
// Height. Metres, body frame.
type Robot struct {
	Name        string
	Diameter    float64  // of a round robot; 0 if Outline is given
	DiameterTol float64  // the user's own tolerance (half-width) of Diameter, or of an outline's greatest width; 0 if none was given
	HeightTol   float64  // the same of Height
	Outline     []Point2 // counter-clockwise, not closed, about the turning centre; nil for a round robot
	Height      float64
	Shoulder    float64 `json:",omitempty"` // height at which its side ends and a bevelled or domed top begins; 0: Height
	Tools       []Tool  // at least one; the first is the headline tool
	SideBrushes []SideBrush
	Marker      *Marker
}

// OutlineHeight returns how high the body is as an outline shows it, m: what slopes
// inwards above its shoulder lies within the outline.
func (r Robot) OutlineHeight() float64 {
	if r.Shoulder > 0 {
		return r.Shoulder
	}
	return r.Height
}

// Round tells whether the robot is a disc.
func (r Robot) Round() bool { return len(r.Outline) == 0 }

// Radius returns half the robot's greatest width in metres: the "one robot
// radius" that ends a pass. For an outline that is half its greatest extent.
func (r Robot) Radius() float64 {
	if r.Round() {
		return r.Diameter / 2
	}
	best := 0.0
	for i, p := range r.Outline {
		for _, q := range r.Outline[i+1:] {
			best = math.Max(best, p.Dist(q))
		}
	}
	return best / 2
}

// Reach returns the distance from the turning centre to the farthest point of
// the body, metres.
func (r Robot) Reach() float64 {
	if r.Round() {
		return r.Diameter / 2
	}
	best := 0.0
	for _, p := range r.Outline {
		best = math.Max(best, p.Norm())
	}
	return best
}

// Area returns the area of the body's outline, m^2.
func (r Robot) Area() float64 {
	if r.Round() {
		return math.Pi * r.Diameter * r.Diameter / 4
	}
	return math.Abs(signedArea(r.Outline))
}

// Body returns the outline as a polygon in the body frame, counter-clockwise,
// not closed. A disc becomes a regular polygon of n corners whose area is that
// of the disc.
func (r Robot) Body(n int) []Point2 {
	if !r.Round() {
		return r.Outline
	}
	a := 2 * math.Pi / float64(n)
	rad := r.Diameter / 2 * math.Sqrt(a/math.Sin(a))
	out := make([]Point2, n)
	for i := range out {
		s, c := math.Sincos(a * float64(i))
		out[i] = Point2{rad * c, rad * s}
	}
	return out
}
