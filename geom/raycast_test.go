package geom

import (
	"math"
	"testing"
)

// The outline in a picture with lens distortion, against another way to get
// it: a line of sight is cast through a grid of places in the picture, four to
// a pixel each way, and asked whether it meets the solid.
func TestSilhouetteAgainstRays(t *testing.T) {
	const sub = 4
	for cname, cam := range inOrder(testCameras()) {
		for _, rname := range []string{"disc", "D", "square"} {
			robot := testRobots()[rname]
			pose := Pose{cam.Centre.X + 0.8, cam.Centre.Y + 0.5, 0.7}
			o := Silhouette(cam, robot, pose, 0.01, 400)
			if len(o.Points) == 0 {
				t.Fatalf("%s, %s: nothing shown", cname, rname)
			}
			x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
			for _, p := range o.Points {
				x0, x1 = math.Min(x0, p.Px.X), math.Max(x1, p.Px.X)
				y0, y1 = math.Min(y0, p.Px.Y), math.Max(y1, p.Px.Y)
			}
			n, sx, sy := 0.0, 0.0, 0.0
			for v := math.Floor(y0) - 2; v < y1+2; v += 1.0 / sub {
				for u := math.Floor(x0) - 2; u < x1+2; u += 1.0 / sub {
					top, ok1 := cam.Floor(Point2{u, v}, 0.01+robot.Height)
					foot, ok2 := cam.Floor(Point2{u, v}, 0.01)
					if ok1 && ok2 && meetsBody(robot, pose, top, foot) {
						n++
						sx += u
						sy += v
					}
				}
			}
			area, c := n/sub/sub, Point2{sx / n, sy / n}
			da, dc := (o.Area()-area)/area, o.Centroid().Dist(c)
			t.Logf("%s, %s: area off by %.3f %%, centroid by %.4f px", cname, rname, 100*da, dc)
			if math.Abs(da) > 2e-3 || dc > 0.02 {
				t.Errorf("%s, %s: area %.2f, rays %.2f px2; centroid %v, rays %v", cname, rname, o.Area(), area, o.Centroid(), c)
			}
		}
	}
}

// meetsBody tells whether the line of sight, which runs over the floor from
// top (at the height of the body's top) to foot (at its base), meets the body.
func meetsBody(r Robot, pose Pose, top, foot Point2) bool {
	s, c := math.Sincos(pose.Heading)
	body := func(p Point2) Point2 {
		d := p.Sub(Point2{pose.X, pose.Y})
		return Point2{c*d.X + s*d.Y, c*d.Y - s*d.X}
	}
	a, b := body(top), body(foot)
	if r.Round() {
		return NearestOn(a, b, Point2{}).Norm() <= r.Diameter/2
	}
	// Clip the segment by each side of the convex outline.
	lo, hi := 0.0, 1.0
	for i, p := range r.Outline {
		q := r.Outline[(i+1)%len(r.Outline)]
		e := q.Sub(p)
		fa := e.X*(a.Y-p.Y) - e.Y*(a.X-p.X) // >= 0: left of the side, inside
		fb := e.X*(b.Y-p.Y) - e.Y*(b.X-p.X)
		switch {
		case fa < 0 && fb < 0:
			return false
		case fa < 0:
			lo = math.Max(lo, fa/(fa-fb))
		case fb < 0:
			hi = math.Min(hi, fa/(fa-fb))
		}
	}
	return lo <= hi
}
