package residue

import (
	"math"

	"swathe/geom"
)

// ownClean is a change against the clean floor as the picture itself shows it
// about the soil: without a clean picture that is all there is. For a stain, a
// quadratic over the patch; for small things, what lies about each place.
func ownClean(r *roi, p *light, kind string) *change {
	own := *r
	own.clean = newLight(r.w, r.h)
	n := r.w * r.h
	keep := make([]float64, n)
	for i, in := range r.open {
		if in {
			keep[i] = 1
		}
	}
	for range 6 {
		dist := make([]float64, 0, n/4)
		off := make([]float64, n)
		for c := range 3 {
			if kind == Stain {
				quadratic(own.clean.c[c], p.c[c], keep, r.w, r.h)
			} else {
				around(own.clean.c[c], p.c[c], keep, r.w, r.h, math.Max(4, 0.012/r.side))
			}
			for i := range n {
				off[i] = math.Max(off[i], math.Abs(float64(p.c[c][i]-own.clean.c[c][i])))
			}
		}
		for i := 0; i < n; i += 3 {
			if r.open[i] {
				dist = append(dist, off[i])
			}
		}
		s := math.Max(geom.Median(dist), 0.5)
		for i := range keep {
			keep[i] = 0
			if r.open[i] && off[i] < 4*s {
				keep[i] = sq(1 - sq(off[i]/(4*s)))
			}
		}
	}
	return newChange(&own, p)
}

// quadratic fits a surface of second degree to v by weights and writes it to dst.
func quadratic(dst, v []float32, weight []float64, w, h int) {
	row := func(i int) []float64 {
		x, y := float64(i%w)/float64(w)-0.5, float64(i/w)/float64(h)-0.5
		return []float64{1, x, y, x * x, x * y, y * y, 0}
	}
	var rows [][]float64
	var val, wt []float64
	for i := 0; i < len(v); i += 7 {
		if weight[i] > 0 {
			rows, val, wt = append(rows, row(i)), append(val, float64(v[i])), append(wt, weight[i])
		}
	}
	if len(rows) < 50 {
		return
	}
	k := weighted(rows, func(i int) float64 { return val[i] }, wt, 1)
	for i := range dst {
		dst[i] = float32(inner(k, row(i)))
	}
}

// around writes to dst the weighted mean of v about each place.
func around(dst, v []float32, weight []float64, w, h int, sigma float64) {
	num, den := make([]float32, len(v)), make([]float32, len(v))
	for i, k := range weight {
		num[i], den[i] = float32(k)*v[i], float32(k)
	}
	num, den = smooth(num, w, h, sigma), smooth(den, w, h, sigma)
	for i := range dst {
		if den[i] > 1e-3 {
			dst[i] = num[i] / den[i]
		} else {
			dst[i] = v[i]
		}
	}
}

// patternDifference is how much the clean floor differs from itself, smoothed as
// stains are looked for: the median CIEDE2000.
func (c *change) patternDifference() float64 {
	s := c.smoothed(1.5)
	var d []float64
	for i := 0; i < c.w*c.h; i += 5 {
		if c.open[i] {
			d = append(d, c.differs(s, i))
		}
	}
	return geom.Median(d)
}

// mostFalse is the share of floor beside a patch that may look soiled by mistake,
// and plainNoise the luma's noise, codes, of a floor without a pattern of its own.
const (
	mostFalse  = 0.002
	plainNoise = 3.2
)

// falseShare is the share of the floor beside the patch that looks soiled.
func falseShare(c *change, kind string) float64 {
	half := c.find(1.5, 12)
	if kind != Stain {
		half = c.things(nil, kind == Hair).mask
	}
	bad, all := 0.0, 0.0
	for i, in := range c.in {
		if in || !c.open[i] {
			continue
		}
		all++
		if half[i] {
			bad++
		}
	}
	if all == 0 {
		return 0
	}
	return bad / all
}
