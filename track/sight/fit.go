package sight

import (
	"cmp"
	"math"
	"slices"

	"swathe/geom"
)

// Fit is where the outline sits best.
type Fit struct {
	Pose    geom.Pose
	Cov     [3]float64 // var x, cov xy, var y, m^2, from the scatter along the outline
	Turn    float64    // rad, standard uncertainty of the heading likewise; 0 for a round robot
	Visible float64    // share of the outline that nothing known hides
	Support float64    // share of the visible outline where an edge sits on it
	Edges   float64    // edges found over the visible outline: more than Support where base and upper rim both show
	RMS     float64    // px, of those edges about the outline
	Edge    float64    // grey levels per pixel, median strength of those edges
	Rim     float64    // share of the visible outline inside of which it looks like the robot; 1 until that is known
	Gain    float64    // this frame's light over the background's, round the robot
}

// profile limits, in samples of half a pixel.
const (
	raySpacing = 0.5 // px between the samples of a profile
	minEdge    = 1.2 // grey levels per pixel: below this an edge is noise
)

// Fitter fits the outline of one robot in the pictures of one camera. It holds
// buffers and is for one goroutine.
type Fitter struct {
	Cam    *geom.Camera
	Robot  geom.Robot
	Floor  func(geom.Point2) float64     // height of the floor there, m
	Hidden func(geom.Point3) bool        // hidden from the lens by something known
	Warp   func(geom.Point2) geom.Point2 // from where a thing shows by Cam to where it shows in this picture; nil: the same
	Expect float64                       // m, how well a guess is known; 0: not at all
	rim    rimLook
	outl   geom.Outline
	prof   []float32 // |edge| by ray and offset
	mean   []float32 // the mean of the two, for the sub-pixel place
	rays   []ray
	gains  []float64
	live   []int  // rays that show
	best   []spot // of the last search
	places []spot
	base   int       // rays of the outline itself; behind them those of addUpper
	twins  []int     // for each of the latter the ray of the outline beside it
	gap    []float64 // by ray, px to the other edge; 0: there is none
	slack  []float64 // by ray, px; see leastGap
	near   []float32 // see soft
	wide   []float32
	Rays   int
}

type ray struct {
	in         float32 // grey level just inside the outline, in the background's light
	jx, jy, jh float64 // movement along the normal per metre of x, y and per radian
	w          float64
	e, s       float64 // offset of the edge, its strength
	on         bool    // the edge lies on the outline
}

// NewFitter returns a Fitter for a robot before a camera (scaled to the pictures).
func NewFitter(cam *geom.Camera, robot geom.Robot, floor func(geom.Point2) float64, hidden func(geom.Point3) bool) *Fitter {
	return &Fitter{Cam: cam, Robot: robot, Floor: floor, Hidden: hidden, Rays: 112}
}

func (f *Fitter) warp(p geom.Point2) geom.Point2 {
	if f.Warp == nil {
		return p
	}
	return f.Warp(p)
}

// LocalGain returns the light of picture i over background b in a ring round
// the robot, NaN where too little of the ring shows.
func (f *Fitter) LocalGain(i, b *Plane, at geom.Pose) float64 {
	f.gains = f.gains[:0]
	z := f.Floor(geom.Point2{X: at.X, Y: at.Y})
	r := f.Robot.Reach()
	for k := 0; k < 96; k++ {
		s, c := math.Sincos(2 * math.Pi * float64(k) / 96)
		q := r*1.25 + r*0.5*float64(k%3)/2
		px, ok := f.Cam.Project(geom.Point3{X: at.X + q*c, Y: at.Y + q*s, Z: z})
		if !ok {
			continue
		}
		vb, okb := b.At(px.X, px.Y)
		px = f.warp(px)
		vi, oki := i.At(px.X, px.Y)
		if okb && oki && vb > 12 {
			f.gains = append(f.gains, float64(vi)/float64(vb))
		}
	}
	if len(f.gains) < 12 {
		return math.NaN()
	}
	return median(f.gains)
}

// sample fills the profiles of the current outline: the edge in the picture
// and in its difference from the background, whichever is weaker. What lies
// beside the robot has an edge in the picture alone, what lies beneath it in
// the difference alone; only the outline has both. With b nil the picture's
// edges alone count.
func (f *Fitter) sample(i, b *Plane, gain float64, half int) (visible int) {
	n := 2*half + 1
	pts := f.outl.Points
	if cap(f.prof) < n*len(pts) {
		f.prof = make([]float32, n*len(pts))
		f.mean = make([]float32, n*len(pts))
	}
	f.prof, f.mean = f.prof[:n*len(pts)], f.mean[:n*len(pts)]
	f.rays = f.rays[:0]
	var vi, vd [longestProfile]float32
	g := float32(gain)
	inv := 1 / max(g, 0.05)
	for k := range pts {
		p := &pts[k]
		r := ray{
			jx: p.Normal.X*p.Jac[0][0] + p.Normal.Y*p.Jac[1][0],
			jy: p.Normal.X*p.Jac[0][1] + p.Normal.Y*p.Jac[1][1],
			jh: p.Normal.X*p.Jac[0][2] + p.Normal.Y*p.Jac[1][2],
			w:  1,
		}
		if p.Corner || f.Hidden != nil && f.Hidden(p.Source) {
			r.w = 0
			f.rays = append(f.rays, r)
			continue
		}
		ok := f.along(litPair{i, b, g}, p.Px, p.Normal, half+2, vi[:n+4], vd[:n+4])
		if !ok {
			r.w = 0
			f.rays = append(f.rays, r)
			continue
		}
		if k < f.base {
			visible++
		}
		r.in = (vi[half-1] + vi[half]) / 2 * inv
		row, srow := f.prof[k*n:(k+1)*n], f.mean[k*n:(k+1)*n]
		for j := 0; j < n; j++ {
			// Derivative over two pixels, smoothed: grey levels per pixel.
			v := vi[j : j+5 : j+5]
			di := (2*(v[4]-v[0]) + (v[3] - v[1])) * (1.0 / (2*2 + 1))
			dd := di
			if b != nil {
				d := vd[j : j+5 : j+5]
				dd = (2*(d[4]-d[0]) + (d[3] - d[1])) * (1.0 / (2*2 + 1))
			}
			if di*dd <= 0 { // not the same edge
				row[j], srow[j] = 0, 0
				continue
			}
			m, a := di, dd
			if m < 0 {
				m, a = -m, -a
			}
			s := (m + a) / 2
			if a < m {
				m = a
			}
			if m >= minEdge { // else it counts for nothing anyway
				m *= f.rim.trust(v, inv, k >= f.base)
			}
			row[j], srow[j] = m, s
		}
		f.rays = append(f.rays, r)
	}
	return visible
}

// At fits the outline near a guess: the picture's luminance i before the
// background b (nil: none), looking reach px around. ok is false where less
// than a third of the outline can show or no place has edges.
func (f *Fitter) At(i, b *Plane, guess geom.Pose, reach float64) (fit Fit, ok bool) {
	fit = Fit{Pose: guess, Gain: 1}
	f.light(i, b, &fit)
	z, mpp, ok := f.scale(guess)
	if !ok {
		return fit, false
	}
	if reach > 0 {
		// Where it was expected, most often, and well: no need to search.
		first, good := f.refine(i, b, fit)
		if good && first.Support > 0.9 && first.RMS < 0.3 {
			return first, true
		}
		if !f.lookRound(i, b, fit, reach, z, mpp) {
			return fit, false
		}
		best, ok := f.bestOf(i, b, fit, mpp)
		if good && (!ok || f.worth(first, guess) > f.worth(best, guess)) {
			return first, true
		}
		return best, ok
	}
	return f.refine(i, b, fit)
}

// light takes the light round a fit from the picture, where enough of it shows.
func (f *Fitter) light(i, b *Plane, fit *Fit) {
	if b == nil {
		return
	}
	if g := f.LocalGain(i, b, fit.Pose); !math.IsNaN(g) {
		fit.Gain = g
	}
}

// scale is the height of the floor at a pose, m, and the metres that a pixel of
// the robot's top is wide there; ok is false where it cannot be seen.
func (f *Fitter) scale(at geom.Pose) (z, mpp float64, ok bool) {
	z = f.Floor(geom.Point2{X: at.X, Y: at.Y})
	mpp = f.Cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: z + f.Robot.Height})
	return z, mpp, mpp > 0 && mpp <= 0.1
}

// lookRound fills f.best with the places within reach px of a fit where the
// outline has edges; false where too little of it can show.
func (f *Fitter) lookRound(i, b *Plane, fit Fit, reach, z, mpp float64) bool {
	half := min(120, int(math.Ceil(reach/raySpacing))+6)
	vis, ok := f.lay(i, b, fit, z, f.Rays/2, half)
	if !ok || float64(vis) < 0.2*float64(f.base) {
		return false
	}
	f.search(half, reach, mpp)
	return true
}

// All fits the outline at every place within reach px of a guess where it has
// edges, in no order.
func (f *Fitter) All(i, b *Plane, guess geom.Pose, reach float64) (fits []Fit) {
	start := Fit{Pose: guess, Gain: 1}
	f.light(i, b, &start)
	if fit, good := f.refine(i, b, start); good {
		fits = append(fits, fit)
	}
	z, mpp, ok := f.scale(guess)
	if !ok || !f.lookRound(i, b, start, reach, z, mpp) {
		return fits
	}
	for _, c := range f.best {
		if fit, good := f.refine(i, b, c.moved(start, mpp)); good {
			fits = append(fits, fit)
		}
	}
	return fits
}

// AllTurned is All for a robot of unknown heading: the places at which the outline of
// one that is not round has most edges, in whatever heading.
func (f *Fitter) AllTurned(i, b *Plane, guess geom.Pose, reach float64) (fits []Fit) {
	if f.Robot.Round() {
		return f.All(i, b, guess, reach)
	}
	z, mpp, ok := f.scale(guess)
	if !ok {
		return nil
	}
	type way struct {
		from Fit
		spot
	}
	var ways []way
	start := Fit{Pose: guess, Gain: 1}
	f.light(i, b, &start)
	for k := range headingSteps {
		start.Pose.Heading = guess.Heading + 2*math.Pi*float64(k)/headingSteps
		if f.lookRound(i, b, start, reach, z, mpp) {
			for _, c := range f.best {
				ways = append(ways, way{start, c})
			}
		}
	}
	slices.SortStableFunc(ways, func(a, b way) int { return cmp.Compare(b.s, a.s) })
	for _, w := range ways[:min(len(ways), mostWays)] {
		if fit, good := f.refine(i, b, w.moved(w.from, mpp)); good {
			fits = append(fits, fit)
		}
	}
	return fits
}

// mostWays is how many places and headings of a robot of unknown heading are fitted.
const mostWays = 8

// headingSteps is how many headings of a robot that is not round are tried
// where nothing is known of its heading.
const headingSteps = 18

// Turned is At for a robot of unknown heading: one that is not round is fitted
// in every heading, from the guess's on, and the best is kept.
func (f *Fitter) Turned(i, b *Plane, at geom.Pose, reach float64) (best Fit, ok bool) {
	if f.Robot.Round() {
		return f.At(i, b, at, reach)
	}
	q, first := -1.0, at.Heading
	try := func(heading float64) {
		at.Heading = heading
		fit, good := f.At(i, b, at, reach)
		if good && fit.Quality() > q {
			best, q, ok = fit, fit.Quality(), true
		}
	}
	const step = 2 * math.Pi / headingSteps
	for k := 0; k < headingSteps; k++ {
		try(first + step*float64(k))
	}
	if ok { // between the steps
		near := best.Pose.Heading
		try(near - step/2)
		try(near + step/2)
	}
	return best, ok
}

// rivals is how many places of a search are fitted, and nearlyAsGood how much
// of the best score a place must have for that.
const (
	rivals       = 3
	nearlyAsGood = 0.7
)

// bestOf fits the best places of a search and keeps the one that sits best: a
// shadow and the lines on a robot's top make an outline too, but a worse one.
func (f *Fitter) bestOf(i, b *Plane, start Fit, mpp float64) (best Fit, ok bool) {
	places := append(f.places[:0], f.best...)
	f.places = places
	best = start
	q := -1.0
	tried := 0
	for k, c := range places {
		if tried == rivals || k > 0 && c.s < nearlyAsGood*places[0].s {
			break
		}
		near := false
		for _, o := range places[:k] {
			near = near || abs(o.a-c.a) <= 2 && abs(o.b-c.b) <= 2
		}
		if near {
			continue
		}
		tried++
		fit := c.moved(start, mpp)
		if abs(c.a)+abs(c.b) > 2 {
			f.light(i, b, &fit)
		}
		fit, good := f.refine(i, b, fit)
		if !good {
			continue
		}
		if v := f.worth(fit, start.Pose); v > q {
			best, q, ok = fit, v, true
		}
		if k == 0 && fit.Support > 0.9 && fit.RMS < 0.25 {
			break
		}
	}
	return best, ok
}

// worth is the quality of a fit, less the farther it lies from where a tracked
// robot was expected. A leap must be worth nearly three times as much as going
// on: a wrong place never is for long, and the right one is in time.
func (f *Fitter) worth(fit Fit, expected geom.Pose) float64 {
	if f.Expect <= 0 {
		return fit.Quality()
	}
	d := math.Hypot(fit.Pose.X-expected.X, fit.Pose.Y-expected.Y) / f.Expect
	return fit.Quality() * (0.35 + 0.65*math.Exp(-d*d/2))
}

// Quality orders fits of one picture: the square of the share of the outline
// that has an edge, less the worse these lie on it. Edges strewn by chance lie 0.58 px off.
// What lies inside must look like the robot: inside a shadow's edge is floor.
func (f Fit) Quality() float64 {
	return f.Visible * f.Support * f.Support * f.Rim * f.Rim * math.Exp(-f.RMS*f.RMS/0.12)
}
