package sight

import (
	"math"

	"swathe/geom"
)

// MarkerEye finds one printed square marker in a picture. The one that reads
// markers (track/cv) needs OpenCV; what follows from the corners is here.
type MarkerEye interface {
	// Find returns the corners of the marker's black square in plane p, to a
	// fraction of a pixel, in the marker's own order: top left, top right,
	// bottom right, bottom left as it is printed. It looks between the
	// corners lo and hi of a rectangle of pixels; side is how long the
	// square's side may be expected to show, px.
	Find(p *Plane, lo, hi geom.Point2, side float64) (corners [4]geom.Point2, ok bool)
}

// MarkerFix is the robot's pose as its marker tells it.
type MarkerFix struct {
	X, Y    float64    // m, the turning centre on the floor
	Heading float64    // rad
	Cov     [3]float64 // var x, cov xy, var y, m^2
	SigmaH  float64    // rad
	RMS     float64    // px, of the four corners about the pose
	Side    float64    // m, the side that the square shows at its height; a print at another scale stands out
}

// Pose returns what the fix says as a pose.
func (f MarkerFix) Pose() geom.Pose { return geom.Pose{X: f.X, Y: f.Y, Heading: f.Heading} }

// The uncertainties of a marker.
const (
	cornerNoise  = 0.15                // px a corner and axis, before anything is known
	cornerWeight = 4                   // how many residuals that is worth
	placedTo     = 0.0015              // m, to which a print is glued where the robot's entry says
	turnedTo     = 0.3 * math.Pi / 180 // rad, likewise
	oddCorners   = 0.08                // of the side: corners that lie worse are not those of a level square
	oddSide      = 0.25                // of the side: a square that shows so much larger or smaller is another thing
)

// body returns the marker's corners in the body frame, in Find's order.
func markerBody(mk geom.Marker) (c [4]geom.Point2) {
	s, co := math.Sincos(mk.Turn)
	h := mk.Side / 2
	for i, q := range [4]geom.Point2{{X: h, Y: h}, {X: h, Y: -h}, {X: -h, Y: -h}, {X: -h, Y: h}} { // up, left
		c[i] = geom.Point2{X: mk.Ahead + co*q.X - s*q.Y, Y: mk.Left + s*q.X + co*q.Y}
	}
	return c
}

// SolveMarker returns the pose of the turning centre from the corners of the
// marker on a robot that stands on a floor of the given height (m). cam is
// scaled to the picture. It is the least-squares pose of a level square at the
// marker's height: the tilt of a small flat marker seen from above is badly
// conditioned, and a robot on a floor has none worth the noise. ok is false
// where the corners are not those of such a square.
func SolveMarker(corners [4]geom.Point2, cam *geom.Camera, mk geom.Marker, floor float64) (fix MarkerFix, ok bool) {
	z := floor + mk.Height
	body := markerBody(mk)
	var on [4]geom.Point2
	var mid, bmid geom.Point2
	for i, c := range corners {
		if on[i], ok = cam.Floor(c, z); !ok {
			return fix, false
		}
		mid, bmid = mid.Add(on[i].Scale(0.25)), bmid.Add(body[i].Scale(0.25))
	}
	// The turn and the size that fit the corners on the plane at that height.
	var dot, cross, own float64
	for i := range on {
		a, b := body[i].Sub(bmid), on[i].Sub(mid)
		dot += a.X*b.X + a.Y*b.Y
		cross += a.X*b.Y - a.Y*b.X
		own += a.X*a.X + a.Y*a.Y
	}
	scale := math.Hypot(dot, cross) / own
	if math.Abs(scale-1) > oddSide {
		return fix, false
	}
	fix.Side = scale * mk.Side
	fix.Heading = math.Atan2(cross, dot)
	s, c := math.Sincos(fix.Heading)
	fix.X, fix.Y = mid.X-(c*bmid.X-s*bmid.Y), mid.Y-(s*bmid.X+c*bmid.Y)
	var n geom.Normal
	chi := 0.0
	for round := 0; round < 4; round++ {
		n, chi = geom.Normal{}, 0
		s, c := math.Sincos(fix.Heading)
		for i, b := range body {
			ax, ay := c*b.X-s*b.Y, s*b.X+c*b.Y
			px, j, good := cam.ProjectJac(geom.Point3{X: fix.X + ax, Y: fix.Y + ay, Z: z})
			if !good {
				return fix, false
			}
			for k, e := range [2]float64{corners[i].X - px.X, corners[i].Y - px.Y} {
				n.Add(1, j[k][0], j[k][1], -j[k][0]*ay+j[k][1]*ax, e)
				chi += e * e
			}
		}
		d, settled := n.Solve()
		if settled == 0 {
			return fix, false
		}
		fix.X, fix.Y, fix.Heading = fix.X+d[0], fix.Y+d[1], fix.Heading+d[2]
	}
	fix.Heading = geom.WrapAngle(fix.Heading)
	fix.RMS = math.Sqrt(chi / 4)
	if side := markerPx(corners); !(fix.RMS < math.Max(1, oddCorners*side)) {
		return fix, false
	}
	// Eight coordinates less three unknowns.
	v := (chi + cornerWeight*cornerNoise*cornerNoise) / (5 + cornerWeight)
	xy, h, good := n.Variances()
	if !good {
		return fix, false
	}
	p := placedTo * placedTo
	fix.Cov = [3]float64{v*xy[0] + p, v * xy[1], v*xy[2] + p}
	fix.SigmaH = math.Sqrt(v*h + turnedTo*turnedTo)
	return fix, true
}

// markerPx is the mean side of the square in the picture, px.
func markerPx(c [4]geom.Point2) float64 {
	sum := 0.0
	for i := range c {
		sum += c[i].Dist(c[(i+1)%4])
	}
	return sum / 4
}

// fuse joins two independent places by their covariances.
func fuse(a geom.Pose, ca [3]float64, b geom.Pose, cb [3]float64) (x, y float64, cov [3]float64, ok bool) {
	i, ok := geom.Inverse2([3]float64{ca[0] + cb[0], ca[1] + cb[1], ca[2] + cb[2]})
	if !ok {
		return a.X, a.Y, ca, false
	}
	dx, dy := b.X-a.X, b.Y-a.Y
	// Gain ca (ca+cb)^-1.
	k := [4]float64{ca[0]*i[0] + ca[1]*i[1], ca[0]*i[1] + ca[1]*i[2], ca[1]*i[0] + ca[2]*i[1], ca[1]*i[1] + ca[2]*i[2]}
	cov = [3]float64{ca[0] - k[0]*ca[0] - k[1]*ca[1], ca[1] - k[0]*ca[1] - k[1]*ca[2], ca[2] - k[2]*ca[1] - k[3]*ca[2]}
	return a.X + k[0]*dx + k[1]*dy, a.Y + k[2]*dx + k[3]*dy, cov, true
}

// MarkerSearch says which marker is looked for, and where.
type MarkerSearch struct {
	Camera *geom.Camera // scaled to the picture
	Marker geom.Marker
	Floor  float64      // m, its height there
	Near   *geom.Point2 // where on the floor the robot may be expected; nil: anywhere
	// Warp maps from where a thing shows by Camera to where it shows in the
	// picture; nil: that is the same (see Fitter).
	Warp func(geom.Point2) geom.Point2
}

// In looks for the marker in a picture's luminance and returns the pose that it
// gives the robot.
func (s MarkerSearch) In(eye MarkerEye, y *Plane) (MarkerFix, bool) {
	cam, mk, near, z := s.Camera, s.Marker, s.Near, s.Floor+s.Marker.Height
	lo, hi := geom.Point2{}, geom.Point2{X: float64(y.W - 1), Y: float64(y.H - 1)}
	at := geom.Point3{X: cam.Centre.X, Y: cam.Centre.Y, Z: z}
	if mid, ok := cam.Floor(geom.Point2{X: hi.X / 2, Y: hi.Y / 2}, z); ok {
		at.X, at.Y = mid.X, mid.Y
	}
	if near != nil {
		at.X, at.Y = near.X, near.Y
	}
	mpp := cam.PixelSize(at)
	if !(mpp > 0) || math.IsInf(mpp, 0) {
		return MarkerFix{}, false
	}
	if near != nil {
		c, ok := cam.Project(at)
		if !ok {
			return MarkerFix{}, false
		}
		if s.Warp != nil {
			c = s.Warp(c)
		}
		// The print, its corners at any turn, its margin, and the error of
		// the place.
		r := (math.Hypot(mk.Ahead, mk.Left)+mk.Side*1.2+0.03)/mpp + 4
		lo, hi = geom.Point2{X: c.X - r, Y: c.Y - r}, geom.Point2{X: c.X + r, Y: c.Y + r}
	}
	corners, ok := eye.Find(y, lo, hi, mk.Side/mpp)
	if !ok {
		return MarkerFix{}, false
	}
	if s.Warp != nil {
		for i := range corners {
			corners[i] = unwarp(s.Warp, corners[i])
		}
	}
	return SolveMarker(corners, cam, mk, s.Floor)
}

// unwarp inverts a map that moves things by some pixels, and evenly.
func unwarp(warp func(geom.Point2) geom.Point2, q geom.Point2) geom.Point2 {
	p := q
	for i := 0; i < 4; i++ {
		p = p.Add(q.Sub(warp(p)))
	}
	return p
}
