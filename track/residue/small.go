package residue

import (
	"math"
	"slices"

	"swathe/geom"
)

// small is soil made of things a few pixels wide, grains or strands: opaque, of
// about one colour, so that a pixel that one only touches tells how much of it is
// covered.
type small struct {
	alpha  []float32  // share of a pixel that is covered; 0 outside the support
	mask   []bool     // covered by more than half
	colour [3]float64 // of what covers: luma and two chromas, codes
	pure   int        // pixels that are covered whole, by which the colour is known
	seen   []bool
}

// crisp is how many sigmas a smoothed pixel differs by, of luma or of chroma,
// whichever tells more. Chroma counts only where it is a good part of the
// strongest nearby: beside something colourful a JPEG tints whole blocks.
func (c *change) crisp(sigma float64) []float32 {
	n := c.w * c.h
	s := c.smoothed(sigma)
	tint, out := make([]float32, n), make([]float32, n)
	var y, t []float64
	for i := range n {
		v := ycc(float64(s.d[0][i]), float64(s.d[1][i]), float64(s.d[2][i]))
		tint[i], out[i] = float32(math.Hypot(v[1], v[2])), float32(math.Abs(v[0]))
		if c.open[i] && i%3 == 0 {
			y, t = append(y, float64(out[i])), append(t, float64(tint[i]))
		} else if !c.open[i] {
			tint[i] = 0
		}
	}
	sy, sc := float32(math.Sqrt(sq(1.4826*geom.Median(y))+quantum)), float32(math.Sqrt(sq(geom.Median(t))/1.386+quantum))
	top := highest(tint, c.w, c.h, 8)
	for i := range n {
		switch {
		case !c.open[i]:
			out[i] = 0
		case tint[i] > chromaSmear*top[i]:
			out[i] = max(out[i]/sy, tint[i]/sc)
		default:
			out[i] /= sy
		}
	}
	return out
}

// things finds grains or strands: what differs for sure, by more than the
// ringing of what lies beside it. like, if not nil, is the same soil in another
// picture of the patch, where there was more of it: its colour serves here too.
// Strands have no inside; where they cross, a pixel is no darker than one of a
// strand that runs along its middle.
func (c *change) things(like *small, strands bool) *small {
	n := c.w * c.h
	o := &small{alpha: make([]float32, n), mask: make([]bool, n)}
	strength := c.crisp(0.7)
	ring := highest(strength, c.w, c.h, 8)
	s := c.smoothed(1)
	seen := make([]bool, n)
	for i, v := range strength {
		seen[i] = v > sure && v > 2*ringing*ring[i] && c.differs(s, i) >= JustNoticeable
	}
	dropPieces(seen, c.w, c.h, func(piece []int32) bool {
		peak := float32(0)
		for _, i := range piece {
			peak = max(peak, strength[i])
		}
		return peak > 1.5*sure
	})
	near := dilate(seen, c.w, c.h, edgeReach)
	floor := c.floorLevels()
	o.seen = seen
	// The colour: to begin with that of the strongest pixels, then that of pixels
	// well inside what these show to be covered.
	var order []int
	for i, m := range seen {
		if m && c.in[i] {
			order = append(order, i)
		}
	}
	if len(order) == 0 {
		return o
	}
	slices.SortFunc(order, func(a, b int) int { return int(math.Copysign(1, float64(strength[b]-strength[a]))) })
	c.cover(o, order[:(len(order)+9)/10], near, floor)
	depth := depths(o.mask, c.w, c.h)
	for _, deep := range []float32{2.2, 2, 1.4} {
		if strands && deep < 2 {
			break
		}
		var inside []int
		for i, d := range depth {
			if d >= deep && c.in[i] {
				inside = append(inside, i)
			}
		}
		if len(inside) >= 12 {
			o.pure = len(inside)
			c.cover(o, inside, near, floor)
			break
		}
	}
	if like != nil && (like.pure >= 12 || o.pure < 12) && like.colour != [3]float64{} {
		o.colour, o.pure = like.colour, like.pure
		c.shares(o, near, floor)
	}
	dropPieces(o.mask, c.w, c.h, func(piece []int32) bool {
		peak := float32(0)
		for _, i := range piece {
			peak = max(peak, o.alpha[i])
		}
		return peak > leastPeak
	})
	// Of things that only their tint tells, a JPEG spreads the tint over its
	// blocks: what it takes away here it gives there.
	reach := edgeReach
	if c.tinted(o, floor) {
		reach = ringReach
	}
	near = dilate(o.mask, c.w, c.h, reach)
	mask := o.mask
	o.mask = make([]bool, n)
	c.shares(o, near, floor)
	o.mask = mask
	return o
}

// leastPeak is the share that the fullest pixel of a thing must be covered by.
const leastPeak = 0.4

// tinted tells whether things differ from the floor by their tint more than by
// their luma.
func (c *change) tinted(o *small, floor [3][]float32) bool {
	luma, tint := 0.0, 0.0
	for i, m := range o.mask {
		if !m {
			continue
		}
		f := [3]float64{}
		for k := range f {
			f[k] = o.colour[k] - float64(floor[k][i])
		}
		vy := c.luma + sq(lumaSmear*f[0])
		q := f[1]*f[1] + f[2]*f[2]
		luma, tint = luma+f[0]*f[0]/vy, tint+q/(c.chroma+sq(chromaSmear)*q)
	}
	return tint > luma
}

// cover sets colour, alpha and mask by the colour of the given pixels.
func (c *change) cover(o *small, of []int, near []bool, floor [3][]float32) {
	var v [3][]float64
	for _, i := range of {
		q := c.colourAt(i)
		for k := range v {
			v[k] = append(v[k], q[k])
		}
	}
	for k := range v {
		o.colour[k] = geom.Median(v[k])
	}
	c.shares(o, near, floor)
}

// shares sets alpha and mask by the colour.
func (c *change) shares(o *small, near []bool, floor [3][]float32) {
	n := c.w * c.h
	var full [3][]float32
	for k := range full {
		full[k] = make([]float32, n)
		for i := range n {
			full[k][i] = float32(o.colour[k]) - floor[k][i]
		}
	}
	for i := range n {
		o.alpha[i] = 0
		if near[i] && c.open[i] {
			o.alpha[i] = float32(c.share(i, full))
		}
	}
	// A thing too narrow, or too smeared, to fill a pixel has its edge where it
	// falls to half of its own strongest pixel.
	a := smooth(o.alpha, c.w, c.h, 0.4)
	top := highest(a, c.w, c.h, edgeReach)
	for i := range n {
		o.mask[i] = o.seen[i] && a[i] > 0.5*min(1, max(top[i], 0.4))
	}
}

// floorLevels is the clean floor as luma and chromas, its grain smoothed.
func (c *change) floorLevels() (f [3][]float32) {
	for k := range f {
		f[k] = make([]float32, c.w*c.h)
	}
	for i := range c.w * c.h {
		v := ycc(float64(c.clean.c[0][i]), float64(c.clean.c[1][i]), float64(c.clean.c[2][i]))
		for k := range f {
			f[k][i] = float32(v[k])
		}
	}
	for k := range f {
		f[k] = smooth(f[k], c.w, c.h, 1)
	}
	return f
}

// colourAt is the picture's colour at pixel i as luma and chromas.
func (c *change) colourAt(i int) [3]float64 {
	return ycc(float64(c.clean.c[0][i]+c.d[0][i]), float64(c.clean.c[1][i]+c.d[1][i]), float64(c.clean.c[2][i]+c.d[2][i]))
}

// apart are the things that lie where none were before.
func (o *small) apart(c *change, before *small) *small {
	out := *o
	out.alpha, out.mask = slices.Clone(o.alpha), slices.Clone(o.mask)
	for i, m := range dilate(before.mask, c.w, c.h, edgeReach) {
		if m {
			out.alpha[i], out.mask[i] = 0, false
		}
	}
	// The rim of what stayed is no strand.
	dropPieces(out.mask, c.w, c.h, func(piece []int32) bool { return len(piece) >= leastStrand })
	return &out
}

// leastStrand is the least number of pixels of a strand that lies apart.
const leastStrand = 12

// covered is the area of all things within the patch, m2.
func (c *change) covered(o *small) float64 {
	sum := 0.0
	for i, a := range o.alpha {
		if c.in[i] && c.open[i] {
			sum += float64(a) * float64(c.area[i])
		}
	}
	return math.Max(0, sum)
}

// enlarge samples a plane k times as finely, straight lines between pixels.
func enlarge(v []float32, w, h, k int) (out []float32, ow, oh int) {
	ow, oh = (w-1)*k+1, (h-1)*k+1
	out = make([]float32, ow*oh)
	for y := range oh {
		j, fy := min(y/k, h-2), float32(0)
		fy = float32(y-j*k) / float32(k)
		for x := range ow {
			i := min(x/k, w-2)
			fx := float32(x-i*k) / float32(k)
			a, b := v[j*w+i:], v[(j+1)*w+i:]
			out[y*ow+x] = (a[0]*(1-fx)+a[1]*fx)*(1-fy) + (b[0]*(1-fx)+b[1]*fx)*fy
		}
	}
	return out, ow, oh
}
