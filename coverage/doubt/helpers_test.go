package doubt

import (
	"math"
	"math/rand"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

func box(x0, y0, x1, y1 float64) []geom.Point2 {
	return []geom.Point2{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func testPlan(t testing.TB) *geom.Plan {
	t.Helper()
	p, err := geom.NewPlan(geom.PlanSpec{Name: "test", Room: box(0, 0, 4, 3), Obstacles: []geom.Piece{{Name: "sofa", Outline: geom.Ring(box(1.5, 1, 2.2, 1.8)), Height: 0.4}}})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func testRobot() geom.Robot {
	return geom.Robot{Name: "heron", Diameter: 0.34, Height: 0.09, Tools: []geom.Tool{
		{Name: "brush", Width: 0.18, Ahead: 0.02}, {Name: "pad", Width: 0.24, Ahead: -0.1, WidthTol: 0.004}}}
}

// rows drives rows of the given pitch through a room with a box in it, there
// and back in turn; those that would meet the box stop short of it. rate: looks a second.
func rows(rate, pitch float64, seconds float64) *geom.Trace {
	var ss []geom.Sample
	t, x, y, h := 0.0, 0.2, 0.2, 0.0
	add := func() {
		ss = append(ss, geom.Sample{T: t, X: x, Y: y, Heading: h, Sigma: 0.002, SigmaH: 0.01, Speed: 0.3})
		t += 1 / rate
	}
	to := func(tx, ty float64) {
		want := math.Atan2(ty-y, tx-x)
		for d := geom.WrapAngle(want - h); math.Abs(d) > 1e-9; d = geom.WrapAngle(want - h) {
			h += math.Max(-2/rate, math.Min(2/rate, d))
			add()
		}
		for {
			d := math.Hypot(tx-x, ty-y)
			if d < 1e-9 {
				return
			}
			u := math.Min(1, 0.3/rate/d)
			x, y = x+u*(tx-x), y+u*(ty-y)
			add()
		}
	}
	add()
	for t < seconds {
		for k := 0; t < seconds; k++ {
			r := 0.2 + pitch*float64(k)
			if r > 2.8 {
				break
			}
			end := 3.8
			if r > 0.8 && r < 2.0 {
				end = 1.3
			}
			if k%2 == 0 {
				to(0.2, r)
				to(end, r)
			} else {
				to(end, r)
				to(0.2, r)
			}
		}
		to(0.2, 0.2)
	}
	return &geom.Trace{Samples: ss, Run: geom.Span{From: 0, To: ss[len(ss)-1].T}, Started: geom.StartedAtRest, Ended: geom.EndedStood, Length: ss[len(ss)-1].T}
}

func testCamera(t testing.TB) *geom.Solution {
	t.Helper()
	lens := geom.Lens{Model: geom.Brown, Fx: 640, Fy: 640, Cx: 639.5, Cy: 359.5}
	cam := geom.NewCamera(1280, 720, lens, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 2, Y: 1.5, Z: 2.9})
	rng := rand.New(rand.NewSource(4))
	spec := geom.CameraSpec{Name: "ceiling", Width: 1280, Height: 720, LensHeight: 2.9, Lens: &lens}
	for x := 0.1; x < 4; x += 0.95 {
		for y := 0.1; y < 3; y += 0.9 {
			p := geom.Point3{X: x, Y: y}
			px, _ := cam.Project(p)
			spec.Marks = append(spec.Marks, geom.Mark{Floor: geom.Point3{X: x + 0.002*rng.NormFloat64(), Y: y + 0.002*rng.NormFloat64()},
				Pixel: geom.Point2{X: px.X + 0.3*rng.NormFloat64(), Y: px.Y + 0.3*rng.NormFloat64()}})
		}
	}
	sol, err := geom.SolveCamera(spec)
	if err != nil {
		t.Fatal(err)
	}
	return sol
}

func testInput(t testing.TB, tr *geom.Trace, cam *geom.Solution) Input {
	t.Helper()
	opt := coverage.DefaultOptions()
	res, err := coverage.Measure(tr, testPlan(t), testRobot(), opt)
	if err != nil {
		t.Fatal(err)
	}
	return Input{Trace: tr, Plan: testPlan(t), Robot: testRobot(), Camera: cam, Coverage: opt, Result: res}
}
