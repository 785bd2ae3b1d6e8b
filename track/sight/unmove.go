package sight

import (
	"math"

	"swathe/geom"
)

// negligible is the movement of the whole picture below which nothing is
// corrected, px: what the anchors cannot tell from none.
const negligible = 0.15

// unmove returns plane p as the camera would have shown it before the motion
// w; scale is how many luminance pixels one of its pixels is wide.
func (a *Anchors) unmove(p *Plane, w [3]float64, scale float64, dst Plane) Plane {
	if dst.W != p.W || dst.H != p.H {
		dst = NewPlane(p.W, p.H)
	}
	const step = 16
	nx, ny := p.W/step+2, p.H/step+2
	grid := make([]geom.Point2, nx*ny)
	for j := 0; j < ny; j++ {
		for i := 0; i < nx; i++ {
			q := geom.Point2{X: (float64(i*step)+0.5)*scale - 0.5, Y: (float64(j*step)+0.5)*scale - 0.5}
			m := q
			if x, y, ok := a.cam.Lens.Undistort(q); ok {
				m = a.project(w, [3]float64{x, y, 1})
			}
			grid[j*nx+i] = geom.Point2{X: (m.X+0.5)/scale - 0.5 - float64(i*step), Y: (m.Y+0.5)/scale - 0.5 - float64(j*step)}
		}
	}
	mx, my := float64(p.W)-1.001, float64(p.H)-1.001
	for y := 0; y < p.H; y++ {
		j := y / step
		v := float64(y-j*step) / step
		for x := 0; x < p.W; x++ {
			i := x / step
			u := float64(x-i*step) / step
			g := grid[j*nx+i:]
			h := grid[(j+1)*nx+i:]
			dx := (g[0].X*(1-u)+g[1].X*u)*(1-v) + (h[0].X*(1-u)+h[1].X*u)*v
			dy := (g[0].Y*(1-u)+g[1].Y*u)*(1-v) + (h[0].Y*(1-u)+h[1].Y*u)*v
			s, _ := p.At(math.Max(0, math.Min(mx, float64(x)+dx)), math.Max(0, math.Min(my, float64(y)+dy)))
			dst.Pix[y*dst.Stride+x] = uint8(s + 0.5)
		}
	}
	return dst
}

// coarse guesses a large motion from two small pictures: the shift at which
// their edges differ least, at most a twelfth of the width.
func (a *Anchors) coarse(from, to *Plane, factor int) [3]float64 {
	reach := max(2, from.W/12)
	best := math.Inf(1)
	var bx, by int
	try := func(dx, dy, step int) {
		var s, n float64
		for y := reach + 1; y < from.H-reach-1; y += step {
			for x := reach + 1; x < from.W-reach-1; x += step {
				k := y*from.Stride + x
				m := (y+dy)*to.Stride + x + dx
				// Edges, for the light may have changed as well.
				d := float64((int(from.Pix[k+1]) - int(from.Pix[k-1])) - (int(to.Pix[m+1]) - int(to.Pix[m-1])))
				e := float64((int(from.Pix[k+from.Stride]) - int(from.Pix[k-from.Stride])) - (int(to.Pix[m+to.Stride]) - int(to.Pix[m-to.Stride])))
				s += math.Min(40, math.Abs(d)+math.Abs(e))
				n++
			}
		}
		if n > 0 && s/n < best {
			best, bx, by = s/n, dx, dy
		}
	}
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			try(dx, dy, 3)
		}
	}
	l := a.cam.Lens
	f := float64(factor)
	return [3]float64{-float64(by) * f / l.Fy, float64(bx) * f / l.Fx, 0}
}

// far measures a motion that is too large to be followed from one look to the
// next: from the coarse guess and from places half a small pixel round it, for
// an anchor is found again from a pixel or two off only. small is p at 1/factor,
// ref the background likewise.
func (a *Anchors) far(p, small, ref *Plane, factor int) (best Motion, ok bool) {
	g := a.coarse(ref, small, factor)
	l := a.cam.Lens
	h := float64(factor) / 2
	for _, o := range [][2]float64{{0, 0}, {h, 0}, {-h, 0}, {0, h}, {0, -h}, {h, h}, {-h, h}, {h, -h}, {-h, -h}} {
		m, good := a.Measure(p, [3]float64{g[0] - o[1]/l.Fy, g[1] + o[0]/l.Fx, g[2]})
		if good && m.Anchors > best.Anchors {
			best, ok = m, true
		}
		if ok && 2*best.Anchors > len(a.list) {
			break
		}
	}
	return best, ok
}

// steady brings samples to where the camera was when the reference was taken;
// without one, to where it was in the first third of them, or, if the picture
// swings to and fro, to the middle of its swing. Samples that cannot be brought there are left out. moved is the
// largest movement found, px, infinite if most samples do not fit; flat tells
// whether the picture was shifted rather than the camera turned.
func steady(set *Setup, samples []*Picture, reference *Plane, factor int) (out []*Picture, moved float64, flat bool) {
	from := &samples[0].Y
	if reference != nil {
		from = reference
	}
	a := NewAnchors(set.Cam, from, 2)
	if !a.Enough() {
		return samples, 0, false
	}
	ref := from.Shrink(factor, Plane{})
	w, known, turned := a.follow(samples, &ref, factor)
	// Stabilisation shifts the picture instead of turning the camera: which it
	// is shows in how well the anchors agree.
	a.flat = true
	if v, k, shifted := a.follow(samples, &ref, factor); shifted < 0.9*turned {
		w, known, flat = v, k, true
	}
	a.flat = flat
	var base [3]float64
	if reference == nil {
		base = middleMotion(w[:(len(w)+2)/3], known)
		if flat && !knocked(w, known) { // it swings to and fro: its middle is the middle of all
			base = meanMotion(w, known)
		}
	}
	for i, s := range samples {
		if !known[i] {
			continue
		}
		d := [3]float64{w[i][0] - base[0], w[i][1] - base[1], w[i][2] - base[2]}
		if px := a.edge(d); px > negligible {
			moved = math.Max(moved, px)
			s = &Picture{T: s.T, Y: a.unmove(&s.Y, d, 1, Plane{}), U: a.unmove(&s.U, d, 2, Plane{}), V: a.unmove(&s.V, d, 2, Plane{})}
		}
		out = append(out, s)
	}
	if len(out) < 3 || len(out) < len(samples)/3 {
		return samples, math.Inf(1), flat
	}
	return out, moved, flat
}

// follow measures the motion of all samples; misfit is how far the anchors are
// from agreeing, px, over all of them.
func (a *Anchors) follow(samples []*Picture, ref *Plane, factor int) (w [][3]float64, known []bool, misfit float64) {
	w, known = make([][3]float64, len(samples)), make([]bool, len(samples))
	var guess [3]float64
	for i, s := range samples {
		m, ok := a.Measure(&s.Y, guess)
		if !ok {
			small := s.Y.Shrink(factor, Plane{})
			m, ok = a.far(&s.Y, &small, ref, factor)
		}
		if !ok {
			misfit += 2
			// What the light or the encoder made of it is not the camera's doing.
			if small := s.Y.Shrink(factor, Plane{}); a.edge(guess) < float64(factor)/4 && inPlace(&small, ref) {
				w[i], known[i] = guess, true
			}
			continue
		}
		guess = m.W
		w[i], known[i] = m.W, true
		misfit += m.RMS + 2*float64(m.Seen-m.Anchors)/float64(m.Seen)
	}
	return w, known, misfit + 0.02*float64(len(samples))
}

// knocked tells whether the motions are those of a picture that was moved once
// and stayed, not of one that swings: whether they lie about two places, one
// before and one after some moment. The best such split explains at most
// 8/pi^2 = 0.81 of the variance of a swing (one whole sine, split at its middle),
// 0.75 of that of a steady drift, and all of a knock's.
func knocked(w [][3]float64, known []bool) bool {
	about := func(from, to int) (scatter float64, n int) {
		m := meanMotion(w[from:to], known[from:to])
		for i := from; i < to; i++ {
			if known[i] {
				n++
				for ax := range m {
					scatter += (w[i][ax] - m[ax]) * (w[i][ax] - m[ax])
				}
			}
		}
		return scatter, n
	}
	all, _ := about(0, len(w))
	for at := range w {
		a, before := about(0, at)
		b, after := about(at, len(w))
		// One sample apart from the others is no place where it stayed.
		if before >= 2 && after >= 2 && a+b < 0.1*all {
			return true
		}
	}
	return false
}

// meanMotion is the mean of the known motions.
func meanMotion(w [][3]float64, known []bool) (m [3]float64) {
	n := 0.0
	for i := range w {
		if known[i] {
			n++
			for ax := range m {
				m[ax] += w[i][ax]
			}
		}
	}
	for ax := range m {
		m[ax] /= math.Max(n, 1)
	}
	return m
}

// middleMotion is the median of the known motions, axis by axis.
func middleMotion(w [][3]float64, known []bool) (m [3]float64) {
	var v []float64
	for ax := range m {
		v = v[:0]
		for i := range w {
			if known[i] {
				v = append(v, w[i][ax])
			}
		}
		m[ax] = median(v)
	}
	return m
}
