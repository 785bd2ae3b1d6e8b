package geom

import (
	"math"
	"math/rand"
	"testing"
)

// straightDown is a distortion-free camera that looks straight down from
// height h over the origin: floor x to the right of the picture, y up it.
func straightDown(h, f float64) *Camera {
	return NewCamera(1921, 1081, Lens{Model: Brown, Fx: f, Fy: f, Cx: 960, Cy: 540},
		[3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, Point3{0, 0, h})
}

// lookAt returns a camera's rotation that looks from at to the floor point
// target, with the picture's right turned by roll.
func lookAt(at Point3, target Point2, roll float64) [3][3]float64 {
	z := [3]float64{target.X - at.X, target.Y - at.Y, -at.Z}
	z = unit3(z)
	s, c := math.Sincos(roll)
	x := [3]float64{c, s, 0}
	d := x[0]*z[0] + x[1]*z[1]
	x = unit3([3]float64{x[0] - d*z[0], x[1] - d*z[1], -d * z[2]})
	y := [3]float64{z[1]*x[2] - z[2]*x[1], z[2]*x[0] - z[0]*x[2], z[0]*x[1] - z[1]*x[0]}
	return [3][3]float64{x, y, z}
}

func unit3(v [3]float64) [3]float64 {
	n := math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2])
	return [3]float64{v[0] / n, v[1] / n, v[2] / n}
}

// testCameras are the cameras that every function's test loops over.
func testCameras() map[string]*Camera {
	tilt := Point3{0.3, -0.4, 2.6}
	return map[string]*Camera{
		"straight down": straightDown(2.5, 600),
		"wide Brown": NewCamera(960, 540, Lens{Brown, 470, 471, 481, 268, [5]float64{-0.24, 0.07, 0.0008, -0.0005, -0.01}},
			lookAt(Point3{1.6, 1.2, 2.7}, Point2{1.7, 1.1}, 0.05), Point3{1.6, 1.2, 2.7}),
		"tilted 35 degrees": NewCamera(1280, 720, Lens{Brown, 700, 700, 640, 360, [5]float64{-0.1, 0.02, 0, 0, 0}},
			lookAt(tilt, Point2{0.3, -0.4 + 2.6*math.Tan(Radians(35))}, 0.1), tilt),
		"fisheye": NewCamera(1280, 960, Lens{Fisheye, 420, 421, 640, 480, [5]float64{0.02, -0.01, 0.003, -0.0005, 0}},
			lookAt(Point3{1, 1, 2.4}, Point2{1.2, 0.9}, -2), Point3{1, 1, 2.4}),
		"turned about, high": NewCamera(3840, 2160, Lens{Brown, 2600, 2600, 1919.5, 1079.5, [5]float64{0.05, -0.02, 0, 0, 0}},
			lookAt(Point3{2, 2, 5}, Point2{2.3, 2.2}, 3), Point3{2, 2, 5}),
	}
}

// testRobots are the bodies that every function's test loops over.
func testRobots() map[string]Robot {
	d := Robot{Name: "d", Height: 0.1}
	for a := -90; a <= 90; a += 10 { // a D, flat side ahead, on its back
		s, c := math.Sincos(Radians(float64(a)) + math.Pi)
		d.Outline = append(d.Outline, Point2{0.17 * c, 0.17 * s})
	}
	d.Outline = append(d.Outline, Point2{0.14, -0.17}, Point2{0.14, 0.17})
	d.Outline = ccw(d.Outline)
	return map[string]Robot{
		"disc":      {Name: "disc", Diameter: 0.34, Height: 0.09},
		"flat disc": {Name: "flat", Diameter: 0.34, Height: 0},
		"D":         d,
		"square": {Name: "square", Height: 0.08,
			Outline: []Point2{{0.12, -0.15}, {0.12, 0.15}, {-0.18, 0.15}, {-0.18, -0.15}}},
		"notched": {Name: "notched", Height: 0.08,
			Outline: []Point2{{0.15, -0.15}, {0.05, 0}, {0.15, 0.15}, {-0.15, 0.15}, {-0.15, -0.15}}},
	}
}

func ccw(p []Point2) []Point2 {
	a := 0.0
	for i, u := range p {
		v := p[(i+1)%len(p)]
		a += u.X*v.Y - u.Y*v.X
	}
	if a < 0 {
		for i, j := 0, len(p)-1; i < j; i, j = i+1, j-1 {
			p[i], p[j] = p[j], p[i]
		}
	}
	return p
}

// Values computed from the closed form: the convex hull of a circle of radius
// R and one of radius sR displaced by rho (s-1), s = H/(H-h), H = 2.5 m,
// h = 0.09 m, R = 0.17 m (parallax, elementary).
func TestSilhouetteParallax(t *testing.T) {
	const f, h = 1000.0, 2.5
	cam := straightDown(h, f)
	robot := Robot{Diameter: 0.34, Height: 0.09}
	rows := []struct{ rho, top, centroid, area float64 }{ // m, mm, mm, m2
		{0.1, 3.734, 3.734, 0.097700},
		{0.5, 18.672, 13.352, 0.101091},
		{1.0, 37.344, 22.817, 0.107367},
		{1.5, 56.017, 32.228, 0.113772},
		{2.0, 74.689, 41.631, 0.120208},
		{2.5, 93.361, 51.031, 0.126656},
	}
	m := h / f // metres of floor per pixel
	for _, r := range rows {
		for _, dir := range []float64{0, 1, 2.5, 4} {
			s, c := math.Sincos(dir)
			at := Point2{r.rho * c, r.rho * s}
			px0, _ := cam.Project(Point3{at.X, at.Y, 0})
			o := Silhouette(cam, robot, Pose{at.X, at.Y, 0.3}, 0, 4000)
			got := o.Centroid().Dist(px0) * m * 1000
			if d := math.Abs(got - r.centroid); d > 0.1 {
				t.Errorf("rho %g: centroid shift %.4f mm, want %.3f", r.rho, got, r.centroid)
			} else {
				t.Logf("rho %g: centroid shift %.4f mm, want %.3f; area off by %.1e m2", r.rho, got, r.centroid, o.Area()*m*m-r.area)
			}
			if d := math.Abs(o.Area()*m*m - r.area); d > 1e-6 {
				t.Errorf("rho %g: area %.6f m2, want %.6f", r.rho, o.Area()*m*m, r.area)
			}
			rim := TopRim(cam, robot, Pose{at.X, at.Y, 0.3}, 0, 4000)
			if got := rim.Centroid().Dist(px0) * m * 1000; math.Abs(got-r.top) > 0.001 {
				t.Errorf("rho %g: top shift %.4f mm, want %.3f", r.rho, got, r.top)
			}
			// s = H/(H-h) = 1.037344: a top of 0.170 m looks 0.176349 m.
			if got := math.Sqrt(rim.Area()/math.Pi) * m; math.Abs(got-0.176349) > 1e-6 {
				t.Errorf("rho %g: top's radius %.6f m, want 0.176349", r.rho, got)
			}
			back, err := FromCentroid(cam, robot, o.Centroid())
			if err != nil || back.Dist(at) > 1e-4 {
				t.Errorf("rho %g: recovered %v (%v), want %v to 0.1 mm", r.rho, back, err, at)
			}
		}
	}
	// A point 0.09 m high at 2.000 m looks to be at 2.074689 m; corrected 2.000000.
	px, _ := cam.Project(Point3{2, 0, 0.09})
	seen, _ := cam.Floor(px, 0)
	back, _ := cam.Floor(px, 0.09)
	if math.Abs(seen.X-2.074689) > 1e-6 || math.Abs(back.X-2) > 1e-9 {
		t.Errorf("apparent %.6f, corrected %.6f", seen.X, back.X)
	}
	// A test object 0.30 m tall pushed 100 mm reads 113.6 mm on its top.
	a, _ := cam.Project(Point3{1, 0, 0.3})
	b, _ := cam.Project(Point3{1.1, 0, 0.3})
	fa, _ := cam.Floor(a, 0)
	fb, _ := cam.Floor(b, 0)
	if got := fb.Dist(fa) * 1000; math.Abs(got-113.636) > 0.001 {
		t.Errorf("pushed 100 mm reads %.3f mm, want 113.636", got)
	}
}

// The slow obvious version is the oracle: many points of the body's surface
// projected, and their hull taken in the picture of a lens without distortion.
func TestSilhouetteAgainstHull(t *testing.T) {
	seed := int64(7)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for cname, cam := range inOrder(testCameras()) {
		flat := NewCamera(cam.Width, cam.Height, Lens{Brown, cam.Lens.Fx, cam.Lens.Fy, cam.Lens.Cx, cam.Lens.Cy, [5]float64{}}, cam.R, cam.Centre)
		for rname, robot := range inOrder(testRobots()) {
			if rname == "notched" { // see TestSilhouetteOfNotches
				continue
			}
			for i := 0; i < 8; i++ {
				pose := Pose{cam.Centre.X + rng.Float64()*2 - 0.5, cam.Centre.Y + rng.Float64()*1.6, rng.Float64() * 9}
				z := []float64{0, 0.015}[i%2]
				o := Silhouette(flat, robot, pose, z, 1500)
				if len(o.Points) == 0 {
					continue
				}
				var all []Point2
				for _, b := range robot.Body(1500) {
					if robot.Round() { // Body is of equal area; here the true rim counts
						b = b.Scale(robot.Diameter / 2 / b.Norm())
					}
					for _, h := range []float64{z, z + robot.Height} {
						q := pose.At(b)
						px, _ := flat.Project(Point3{q.X, q.Y, h})
						all = append(all, px)
					}
				}
				hull := hullOf(all)
				if d := o.Centroid().Dist(hull.Centroid()); d > 0.01 {
					t.Errorf("%s, %s, %+v: centroid %.4f px off the hull's", cname, rname, pose, d)
				}
				if a := hull.Area(); math.Abs(o.Area()-a) > 1e-4*a {
					t.Errorf("%s, %s, %+v: area %.3f, hull's %.3f", cname, rname, pose, o.Area(), a)
				}
			}
		}
	}
}

// hullOf is the outline round points of the picture.
func hullOf(all []Point2) (hull Outline) {
	hull.convex(all)
	for _, p := range hull.hull {
		hull.Points = append(hull.Points, OutlinePoint{Px: p})
	}
	return hull
}

// A body whose top slopes inwards above its shoulder shows the outline of one that is
// as high as the shoulder, where the lens looks down at a steeper angle than the slope.
func TestSilhouetteOfShoulder(t *testing.T) {
	robot := Robot{Diameter: 0.34, Height: 0.1, Shoulder: 0.085}
	worst, n := 0.0, 0
	for cname, cam := range inOrder(testCameras()) {
		flat := NewCamera(cam.Width, cam.Height, Lens{Brown, cam.Lens.Fx, cam.Lens.Fy, cam.Lens.Cx, cam.Lens.Cy, [5]float64{}}, cam.R, cam.Centre)
		for k := range 8 {
			pose := Pose{X: cam.Centre.X + 0.2*float64(k), Y: cam.Centre.Y - 0.1*float64(k)}
			o := Silhouette(flat, robot, pose, 0, 1500)
			if len(o.Points) == 0 {
				continue
			}
			var all []Point2
			for i := range 1500 {
				s, c := math.Sincos(2 * math.Pi * float64(i) / 1500)
				// Its slope goes in by three times as much as it rises: 72 degrees off the upright.
				for _, q := range [][2]float64{{0.17, 0}, {0.17, 0.085}, {0.1475, 0.0925}, {0.125, 0.1}} {
					px, _ := flat.Project(Point3{pose.X + q[0]*c, pose.Y + q[0]*s, q[1]})
					all = append(all, px)
				}
			}
			hull := hullOf(all)
			if a := hull.Area(); math.Abs(o.Area()-a) > 1e-4*a {
				t.Errorf("%s, %+v: area %.3f, hull's %.3f", cname, pose, o.Area(), a)
			}
			n++
			worst = math.Max(worst, o.Centroid().Dist(hull.Centroid()))
		}
	}
	t.Logf("%d outlines, centroids %.4f px off the hulls' (bound 0.01)", n, worst)
	if n < 8 || worst > 0.01 {
		t.Errorf("worst centroid %.4f px off over %d outlines", worst, n)
	}
}

// shows tells, the slow obvious way, whether pixel q of a lens shows some of a
// body: whether the line of sight is over its outline at any of many heights.
func shows(cam *Camera, robot Robot, pose Pose, floor float64, q Point2) bool {
	const heights = 30
	for k := 0; k <= heights; k++ {
		p, ok := cam.Floor(q, floor+robot.Height*float64(k)/heights)
		if !ok {
			return false
		}
		s, c := math.Sincos(pose.Heading)
		x, y := p.X-pose.X, p.Y-pose.Y
		x, y = c*x+s*y, c*y-s*x
		in := false
		a := robot.Outline[len(robot.Outline)-1]
		for _, b := range robot.Outline {
			if (a.Y > y) != (b.Y > y) && x < a.X+(y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
				in = !in
			}
			a = b
		}
		if in {
			return true
		}
	}
	return false
}

// A body with notches shows the floor in them. The oracle goes through the
// pixels line of sight by line of sight: just outside each point of the outline
// it must see floor and just inside it body, and where it sees one beside the
// other an edge of the outline must lie.
func TestSilhouetteOfNotches(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	bodies := map[string]Robot{
		"notched": testRobots()["notched"],
		"fork": {Height: 0.1, Outline: []Point2{{0.17, -0.16}, {0.17, -0.06}, {-0.02, -0.06}, {-0.02, 0.06},
			{0.17, 0.06}, {0.17, 0.16}, {-0.15, 0.16}, {-0.15, -0.16}}},
		"hook": {Height: 0.05, Outline: []Point2{{0.15, -0.15}, {0.15, -0.05}, {-0.04, -0.05}, {-0.04, 0.15}, {-0.15, 0.15}, {-0.15, -0.15}}},
	}
	checked, missed, open := 0, 0, 0
	for cname, cam := range inOrder(testCameras()) {
		for rname, robot := range inOrder(bodies) {
			for range 2 {
				pose := Pose{cam.Centre.X + rng.Float64()*2 - 0.5, cam.Centre.Y + rng.Float64()*1.6, rng.Float64() * 9}
				o := Silhouette(cam, robot, pose, 0, 400)
				for _, p := range o.Points {
					if p.Corner {
						continue
					}
					const off = 0.1 // px
					out := shows(cam, robot, pose, 0, p.Px.Add(p.Normal.Scale(off)))
					in := shows(cam, robot, pose, 0, p.Px.Sub(p.Normal.Scale(off)))
					checked++
					if out || !in {
						missed++
					}
				}
				// The other way round: from floor to body along rows of pixels.
				lo, hi := Point2{1e9, 1e9}, Point2{-1e9, -1e9}
				for _, p := range o.Points {
					lo, hi = Point2{math.Min(lo.X, p.Px.X), math.Min(lo.Y, p.Px.Y)}, Point2{math.Max(hi.X, p.Px.X), math.Max(hi.Y, p.Px.Y)}
				}
				for y := lo.Y - 1; y < hi.Y+1; y += 7 {
					before := false
					for x := lo.X - 3; x < hi.X+3; x++ {
						now := shows(cam, robot, pose, 0, Point2{x, y})
						if now != before {
							checked++
							near := math.Inf(1)
							for _, p := range o.Points {
								near = math.Min(near, p.Px.Dist(Point2{x - 0.5, y}))
							}
							if near > 3 {
								open++
								if open < 5 {
									t.Logf("%s, %s, %+v: at %.1f, %.1f an edge %.1f px from any point", cname, rname, pose, x, y, near)
								}
							}
						}
						before = now
					}
				}
			}
		}
	}
	t.Logf("%d places: %d points are no outline, %d edges have no point (bound 1 in 300, for both: edges that lie behind one another within 0.1 px)", checked, missed, open)
	if missed+open > checked/300 {
		t.Error("the outline of bodies with notches is wrong")
	}
}

// Laws of every outline: normals of unit length that point out and lie across
// the curve; sources that project to their pixels; Jacobians as differences
// give them; heading shifts a disc by nothing; FromCentroid undoes Centroid.
func TestSilhouetteLaws(t *testing.T) {
	seed := int64(11)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	worst := 0.0
	for cname, cam := range inOrder(testCameras()) {
		for rname, robot := range inOrder(testRobots()) {
			for i := 0; i < 6; i++ {
				pose := Pose{cam.Centre.X + rng.Float64()*2 - 0.5, cam.Centre.Y + rng.Float64()*1.6, rng.Float64()*20 - 10}
				for which, make := range []func(*Camera, Robot, Pose, float64, int) Outline{Silhouette, TopRim} {
					o := make(cam, robot, pose, 0.01, 96)
					k := len(o.Points)
					if k == 0 {
						t.Fatalf("%s, %s, %+v: nothing shown", cname, rname, pose)
					}
					c := o.Centroid()
					const h = 1e-6
					for j, p := range o.Points {
						if math.Abs(p.Normal.Norm()-1) > 1e-9 {
							t.Fatalf("%s, %s: normal %v", cname, rname, p.Normal)
						}
						out := p.Px.Sub(c)
						if out.X*p.Normal.X+out.Y*p.Normal.Y <= 0 && rname != "notched" {
							t.Fatalf("%s, %s, point %d: normal points inwards", cname, rname, j)
						}
						if q, _ := cam.Project(p.Source); q.Dist(p.Px) > 1e-9 {
							t.Fatalf("source does not show at its pixel")
						}
						for a := 0; a < 3; a++ {
							step := pose
							switch a {
							case 0:
								step.X += h
							case 1:
								step.Y += h
							case 2:
								step.Heading += h
							}
							f := step.At(p.Body)
							q, _ := cam.Project(Point3{f.X, f.Y, p.Source.Z})
							du, dv := (q.X-p.Px.X)/h, (q.Y-p.Px.Y)/h
							if a == 2 && robot.Round() {
								du, dv = 0, 0
							}
							if math.Hypot(du-p.Jac[0][a], dv-p.Jac[1][a]) > 0.02*math.Max(1, math.Hypot(du, dv)) {
								t.Fatalf("%s, %s: Jacobian %d is (%g, %g), differences say (%g, %g)", cname, rname, a, p.Jac[0][a], p.Jac[1][a], du, dv)
							}
						}
					}
					if which == 0 {
						back, err := FromCentroidAt(cam, robot, c, pose.Heading, 0.01)
						if err != nil {
							t.Fatalf("%s, %s: %v", cname, rname, err)
						}
						worst = math.Max(worst, back.Dist(Point2{pose.X, pose.Y}))
					}
				}
			}
		}
	}
	t.Logf("FromCentroid: bound 0.1 mm, worst %.4f mm", worst*1000)
	if worst > 1e-4 {
		t.Error("FromCentroid is off")
	}
}

// The outline moves along its normal as its Jacobian says, to second order.
func TestSilhouetteEnvelope(t *testing.T) {
	for cname, cam := range inOrder(testCameras()) {
		for rname, robot := range inOrder(testRobots()) {
			if rname == "notched" {
				continue
			}
			pose := Pose{cam.Centre.X + 0.9, cam.Centre.Y + 0.7, 0.4}
			o := Silhouette(cam, robot, pose, 0, 150)
			for axis := 0; axis < 3; axis++ {
				d := [3]float64{}
				d[axis] = 0.002
				moved := Silhouette(cam, robot, Pose{pose.X + d[0], pose.Y + d[1], pose.Heading + d[2]}, 0, 1600)
				bad := 0.0
				for _, p := range o.Points {
					if p.Corner {
						continue
					}
					want := 0.002 * (p.Normal.X*p.Jac[0][axis] + p.Normal.Y*p.Jac[1][axis])
					q := Point2{p.Px.X + p.Normal.X*want, p.Px.Y + p.Normal.Y*want}
					bad = math.Max(bad, distToPolygon(moved, q))
				}
				// 2 mm is 0.4 to 1 px here; curvature moves by a hundredth of that.
				if bad > 0.04 {
					t.Errorf("%s, %s, axis %d: outline moves %.4f px otherwise than its Jacobian says", cname, rname, axis, bad)
				}
			}
		}
	}
}

func distToPolygon(o Outline, p Point2) float64 {
	best := math.Inf(1)
	for i, a := range o.Points {
		b := o.Points[(i+1)%len(o.Points)]
		d := b.Px.Sub(a.Px)
		u := p.Sub(a.Px)
		k := math.Max(0, math.Min(1, (u.X*d.X+u.Y*d.Y)/math.Max(1e-30, d.X*d.X+d.Y*d.Y)))
		best = math.Min(best, u.Sub(d.Scale(k)).Norm())
	}
	return best
}

func TestSilhouetteRefuses(t *testing.T) {
	cam := straightDown(2.5, 600)
	disc := Robot{Diameter: 0.34, Height: 0.09}
	for name, o := range map[string]Outline{
		"NaN":          Silhouette(cam, disc, Pose{math.NaN(), 0, 0}, 0, 96),
		"infinite":     TopRim(cam, disc, Pose{math.Inf(1), 0, 0}, 0, 96),
		"out of field": Silhouette(cam, disc, Pose{50, 0, 0}, 0, 96),
		"above lens":   Silhouette(cam, Robot{Diameter: 0.3, Height: 3}, Pose{}, 0, 96),
		"two corners":  Silhouette(cam, Robot{Outline: []Point2{{0, 0}, {1, 0}}, Height: 0.1}, Pose{}, 0, 96),
	} {
		if len(o.Points) != 0 || o.Area() != 0 || !math.IsNaN(o.Centroid().X) {
			t.Errorf("%s: %d points", name, len(o.Points))
		}
	}
	if o := Silhouette(cam, disc, Pose{0.5, 0.5, math.NaN()}, 0, 96); len(o.Points) == 0 {
		t.Error("a disc without a heading must show")
	}
	if _, err := FromCentroid(cam, disc, Point2{1e6, 1e6}); err == nil {
		t.Error("a centroid out of the field was taken")
	}
}

func TestSilhouetteAllocatesNothing(t *testing.T) {
	cam := testCameras()["wide Brown"]
	for name, robot := range inOrder(testRobots()) {
		var o Outline
		pose := Pose{1, 1, 0}
		o.SetSilhouette(cam, robot, pose, 0, 96)
		if n := testing.AllocsPerRun(100, func() {
			pose.X += 0.001
			o.SetSilhouette(cam, robot, pose, 0, 96)
		}); n > 0 {
			t.Errorf("%s: %g allocations", name, n)
		}
	}
}

func BenchmarkSilhouette(b *testing.B) {
	cam := testCameras()["wide Brown"]
	for _, name := range []string{"disc", "D"} {
		b.Run(name, func(b *testing.B) {
			robot := testRobots()[name]
			var o Outline
			for b.Loop() {
				o.SetSilhouette(cam, robot, Pose{1, 1, 0.2}, 0, 96)
			}
		})
	}
}

func BenchmarkProject(b *testing.B) {
	for _, name := range []string{"wide Brown", "fisheye"} {
		cam := testCameras()[name]
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				cam.Project(Point3{1, 1, 0.1})
			}
		})
		b.Run(name+" back", func(b *testing.B) {
			for b.Loop() {
				cam.Floor(Point2{400, 200}, 0.1)
			}
		})
	}
}
