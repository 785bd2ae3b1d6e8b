// Package geom is what everything in swathe stands on: coordinate frames,
// poses and traces, the plan of a room, robots, and the camera.
//
// # Frames
//
// Four frames are used, and every public name says which one it means.
//
//   - Floor (also "room"): origin and axes as surveyed by the tester; x runs
//     right and y up the plan, in metres; z is the height above the floor, in
//     metres, positive upwards. A heading is the angle of the robot's forward
//     axis, counter-clockwise from +x, in radians inside the program and in
//     degrees in files. Headings are unwrapped within a Trace (they may pass
//     any multiple of a turn) and any real number is accepted on input.
//   - Body: origin at the robot's turning centre on the floor, +x ahead, +y to
//     the left, metres. A body point p lies on the floor at
//     (X + c*p.x - s*p.y, Y + s*p.x + c*p.y), c and s of the heading.
//   - Camera: origin at the lens, +z along the optical axis into the scene,
//     +x to the right of the picture, +y down it, metres.
//   - Pixel: (column, row) from the top left; the centre of the first pixel is
//     (0, 0), so a picture of w columns spans [-0.5, w-0.5).
//
// Because y runs up the plan and down the picture, floor to pixel is a
// reflection for a camera that looks down: a robot that turns left on the plan
// turns left in the picture too only if the picture is not mirrored. The
// camera's pose is a proper rotation; no handedness is assumed anywhere else.
//
// Times are seconds from the first frame of the run's first recording.
package geom

import "math"

// Degrees converts an angle in radians to degrees.
func Degrees(rad float64) float64 { return rad * 180 / math.Pi }

// Radians converts an angle in degrees to radians.
func Radians(deg float64) float64 { return deg * math.Pi / 180 }

// WrapAngle returns the angle in (-pi, pi] that differs from a by whole turns.
func WrapAngle(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	switch {
	case a > math.Pi:
		return a - 2*math.Pi
	case a <= -math.Pi:
		return a + 2*math.Pi
	}
	return a
}

// Point2 is a point in the floor or body frame (metres) or in the pixel frame
// (columns, rows); the name of the variable or field says which.
type Point2 struct{ X, Y float64 }

// Point3 is a point in the floor frame with its height, metres.
type Point3 struct{ X, Y, Z float64 }

// Sub returns p - q.
func (p Point2) Sub(q Point2) Point2 { return Point2{p.X - q.X, p.Y - q.Y} }

// Add returns p + q.
func (p Point2) Add(q Point2) Point2 { return Point2{p.X + q.X, p.Y + q.Y} }

// Scale returns p * k.
func (p Point2) Scale(k float64) Point2 { return Point2{p.X * k, p.Y * k} }

// Norm returns the length of p.
func (p Point2) Norm() float64 { return math.Hypot(p.X, p.Y) }

// Dist returns the distance between p and q.
func (p Point2) Dist(q Point2) float64 { return math.Hypot(p.X-q.X, p.Y-q.Y) }
