package sight

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/geom"
)

// For a square of side s seen straight on, errors of sigma on each coordinate
// of its corners give sigma/2 on its centre's coordinates and, as the corners
// lie s/sqrt(2) from it, sigma/(sqrt(2) s) on its turn (closed form of the
// least-squares pose of four points).
func TestMarkerErrorPropagation(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 3))
	cam := geom.NewCamera(1280, 720, geom.Lens{Fx: 640, Fy: 640, Cx: 640, Cy: 360}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 2, Y: 1.5, Z: 2.7})
	mk := geom.Marker{Side: 0.1, Height: 0.1, Turn: 0.4}
	mpp := 2.6 / 640
	const noise, n = 0.25, 4000 // px
	var sx, sy, sh, chi, chiH float64
	for k := 0; k < n; k++ {
		want := geom.Pose{X: 1.5 + rng.Float64(), Y: 1 + rng.Float64(), Heading: 6 * rng.Float64()}
		c := showMarker(t, cam, mk, want, 0)
		for i := range c {
			c[i].X += noise * rng.NormFloat64()
			c[i].Y += noise * rng.NormFloat64()
		}
		f, ok := SolveMarker(c, cam, mk, 0)
		if !ok {
			t.Fatal("not solved")
		}
		e := geom.WrapAngle(f.Heading - want.Heading)
		sx += (f.X - want.X) * (f.X - want.X)
		sy += (f.Y - want.Y) * (f.Y - want.Y)
		sh += e * e
		chi += (f.X - want.X) * (f.X - want.X) / f.Cov[0]
		chiH += e * e / (f.SigmaH * f.SigmaH)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"x", math.Sqrt(sx / n), noise * mpp / 2}, {"y", math.Sqrt(sy / n), noise * mpp / 2}, {"heading", math.Sqrt(sh / n), noise * mpp / (math.Sqrt2 * mk.Side)}} {
		t.Logf("%s: %.5f, closed form %.5f", c.name, c.got, c.want)
		// 4 standard errors of a standard deviation from n draws.
		if math.Abs(c.got/c.want-1) > 4/math.Sqrt(2*n) {
			t.Errorf("%s errs by %.5f, the closed form is %.5f", c.name, c.got, c.want)
		}
	}
	// The stated sigmas hold, on the safe side: they contain how well a print
	// is glued.
	t.Logf("(error/sigma)^2: x %.2f, heading %.2f", chi/n, chiH/n)
	if chi/n > 1.05 || chiH/n > 1.05 || chiH/n < 0.2 {
		t.Errorf("(error/sigma)^2 is %.2f for x and %.2f for the heading, want 1 or somewhat less", chi/n, chiH/n)
	}
}

func showMarker(t *testing.T, cam *geom.Camera, mk geom.Marker, at geom.Pose, floor float64) (c [4]geom.Point2) {
	t.Helper()
	s, co := math.Sincos(at.Heading)
	for i, b := range markerBody(mk) {
		var ok bool
		if c[i], ok = cam.Project(geom.Point3{X: at.X + co*b.X - s*b.Y, Y: at.Y + s*b.X + co*b.Y, Z: floor + mk.Height}); !ok {
			t.Fatal("the marker does not show")
		}
	}
	return c
}

// Off the robot's middle, turned, on a rug and before a tilted fisheye the
// exact corners give the exact pose back; wrong ones give none.
func TestSolveMarker(t *testing.T) {
	s, c := math.Sincos(geom.Radians(30))
	cam := geom.NewCamera(1280, 720, geom.Lens{Model: geom.Fisheye, Fx: 500, Fy: 500, Cx: 630, Cy: 350, Dist: [5]float64{0.02, -0.01}},
		[3][3]float64{{1, 0, 0}, {0, -c, -s}, {0, s, -c}}, geom.Point3{X: 1, Y: -0.5, Z: 2.5})
	mk := geom.Marker{Side: 0.09, Height: 0.12, Ahead: 0.05, Left: -0.03, Turn: 2}
	for h := -3.0; h < 3; h += 0.7 {
		want := geom.Pose{X: 1.2, Y: 0.8, Heading: h}
		px := showMarker(t, cam, mk, want, 0.015)
		f, ok := SolveMarker(px, cam, mk, 0.015)
		if !ok || math.Hypot(f.X-want.X, f.Y-want.Y) > 1e-9 || math.Abs(geom.WrapAngle(f.Heading-h)) > 1e-9 || math.Abs(f.Side-mk.Side) > 1e-9 {
			t.Errorf("heading %.1f: %+v, %v", h, f, ok)
		}
		// Mirrored, squeezed, of another size, one corner elsewhere: no marker.
		bad := [][4]geom.Point2{{px[0], px[3], px[2], px[1]}, {px[0], px[0], px[1], px[1]}, {px[0], px[1], px[2], px[3].Add(geom.Point2{X: 9})}, {}}
		big := mk
		big.Side *= 1.5
		bad = append(bad, showMarker(t, cam, big, want, 0.015))
		for i, b := range bad {
			if f, ok := SolveMarker(b, cam, mk, 0.015); ok {
				t.Errorf("wrong corners %d gave %+v", i, f)
			}
		}
	}
}

func TestFuse(t *testing.T) {
	// Equal round covariances: the middle, half the variance. A vague one
	// changes nothing. The scalar case is the textbook's weighted mean.
	a, b := geom.Pose{X: 1, Y: 2}, geom.Pose{X: 2, Y: 4}
	x, y, cov, ok := fuse(a, [3]float64{4, 0, 4}, b, [3]float64{4, 0, 4})
	if !ok || x != 1.5 || y != 3 || cov != [3]float64{2, 0, 2} {
		t.Errorf("got %g %g %v", x, y, cov)
	}
	if x, y, _, _ = fuse(a, [3]float64{1e-6, 0, 1e-6}, b, [3]float64{1, 0, 1}); math.Abs(x-1) > 1e-5 || math.Abs(y-2) > 1e-5 {
		t.Errorf("a vague place moved a good one to %g %g", x, y)
	}
	if x, y, cov, _ = fuse(a, [3]float64{1, 0.5, 2}, b, [3]float64{3, -0.5, 1}); math.Abs(x-(1.25+1.0/3)) > 1e-12 || math.Abs(y-(2.125+4.0/3)) > 1e-12 || cov[0] >= 1 || cov[2] >= 1 {
		t.Errorf("got %g %g %v", x, y, cov)
	}
}
