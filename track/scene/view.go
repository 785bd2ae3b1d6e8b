package scene

import (
	"image"
	"math"
	"runtime"
	"sync"

	"swathe/geom"
)

// view is a camera with a table of where each pixel's corners lie on the
// floor. A ray is named by its floor point (fx, fy): at height z it is at
// c + (f - c)(1 - z/h), c the lens and h its height, so a hit is compared by
// its height: along a ray that comes down, the higher one is the nearer.
type view struct {
	cam       *geom.Camera
	w, h      int
	cx, cy, H float64
	// Floor points at pixel corners, (w+1)*(h+1), corner (i, j) at pixel
	// (i-0.5, j-0.5); NaN where the ray meets no floor.
	fx, fy []float32
}

// farthest is how far from the lens a floor point may lie, in lens heights,
// to be drawn: beyond it a pixel is worth a tenth of a metre and more.
const farthest = 12

func newView(cam *geom.Camera) *view {
	v := &view{cam: cam, w: cam.Width, h: cam.Height, cx: cam.Centre.X, cy: cam.Centre.Y, H: cam.Centre.Z}
	n := (v.w + 1) * (v.h + 1)
	v.fx, v.fy = make([]float32, n), make([]float32, n)
	nan := float32(math.NaN())
	parallel(v.h+1, func(j int) {
		for i := 0; i <= v.w; i++ {
			k := j*(v.w+1) + i
			p, ok := cam.Floor(geom.Point2{X: float64(i) - 0.5, Y: float64(j) - 0.5}, 0)
			if !ok || hypot(p.X-v.cx, p.Y-v.cy) > farthest*v.H {
				v.fx[k], v.fy[k] = nan, nan
				continue
			}
			v.fx[k], v.fy[k] = float32(p.X), float32(p.Y)
		}
	})
	return v
}

// cell is one pixel's patch of the table: bilinear in the pixel.
type cell struct {
	x0, y0, xu, yu, xv, yv, xuv, yuv float64
}

// cell returns the patch of pixel (i, j).
func (v *view) cell(i, j int) (c cell, ok bool) {
	k := j*(v.w+1) + i
	a, b, d, e := k, k+1, k+v.w+1, k+v.w+2
	c.x0, c.y0 = float64(v.fx[a]), float64(v.fy[a])
	c.xu, c.yu = float64(v.fx[b])-c.x0, float64(v.fy[b])-c.y0
	c.xv, c.yv = float64(v.fx[d])-c.x0, float64(v.fy[d])-c.y0
	c.xuv, c.yuv = float64(v.fx[e])-c.x0-c.xu-c.xv, float64(v.fy[e])-c.y0-c.yu-c.yv
	return c, !math.IsNaN(c.x0 + c.xu + c.xv + c.xuv)
}

// at returns the floor point at (u, v) of the pixel, 0..1 from its corner;
// values a little outside are extrapolated.
func (c *cell) at(u, v float64) (x, y float64) {
	return c.x0 + u*c.xu + v*(c.xv+u*c.xuv), c.y0 + u*c.yu + v*(c.yv+u*c.yuv)
}

// middle returns the floor point at the middle of pixel (i, j).
func (v *view) middle(i, j int) (x, y float64) {
	k := j*(v.w+1) + i
	a, b := k, k+v.w+2
	return float64(v.fx[a]+v.fx[b]) / 2, float64(v.fy[a]+v.fy[b]) / 2
}

// size returns what the pixel is worth on the floor, m, along its longer side.
func (c *cell) size() float64 {
	return math.Sqrt(max(c.xu*c.xu+c.yu*c.yu, c.xv*c.xv+c.yv*c.yv))
}

// drum is an upright cylinder of radius r about (x, y) from z0 to z1, m.
type drum struct{ x, y, r, z0, z1 float64 }

// box returns the pixels that show the hull of the drums, with a margin in
// pixels; empty if none shows. Where only a part projects, the whole picture.
func (v *view) box(margin float64, drums ...drum) image.Rectangle {
	const n = 24
	lo, hi := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	some, all := false, true
	for _, d := range drums {
		// The corners of a regular polygon about the circle lie outside of it.
		r := d.r / math.Cos(math.Pi/n)
		for k := 0; k < 2*n; k++ {
			z := d.z0
			if k%2 == 1 {
				if z = min(d.z1, v.H-0.02); z <= d.z0 {
					continue
				}
			}
			p, ok := v.cam.Project(geom.Point3{X: d.x + r*circle[k/2].X, Y: d.y + r*circle[k/2].Y, Z: z})
			if !ok {
				all = false
				continue
			}
			some = true
			lo.X, lo.Y = min(lo.X, p.X), min(lo.Y, p.Y)
			hi.X, hi.Y = max(hi.X, p.X), max(hi.Y, p.Y)
		}
	}
	whole := image.Rect(0, 0, v.w, v.h)
	if !some {
		return image.Rectangle{}
	}
	if !all {
		return whole
	}
	// Clamp before the conversion: far outside it would overflow.
	big := func(x float64) int { return int(clamp(x, -1e6, 1e6)) }
	return image.Rect(big(math.Floor(lo.X-margin)), big(math.Floor(lo.Y-margin)),
		big(math.Ceil(hi.X+margin))+1, big(math.Ceil(hi.Y+margin))+1).Intersect(whole)
}

// circle holds 24 points of the unit circle.
var circle = func() (c [24]geom.Point2) {
	for k := range c {
		c[k].Y, c[k].X = math.Sincos(2 * math.Pi * float64(k) / 24)
	}
	return
}()

// parallel calls f(0..n-1) from as many goroutines as there are cores.
func parallel(n int, f func(i int)) {
	workers := runtime.GOMAXPROCS(0)
	var wg sync.WaitGroup
	for w := 0; w < workers; w++ {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := w; i < n; i += workers {
				f(i)
			}
		}()
	}
	wg.Wait()
}

// pattern is where in a pixel the rays of a sample go: a rank-1 lattice, so
// that each of n rays has its own column and its own row and an edge along
// either axis is placed to half a ray's share, 1/(2n) px.
type pattern struct{ u, v []float64 }

// newPattern returns n rays spread over the pixel, widened by a Gaussian blur
// of the given standard deviation, px.
func newPattern(n int, blur float64) pattern {
	p := pattern{make([]float64, n), make([]float64, n)}
	// Down the pixel the golden ratio's multiples, which fill evenly for any n;
	// for the blur's radius and angle the powers of the plastic number (Roberts
	// 2018, "The unreasonable effectiveness of quasirandom sequences").
	const golden, g = 0.6180339887498949, 1.32471795724474602596
	for i := range n {
		f := float64(i)
		p.u[i] = (f + 0.5) / float64(n)
		p.v[i] = frac(0.5 + f*golden)
		if blur > 0 {
			r := blur * math.Sqrt(-2*math.Log(1-frac(0.5+f/g)*0.995))
			s, c := math.Sincos(2 * math.Pi * frac(0.25+f/(g*g)))
			p.u[i] += r * c
			p.v[i] += r * s
		}
	}
	// Centre it exactly: the pattern's mean is where the pixel looks.
	mu, mv := 0.0, 0.0
	for i := range n {
		mu += p.u[i] / float64(n)
		mv += p.v[i] / float64(n)
	}
	for i := range n {
		p.u[i] += 0.5 - mu
		p.v[i] += 0.5 - mv
	}
	return p
}
