package sight

import (
	"math"
	"slices"

	"swathe/geom"
)

// Fit is where the outline sits best.
type Fit struct {
	Pose    geom.Pose
	Cov     [3]float64 // var x, cov xy, var y, m^2, from the scatter along the outline
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
	var vi, vd [256]float32
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
		ok := true
		for j := -2; j < n+2; j++ {
			s := float64(j-half) * raySpacing
			q := geom.Point2{X: p.Px.X + s*p.Normal.X, Y: p.Px.Y + s*p.Normal.Y}
			var bv float32
			okb := true
			if b != nil {
				bv, okb = b.At(q.X, q.Y)
			}
			q = f.warp(q)
			iv, oki := i.At(q.X, q.Y)
			if !okb || !oki {
				ok = false
				break
			}
			vi[j+2], vd[j+2] = iv, iv-g*bv
		}
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
			di := (2*(vi[j+4]-vi[j]) + (vi[j+3] - vi[j+1])) * (1.0 / (2*2 + 1))
			dd := (2*(vd[j+4]-vd[j]) + (vd[j+3] - vd[j+1])) * (1.0 / (2*2 + 1))
			if b == nil {
				dd = di
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
			row[j], srow[j] = m*f.rim.trust(vi[j:j+5], inv, k >= f.base), s
		}
		f.rays = append(f.rays, r)
	}
	return visible
}

// softness is the edge strength (grey levels per pixel) that counts half: a
// strong edge on one side must not outvote weak ones all round.
const softness = 4

// search moves the outline to where most of it lies on edges, within reach px
// of where it is: every second pixel first, then the pixels round the best. It
// leaves the best places, best first, in f.best.
func (f *Fitter) search(half int, reach float64, mpp float64) {
	n := 2*half + 1
	f.live = f.live[:0]
	for k := range f.rays {
		if f.rays[k].w > 0 {
			f.live = append(f.live, k)
		}
	}
	live := f.live
	// How much each sample counts, and the best within a pixel of it.
	f.soft(n)
	at := func(a, b int, wide []float32) float64 {
		mx, my := float64(a)*mpp/raySpacing, float64(b)*mpp/raySpacing
		var sum float32
		for _, k := range live {
			r := &f.rays[k]
			i := half + int(r.jx*mx+r.jy*my+1000.5) - 1000
			if i >= 0 && i < n {
				sum += wide[k*n+i]
			}
		}
		// Of equal places the nearer one.
		return float64(sum) - 0.02*math.Hypot(float64(a), float64(b))
	}
	// The best few of every second pixel, and the guess itself; which of them
	// is right shows only at full sharpness.
	steps := int(math.Ceil(reach))
	var top [topPlaces]spot
	for i := range top {
		top[i].s = math.Inf(-1)
	}
	for a := -steps; a <= steps; a += 2 {
		for b := -steps; b <= steps; b += 2 {
			if a*a+b*b <= steps*steps {
				keep(&top, spot{a, b, at(a, b, f.wide)})
			}
		}
	}
	f.best = f.best[:0]
	for _, c := range append(top[:], spot{}) {
		if math.IsInf(c.s, -1) {
			continue
		}
		best := spot{s: math.Inf(-1)}
		for a := c.a - 1; a <= c.a+1; a++ {
			for b := c.b - 1; b <= c.b+1; b++ {
				if s := at(a, b, f.near); s > best.s {
					best = spot{a, b, s}
				}
			}
		}
		f.best = append(f.best, best)
	}
	slices.SortFunc(f.best, func(a, b spot) int {
		switch {
		case a.s > b.s:
			return -1
		case a.s < b.s:
			return 1
		}
		return 0
	})
}

// topPlaces is how many places of the coarse search are looked at again.
const topPlaces = 6

// spot is a move of the outline in pixels and its score.
type spot struct {
	a, b int
	s    float64
}

// keep takes a spot into the best few: at most one of those that touch.
func keep(top *[topPlaces]spot, c spot) {
	worst := 0
	for i := range top {
		t := &top[i]
		if !math.IsInf(t.s, -1) && abs(t.a-c.a) <= 2 && abs(t.b-c.b) <= 2 {
			if c.s > t.s {
				*t = c
			}
			return
		}
		if t.s < top[worst].s {
			worst = i
		}
	}
	if c.s > top[worst].s {
		top[worst] = c
	}
}

// soft fills near and wide: how much an edge at each sample counts (0..1), the
// best within half a pixel and within one and a half.
func (f *Fitter) soft(n int) {
	if cap(f.near) < len(f.prof) {
		f.near, f.wide = make([]float32, len(f.prof)), make([]float32, len(f.prof))
	}
	f.near, f.wide = f.near[:len(f.prof)], f.wide[:len(f.prof)]
	for _, k := range f.live {
		row, near, wide := f.prof[k*n:(k+1)*n], f.near[k*n:(k+1)*n], f.wide[k*n:(k+1)*n]
		for j, v := range row {
			if j > 0 {
				v = max(v, row[j-1])
			}
			if j+1 < n {
				v = max(v, row[j+1])
			}
			if v <= minEdge {
				near[j] = 0
			} else {
				near[j] = v / (v + softness)
			}
		}
		for j := range wide {
			wide[j] = max(near[max(0, j-2)], near[j], near[min(n-1, j+2)])
		}
	}
}

// At fits the outline near a guess: the picture's luminance i before the
// background b (nil: none), looking reach px around. ok is false where less
// than a third of the outline can show or no place has edges.
func (f *Fitter) At(i, b *Plane, guess geom.Pose, reach float64) (fit Fit, ok bool) {
	fit.Pose = guess
	fit.Gain = 1
	if b != nil {
		if g := f.LocalGain(i, b, guess); !math.IsNaN(g) {
			fit.Gain = g
		}
	}
	z := f.Floor(geom.Point2{X: guess.X, Y: guess.Y})
	mpp := f.Cam.PixelSize(geom.Point3{X: guess.X, Y: guess.Y, Z: z + f.Robot.Height})
	if math.IsNaN(mpp) || mpp <= 0 || mpp > 0.1 {
		return fit, false
	}
	if reach > 0 {
		// Where it was expected, most often, and well: no need to search.
		first, good := f.refine(i, b, fit)
		if good && first.Support > 0.9 && first.RMS < 0.3 {
			return first, true
		}
		half := int(math.Ceil(reach/raySpacing)) + 6
		half = min(half, 120)
		if !f.outl.SetSilhouette(f.Cam, f.Robot, fit.Pose, z, f.Rays/2) {
			return fit, false
		}
		f.addUpper(fit.Pose, z)
		vis := f.sample(i, b, fit.Gain, half)
		if float64(vis) < 0.2*float64(f.base) {
			return fit, false
		}
		f.search(half, reach, mpp)
		best, ok := f.bestOf(i, b, fit, mpp)
		if good && (!ok || f.worth(first, guess) > f.worth(best, guess)) {
			return first, true
		}
		return best, ok
	}
	return f.refine(i, b, fit)
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
		fit := start
		fit.Pose.X += float64(c.a) * mpp
		fit.Pose.Y += float64(c.b) * mpp
		if b != nil && abs(c.a)+abs(c.b) > 2 {
			if g := f.LocalGain(i, b, fit.Pose); !math.IsNaN(g) {
				fit.Gain = g
			}
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

// refineHalf is how far a refinement looks along each normal, in samples.
const refineHalf = 8

// refine solves for the sub-pixel place by iterated least squares over the
// distances of the edges from the outline, with a bisquare weight.
func (f *Fitter) refine(i, b *Plane, fit Fit) (Fit, bool) {
	n := 2*refineHalf + 1
	reach := 2.5
	var visible int
	for round := 0; round < 4; round++ {
		z := f.Floor(geom.Point2{X: fit.Pose.X, Y: fit.Pose.Y})
		if !f.outl.SetSilhouette(f.Cam, f.Robot, fit.Pose, z, f.Rays) {
			return fit, false
		}
		f.addUpper(fit.Pose, z)
		visible = f.sample(i, b, fit.Gain, refineHalf)
		corners := 0
		for k := range f.outl.Points[:f.base] {
			if f.outl.Points[k].Corner {
				corners++
			}
		}
		fit.Visible = float64(visible) / float64(f.base-corners)
		if fit.Visible < 0.25 {
			return fit, false
		}
		f.peaks(n, reach)
		d, ok := f.solve(&fit, reach, visible)
		if !ok {
			return fit, false
		}
		fit.Pose.X += d[0]
		fit.Pose.Y += d[1]
		fit.Pose.Heading += d[2]
		if reach > 1.5 {
			reach -= 0.5
		}
		if round > 0 && math.Hypot(d[0], d[1]) < 2e-5 {
			break
		}
	}
	return fit, true
}

// peaks finds on each ray the edge nearest the outline: the strongest within
// reach px, nearer ones preferred.
func (f *Fitter) peaks(n int, reach float64) {
	for k := range f.rays {
		r := &f.rays[k]
		r.s = 0
		if r.w == 0 {
			continue
		}
		row := f.prof[k*n : (k+1)*n]
		best := float32(0)
		at := -1
		lo, hi := f.within(k, reach)
		for j := 1; j < n-1; j++ {
			s := float64(j-refineHalf) * raySpacing
			if s < lo || s > hi {
				continue
			}
			v := row[j]
			if v < minEdge || v < row[j-1] || v < row[j+1] {
				continue
			}
			v = v / (v + softness) * float32(1-0.5*math.Abs(s)/reach)
			if v > best {
				best, at = v, j
			}
		}
		if at < 0 {
			continue
		}
		// The parabola through the three samples of the edge at its top.
		srow := f.mean[k*n : (k+1)*n]
		a, b, c := float64(srow[at-1]), float64(srow[at]), float64(srow[at+1])
		off := 0.0
		if den := a - 2*b + c; den < 0 {
			off = 0.5 * (a - c) / den
			off = math.Max(-0.75, math.Min(0.75, off))
		}
		r.e = (float64(at-refineHalf) + off) * raySpacing
		r.s = float64(row[at])
	}
}

// solve moves the pose by weighted least squares and fills the fit's quality.
func (f *Fitter) solve(fit *Fit, reach float64, visible int) (d [3]float64, ok bool) {
	turn := !f.Robot.Round()
	var h [6]float64 // xx xy yy xh yh hh
	scale := reach
	for pass := 0; pass < 3; pass++ {
		h = [6]float64{}
		var g [3]float64
		var sw, swe float64
		for k := range f.rays {
			r := &f.rays[k]
			if r.w == 0 || r.s == 0 {
				continue
			}
			e, share := f.off(k, d)
			if math.Abs(e) >= scale {
				continue
			}
			u := e / scale
			w := (1 - u*u) * (1 - u*u) * r.s / (r.s + softness) * share
			h[0] += w * r.jx * r.jx
			h[1] += w * r.jx * r.jy
			h[2] += w * r.jy * r.jy
			g[0] += w * r.jx * e
			g[1] += w * r.jy * e
			if turn {
				h[3] += w * r.jx * r.jh
				h[4] += w * r.jy * r.jh
				h[5] += w * r.jh * r.jh
				g[2] += w * r.jh * e
			}
			sw += w
			swe += w * e * e
		}
		if sw < 4 {
			return d, false
		}
		step, good := solveNormal(h, g, turn)
		if !good {
			return d, false
		}
		for i := range d {
			d[i] += step[i]
		}
		rms := math.Sqrt(swe / sw)
		scale = math.Max(0.75, math.Min(reach, 4*rms))
	}
	return d, f.quality(fit, d, h, visible)
}

// quality fills support, scatter and covariance after a solution d.
func (f *Fitter) quality(fit *Fit, d [3]float64, h [6]float64, visible int) bool {
	var on, stand, se float64
	f.gains = f.gains[:0]
	for k := range f.rays {
		r := &f.rays[k]
		r.on = false
		if r.w == 0 || r.s == 0 {
			continue
		}
		e, _ := f.off(k, d)
		if math.Abs(e) > 1 {
			continue
		}
		r.on = true
		on++
		se += e * e
		f.gains = append(f.gains, r.s)
		if k < f.base {
			stand++
		} else if t := &f.rays[f.twins[k-f.base]]; t.w > 0 && !t.on {
			stand++
		}
	}
	if on < 4 {
		return false
	}
	fit.Support, fit.Edges = stand/float64(visible), on/float64(visible)
	fit.RMS = math.Sqrt(se / on)
	fit.Edge = median(f.gains)
	fit.Rim = f.rimShare()
	det := h[0]*h[2] - h[1]*h[1]
	if det <= 0 {
		return false
	}
	// Neighbouring rays see the same pixels: some two pixels of outline make
	// one independent look. 0.1 px stands for what the scatter cannot show.
	v := fit.RMS*fit.RMS*2 + 0.01
	fit.Cov = [3]float64{v * h[2] / det, -v * h[1] / det, v * h[0] / det}
	return true
}

// solveNormal solves the 2x2 or 3x3 normal equations.
func solveNormal(h [6]float64, g [3]float64, turn bool) (d [3]float64, ok bool) {
	det := h[0]*h[2] - h[1]*h[1]
	if det <= 1e-9*h[0]*h[2] {
		return d, false
	}
	if !turn || h[5] < 1e-9 {
		d[0] = (h[2]*g[0] - h[1]*g[1]) / det
		d[1] = (h[0]*g[1] - h[1]*g[0]) / det
		return d, true
	}
	// Eliminate x and y.
	ax, ay := (h[2]*h[3]-h[1]*h[4])/det, (h[0]*h[4]-h[1]*h[3])/det
	den := h[5] - ax*h[3] - ay*h[4]
	bx, by := (h[2]*g[0]-h[1]*g[1])/det, (h[0]*g[1]-h[1]*g[0])/det
	if den > 1e-6*h[5] {
		d[2] = (g[2] - h[3]*bx - h[4]*by) / den
	}
	d[0], d[1] = bx-ax*d[2], by-ay*d[2]
	return d, true
}
