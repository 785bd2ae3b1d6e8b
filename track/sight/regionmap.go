package sight

import (
	"math"

	"swathe/geom"
)

// regionPlace is a spot of the floor: the rows of the small picture within its
// silhouette, and those within a wider one.
type regionPlace struct {
	pose     geom.Pose
	in, wide []regionRow
}

type regionRow struct{ y, x0, x1 int16 }

// lay lays out the places of the map.
func (r *Region) lay() {
	lo, hi, rb := r.set.Lo, r.set.Hi, r.round()
	ring := Resized(rb, ringWide)
	step := math.Max(gridStep, math.Sqrt((hi.X-lo.X)*(hi.Y-lo.Y)/mostPlaces))
	for y := lo.Y; y <= hi.Y; y += step {
		for x := lo.X; x <= hi.X; x += step {
			if !r.set.May(geom.Point2{X: x, Y: y}) {
				continue
			}
			p := regionPlace{pose: geom.Pose{X: x, Y: y}}
			r.spans(rb, p.pose, func(y, x0, x1 int) { p.in = append(p.in, regionRow{int16(y), int16(x0), int16(x1)}) })
			r.spans(ring, p.pose, func(y, x0, x1 int) { p.wide = append(p.wide, regionRow{int16(y), int16(x0), int16(x1)}) })
			if len(p.in) > 2 {
				r.places = append(r.places, p)
			}
		}
	}
}

// Mode is a place that the map of the whole room proposes.
type Mode struct {
	Pose  geom.Pose
	Score float64 // nats, of the silhouette's pixels as if each told for itself
}

// Modes returns up to n places of the whole room, the best first, at least
// apart (m) from each other, of the picture that Fill was given.
func (r *Region) Modes(n int, apart float64) []Mode {
	if r.places == nil {
		r.lay()
	}
	w := r.w + 1
	if r.sum == nil {
		r.sum, r.pos = make([]float32, w*r.h), make([]float32, w*r.h)
	}
	for y := 0; y < r.h; y++ {
		var a, b float32
		for x := 0; x < r.w; x++ {
			l := r.l[y*r.w+x]
			a += l
			b += max(l, 0)
			r.sum[y*w+x+1], r.pos[y*w+x+1] = a, b
		}
	}
	all := make([]Mode, len(r.places))
	for i := range r.places {
		p := &r.places[i]
		var in, pos, wide float32
		for _, q := range p.in {
			a, b := int(q.y)*w+int(q.x0), int(q.y)*w+int(q.x1)
			in += r.sum[b] - r.sum[a]
			pos += r.pos[b] - r.pos[a]
		}
		for _, q := range p.wide {
			a, b := int(q.y)*w+int(q.x0), int(q.y)*w+int(q.x1)
			wide += r.pos[b] - r.pos[a]
		}
		all[i] = Mode{p.pose, float64(in - ringCost*(wide-pos))}
	}
	var out []Mode
	for len(out) < n {
		best := -1
		for i := range all {
			if !math.IsInf(all[i].Score, -1) && (best < 0 || all[i].Score > all[best].Score) {
				best = i
			}
		}
		if best < 0 {
			break
		}
		m := all[best]
		out = append(out, m)
		for i := range all {
			if math.Hypot(all[i].Pose.X-m.Pose.X, all[i].Pose.Y-m.Pose.Y) < apart {
				all[i].Score = math.Inf(-1)
			}
		}
	}
	return out
}

// at samples the ratios between their pixels.
func (r *Region) at(x, y float64) float64 {
	x, y = math.Max(0, math.Min(float64(r.w)-1.001, x)), math.Max(0, math.Min(float64(r.h)-1.001, y))
	ix, iy := int(x), int(y)
	u, v := float32(x-float64(ix)), float32(y-float64(iy))
	i := iy*r.w + ix
	a := r.l[i] + (r.l[i+1]-r.l[i])*u
	b := r.l[i+r.w] + (r.l[i+r.w+1]-r.l[i+r.w])*u
	return float64(a + (b-a)*v)
}

// lineStep is the spacing of the samples along a normal, small pixels.
const lineStep = 0.25

// Fit moves a pose to where its silhouette holds most: along each normal the
// ratios are summed up to the outline, as a function of where that lies, and
// the sums added up over the outline (a region model on correspondence lines:
// Stoiber et al., "A Sparse Gaussian Approach to Region-Based 6DoF Object
// Tracking", ACCV 2020). The best place within reach small pixels, to half of one.
func (r *Region) Fit(at geom.Pose, reach float64) geom.Pose {
	z := r.set.Floor(geom.Point2{X: at.X, Y: at.Y})
	f := float64(r.bg.Factor)
	mpp := r.set.Cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: z + r.set.Robot.Height}) * f
	if !(mpp > 0) || !r.outl.SetSilhouette(r.set.Cam, r.round(), at, z, 96) {
		return at
	}
	n := int(math.Ceil(reach/lineStep))*2 + 9
	half := n / 2
	pts := r.outl.Points
	r.sums = r.sums[:0]
	for k := range pts {
		p := &pts[k]
		x, y, s := (p.Px.X+0.5)/f-0.5, (p.Px.Y+0.5)/f-0.5, 0.0
		for j := 0; j < n; j++ {
			r.sums = append(r.sums, s) // up to (j-half)*lineStep
			d := (float64(j-half) + 0.5) * lineStep
			s += r.at(x+d*p.Normal.X, y+d*p.Normal.Y) * lineStep
		}
	}
	score := func(dx, dy float64) (t float64) {
		for k := range pts {
			p := &pts[k]
			jx := p.Normal.X*p.Jac[0][0] + p.Normal.Y*p.Jac[1][0]
			jy := p.Normal.X*p.Jac[0][1] + p.Normal.Y*p.Jac[1][1]
			d := math.Max(0, math.Min(float64(n)-1.001, (jx*dx+jy*dy)/(f*lineStep)+float64(half)))
			i := int(d)
			c := r.sums[k*n+i:]
			t += c[0] + (d-float64(i))*(c[1]-c[0])
		}
		return t
	}
	best, bx, by := math.Inf(-1), 0.0, 0.0
	g := 0.5 * mpp
	m := int(math.Ceil(reach / 0.5))
	for a := -m; a <= m; a++ {
		for b := -m; b <= m; b++ {
			if s := score(float64(a)*g, float64(b)*g); s > best {
				best, bx, by = s, float64(a)*g, float64(b)*g
			}
		}
	}
	at.X += bx
	at.Y += by
	return at
}
