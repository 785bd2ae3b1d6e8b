package geom

import (
	"math"
	"math/rand"
	"testing"
)

func TestDistortVectors(t *testing.T) {
	cases := []struct {
		name string
		lens Lens
		x, y float64
		px   Point2
		tol  float64
		skew float64 // px, of the published camera; this package has none
	}{
		// Z. Zhang's published plane calibration (Microsoft Research technical
		// report MSR-TR-98-71 and its data page): lens terms from public files
		// that quote it, the skew from memory; pixels computed from its closed
		// form.
		{"Zhang", Lens{Brown, 832.5, 832.53, 303.959, 206.585, [5]float64{-0.228601, 0.190353}}, 0.3, 0.2, Point2{547.130149, 368.678397}, 1e-5, 0.204494},
		{"Zhang", Lens{Brown, 832.5, 832.53, 303.959, 206.585, [5]float64{-0.228601, 0.190353}}, -0.25, 0.1, Point2{99.095268, 288.541499}, 1e-5, 0.204494},
		{"Zhang, principal point", Lens{Brown, 832.5, 832.53, 303.959, 206.585, [5]float64{-0.228601, 0.190353}}, 0, 0, Point2{303.959, 206.585}, 0, 0.204494},
		// The order k1 k2 p1 p2 k3 of docs.opencv.org, "Camera Calibration and
		// 3D Reconstruction"; computed from its formula.
		{"OpenCV order", Lens{Brown, 800, 800, 640, 360, [5]float64{-.28, .07, .001, -.0005, .02}}, 0.3, -0.2, Point2{871.338466, 205.843690}, 1e-6, 0},
		{"OpenCV order, normalised", Lens{Brown, 1, 1, 0, 0, [5]float64{-.28, .07, .001, -.0005, .02}}, 0.3, -0.2, Point2{0.289173082, -0.192695388}, 1e-9, 0},
		// docs.opencv.org, "Fisheye camera model"; computed from its formula.
		{"fisheye", Lens{Fisheye, 1, 1, 0, 0, [5]float64{.02, -.01, .003, -.0005}}, 0.8, 0.6, Point2{0.634076262, 0.475557196}, 1e-9, 0},
	}
	for _, c := range cases {
		q := c.lens.Distort(c.x, c.y)
		x, y, ok := c.lens.Undistort(q)
		if !ok || math.Abs(x-c.x) > 1e-9 || math.Abs(y-c.y) > 1e-9 {
			t.Errorf("%s: back at %.12f, %.12f (%v)", c.name, x, y, ok)
		}
		q.X += c.skew * (q.Y - c.lens.Cy) / c.lens.Fy
		if math.Abs(q.X-c.px.X) > c.tol || math.Abs(q.Y-c.px.Y) > c.tol {
			t.Errorf("%s: (%g, %g) shows at %.9f, %.9f, want %v", c.name, c.x, c.y, q.X, q.Y, c.px)
		}
	}
}

// Values computed from the closed form; the centre is also where the floor
// quad's diagonals cross, which is worked out here without a homography.
func TestHomographyVector(t *testing.T) {
	from := []Point2{{0, 0}, {1920, 0}, {1920, 1080}, {0, 1080}}
	to := []Point2{{0, 0}, {5, 0}, {4.4, 4}, {.5, 3.8}}
	h, ok := Homography(from, to)
	if !ok {
		t.Fatal("no homography")
	}
	for _, c := range []struct{ p, want Point2 }{
		{Point2{960, 540}, Point2{2.407834, 2.188940}},
		{Point2{480, 270}, Point2{1.263603, 1.148730}},
	} {
		if got := apply(h, c.p); got.Dist(c.want) > 1e-6 {
			t.Errorf("%v goes to %v, want %v", c.p, got, c.want)
		}
	}
	// a + s(c-a) = b + u(d-b)
	a, b, c, d := to[0], to[1], to[2], to[3]
	e, f := c.Sub(a), d.Sub(b)
	s := ((b.X-a.X)*f.Y - (b.Y-a.Y)*f.X) / (e.X*f.Y - e.Y*f.X)
	if got := apply(h, Point2{960, 540}); got.Dist(a.Add(e.Scale(s))) > 1e-9 {
		t.Errorf("centre goes to %v, diagonals cross at %v", got, a.Add(e.Scale(s)))
	}
	if _, ok := Homography(from[:3], to[:3]); ok {
		t.Error("three pairs gave a homography")
	}
	if _, ok := Homography([]Point2{{0, 0}, {1, 1}, {2, 2}, {3, 3}}, to); ok {
		t.Error("points on one line gave a homography")
	}
}

// Laws: Floor undoes Project at every height; ProjectJac agrees with Project
// and with differences of it; what is not in the field is refused both ways.
func TestCameraLaws(t *testing.T) {
	seed := int64(5)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	worst := 0.0
	for name, c := range inOrder(testCameras()) {
		for i := 0; i < 300; i++ {
			p := Point3{c.Centre.X + rng.NormFloat64()*2, c.Centre.Y + rng.NormFloat64()*2, rng.Float64() * 1.5}
			px, ok := c.Project(p)
			if !ok {
				continue
			}
			if f, ok := c.Floor(px, p.Z); ok {
				worst = math.Max(worst, f.Dist(Point2{p.X, p.Y}))
			} else {
				t.Errorf("%s: %v shows at %v, which does not show it", name, p, px)
			}
			qx, j, ok := c.ProjectJac(p)
			if !ok || qx.Dist(px) > 1e-9 {
				t.Fatalf("%s: ProjectJac gives %v, Project %v", name, qx, px)
			}
			const h = 1e-6
			for k, d := range []Point3{{h, 0, 0}, {0, h, 0}, {0, 0, h}} {
				hi, _ := c.Project(Point3{p.X + d.X, p.Y + d.Y, p.Z + d.Z})
				lo, _ := c.Project(Point3{p.X - d.X, p.Y - d.Y, p.Z - d.Z})
				du, dv := (hi.X-lo.X)/(2*h), (hi.Y-lo.Y)/(2*h)
				if math.Hypot(du-j[0][k], dv-j[1][k]) > 1e-3*math.Max(1, math.Hypot(du, dv)) {
					t.Fatalf("%s: %v axis %d: (%g, %g), differences (%g, %g)", name, p, k, j[0][k], j[1][k], du, dv)
				}
			}
		}
		if _, ok := c.Project(Point3{c.Centre.X, c.Centre.Y, c.Centre.Z + 1}); ok {
			t.Errorf("%s: shows a point above itself", name)
		}
	}
	t.Logf("round trip: bound 1e-8 m, worst %.1e m", worst)
	if worst > 1e-8 {
		t.Error("round trip is off")
	}
}

// A lens that folds is refused beyond its fold, and the first branch is found
// before it: k1 = -0.3 alone folds at r = sqrt(1/0.9) = 1.0541.
func TestLensFold(t *testing.T) {
	l := Lens{Model: Brown, Fx: 500, Fy: 500, Cx: 480, Cy: 270, Dist: [5]float64{-0.3}}
	c := NewCamera(960, 540, l, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, Point3{0, 0, 2})
	if _, ok := c.Project(Point3{2 * 1.03, 0, 0}); !ok {
		t.Error("r = 1.03 lies before the fold")
	}
	if _, ok := c.Project(Point3{2 * 1.07, 0, 0}); ok {
		t.Error("r = 1.07 lies beyond the fold")
	}
	for _, u := range []float64{0, 100, 400, 800, 830} {
		x, y, ok := l.Undistort(Point2{u, 270})
		if ok && math.Hypot(x, y) > 1.0541 {
			t.Errorf("column %g: found the branch beyond the fold", u)
		}
	}
}

func TestPixelSize(t *testing.T) {
	c := straightDown(2.5, 600)
	// Straight below: H/f; at floor distance rho the worse of two equal
	// directions, for a plane seen head on is only scaled.
	for _, x := range []float64{0, 1, 2} {
		if got := c.PixelSize(Point3{x, 0, 0}); math.Abs(got-2.5/600) > 1e-6 {
			t.Errorf("a pixel at %g m is %g m, want %g", x, got, 2.5/600)
		}
	}
	if !math.IsNaN(c.PixelSize(Point3{0, 0, 3})) {
		t.Error("a point above the lens has a pixel size")
	}
}

// A picture of 1920 x 1080 reaches half a pixel beyond the centres of its outermost
// pixels (frames.go), and no farther.
func TestInFrame(t *testing.T) {
	c := Camera{Width: 1920, Height: 1080}
	for _, at := range []struct {
		x, y float64
		in   bool
	}{
		{0, 0, true}, {-0.5, -0.5, true}, {1919.4, 1079.4, true}, {1910, 500, true}, {900, 1070, true},
		{-0.51, 500, false}, {900, -0.51, false}, {1919.6, 500, false}, {900, 1079.6, false}, {math.NaN(), 500, false},
	} {
		if in := c.InFrame(Point2{at.x, at.y}); in != at.in {
			t.Errorf("pixel (%g, %g) in the picture: %t", at.x, at.y, in)
		}
	}
}
