package residue

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"swathe/geom"
)

// Ground carries pixels to the floor and back. geom.Camera and a homography
// serve.
type Ground interface {
	Floor(px geom.Point2) (p geom.Point2, ok bool) // m
	Pixel(p geom.Point2) (px geom.Point2, ok bool)
}

// CameraGround is the floor (height 0) as a solved camera shows it.
type CameraGround struct{ Cam *geom.Camera }

// Floor implements Ground.
func (g CameraGround) Floor(px geom.Point2) (geom.Point2, bool) { return g.Cam.Floor(px, 0) }

// Pixel implements Ground.
func (g CameraGround) Pixel(p geom.Point2) (geom.Point2, bool) {
	return g.Cam.Project(geom.Point3{X: p.X, Y: p.Y})
}

// Plane is a plane seen through a lens without distortion: a homography each way.
type Plane struct{ toFloor, toPixel [3][3]float64 }

// Floor implements Ground; ok is false at and beyond the horizon.
func (g *Plane) Floor(px geom.Point2) (geom.Point2, bool) { return project(&g.toFloor, px) }

// Pixel implements Ground.
func (g *Plane) Pixel(p geom.Point2) (geom.Point2, bool) { return project(&g.toPixel, p) }

func project(h *[3][3]float64, p geom.Point2) (geom.Point2, bool) {
	w := h[2][0]*p.X + h[2][1]*p.Y + h[2][2]
	if !(w > 1e-12) {
		return geom.Point2{}, false
	}
	return geom.Point2{X: (h[0][0]*p.X + h[0][1]*p.Y + h[0][2]) / w, Y: (h[1][0]*p.X + h[1][1]*p.Y + h[1][2]) / w}, true
}

// Marks are points of the floor (m) and the pixels at which they show, in the
// same order.
type Marks struct{ Floor, Pixel []geom.Point2 }

// MaxMarkResidual is how far marks may contradict each other, m: beyond it an
// area of some centimetres is not known to a few per cent any more.
const MaxMarkResidual = 0.001

// Solve makes a Plane of four marks or more round a patch. residual is how far
// the marks lie from where a camera could show them, m, root mean square of the
// distance. Four pairs fit some homography exactly, whatever they are; but only
// a homography that a lens with its axis in the middle of the picture and square
// pixels can make is a picture of a floor, and that has one unknown less
// (Hartley and Zisserman, Multiple View Geometry, 8.8: the two constraints that
// a plane puts on the image of the absolute conic). So even four tell.
func (m Marks) Solve(width, height int) (g *Plane, residual float64, err error) {
	n := len(m.Floor)
	if n < 4 || len(m.Pixel) != n {
		return nil, math.NaN(), fmt.Errorf("%d marks are given; 4 or more around the patch are needed", n)
	}
	h, ok := geom.Homography(m.Floor, m.Pixel)
	if !ok {
		return nil, math.NaN(), errors.New("the view cannot be found from these marks: no three of the first four may lie on one line, and no two at one place")
	}
	g = &Plane{toPixel: h}
	// The sign is free: what lies before the lens is where the marks are.
	if w := h[2][0]*m.Floor[0].X + h[2][1]*m.Floor[0].Y + h[2][2]; w < 0 {
		for i := range h {
			for j := range h[i] {
				h[i][j] = -h[i][j]
			}
		}
		g.toPixel = h
	}
	if g.toFloor, ok = inverse(g.toPixel); !ok {
		return nil, math.NaN(), errors.New("the view cannot be found from these marks")
	}
	for i, p := range m.Floor {
		if _, ok := g.Pixel(p); !ok {
			return nil, math.NaN(), fmt.Errorf("by the other marks, mark %d lies behind the camera: check that no two were swapped", i+1)
		}
	}
	// toFloor has the sign that keeps the marks' pixels in front.
	if _, ok := g.Floor(m.Pixel[0]); !ok {
		for i := range g.toFloor {
			for j := range g.toFloor[i] {
				g.toFloor[i][j] = -g.toFloor[i][j]
			}
		}
	}
	residual, err = m.pinhole(g, width, height)
	if n > 4 && err == nil {
		residual = math.Max(residual, m.rms(g))
	}
	return g, residual, err
}

// rms is the root mean square distance on the floor of the marks' pixels from
// the marks, m.
func (m Marks) rms(g Ground) float64 {
	sum := 0.0
	for i, p := range m.Pixel {
		q, ok := g.Floor(p)
		if !ok {
			return math.Inf(1)
		}
		d := q.Dist(m.Floor[i])
		sum += d * d
	}
	return math.Sqrt(sum / float64(len(m.Pixel)))
}

// pinhole fits a camera with square pixels and its axis in the middle of the
// picture and returns how far the marks lie from where it shows them, m.
func (m Marks) pinhole(g *Plane, width, height int) (float64, error) {
	cx, cy := float64(width-1)/2, float64(height-1)/2
	h := g.toPixel
	// Columns with the middle of the picture at 0.
	c := [3][3]float64{}
	for j := range 3 {
		c[0][j], c[1][j], c[2][j] = h[0][j]-cx*h[2][j], h[1][j]-cy*h[2][j], h[2][j]
	}
	// The two columns are turned axes of the floor seen through diag(f, f, 1):
	// equally long and square to each other. Least squares in 1/f^2.
	a1, b1 := c[0][0]*c[0][1]+c[1][0]*c[1][1], -c[2][0]*c[2][1]
	a2, b2 := c[0][0]*c[0][0]+c[1][0]*c[1][0]-c[0][1]*c[0][1]-c[1][1]*c[1][1], -(c[2][0]*c[2][0] - c[2][1]*c[2][1])
	f := float64(width)
	if k := (a1*b1 + a2*b2) / (a1*a1 + a2*a2); k > 0 {
		f = math.Min(math.Max(1/math.Sqrt(k), 0.3*f), 10*f)
	}
	best := math.Inf(1)
	for _, f0 := range []float64{f, float64(width), 0.6 * float64(width), 2 * float64(width)} {
		r, err := m.fitPinhole(c, f0, cx, cy)
		if err == nil && r < best {
			best = r
		}
	}
	if math.IsInf(best, 1) {
		return math.NaN(), errors.New("check floor and pixel of each mark, and that no two were swapped: no camera would see them like this")
	}
	return best, nil
}

// fitPinhole starts at focal length f (px) and refines it with the pose.
func (m Marks) fitPinhole(c [3][3]float64, f, cx, cy float64) (float64, error) {
	var r1, r2, t geom.Point3
	col := func(j int) geom.Point3 { return geom.Point3{X: c[0][j] / f, Y: c[1][j] / f, Z: c[2][j]} }
	r1, r2, t = col(0), col(1), col(2)
	s := 2 / (norm(r1) + norm(r2))
	r1, r2, t = scale(r1, s), scale(r2, s), scale(t, s)
	base := upright(r1, r2)
	show := func(x []float64, p geom.Point2) geom.Point2 {
		r := geom.Mul3(geom.Rotation(x[1], x[2], x[3]), base)
		q := geom.Point3{X: r[0][0]*p.X + r[0][1]*p.Y + x[4], Y: r[1][0]*p.X + r[1][1]*p.Y + x[5], Z: r[2][0]*p.X + r[2][1]*p.Y + x[6]}
		e := f * math.Exp(x[0]) / math.Max(q.Z, 1e-6)
		return geom.Point2{X: cx + e*q.X, Y: cy + e*q.Y}
	}
	n := len(m.Floor)
	ls := geom.LeastSquares{M: 2*n + 1, Residuals: func(dst, x []float64) {
		for i, p := range m.Floor {
			q := show(x, p)
			dst[2*i], dst[2*i+1] = q.X-m.Pixel[i].X, q.Y-m.Pixel[i].Y
		}
		dst[2*n] = 1e-3 * x[0] // holds the focal length of a view straight down, which is open
	}}
	res, err := geom.LevenbergMarquardt(ls, []float64{0, 0, 0, 0, t.X, t.Y, t.Z}, geom.LMOptions{MaxIterations: 200, Tolerance: 1e-10, Huber: math.Inf(1)})
	if err != nil {
		return 0, err
	}
	// On the floor: by how much a pixel is worth at each mark.
	sum := 0.0
	for i, p := range m.Floor {
		q := show(res.X, p)
		ex, ey := show(res.X, geom.Point2{X: p.X + 1e-4, Y: p.Y}), show(res.X, geom.Point2{X: p.X, Y: p.Y + 1e-4})
		j := [2][2]float64{{(ex.X - q.X) * 1e4, (ey.X - q.X) * 1e4}, {(ex.Y - q.Y) * 1e4, (ey.Y - q.Y) * 1e4}}
		det := j[0][0]*j[1][1] - j[0][1]*j[1][0]
		dx, dy := m.Pixel[i].X-q.X, m.Pixel[i].Y-q.Y
		sum += (sq(j[1][1]*dx-j[0][1]*dy) + sq(j[0][0]*dy-j[1][0]*dx)) / (det * det)
	}
	return math.Sqrt(sum / float64(n)), nil
}

func sq(x float64) float64       { return x * x }
func norm(p geom.Point3) float64 { return math.Sqrt(p.X*p.X + p.Y*p.Y + p.Z*p.Z) }
func scale(p geom.Point3, k float64) geom.Point3 {
	return geom.Point3{X: p.X * k, Y: p.Y * k, Z: p.Z * k}
}

// upright is the rotation with columns nearest to a and b.
func upright(a, b geom.Point3) [3][3]float64 {
	a, b = scale(a, 1/norm(a)), scale(b, 1/norm(b))
	c := geom.Point3{X: a.Y*b.Z - a.Z*b.Y, Y: a.Z*b.X - a.X*b.Z, Z: a.X*b.Y - a.Y*b.X}
	return geom.Orthonormal([3][3]float64{{a.X, b.X, c.X}, {a.Y, b.Y, c.Y}, {a.Z, b.Z, c.Z}})
}

func inverse(m [3][3]float64) (o [3][3]float64, ok bool) {
	var inv mat.Dense
	if inv.Inverse(mat.NewDense(3, 3, slices.Concat(m[0][:], m[1][:], m[2][:]))) != nil {
		return o, false
	}
	for i := range o {
		copy(o[i][:], inv.RawRowView(i))
	}
	return o, true
}
