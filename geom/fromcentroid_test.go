package geom

import (
	"fmt"
	"math"
)

// centroidPoints is the number of outline points with which FromCentroid
// models the robot: the inscribed polygon then moves the centroid by less than
// 0.01 mm.
const centroidPoints = 192

// FromCentroid returns where on a floor of height 0 the turning centre of the
// robot is, given the centroid (pixel frame) of its whole silhouette. It is
// the inverse of Silhouette followed by Centroid, to 1e-6 m. A robot that is
// not round is taken to have heading 0; see FromCentroidAt.
func FromCentroid(cam *Camera, robot Robot, px Point2) (Point2, error) {
	return FromCentroidAt(cam, robot, px, 0, 0)
}

// FromCentroidAt is FromCentroid for a known heading (rad) and a floor of the
// given height (m). It errs where the pixel does not show the floor, or the
// robot would leave the lens's field.
func FromCentroidAt(cam *Camera, robot Robot, px Point2, heading, floorHeight float64) (Point2, error) {
	mid := floorHeight + robot.Height/2
	at, ok := cam.Floor(px, mid)
	if !ok {
		return Point2{}, fmt.Errorf("pixel (%.1f, %.1f) does not show the floor; check the camera's entry", px.X, px.Y)
	}
	var o Outline
	// The pose moves the centroid nearly as it moves a point at half height,
	// so this converges by a factor of ten or more a step.
	for i := 0; i < 60; i++ {
		if !o.SetSilhouette(cam, robot, Pose{at.X, at.Y, heading}, floorHeight, centroidPoints) {
			break
		}
		_, j, ok := cam.ProjectJac(Point3{at.X, at.Y, mid})
		if !ok {
			break
		}
		e := px.Sub(o.Centroid())
		det := j[0][0]*j[1][1] - j[0][1]*j[1][0]
		dx := (j[1][1]*e.X - j[0][1]*e.Y) / det
		dy := (j[0][0]*e.Y - j[1][0]*e.X) / det
		at = Point2{at.X + dx, at.Y + dy}
		if math.Hypot(dx, dy) < 1e-9 {
			return at, nil
		}
	}
	return Point2{}, fmt.Errorf("a robot of this size cannot appear with its centroid at pixel (%.1f, %.1f): it would be outside the lens's field", px.X, px.Y)
}
