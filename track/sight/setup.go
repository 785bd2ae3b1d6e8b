package sight

import (
	"swathe/geom"
)

// outsideMargin is how far beyond the room's walls the robot is looked for, m:
// the survey of the walls is not perfect, and a robot may push through a gap.
const outsideMargin = 0.12

// NewSetup prepares the world for pictures that were halved so many times.
func NewSetup(cam *geom.Camera, plan *geom.Plan, robot geom.Robot, halved int) Setup {
	s := Setup{Cam: ScaleCamera(cam, halved), Halved: halved, Robot: robot, TestObjects: plan.TestObjects}
	lo, hi := plan.Bounds()
	s.Lo = geom.Point2{X: lo.X - outsideMargin, Y: lo.Y - outsideMargin}
	s.Hi = geom.Point2{X: hi.X + outsideMargin, Y: hi.Y + outsideMargin}
	s.May = func(p geom.Point2) bool {
		return p.X >= s.Lo.X && p.Y >= s.Lo.Y && p.X <= s.Hi.X && p.Y <= s.Hi.Y
	}
	s.Floor = plan.FloorHeight
	occ := newOcclusion(s.Cam, plan, robot.Height, s.Lo, s.Hi)
	s.Hidden = occ.hidden
	s.Hides = func(p geom.Point3) (string, bool) {
		hid, name := geom.Hidden(s.Cam, plan, p)
		return name, hid
	}
	return s
}

// Halvings is how often pictures so wide are halved before they are looked at.
func Halvings(width int) (n int) {
	for ; width > WorkWidth; width /= 2 {
		n++
	}
	return n
}
