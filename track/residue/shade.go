package residue

import (
	"math"

	"swathe/geom"
)

// largeReach is how far beyond the patch a thing goes that is none of its soil, as
// a share of the floor that is looked at about it (roiMargin).
const largeReach = 0.9

// large marks what lies across the patch's outline and goes on to the edge of the
// floor that is looked at: a robot, a foot, a shadow, a spill beside the patch.
func (c *change) large() []bool {
	out := make([]bool, c.w*c.h)
	half := c.find(1.5, 12)
	r := int(largeReach * roiMargin / c.side)
	far := dilate(c.in, c.w, c.h, r)
	for _, p := range pieces(half, c.w, c.h) {
		in, beyond := 0, 0
		for _, i := range p {
			if c.in[i] {
				in++
			} else if !far[i] {
				beyond++
			}
		}
		if in > 20 && beyond > 20 {
			for _, i := range p {
				out[i] = true
			}
		}
	}
	return dilate(out, c.w, c.h, edgeReach+2)
}

const (
	// neutral is how much of a shadow's change may be colour: lamps and daylight
	// that fill a shadow differ from the light that is missing.
	neutral = 0.25
	// softEdge is the blur of an edge, px sigma, beyond which no lens in focus makes
	// it: a shadow's penumbra.
	softEdge = 2.5
	// wasSoil is the share of a piece that may have been soil before and be a shadow
	// nevertheless.
	wasSoil = 0.1
)

// shades marks pieces of half that look like a shadow or a reflection: all
// channels are dimmed or raised alike and the edge is softer than a lens makes it.
// One that lies where soil was before is soil, smeared.
func (c *change) shades(half, before []bool) []bool {
	out := make([]bool, len(half))
	l := make([]float32, len(half))
	for i := range l {
		l[i] = float32(0.299*float64(c.d[0][i]) + 0.587*float64(c.d[1][i]) + 0.114*float64(c.d[2][i]))
	}
	const blur = 1.0
	l = smooth(l, c.w, c.h, blur)
	near := dilate(before, c.w, c.h, edgeReach)
	any := false
	for _, p := range pieces(half, c.w, c.h) {
		was := 0
		var ratio [3][]float64
		for _, i := range p {
			if near[i] {
				was++
			}
			for k := range ratio {
				q := float64(c.clean.c[k][i])
				a := math.Max(decode((q+float64(c.d[k][i]))/255), darkest)
				ratio[k] = append(ratio[k], math.Log(a/math.Max(decode(q/255), darkest)))
			}
		}
		r, g, b := geom.Median(ratio[0]), geom.Median(ratio[1]), geom.Median(ratio[2])
		level := (r + g + b) / 3
		if float64(was) > wasSoil*float64(len(p)) || max(r, g, b)-min(r, g, b) > neutral*math.Abs(level) {
			continue
		}
		if s := c.softness(p, l); s*s-blur*blur < softEdge*softEdge {
			continue
		}
		for _, i := range p {
			out[i], any = true, true
		}
	}
	if !any {
		return nil
	}
	return out
}

// softness is the blur of a piece's edge, px sigma: its depth by the steepest
// slope across it, which under a Gaussian is depth / (sigma sqrt(2 pi)), of the
// sharper half of the edge.
func (c *change) softness(p []int32, l []float32) float64 {
	var depth, slope []float64
	for _, i := range p {
		depth = append(depth, math.Abs(float64(l[i])))
	}
	in := map[int32]bool{}
	for _, i := range p {
		in[i] = true
	}
	top := func(i int) (best float64) {
		for dy := -edgeReach; dy <= edgeReach; dy++ {
			for dx := -edgeReach; dx <= edgeReach; dx++ {
				x, y := i%c.w+dx, i/c.w+dy
				if x < 1 || y < 1 || x >= c.w-1 || y >= c.h-1 {
					continue
				}
				k := y*c.w + x
				best = math.Max(best, math.Hypot(float64(l[k+1]-l[k-1]), float64(l[k+c.w]-l[k-c.w]))/2)
			}
		}
		return best
	}
	for _, i := range p {
		x := int(i) % c.w
		if x == 0 || x == c.w-1 || !in[i-1] || !in[i+1] || !in[i-int32(c.w)] || !in[i+int32(c.w)] {
			slope = append(slope, top(int(i)))
		}
	}
	return geom.Quantile(depth, 0.9) / (geom.Quantile(slope, 0.75) * math.Sqrt(2*math.Pi))
}

// mostMasked is the share of a patch that may lie beneath something.
const mostMasked = 0.5

// mask takes what lies beneath something large in either picture out of both, and
// tells whether there was anything. open is the patch's floor, m2.
func (f *Figures) mask(why *notes, r *roi, before, after *change, open float64) bool {
	sum := 0.0
	for _, p := range []struct {
		when string
		c    *change
	}{{"before", before}, {"after", after}} {
		area := 0.0
		for i, m := range p.c.large() {
			if m && r.open[i] {
				if r.in[i] {
					area += float64(r.area[i])
				}
				r.open[i] = false
			}
		}
		if area > 0 {
			why.add("%s, something large lies across the patch's outline, over %.0f cm2 of it: a robot, a person, a shadow, or soil that goes on beyond the patch; that floor is counted in neither picture", p.when, 1e4*area)
		}
		sum += area
	}
	if sum == 0 {
		return false
	}
	sum = min(sum, open)
	f.MaskedM2 = &sum
	return true
}

// unshaded is the stain after, without what looks like a shadow or a reflection.
// Of the picture before such pieces are told only: one that is gone after may have
// been soil.
func (f *Figures) unshaded(why *notes, cb, ca *change, before *shape) *shape {
	half := ca.find(1.5, 12)
	if s := cb.shades(before.half, make([]bool, len(half))); s != nil {
		why.add("before, %.0f cm2 look like a shadow or a reflection; they are counted, for soil with a soft edge looks alike", 1e4*within(cb, s))
	}
	s := ca.shades(half, before.half)
	if s == nil {
		return ca.matte(half, 6)
	}
	area := within(ca, s)
	f.ShadeM2 = &area
	if area > 0 {
		why.add("after, %.0f cm2 that were clean before look like a shadow or a reflection (as dark or bright in every colour, with a soft edge) and are not counted", 1e4*area)
	}
	for i, m := range dilate(s, ca.w, ca.h, edgeReach+2) {
		half[i] = half[i] && !m
	}
	return ca.matte(half, 6)
}

// within is the area of a mask in the patch, m2.
func within(c *change, mask []bool) (sum float64) {
	for i, m := range mask {
		if m && c.in[i] && c.open[i] {
			sum += float64(c.area[i])
		}
	}
	return sum
}

// changes are both pictures' changes against the clean floor: that of the clean
// picture, or each one's own about the soil.
func changes(r *roi, before, after *light, kind string) (b, a *change) {
	if r.clean != nil {
		return newChange(r, before), newChange(r, after)
	}
	return ownClean(r, before, kind), ownClean(r, after, kind)
}
