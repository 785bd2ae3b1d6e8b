package geom

import "math"

// LensModel names how a ray becomes a pixel.
type LensModel string

// The lens models.
const (
	// Brown is the pinhole with radial and tangential terms k1 k2 p1 p2 k3 in
	// OpenCV's order (docs.opencv.org, "Camera Calibration and 3D
	// Reconstruction").
	Brown LensModel = "brown"
	// Fisheye is the equidistant model with k1 k2 k3 k4 (docs.opencv.org,
	// "Fisheye camera model"); the fifth term is unused.
	Fisheye LensModel = "fisheye"
)

// Lens is what a lens does to a ray. Focal lengths and centre in pixels.
type Lens struct {
	Model          LensModel
	Fx, Fy, Cx, Cy float64
	Dist           [5]float64
}

// Camera is a solved camera: lens and pose. It is immutable; make it with
// NewCamera so that the valid field of the lens is known.
type Camera struct {
	Width, Height int           // of the pictures, pixels
	Lens          Lens          //
	R             [3][3]float64 // floor to camera: v_cam = R (p - Centre)
	Centre        Point3        // where the lens is, floor frame, m

	r2max float64 // normalised radius squared up to which the lens is one to one
}

// maxTan bounds the field of a Brown lens: tan(75 degrees), beyond which the
// polynomial means nothing whatever its terms.
const maxTan = 3.7320508

// NewCamera returns a camera with the given lens and pose.
func NewCamera(width, height int, lens Lens, r [3][3]float64, centre Point3) *Camera {
	c := &Camera{Width: width, Height: height, Lens: lens, R: r, Centre: centre}
	if c.Lens.Model == "" {
		c.Lens.Model = Brown
	}
	c.r2max = lens.field()
	return c
}

// field returns the square of the largest normalised radius (Brown) or angle
// from the axis in radians (Fisheye) below which the radial curve still rises.
func (l Lens) field() float64 {
	k := l.Dist
	if l.Model == Fisheye {
		for a := 0.01; a < math.Pi*0.75; a += 0.01 {
			t := a * a
			if 1+t*(3*k[0]+t*(5*k[1]+t*(7*k[2]+t*9*k[3]))) <= 0 {
				return (a - 0.01) * (a - 0.01)
			}
		}
		return math.Pi * math.Pi * 0.5625
	}
	for r := 0.01; r < maxTan; r += 0.01 {
		t := r * r
		if 1+t*(3*k[0]+t*(5*k[1]+t*7*k[4])) <= 0 {
			return (r - 0.01) * (r - 0.01)
		}
	}
	return maxTan * maxTan
}

// Distort maps a ray direction (x, y, 1) in the camera frame to a pixel.
func (l Lens) Distort(x, y float64) Point2 {
	k := l.Dist
	r2 := x*x + y*y
	if l.Model == Fisheye {
		r := math.Sqrt(r2)
		s := 1.0
		if r > 1e-12 {
			s = fisheyeAngle(k, math.Atan(r)) / r
		}
		return Point2{l.Fx*x*s + l.Cx, l.Fy*y*s + l.Cy}
	}
	rad := 1 + r2*(k[0]+r2*(k[1]+r2*k[4]))
	xd := x*rad + 2*k[2]*x*y + k[3]*(r2+2*x*x)
	yd := y*rad + k[2]*(r2+2*y*y) + 2*k[3]*x*y
	return Point2{l.Fx*xd + l.Cx, l.Fy*yd + l.Cy}
}

func fisheyeAngle(k [5]float64, a float64) float64 {
	t := a * a
	return a * (1 + t*(k[0]+t*(k[1]+t*(k[2]+t*k[3]))))
}

// Undistort is the inverse of Distort: the ray direction (x, y, 1) that shows
// at pixel p; ok is false outside the field in which the lens is one to one.
// Newton's method to 1e-12 of the normalised unit.
func (l Lens) Undistort(p Point2) (x, y float64, ok bool) {
	return l.undistort(p, l.field())
}

// undistort is Undistort with the field given: finding it costs more than the
// inversion itself, so a Camera keeps it.
func (l Lens) undistort(p Point2, r2max float64) (x, y float64, ok bool) {
	xd, yd := (p.X-l.Cx)/l.Fx, (p.Y-l.Cy)/l.Fy
	if l.Model == Fisheye {
		return l.undistortFisheye(xd, yd, r2max)
	}
	k := l.Dist
	x, y = xd, yd
	for i := 0; i < 50; i++ {
		r2 := x*x + y*y
		rad := 1 + r2*(k[0]+r2*(k[1]+r2*k[4]))
		drad := 2 * (k[0] + r2*(2*k[1]+r2*3*k[4]))
		fx := x*rad + 2*k[2]*x*y + k[3]*(r2+2*x*x) - xd
		fy := y*rad + k[2]*(r2+2*y*y) + 2*k[3]*x*y - yd
		a := rad + x*x*drad + 2*k[2]*y + 6*k[3]*x
		b := x*y*drad + 2*k[2]*x + 2*k[3]*y
		d := rad + y*y*drad + 6*k[2]*y + 2*k[3]*x
		det := a*d - b*b
		if det == 0 || math.IsNaN(det) {
			return 0, 0, false
		}
		dx, dy := (d*fx-b*fy)/det, (a*fy-b*fx)/det
		// A full step may leap over the fold of a strong lens.
		if n := math.Hypot(dx, dy); n > 0.3 {
			dx, dy = dx*0.3/n, dy*0.3/n
		}
		x, y = x-dx, y-dy
		if math.Abs(dx)+math.Abs(dy) < 1e-13 {
			break
		}
	}
	q := l.Distort(x, y)
	ok = math.Hypot((q.X-p.X)/l.Fx, (q.Y-p.Y)/l.Fy) < 1e-9 && x*x+y*y <= r2max
	return x, y, ok
}

func (l Lens) undistortFisheye(xd, yd, r2max float64) (x, y float64, ok bool) {
	k := l.Dist
	rd := math.Hypot(xd, yd)
	if rd < 1e-14 {
		return xd, yd, true
	}
	a := math.Min(rd, 1.5)
	for i := 0; i < 50; i++ {
		t := a * a
		slope := 1 + t*(3*k[0]+t*(5*k[1]+t*(7*k[2]+t*9*k[3])))
		if slope == 0 {
			return 0, 0, false
		}
		step := (fisheyeAngle(k, a) - rd) / slope
		a -= step
		if math.Abs(step) < 1e-14 {
			break
		}
	}
	if a < 0 || a >= math.Pi/2 || math.Abs(fisheyeAngle(k, a)-rd) > 1e-9 || a*a > r2max {
		return 0, 0, false
	}
	s := math.Tan(a) / rd
	return xd * s, yd * s, true
}

// Project returns the pixel at which floor-frame point p shows. ok is false
// behind the lens or outside the field in which the lens is one to one; the
// pixel may lie outside the picture all the same, see InFrame.
func (c *Camera) Project(p Point3) (px Point2, ok bool) {
	dx, dy, dz := p.X-c.Centre.X, p.Y-c.Centre.Y, p.Z-c.Centre.Z
	x := c.R[0][0]*dx + c.R[0][1]*dy + c.R[0][2]*dz
	y := c.R[1][0]*dx + c.R[1][1]*dy + c.R[1][2]*dz
	z := c.R[2][0]*dx + c.R[2][1]*dy + c.R[2][2]*dz
	if z <= 1e-9 {
		return Point2{}, false
	}
	x, y = x/z, y/z
	r2 := x*x + y*y
	if c.Lens.Model == Fisheye {
		a := math.Atan(math.Sqrt(r2))
		return c.Lens.Distort(x, y), a*a <= c.r2max
	}
	return c.Lens.Distort(x, y), r2 <= c.r2max
}

// Floor returns the point at height z (m) that appears at pixel px; ok is false
// where the ray does not come down to that height in front of the lens.
func (c *Camera) Floor(px Point2, z float64) (p Point2, ok bool) {
	x, y, ok := c.Lens.undistort(px, c.r2max)
	if !ok {
		return Point2{}, false
	}
	// The ray in the floor frame: transpose(R) (x, y, 1).
	dx := c.R[0][0]*x + c.R[1][0]*y + c.R[2][0]
	dy := c.R[0][1]*x + c.R[1][1]*y + c.R[2][1]
	dz := c.R[0][2]*x + c.R[1][2]*y + c.R[2][2]
	if dz == 0 {
		return Point2{}, false
	}
	t := (z - c.Centre.Z) / dz
	if t <= 0 {
		return Point2{}, false
	}
	return Point2{c.Centre.X + t*dx, c.Centre.Y + t*dy}, true
}

// Nadir returns the point of the floor straight below the lens, m.
func (c *Camera) Nadir() Point2 { return Point2{c.Centre.X, c.Centre.Y} }

// InFrame tells whether pixel px lies in the picture.
func (c *Camera) InFrame(px Point2) bool {
	return px.X >= -0.5 && px.Y >= -0.5 && px.X < float64(c.Width)-0.5 && px.Y < float64(c.Height)-0.5
}

// PixelSize returns what one pixel is worth at point p of the floor frame, in
// metres along the worse direction, or NaN where p does not show. It is the
// larger singular value of the inverse of d(pixel)/d(floor).
func (c *Camera) PixelSize(p Point3) float64 {
	_, j, ok := c.ProjectJac(p)
	if !ok {
		return math.NaN()
	}
	a, b, cc, d := j[0][0], j[0][1], j[1][0], j[1][1]
	// Smallest singular value of [[a b][c d]].
	s := a*a + b*b + cc*cc + d*d
	det := a*d - b*cc
	disc := math.Sqrt(math.Max(0, s*s-4*det*det))
	low := (s - disc) / 2
	if low <= 0 {
		return math.Inf(1)
	}
	return 1 / math.Sqrt(low)
}
