package coverage

import (
	"math"
	"testing"

	"swathe/geom"
)

// Reachable floor, its share and its times, each computed from the closed form.
//
// A disc of radius R with a line that reaches rho from its centre leaves a strip
// delta = R - rho along the walls and, in each corner of 90 degrees, what a
// circle of rho leaves of its square. About a corner that juts into the room
// the strip is rounded.

// reachIn is the floor within a reach of rho in a room of area a and
// perimeter p, with so many corners into and out of the room.
func reachIn(a, p, radius, rho float64, corners, jutting int) float64 {
	d := radius - rho
	strip := p*d - float64(corners)*d*d + float64(jutting)*math.Pi/4*d*d
	return a - strip - float64(corners)*(1-math.Pi/4)*rho*rho
}

// lens is what four discs of radius r about the corners of a square of side 2q
// have in common: the integral of one of its quadrants, four times.
func lens(r, q float64) float64 {
	u := math.Sqrt(r*r - q*q)
	part := func(u float64) float64 { return (u*math.Sqrt(r*r-u*u) + r*r*math.Asin(u/r)) / 2 }
	return 4 * (part(u) - part(q) - q*(u-q))
}

// flatFront is a robot 0.3 m wide, square at the front and round at the back.
func flatFront() []geom.Point2 {
	out := []geom.Point2{{X: 0.15, Y: -0.15}, {X: 0.15, Y: 0.15}}
	for i := 0; i <= 16; i++ {
		s, c := math.Sincos(math.Pi/2 + math.Pi*float64(i)/16)
		out = append(out, geom.Point2{X: 0.15 * c, Y: 0.15 * s})
	}
	return out
}

func TestReachableClosedForms(t *testing.T) {
	disc := func(radius float64, tool geom.Tool) geom.Robot {
		tool.Name = "brush"
		return geom.Robot{Name: "test", Diameter: 2 * radius, Height: 0.09, Tools: []geom.Tool{tool}}
	}
	flat := disc(0, geom.Tool{Width: 0.26, Ahead: 0.13})
	flat.Diameter, flat.Outline = 0, flatFront()
	const n = 720 // corners of the round room, which is as large as the circle
	var round [][2]float64
	out := math.Sqrt(2 * math.Pi / (n * math.Sin(2*math.Pi/n)))
	for i := 0; i <= n; i++ {
		s, c := math.Sincos(2 * math.Pi * float64(i) / n)
		round = append(round, [2]float64{1 + out*c, 1 + out*s})
	}
	l := [][2]float64{{0, 0}, {4, 0}, {4, 1.5}, {1.8, 1.5}, {1.8, 3}, {0, 3}, {0, 0}}
	beside := geom.Tool{Width: 0.1, Ahead: 0.05, Left: 0.22}
	least, most := math.Hypot(0.05, 0.17), math.Hypot(0.05, 0.27)
	cases := []struct {
		name  string
		room  [][2]float64
		robot geom.Robot
		want  float64
		tol   float64 // of it
	}{
		{"rectangle", rect(0, 0, 3, 2), disc(0.17, geom.Tool{Width: 0.18}), reachIn(6, 10, 0.17, 0.09, 4, 0), 2e-4},
		{"tool ahead", rect(0, 0, 3, 2), disc(0.17, geom.Tool{Width: 0.18, Ahead: 0.1}), reachIn(6, 10, 0.17, math.Hypot(0.1, 0.09), 4, 0), 2e-4},
		{"tool left", rect(0, 0, 3, 2), disc(0.17, geom.Tool{Width: 0.18, Left: 0.05}), reachIn(6, 10, 0.17, 0.14, 4, 0), 2e-4},
		{"L", l, disc(0.17, geom.Tool{Width: 0.18, Ahead: 0.02}), reachIn(4*1.5+1.8*1.5, 14, 0.17, math.Hypot(0.09, 0.02), 5, 1), 3e-4},
		{"disc", round, disc(0.17, geom.Tool{Width: 0.18, Ahead: 0.02}), math.Pi * math.Pow(1-0.17+math.Hypot(0.09, 0.02), 2), 3e-4},
		// Its centre has a square of 0.2 m to be in: what is nearer to all of it
		// than the line's near end is never touched.
		{"tool wholly beside", rect(0, 0, 0.8, 0.8), disc(0.3, beside), 0.04 + 0.8*most + math.Pi*most*most - lens(least, 0.1), 5e-4},
		{"tool wholly beside, to the right", rect(0, 0, 0.8, 0.8), disc(0.3, geom.Tool{Width: 0.1, Ahead: 0.05, Left: -0.22}), 0.04 + 0.8*most + math.Pi*most*most - lens(least, 0.1), 5e-4},
		{"tool wholly beside, in a large room", rect(0, 0, 3, 2), disc(0.3, beside), reachIn(6, 10, 0.3, most, 4, 0), 2e-4},
		// With its front or side to a wall the line's end is 20 mm from it, and
		// askew no nearer; in a corner it is that far from both.
		{"flat front", rect(0, 0, 3, 2), flat, (3 - 0.04) * (2 - 0.04), 3e-3},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			x := c.room[0][0]/2 + c.room[2][0]/2
			if c.name == "L" || c.name == "disc" {
				x = 0.9
			}
			// A straight way in the middle: all of it within reach.
			y, length := 0.4, 0.15
			if c.room[2][1] > 1 {
				y, length = 0.75, 0.6
			}
			tr := newPen(x-length/2, y, 0).drive(length, 0.3, 0).trace()
			res := measure(t, tr, planOf(c.room), c.robot, at(0.005))
			within(t, "reachable m2", res.Floor.ReachableM2, c.want, c.tol*c.want)
			share := c.robot.Tools[0].Width * length / c.want
			within(t, "reachable share", res.Coverage.ReachableShare, share, 0.005*share)
			within(t, "beyond reach", res.Coverage.SweptBeyondM2, 0, 1e-9)
			last := res.Curve[len(res.Curve)-1]
			within(t, "the curve's last reachable share", last.ReachableShare, res.Coverage.ReachableShare, 1e-9)
		})
	}
}

// A corridor little wider than the robot, whose line is as wide as it is: it
// turns round at one end, drives to the other and turns there. The turn covers
// pi R^2, the way 0.3 m2 a metre, of which the turn has swept half a disc
// already, the turn at the end R^2 / 2 for each radian of the half in front.
func TestReachableTimes(t *testing.T) {
	const length, wide, r, v, rate = 12.0, 0.3025, 0.15, 0.3, 1.5
	p := newPen(r, wide/2+0.0003, 0)
	p.spin(2*math.Pi, rate)
	began := p.t
	p.drive(length-2*r, v, 0)
	came := p.t
	p.spin(math.Pi, rate)
	robot := geom.Robot{Name: "test", Diameter: 2 * r, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 2 * r}}}
	res := measure(t, p.trace(), planOf(rect(0, 0, length, wide)), robot, at(0.0025))
	// Placements: a strip 2.5 mm wide.
	reach := (length-2*r)*(wide-2*r) + 2*(length-2*r+wide-2*r)*r + math.Pi*r*r
	within(t, "reachable m2", res.Floor.ReachableM2, reach, 2e-4*reach)
	way := 2 * r * (length - 2*r)
	within(t, "reachable share", res.Coverage.ReachableShare, (way+math.Pi*r*r)/reach, 5e-4)
	for i, lv := range Levels {
		need := float64(lv)/100*reach - math.Pi*r*r/2
		want := began + need/(2*r*v)
		if need > way {
			want = came + 2*(need-way)/(r*r)/rate
		}
		within(t, "time to reachable", res.Coverage.TimeToReachable[i], want, 0.002*want)
	}
	within(t, "time to full", res.Coverage.TimeToFullS, res.Coverage.TimeToReachable[4], 0)
	// The same of a curve: it is where the times say.
	for i, lv := range Levels {
		if k := int(res.Coverage.TimeToReachable[i]); k+1 < len(res.Curve) {
			if a, b := res.Curve[k].ReachableShare, res.Curve[k+1].ReachableShare; a > float64(lv)/100 || b < float64(lv)/100 {
				t.Errorf("the curve has %.4f and %.4f about the time to %d %%", a, b, lv)
			}
		}
	}
}

// Driven 50 mm into a wall, as a wrong survey has it: what is swept nearer to
// the wall than the line can come counts as covered open floor, not as reachable.
func TestSweptBeyondReach(t *testing.T) {
	robot := geom.Robot{Name: "test", Diameter: 0.3, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.2}}}
	res := measure(t, newPen(0.5, 0.6, 0).drive(0.1, 0.3, 0).trace(), planOf(rect(0, 0, 4, 3)), robot, at(0.005))
	within(t, "beyond reach, in the open", res.Coverage.SweptBeyondM2, 0, 1e-9)
	tr := lifted(newPen(0.5, 0.6, 0).drive(0.1, 0.3, 0).ss, newPen(0.5, 0.1012, 0).drive(3, 0.3, 0).ss)
	res = measure(t, tr, planOf(rect(0, 0, 4, 3)), robot, at(0.005))
	reach := reachIn(12, 14, 0.15, 0.1, 4, 0)
	within(t, "covered m2", res.Coverage.CoveredM2, 0.02+0.2*3, 0.004)
	within(t, "beyond reach", res.Coverage.SweptBeyondM2, 0.05*3, 0.02) // a row of cells
	within(t, "reachable share", res.Coverage.ReachableShare, (0.02+0.15*3)/reach, 0.002)
	within(t, "covered and beyond", res.Coverage.ReachableShare*res.Floor.ReachableM2+res.Coverage.SweptBeyondM2, res.Coverage.CoveredM2, 1e-9)
	for _, w := range []Shares{res.Coverage.IfSwept, res.Coverage.IfNot} {
		if !math.IsNaN(w.ReachableShare) && w.ReachableShare > 1 {
			t.Errorf("a share of %g", w.ReachableShare)
		}
	}
}
