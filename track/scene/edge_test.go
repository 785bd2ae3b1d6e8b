package scene

import (
	"math"
	"sort"
	"testing"

	"github.com/paulmach/orb"

	"swathe/geom"
)

func rect(x0, y0, x1, y1 float64) orb.Ring {
	return orb.Ring{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
}

// bare is a scene in two tones without shadow, noise or texture: the robot is
// white, all else black, so that a pixel's value is the share of it that the
// robot covers.
func bare(cam *geom.Camera, robot geom.Robot, pose geom.Pose) Scene {
	s := DefaultScene(cam, &geom.Plan{Room: rect(0, 0, 4, 3)}, robot)
	s.Look.Floor = Surface{Kind: Plain, Color: Grey(0)}
	s.Look.Wall, s.Look.Obstacles, s.Look.Overhead = Grey(0), []BGR{Grey(0)}, []BGR{Grey(0)}
	s.Look.Robot = RobotLook{Top: Grey(240), Side: Grey(240)}
	s.Light = Light{Ambient: 1}
	s.Sensor = Sensor{}
	s.Timing = Timing{FPS: 10}
	s.Path = Path{{Pose: pose}}
	s.Length = 1
	return s
}

// share returns the covered share of each pixel of a bare frame.
func share(b []byte) []float64 {
	out := make([]float64, len(b)/3)
	for i := range out {
		out[i] = float64(b[3*i]) / 240
	}
	return out
}

// tilted is a camera 2.7 m up with a lens that bends and a tilt of 12 degrees.
func tilted() *geom.Camera {
	s, c := math.Sincos(geom.Radians(12))
	return geom.NewCamera(960, 540, geom.Lens{Fx: 470, Fy: 470, Cx: 479.5, Cy: 269.5, Dist: [5]float64{-0.12, 0.02}},
		[3][3]float64{{1, 0, 0}, {0, -c, -s}, {0, s, -c}}, geom.Point3{X: 2, Y: 1, Z: 2.7})
}

// hull of the projected rims, by a fan of many points: the outline that must
// be seen, worked out apart from the renderer.
func rims(cam *geom.Camera, r, h float64, pose geom.Pose) []geom.Point2 {
	var out []geom.Point2
	for k := range 7200 {
		s, c := math.Sincos(2 * math.Pi * float64(k) / 7200)
		for _, z := range []float64{0, h} {
			p, _ := cam.Project(geom.Point3{X: pose.X + r*c, Y: pose.Y + r*s, Z: z})
			out = append(out, p)
		}
	}
	return out
}

// The white area between the first and the last column of each row, and of
// each column, must be what the projected outline spans there.
func TestEdgesLieWhereTheCameraPutsThem(t *testing.T) {
	const bound = 0.05 // px
	worst, rms, n := 0.0, 0.0, 0
	for _, pose := range []geom.Pose{{X: 2.01, Y: 1.203}, {X: 0.6, Y: 0.5}, {X: 3.4, Y: 2.31}, {X: 3.313, Y: 0.41}} {
		cam := tilted()
		robot := geom.Robot{Diameter: 0.34, Height: 0.095}
		s := bare(cam, robot, pose)
		a := share(drawAt(t, &s, 0)[0])
		pts := rims(cam, 0.17, 0.095, pose)
		hull := convexHull(pts)
		for j := range cam.Height {
			lo, hi, ok := crossings(hull, float64(j))
			if !ok || hi-lo < 12 {
				continue
			}
			// Left and right edge from the sums of the row's two halves. The
			// outline's slope within the row averages out to second order.
			mid := int((lo + hi) / 2)
			left, right := 0.0, 0.0
			for i := range cam.Width {
				if i <= mid {
					left += a[j*cam.Width+i]
				} else {
					right += a[j*cam.Width+i]
				}
			}
			lo2, hi2, _ := crossings(hull, float64(j)-0.5)
			lo3, hi3, _ := crossings(hull, float64(j)+0.5)
			lo, hi = (lo2+4*lo+lo3)/6, (hi2+4*hi+hi3)/6 // Simpson over the row
			// Measured across the edge, which runs aslant.
			for _, e := range []float64{(float64(mid) + 0.5 - left - lo) / math.Hypot(1, lo3-lo2), (float64(mid) + 0.5 + right - hi) / math.Hypot(1, hi3-hi2)} {
				worst = math.Max(worst, math.Abs(e))
				rms += e * e
				n++
			}
		}
	}
	rms = math.Sqrt(rms / float64(n))
	t.Logf("%d edges: worst %.4f px, RMS %.4f px (bound %.2f)", n, worst, rms, bound)
	if n < 200 || worst > bound {
		t.Errorf("worst edge error %.4f px of %d edges; want <= %.2f", worst, n, bound)
	}
}

// convexHull by Andrew's monotone chain.
func convexHull(p []geom.Point2) []geom.Point2 {
	p = append([]geom.Point2(nil), p...)
	sort.Slice(p, func(i, j int) bool { return p[i].X < p[j].X || p[i].X == p[j].X && p[i].Y < p[j].Y })
	cross := func(a, b, c geom.Point2) float64 { return (b.X-a.X)*(c.Y-a.Y) - (b.Y-a.Y)*(c.X-a.X) }
	var h []geom.Point2
	for pass := 0; pass < 2; pass++ {
		base := len(h)
		for _, q := range p {
			for len(h) >= base+2 && cross(h[len(h)-2], h[len(h)-1], q) <= 0 {
				h = h[:len(h)-1]
			}
			h = append(h, q)
		}
		h = h[:len(h)-1]
		for i, j := 0, len(p)-1; i < j; i, j = i+1, j-1 {
			p[i], p[j] = p[j], p[i]
		}
	}
	return h
}

func crossings(h []geom.Point2, y float64) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for i, a := range h {
		b := h[(i+1)%len(h)]
		if (a.Y > y) != (b.Y > y) {
			x := a.X + (y-a.Y)/(b.Y-a.Y)*(b.X-a.X)
			lo, hi = math.Min(lo, x), math.Max(hi, x)
		}
	}
	return lo, hi, lo < hi
}

func BenchmarkRenderFrame(b *testing.B) {
	plan := &geom.Plan{Room: rect(0, 0, 4, 3), Obstacles: []geom.Piece{{Name: "box", Outline: rect(1, 1, 1.5, 1.4), Height: 0.4}}}
	s := DefaultScene(tilted(), plan, geom.Robot{Diameter: 0.34, Height: 0.095})
	s.Path = Path{{Pose: geom.Pose{X: 0.5, Y: 0.5}}, {T: 1000, Pose: geom.Pose{X: 100, Y: 0.5, Heading: 900}}}
	s.Length = 25
	r, err := NewRenderer(&s)
	if err != nil {
		b.Fatal(err)
	}
	dst := make([]byte, 3*960*540)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		r.Draw(n%len(r.Times()), dst)
		n++
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}
