package residue

import (
	"math"
	"slices"
)

// JustNoticeable is the colour difference (CIEDE2000) at which a stain counts:
// 1 is about what a practised eye just notices between two patches side by side
// (Mokrzycki and Tatol, "Colour difference Delta E - a survey", Machine Graphics
// and Vision 20(4), 2011).
const JustNoticeable = 1.0

// sure is the strength, in sigmas of the smoothed change, above which a pixel
// differs for sure. Of three channels of normal noise, one pixel in 10^7 is
// above 6 (chi square with 3 degrees of freedom).
const sure = 6.0

// edgeReach is how far lens, sampling and a JPEG's halved chroma smear a sharp
// edge to either side, px.
const edgeReach = 3

// ringing is the share of a strong change that a JPEG may throw back into the
// rest of its blocks, ringReach px away at most: what is weaker than that beside
// it is not taken for soil.
const (
	ringing   = 0.12
	ringReach = 12
)

// shape is soil of one kind as found in one picture of a patch.
type shape struct {
	alpha []float32    // how much of a pixel is soiled, 0..1 but for noise; 0 outside the support
	half  []bool       // soiled by more than half
	full  [3][]float32 // the change where a pixel is soiled whole: luma and two chromas, codes
	blur  [2]float64   // px, how an edge is smeared: luma and chroma
}

// find marks what differs from the clean floor by more than the noise, by more
// than can just be noticed, and by more than half of what is next to it: so
// marked, a sharp edge is where it is, however strong or faint the soil.
// sigma (px) is how far pixels are averaged for it; least how many make a piece.
func (c *change) find(sigma float64, least int) []bool {
	s := c.smoothed(sigma)
	strength := make([]float32, c.w*c.h)
	for i := range strength {
		if c.open[i] {
			strength[i] = float32(s.strength(i))
		}
	}
	top := highest(strength, c.w, c.h, edgeReach+1)
	ring := highest(strength, c.w, c.h, ringReach)
	seen, half := make([]bool, len(strength)), make([]bool, len(strength))
	for i, v := range strength {
		seen[i] = v > sure && v > ringing*ring[i] && c.differs(s, i) >= JustNoticeable
		half[i] = seen[i] && v > 0.5*top[i]
	}
	// Between a strong part and a faint one that goes on from it lies the blur
	// of the strong one, which is soil as well.
	closed := erode(dilate(half, c.w, c.h, 2), c.w, c.h, 2)
	for i := range half {
		half[i] = half[i] || closed[i] && seen[i]
	}
	dropPieces(half, c.w, c.h, func(piece []int32) bool {
		peak := float32(0)
		for _, i := range piece {
			peak = max(peak, strength[i])
		}
		return len(piece) >= least && peak > 1.5*sure
	})
	return half
}

// stain finds a stain.
func (c *change) stain() *shape { return c.matte(c.find(1.5, 12), 6) }

// differs is the colour difference of a smoothed change at pixel i.
func (c *change) differs(s *change, i int) float64 {
	q := [3]float64{}
	for k := range q {
		q[k] = float64(c.clean.c[k][i])
	}
	d := s.at(i)
	return CIEDE2000(c.tune.lab(q[0], q[1], q[2]), c.tune.lab(q[0]+d[0], q[1]+d[1], q[2]+d[2]))
}

// matte tells for every pixel in and about half what share of it is soiled: the
// change there against the change of pixels nearby that are soiled whole.
// Shares summed are an area without the bias of a threshold: an edge's blur
// takes from within what it gives without. reach (px) is how far full soil may
// lie to speak for a pixel.
func (c *change) matte(half []bool, reach float64) *shape {
	n := c.w * c.h
	o := &shape{alpha: make([]float32, n), half: half, blur: [2]float64{sharpest, 2 * sharpest}}
	for k := range o.full {
		o.full[k] = make([]float32, n)
	}
	depth := depths(half, c.w, c.h)
	deepest := highest(depth, c.w, c.h, edgeReach)
	core := make([]bool, n)
	for i, d := range depth {
		core[i] = d > 0 && d >= min(edgeReach, 0.75*deepest[i])
	}
	near := dilate(half, c.w, c.h, edgeReach)
	// How far edges are smeared shows at the edges of what is wide; by that what
	// is thin is known to be fainter than its soil.
	for range 2 {
		c.fill(o, core, near, depth, deepest, reach)
		o.blur = c.smear(o, half, near, deepest)
	}
	c.fill(o, core, near, depth, deepest, reach)
	for i := range o.alpha {
		switch {
		case !near[i] || !c.open[i]:
		case depth[i] > edgeReach+1:
			o.alpha[i] = 1
		default:
			o.alpha[i] = float32(c.share(i, o.full))
		}
	}
	return o
}

// sharpest is the smear of an edge by the pixels' own width and a good lens, px:
// the sigma of the Gaussian that blurs alike.
const sharpest = 0.5

// smear measures how edges of wide pieces are blurred, luma and chroma: across
// an edge that a Gaussian of sigma blurs, the integral of a (1 - a) is
// sigma / sqrt(pi). The length of the edge is that of its pixel sides times
// pi / 4 (Cauchy and Crofton, over all directions alike).
func (c *change) smear(o *shape, half, near []bool, deepest []float32) [2]float64 {
	sum, length := [2]float64{}, 0.0
	wide := highest(deepest, c.w, c.h, edgeReach)
	var luma, tint float64
	for i := range near {
		x, y := i%c.w, i/c.w
		if !near[i] || wide[i] < 2*edgeReach || x == 0 || y == 0 {
			continue
		}
		for _, j := range [2]int{i - 1, i - c.w} {
			if half[i] != half[j] {
				length += math.Pi / 4
			}
		}
		f := [3]float64{float64(o.full[0][i]), float64(o.full[1][i]), float64(o.full[2][i])}
		d := ycc(float64(c.d[0][i]), float64(c.d[1][i]), float64(c.d[2][i]))
		q := f[1]*f[1] + f[2]*f[2]
		luma, tint = luma+f[0]*f[0], tint+q
		a := d[0] / f[0]
		b := (d[1]*f[1] + d[2]*f[2]) / q
		// Noise makes a (1 - a) smaller by its variance.
		sum[0] += a*(1-a) + c.luma/(f[0]*f[0])
		sum[1] += b*(1-b) + c.chroma/q
	}
	out := o.blur
	if length < 60 {
		return out
	}
	contrast := [2]float64{luma / c.luma, tint / c.chroma}
	for k := range out {
		// Below a contrast of ten sigmas a pixel the sum is noise.
		if s := sum[k] * math.Sqrt(math.Pi) / length; contrast[k] > 100*float64(count(near, wide)) && s > 0 {
			out[k] = min(max(s, sharpest), edgeReach-1)
		}
	}
	return out
}

func count(near []bool, wide []float32) (n int) {
	for i, m := range near {
		if m && wide[i] >= 2*edgeReach {
			n++
		}
	}
	return max(n, 1)
}

// reaches is how much of the full change a pixel shows that lies depth (px)
// within a piece which is deepest to the middle, under a blur of sigma.
func reaches(depth, deepest, sigma float64) float64 {
	d, far := depth-0.5, 2*deepest-0.5-depth
	return (math.Erf(d/(math.Sqrt2*sigma)) + math.Erf(max(d, far)/(math.Sqrt2*sigma))) / 2
}

// chromaSmear is how far off, as a share of its contrast, chroma is at an edge:
// cameras and JPEG keep it at half the resolution of luma, whose own error there
// is lumaSmear.
const (
	chromaSmear = 0.4
	lumaSmear   = 0.03
)

// share is the change at pixel i in units of full soil there, by least squares
// in luma and chroma (ITU-R BT.601, as JPEG has them), each weighted by its noise
// and by how far it is smeared.
func (c *change) share(i int, full [3][]float32) float64 {
	f := [3]float64{float64(full[0][i]), float64(full[1][i]), float64(full[2][i])}
	d := ycc(float64(c.d[0][i]), float64(c.d[1][i]), float64(c.d[2][i]))
	vy := c.luma + sq(lumaSmear*f[0])
	vc := c.chroma + sq(chromaSmear)*(f[1]*f[1]+f[2]*f[2])
	q := f[0]*f[0]/vy + (f[1]*f[1]+f[2]*f[2])/vc
	if q == 0 {
		return 0
	}
	a := (f[0]*d[0]/vy + (f[1]*d[1]+f[2]*d[2])/vc) / q
	if !c.inLight {
		return a
	}
	return inLight(a, c.lumaAt(i), f[0])
}

// lumaAt is the clean floor's luma at pixel i, codes.
func (c *change) lumaAt(i int) float64 {
	return 0.299*float64(c.clean.c[0][i]) + 0.587*float64(c.clean.c[1][i]) + 0.114*float64(c.clean.c[2][i])
}

// inLight turns a share in codes of the way from luma y to y + f into one in
// linear light.
func inLight(a, y, f float64) float64 {
	if math.Abs(f) < 1 {
		return a
	}
	at := func(a float64) float64 { return decode(math.Max(0, y+a*f) / 255) }
	return (at(a) - at(0)) / (at(1) - at(0))
}

// ycc is a difference of codes as luma and two chromas.
func ycc(r, g, b float64) [3]float64 {
	y := 0.299*r + 0.587*g + 0.114*b
	return [3]float64{y, (b - y) / 1.772, (r - y) / 1.402}
}

// rgb is the inverse of ycc.
func rgb(y, cb, cr float64) [3]float64 {
	r, b := y+1.402*cr, y+1.772*cb
	return [3]float64{r, (y - 0.299*r - 0.114*b) / 0.587, b}
}

// fill sets full soil near half to the mean of the core about it: under a
// Gaussian of sigma reach, or a wider one where there is no core so near.
func (c *change) fill(o *shape, core, near []bool, depth, deepest []float32, reach float64) {
	n := len(core)
	var num, den [3][]float32
	for k := range num {
		num[k], den[k] = make([]float32, n), make([]float32, n)
	}
	for i, in := range core {
		if !in {
			continue
		}
		d := ycc(float64(c.d[0][i]), float64(c.d[1][i]), float64(c.d[2][i]))
		f := [2]float64{reaches(float64(depth[i]), float64(deepest[i]), o.blur[0]), reaches(float64(depth[i]), float64(deepest[i]), o.blur[1])}
		for k := range num {
			g := f[min(k, 1)]
			num[k][i], den[k][i] = float32(d[k]*g), float32(g*g)
		}
	}
	for _, r := range []float64{4 * reach, reach} {
		for k := range o.full {
			a, b := smooth(num[k], c.w, c.h, r), smooth(den[k], c.w, c.h, r)
			for i := range a {
				if near[i] && b[i] > 1e-4 {
					o.full[k][i] = a[i] / b[i]
				}
			}
		}
	}
}

// square is the area of a shape within the patch, m2.
func (c *change) square(o *shape) float64 {
	sum := 0.0
	for i, a := range o.alpha {
		if c.in[i] && c.open[i] {
			sum += float64(a) * float64(c.area[i])
		}
	}
	return math.Max(0, sum)
}

// differences are the colour differences over the soiled floor within the
// patch: mean and 95th percentile by area, edges as if they were soiled whole.
func (c *change) differences(o *shape) (mean, p95 float64) {
	type part struct{ d, a float64 }
	var parts []part
	sum, area := 0.0, 0.0
	for i, in := range o.half {
		if !in || !c.in[i] || !c.open[i] {
			continue
		}
		var q [3]float64
		for k := range q {
			q[k] = float64(c.clean.c[k][i])
		}
		f := rgb(float64(o.full[0][i]), float64(o.full[1][i]), float64(o.full[2][i]))
		p := part{CIEDE2000(c.tune.lab(q[0], q[1], q[2]), c.tune.lab(q[0]+f[0], q[1]+f[1], q[2]+f[2])), float64(c.area[i])}
		parts = append(parts, p)
		sum += p.d * p.a
		area += p.a
	}
	if area == 0 {
		return math.NaN(), math.NaN()
	}
	slices.SortFunc(parts, func(a, b part) int {
		if a.d < b.d {
			return -1
		} else if a.d > b.d {
			return 1
		}
		return 0
	})
	acc := 0.0
	for _, p := range parts {
		if acc += p.a; acc >= 0.95*area {
			return sum / area, p.d
		}
	}
	return sum / area, parts[len(parts)-1].d
}
