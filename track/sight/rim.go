package sight

// rimLook is what the robot looks like just inside its outline: how often each
// grey level occurs there, of top and side, learned from fits that are beyond
// doubt. A shadow's edge, or a line on the top, can make as good an outline as
// the robot's own; but inside the one lies floor, and beyond the other robot.
type rimLook struct {
	n    float64
	hist [rimBins]float64
	like [rimBins]bool // levels that are the robot's
}

const (
	rimBins = 32
	// rimKnown is how many rays' looks are needed before they are believed.
	rimKnown = 600
	// rimMemory is how many are remembered: the light changes over the hours.
	rimMemory = 40000
	// rimRare is the share of all rays below which a level is not the robot's.
	rimRare = 0.012
)

// Of the five samples of a profile about an edge, the inner two lie one pixel
// and less inside it, the outer two outside.

// strayInside is how much an edge counts that has something else than the
// robot inside it, and robotOutside how much one with the robot on both sides.
const (
	strayInside  = 0.2
	robotOutside = 0.5
)

// trust is how much an edge between samples v[0] (inside) and v[4] (outside)
// may be the robot's, by its look on both sides; inv is 1 over the gain. Beside
// the upper rim of a body that shows its side lies robot.
func (r *rimLook) trust(v []float32, inv float32, upper bool) float32 {
	if r.n < rimKnown {
		return 1
	}
	switch {
	case !r.like[rimBin(v[0]*inv)]:
		return strayInside
	case !upper && r.like[rimBin(v[4]*inv)]:
		return robotOutside
	}
	return 1
}

func rimBin(v float32) int { return max(0, min(rimBins-1, int(v)*rimBins/256)) }

// rimShare is the share of the visible rays that look like the robot inside, be
// it inside the outline or, where the side lies in shadow, inside the upper rim.
func (f *Fitter) rimShare() float64 {
	if f.rim.n < rimKnown {
		return 1
	}
	in, all := 0.0, 0.0
	for k := range f.rays[:f.base] {
		if f.rays[k].w == 0 {
			continue
		}
		all++
		if f.rim.like[rimBin(f.rays[k].in)] {
			in++
		}
	}
	for j, k := range f.twins {
		u, r := &f.rays[f.base+j], &f.rays[k]
		if u.on && r.w > 0 && f.rim.like[rimBin(u.in)] && !f.rim.like[rimBin(r.in)] {
			in++
		}
	}
	if all == 0 {
		return 0
	}
	return in / all
}

// LearnRim takes the look of a fit that is beyond doubt into what the robot is
// known to look like. It wants fits from different places: in one, part of the
// side shows, and by one light.
func (f *Fitter) LearnRim(i, b *Plane, fit Fit, floor float64) {
	if !f.outl.SetSilhouette(f.Cam, f.Robot, fit.Pose, floor, f.Rays) {
		return
	}
	f.base = len(f.outl.Points)
	f.sample(i, b, fit.Gain, refineHalf)
	for k := range f.rays {
		if f.rays[k].w > 0 {
			f.rim.hist[rimBin(f.rays[k].in)]++
			f.rim.n++
		}
	}
	if f.rim.n > rimMemory {
		for k := range f.rim.hist {
			f.rim.hist[k] /= 2
		}
		f.rim.n /= 2
	}
	for k := range f.rim.hist {
		v := 2 * f.rim.hist[k]
		if k > 0 {
			v += f.rim.hist[k-1]
		}
		if k+1 < rimBins {
			v += f.rim.hist[k+1]
		}
		f.rim.like[k] = v/4 > rimRare*f.rim.n
	}
}
