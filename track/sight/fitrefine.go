package sight

import (
	"math"

	"swathe/geom"
)

// refineHalf is how far a refinement looks along each normal, in samples.
const refineHalf = 8

// leastOutline is the share of an outline that must show for a place: of less of one that is
// not round the heading is anybody's guess.
const leastOutline = 0.3

// refine solves for the sub-pixel place by iterated least squares over the
// distances of the edges from the outline, with a bisquare weight.
func (f *Fitter) refine(i, b *Plane, fit Fit) (Fit, bool) {
	n := 2*refineHalf + 1
	reach := 2.5
	var visible int
	for round := 0; round < 4; round++ {
		z := f.Floor(geom.Point2{X: fit.Pose.X, Y: fit.Pose.Y})
		var ok bool
		if visible, ok = f.lay(i, b, fit, z, f.Rays, refineHalf); !ok {
			return fit, false
		}
		corners := 0
		for k := range f.outl.Points[:f.base] {
			if f.outl.Points[k].Corner {
				corners++
			}
		}
		fit.Visible = float64(visible) / float64(f.base-corners)
		if fit.Visible < leastOutline {
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

// lay lays the outline of a robot at a fit, on a floor of height z, into the picture
// and samples it along so many rays, half samples to either side; ok is false where it
// does not show.
func (f *Fitter) lay(i, b *Plane, fit Fit, z float64, rays, half int) (visible int, ok bool) {
	if !f.outl.SetSilhouette(f.Cam, f.Robot, fit.Pose, z, rays) {
		return 0, false
	}
	f.addUpper(fit.Pose, z)
	return f.sample(i, b, fit.Gain, half), true
}

// edges returns where the edge lies that belongs to each point of the outline of a
// robot at a fit, as refine would find it, and how far off the outline, px.
func (f *Fitter) edges(i, b *Plane, fit Fit, z float64) (px []geom.Point2, off []float64) {
	if _, ok := f.lay(i, b, fit, z, f.Rays, refineHalf); !ok {
		return nil, nil
	}
	f.peaks(2*refineHalf+1, 2.5)
	for k, r := range f.rays {
		if r.w != 0 && r.s != 0 {
			q := &f.outl.Points[k]
			px, off = append(px, f.warp(q.Px).Add(q.Normal.Scale(r.e))), append(off, r.e)
		}
	}
	return px, off
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
	var n geom.Normal // x, y, heading
	scale := reach
	for pass := 0; pass < 3; pass++ {
		n = geom.Normal{}
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
			jh := 0.0
			if turn {
				jh = r.jh
			}
			n.Add(w, r.jx, r.jy, jh, e)
			sw += w
			swe += w * e * e
		}
		if sw < 4 {
			return d, false
		}
		step, settled := n.Solve()
		if settled == 0 {
			return d, false
		}
		for i := range d {
			d[i] += step[i]
		}
		rms := math.Sqrt(swe / sw)
		scale = math.Max(0.75, math.Min(reach, 4*rms))
	}
	return d, f.quality(fit, d, &n, visible)
}

// quality fills support, scatter and covariance after a solution d.
func (f *Fitter) quality(fit *Fit, d [3]float64, n *geom.Normal, visible int) bool {
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
	inv, ok := geom.Inverse2([3]float64{n.H[0], n.H[1], n.H[2]})
	if !ok {
		return false
	}
	// Neighbouring rays see the same pixels: some two pixels of outline make
	// one independent look. 0.1 px stands for what the scatter cannot show.
	v := fit.RMS*fit.RMS*2 + 0.01
	fit.Cov = [3]float64{v * inv[0], v * inv[1], v * inv[2]}
	fit.Turn = 0
	if !f.Robot.Round() {
		fit.Turn = math.Pi
		if _, h, ok := n.Variances(); ok {
			fit.Turn = math.Min(math.Pi, math.Sqrt(v*h))
		}
	}
	return true
}
