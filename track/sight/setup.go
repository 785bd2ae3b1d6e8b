package sight

import (
	"math"

	"swathe/geom"
)

// outsideMargin is how far beyond the room's walls the robot is looked for, m:
// the survey of the walls is not perfect, and a robot may push through a gap.
const outsideMargin = 0.12

// NewSetup prepares the world for pictures that were halved so many times.
func NewSetup(cam *geom.Camera, plan *geom.Plan, robot geom.Robot, halved int) Setup {
	s := Setup{Cam: ScaleCamera(cam, halved), Halved: halved, Robot: robot}
	s.Lo = geom.Point2{X: math.Inf(1), Y: math.Inf(1)}
	s.Hi = geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, p := range plan.Room {
		s.Lo.X, s.Lo.Y = math.Min(s.Lo.X, p[0]-outsideMargin), math.Min(s.Lo.Y, p[1]-outsideMargin)
		s.Hi.X, s.Hi.Y = math.Max(s.Hi.X, p[0]+outsideMargin), math.Max(s.Hi.Y, p[1]+outsideMargin)
	}
	s.May = func(p geom.Point2) bool {
		return p.X >= s.Lo.X && p.Y >= s.Lo.Y && p.X <= s.Hi.X && p.Y <= s.Hi.Y
	}
	s.Floor = func(geom.Point2) float64 { return 0 }
	return s
}
