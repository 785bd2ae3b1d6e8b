package scene

import (
	"math"

	"swathe/geom"
)

// Hang is how a camera hangs that looks down.
type Hang struct {
	Centre geom.Point3
	Tilt   float64 // rad, towards
	Toward float64 // this direction on the floor, rad
	Turn   float64 // rad, of the picture about the optical axis
}

// Overhead returns a camera that looks down. Without tilt and turn the picture's
// right is +x and its top is +y.
func Overhead(width, height int, lens geom.Lens, at Hang) *geom.Camera {
	x, y, z := [3]float64{1, 0, 0}, [3]float64{0, -1, 0}, [3]float64{0, 0, -1}
	s, c := math.Sincos(at.Toward)
	k := [3]float64{s, -c, 0}
	for _, v := range []*[3]float64{&x, &y, &z} {
		*v = rotate(*v, k, at.Tilt)
	}
	s, c = math.Sincos(at.Turn)
	var r [3][3]float64
	for i := range 3 {
		r[0][i] = c*x[i] + s*y[i]
		r[1][i] = c*y[i] - s*x[i]
		r[2][i] = z[i]
	}
	return geom.NewCamera(width, height, lens, r, at.Centre)
}

// rotate turns v about the unit vector k by a (Rodrigues' formula).
func rotate(v, k [3]float64, a float64) [3]float64 {
	s, c := math.Sincos(a)
	cross := [3]float64{k[1]*v[2] - k[2]*v[1], k[2]*v[0] - k[0]*v[2], k[0]*v[1] - k[1]*v[0]}
	d := (k[0]*v[0] + k[1]*v[1] + k[2]*v[2]) * (1 - c)
	return [3]float64{c*v[0] + s*cross[0] + d*k[0], c*v[1] + s*cross[1] + d*k[1], c*v[2] + s*cross[2] + d*k[2]}
}

// Marks returns what a tester who clicks on surveyed points would note down:
// each point with the pixel at which cam shows it, off by a normal error of
// sigma px. Points that do not show are left out.
func Marks(cam *geom.Camera, points []geom.Point3, sigma float64, seed uint64) []geom.Mark {
	r := NewRand(seed, 0x3a7c)
	var out []geom.Mark
	for _, p := range points {
		px, ok := cam.Project(p)
		if !ok || !cam.InFrame(px) {
			continue
		}
		out = append(out, geom.Mark{Floor: p, Pixel: geom.Point2{
			X: math.Round(100*(px.X+sigma*r.gauss())) / 100, Y: math.Round(100*(px.Y+sigma*r.gauss())) / 100,
		}})
	}
	return out
}

// MarkPoints returns a sensible set of points to survey in a plan: a grid on
// the floor clear of furniture and, if raised is above 0, four points that high.
func MarkPoints(plan *geom.Plan, nx, ny int, raised float64) []geom.Point3 {
	g := NewGround(plan, 0)
	at := func(u, v float64) geom.Point2 {
		return geom.Point2{X: g.lo.X + u*(g.hi.X-g.lo.X), Y: g.lo.Y + v*(g.hi.Y-g.lo.Y)}
	}
	var out []geom.Point3
	round := func(x float64) float64 { return math.Round(x*100) / 100 }
	for j := range ny {
		for i := range nx {
			p := at(0.04+0.92*float64(i)/float64(nx-1), 0.05+0.9*float64(j)/float64(ny-1))
			if g.Clear(p) > 0.03 {
				out = append(out, geom.Point3{X: round(p.X), Y: round(p.Y)})
			}
		}
	}
	if raised > 0 {
		for _, q := range [][2]float64{{0.1, 0.15}, {0.88, 0.12}, {0.12, 0.85}, {0.85, 0.8}} {
			p := at(q[0], q[1])
			out = append(out, geom.Point3{X: round(p.X), Y: round(p.Y), Z: raised})
		}
	}
	return out
}
