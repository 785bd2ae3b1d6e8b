package geom

import (
	"math"
	"math/rand"
)

// kindOf a drawn camera.
type kindOf int

const (
	idealLens kindOf = iota // k1, k2, centred exactly
	realLens                // centre, p1, p2, k3 off as well
	tilted                  // realLens, tilted by 15 to 35 degrees
	fisheyed
)

// drawCamera draws a camera over a room of w x h metres.
func drawCamera(rng *rand.Rand, kind kindOf) (cam *Camera, w, h float64) {
	pw, ph := 960, 540
	if rng.Intn(2) == 0 {
		pw, ph = 1280, 720
	}
	w, h = 3.2+1.2*rng.Float64(), 2.4+0.6*rng.Float64()
	up := 2.5 + 0.5*rng.Float64()
	f := math.Min(float64(ph)*0.88*up/h, float64(pw)*0.9*up/w)
	tilt := Radians(6 * rng.Float64())
	if kind == tilted {
		tilt = Radians(15 + 20*rng.Float64())
	}
	k1 := -0.25 * rng.Float64()
	l := Lens{Brown, f, f, float64(pw-1) / 2, float64(ph-1) / 2, [5]float64{k1, -0.4 * k1 * rng.Float64()}}
	if kind == realLens || kind == tilted {
		l.Cx += 4 * rng.NormFloat64()
		l.Cy += 4 * rng.NormFloat64()
		l.Dist[2], l.Dist[3], l.Dist[4] = 5e-4*rng.NormFloat64(), 5e-4*rng.NormFloat64(), 5e-3*rng.NormFloat64()
	}
	if kind == fisheyed {
		l.Model = Fisheye
		l.Dist = [5]float64{0.04 * rng.NormFloat64(), 0.01 * rng.NormFloat64()}
	}
	c := Point3{w/2 + 0.15*rng.NormFloat64(), h/2 + 0.15*rng.NormFloat64(), up}
	s, co := math.Sincos(2 * math.Pi * rng.Float64())
	d := up * math.Tan(tilt)
	target := Point2{c.X + d*co, c.Y + d*s}
	if kind == tilted {
		c.X, c.Y = w/2-d*co, h/2-d*s
		target = Point2{w / 2, h / 2}
	}
	return NewCamera(pw, ph, l, lookAt(c, target, 0.1*rng.NormFloat64()), c), w, h
}

// markPlaces: as shares of the room, the first four near its corners.
var markPlaces = []Point2{{.05, .05}, {.95, .05}, {.95, .95}, {.05, .95}, {.5, .05}, {.5, .95}, {.05, .5}, {.95, .5},
	{.3, .3}, {.7, .3}, {.3, .7}, {.7, .7}, {.5, .5}, {.5, .25}}

// drawSpec surveys n marks of a camera with pixel noise sd.
func drawSpec(rng *rand.Rand, cam *Camera, w, h float64, n int, sd float64) CameraSpec {
	spec := CameraSpec{Name: "drawn", Width: cam.Width, Height: cam.Height, Model: cam.Lens.Model, LensHeight: math.NaN()}
	for _, q := range markPlaces[:n] {
		spec.Marks = append(spec.Marks, markAt(cam, Point3{q.X * w, q.Y * h, 0}))
		m := &spec.Marks[len(spec.Marks)-1].Pixel
		m.X += sd * rng.NormFloat64()
		m.Y += sd * rng.NormFloat64()
	}
	return spec
}

func markAt(cam *Camera, p Point3) Mark {
	px, _ := cam.Project(p)
	return Mark{Floor: p, Pixel: px}
}

// floorError is how far from p, in metres, solved puts what truth shows of it.
func floorError(truth, solved *Camera, p Point3) float64 {
	px, _ := truth.Project(p)
	f, ok := solved.Floor(px, p.Z)
	if !ok {
		return math.Inf(1)
	}
	return f.Dist(Point2{p.X, p.Y})
}

// floorRMS over a grid between the marks, at height z, and at the corners.
func floorRMS(truth, solved *Camera, w, h, z float64) (inside, corners float64) {
	n := 0.0
	for a := 0.08; a < 0.93; a += 0.12 {
		for b := 0.08; b < 0.93; b += 0.12 {
			e := floorError(truth, solved, Point3{a * w, b * h, z})
			inside += e * e
			n++
		}
	}
	for _, q := range []Point2{{.03, .03}, {.97, .03}, {.97, .97}, {.03, .97}} {
		e := floorError(truth, solved, Point3{q.X * w, q.Y * h, z})
		corners += e * e / 4
	}
	return math.Sqrt(inside / n), math.Sqrt(corners)
}
