package sight

import (
	"math"
	"slices"

	"swathe/geom"
)

// A Region tells floor from robot by colour, pixel by pixel of the small
// picture, as a log likelihood ratio: positive where the robot explains the
// pixel better.
//
// Floor is what the background shows there in the light of the picture, each
// channel off by a Student t of two degrees of freedom with the scatter that
// the samples show at that pixel; or the same in shadow, or clutter that
// nothing explains. The robot is any colour alike, or, once known, the colours
// that it has shown. Luminance and the two chroma planes are what the decoder
// hands out, so no colour is converted.
type Region struct {
	set    *Setup
	bg     *Background
	inv    [3][]float32 // 1/(3 s^2), by channel and pixel
	logS   []float32    // sum of the channels' log s
	hist   []float32    // log density of the robot's colours, nil: any alike
	count  []float32
	n      float64
	l      []float32 // of the last picture, nats
	w, h   int
	buf    []float32
	outl   geom.Outline
	cross  []float64
	places []regionPlace
	sum    []float32 // of l along each row, and
	pos    []float32 // of what of it is positive
	sums   []float64
}

const (
	colourBins = 32
	anyColour  = -11.5 // nats, log density of a colour that may be any of those that rooms show
	clutter    = -14   // nats, log density of a pixel that nothing explains: some like no floor, anywhere
	shadowCost = 3     // nats, for floor in shadow, one pixel in twenty
	shadowWide = 1.3   // scatter in shadow over that in the light
	clipRatio  = 6     // nats: no pixel alone decides
	leastScale = 1.2   // grey levels: rounding and what the samples do not show
	ringCost   = 0.7   // of what goes on beyond the outline
	ringWide   = 1.35  // of the outline
	gridStep   = 0.03  // m, between the places of the map: a fifth of a small robot's radius
	mostPlaces = 40000 // of the map, for the memory
)

// shadows are the shares of light that reach the floor in shadow.
var shadows = [3]float32{0.55, 0.70, 0.85}

// newRegion learns the scatter of the floor from the samples of a background.
func newRegion(set *Setup, bg *Background, samples []*Picture) *Region {
	r := &Region{set: set, bg: bg, w: bg.Small.W, h: bg.Small.H}
	n := r.w * r.h
	// By channel and pixel, sample beside sample, in quarters of a grey level.
	var dev [3][]uint8
	for c := range dev {
		dev[c] = make([]uint8, n*len(samples))
	}
	var small, su, sv Plane
	for k, s := range samples {
		small = s.Y.Shrink(bg.Factor, small)
		su = chromaSmall(&s.U, bg.Factor, small, su)
		sv = chromaSmall(&s.V, bg.Factor, small, sv)
		lt := relight(&small, &bg.Small)
		for y := 0; y < r.h; y++ {
			r.buf = lt.line(y, r.w, r.buf)
			for x := 0; x < r.w; x++ {
				i := (y*r.w+x)*len(samples) + k
				dev[0][i] = quarters(float32(small.Pix[y*small.Stride+x])/max(0.05, r.buf[x]) - float32(bg.Small.Pix[y*bg.Small.Stride+x]))
				dev[1][i] = quarters(float32(su.Pix[y*su.Stride+x]) - float32(bg.SmallU.Pix[y*bg.SmallU.Stride+x]))
				dev[2][i] = quarters(float32(sv.Pix[y*sv.Stride+x]) - float32(bg.SmallV.Pix[y*bg.SmallV.Stride+x]))
			}
		}
	}
	r.logS = make([]float32, n)
	for c := range r.inv {
		r.inv[c] = make([]float32, n)
		for i := range r.logS {
			s := 1.4826*float64(middleOf256(dev[c][i*len(samples):(i+1)*len(samples)]))/4 + leastScale
			r.inv[c][i] = float32(1 / (3 * s * s))
			r.logS[i] += float32(math.Log(s))
		}
	}
	r.l = make([]float32, n)
	return r
}

func quarters(e float32) uint8 {
	if e < 0 {
		e = -e
	}
	return uint8(min(255, 4*e+0.5))
}

// middleOf256 is the upper median of a few values, which it reorders.
func middleOf256(v []uint8) uint8 {
	for i := 1; i < len(v); i++ {
		for j := i; j > 0 && v[j-1] > v[j]; j-- {
			v[j-1], v[j] = v[j], v[j-1]
		}
	}
	return v[len(v)/2]
}

// Fill fills the ratios from a small picture, its chroma and its light.
func (r *Region) Fill(small, su, sv *Plane, lt *light) {
	const wide = 1 / (shadowWide * shadowWide)
	// Of the products of 1 + d^2/3 the least wins; a class's own factor is in it.
	dark := float32(math.Exp((shadowCost + 3*math.Log(shadowWide)) / 1.5))
	for y := 0; y < r.h; y++ {
		r.buf = lt.line(y, r.w, r.buf)
		g := r.buf
		for x := 0; x < r.w; x++ {
			i := y*r.w + x
			py, pu, pv := float32(small.Pix[y*small.Stride+x]), float32(su.Pix[y*su.Stride+x]), float32(sv.Pix[y*sv.Stride+x])
			by := g[x] * float32(r.bg.Small.Pix[y*r.bg.Small.Stride+x])
			bu := float32(r.bg.SmallU.Pix[y*r.bg.SmallU.Stride+x])
			bv := float32(r.bg.SmallV.Pix[y*r.bg.SmallV.Stride+x])
			iy, iu, iv := r.inv[0][i], r.inv[1][i], r.inv[2][i]
			q := (1 + (py-by)*(py-by)*iy) * (1 + (pu-bu)*(pu-bu)*iu) * (1 + (pv-bv)*(pv-bv)*iv)
			for _, k := range shadows {
				dy, du, dv := py-k*by, pu-128-k*(bu-128), pv-128-k*(bv-128)
				q = min(q, (1+dy*dy*iy*wide)*(1+du*du*iu*wide)*(1+dv*dv*iv*wide)*dark)
			}
			floor := max(-1.5*float32(math.Log(float64(q)))-r.logS[i], clutter)
			robot := float32(anyColour)
			if r.hist != nil {
				robot = r.hist[colourBin(py/max(0.05, g[x]), pu, pv)]
			}
			r.l[i] = max(-clipRatio, min(clipRatio, robot-floor))
		}
	}
}

// colourBin is the bin of a colour: of chroma, which in rooms keeps to it, only
// the middle half.
func colourBin(y, u, v float32) int {
	b := func(v float32) int { return max(0, min(colourBins-1, int(v)*colourBins/256)) }
	c := func(v float32) int { return max(0, min(colourBins-1, int((v-64)*colourBins/128))) }
	return (b(y)*colourBins+c(u))*colourBins + c(v)
}

// binVolume is the volume of a bin, grey levels cubed.
const binVolume = 8 * 4 * 4

// Take takes the colours within the silhouette at a pose into the robot's.
func (r *Region) Take(small, su, sv *Plane, lt *light, at geom.Pose) {
	if r.count == nil {
		r.count = make([]float32, colourBins*colourBins*colourBins)
	}
	r.spans(r.set.Robot, at, func(y, x0, x1 int) {
		r.buf = lt.line(y, r.w, r.buf)
		for x := x0; x < x1; x++ {
			r.count[colourBin(float32(small.Pix[y*small.Stride+x])/max(0.05, r.buf[x]), float32(su.Pix[y*su.Stride+x]), float32(sv.Pix[y*sv.Stride+x]))]++
			r.n++
		}
	})
}

// colourBlur is the kernel, in bins, by which the colours taken in are blurred: sigma 0.75.
var colourBlur = [5]float32{0.02, 0.22, 0.52, 0.22, 0.02}

// colourOther is the share of a robot's pixels that are none of its colours so far.
const colourOther = 0.03

// Know makes the colours taken in those of the robot; older ones come to count less.
func (r *Region) Know() {
	a, b := append([]float32(nil), r.count...), make([]float32, len(r.count))
	for step := 1; step < len(a); step *= colourBins {
		for i := range a {
			at := i / step % colourBins
			s := float32(0)
			for d := -2; d <= 2; d++ {
				if at+d >= 0 && at+d < colourBins {
					s += colourBlur[d+2] * a[i+d*step]
				}
			}
			b[i] = s
		}
		a, b = b, a
	}
	for i := range a {
		b[i] = float32(math.Log(float64(a[i])/r.n/binVolume*(1-colourOther) + colourOther*math.Exp(anyColour)))
	}
	r.hist = b
	for i := range r.count {
		r.count[i] /= 2
	}
	r.n /= 2
}

// spans hands on the rows of the silhouette of a robot at a pose; of one with
// notches more than one piece to a row.
func (r *Region) spans(rb geom.Robot, at geom.Pose, row func(y, x0, x1 int)) {
	z := r.set.Floor(geom.Point2{X: at.X, Y: at.Y})
	if !r.outl.SetSilhouette(r.set.Cam, rb, at, z, 48) {
		return
	}
	f := float64(r.bg.Factor)
	lo, hi := math.Inf(1), math.Inf(-1)
	pts := r.outl.Points
	for i := range pts {
		p := &pts[i].Px
		p.X, p.Y = (p.X+0.5)/f-0.5, (p.Y+0.5)/f-0.5
		lo, hi = math.Min(lo, p.Y), math.Max(hi, p.Y)
	}
	for y := max(0, int(math.Ceil(lo))); y <= min(r.h-1, int(math.Floor(hi))); y++ {
		r.cross = r.cross[:0]
		for k := range pts {
			p, q, v := pts[k].Px, pts[(k+1)%len(pts)].Px, float64(y)
			if (p.Y <= v) != (q.Y <= v) {
				r.cross = append(r.cross, p.X+(v-p.Y)/(q.Y-p.Y)*(q.X-p.X))
			}
		}
		slices.Sort(r.cross)
		for k := 0; k+1 < len(r.cross); k += 2 {
			if x0, x1 := max(0, int(math.Ceil(r.cross[k]))), min(r.w, int(math.Floor(r.cross[k+1]))+1); x0 < x1 {
				row(y, x0, x1)
			}
		}
	}
}

// round is a round robot of as much area as the robot has: what the map of the
// whole room looks for, where no heading is known.
func (r *Region) round() geom.Robot {
	rb := r.set.Robot
	if rb.Round() {
		return rb
	}
	return geom.Robot{Diameter: 2 * math.Sqrt(rb.Area()/math.Pi), Height: rb.OutlineHeight()}
}

// Parts returns, per pixel of the silhouette at a pose, the mean ratio within it
// and what goes on beyond it.
func (r *Region) Parts(at geom.Pose) (in, beyond float64) {
	pos, n := 0.0, 0.0
	r.spans(r.set.Robot, at, func(y, x0, x1 int) {
		for _, v := range r.l[y*r.w+x0 : y*r.w+x1] {
			in += float64(v)
			pos += float64(max(v, 0))
		}
		n += float64(x1 - x0)
	})
	r.spans(Resized(r.set.Robot, ringWide), at, func(y, x0, x1 int) {
		for _, v := range r.l[y*r.w+x0 : y*r.w+x1] {
			beyond += float64(max(v, 0))
		}
	})
	if n == 0 {
		return 0, 0
	}
	return in / n, (beyond - pos) / n
}
