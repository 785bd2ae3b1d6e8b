package residue

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"swathe/geom"
)

// overhead is a camera that looks straight down: side m a pixel.
type overhead struct{ side float64 }

func (o overhead) Floor(px geom.Point2) (geom.Point2, bool) { return px.Scale(o.side), true }
func (o overhead) Pixel(p geom.Point2) (geom.Point2, bool)  { return p.Scale(1 / o.side), true }

// hairSeen is hair as covered shares of pixels, blurred by the lens: what is left
// of a picture when colour and noise are out of it.
func hairSeen(hairs [][]geom.Point2, wide, side, blur float64, w, h int) (*change, *small) {
	const n = 5
	fineIn := make([]bool, w*n*h*n)
	sub := side / n
	for _, l := range hairs {
		for k := 1; k < len(l); k++ {
			a, b := l[k-1], l[k]
			d := b.Sub(a)
			for y := int((min(a.Y, b.Y) - wide) / sub); y <= int((max(a.Y, b.Y)+wide)/sub); y++ {
				for x := int((min(a.X, b.X) - wide) / sub); x <= int((max(a.X, b.X)+wide)/sub); x++ {
					p := pt((float64(x)+0.5)*sub, (float64(y)+0.5)*sub)
					t := min(max(((p.X-a.X)*d.X+(p.Y-a.Y)*d.Y)/(d.X*d.X+d.Y*d.Y), 0), 1)
					if x >= 0 && y >= 0 && x < w*n && y < h*n && p.Dist(a.Add(d.Scale(t))) < wide/2 {
						fineIn[y*w*n+x] = true
					}
				}
			}
		}
	}
	a := make([]float32, w*h)
	for i, in := range fineIn {
		if in {
			a[(i/(w*n))/n*w+(i%(w*n))/n] += 1.0 / (n * n)
		}
	}
	a = smooth(a, w, h, blur)
	r := &roi{w: w, h: h, in: make([]bool, w*h), open: make([]bool, w*h), area: make([]float32, w*h), side: side}
	for i := range r.in {
		r.in[i], r.open[i], r.area[i] = true, true, float32(side*side)
	}
	o := &small{alpha: a, mask: make([]bool, w*h)}
	s := smooth(a, w, h, 0.4)
	top := highest(s, w, h, edgeReach)
	for i := range s {
		o.mask[i] = s[i] > 0.05 && s[i] > 0.5*min(1, max(top[i], 0.4))
	}
	return &change{roi: r}, o
}

// tuft is n strands of some 10 cm that wander from places within wide x high m.
func tuft(r *rand.Rand, n int, wide, high float64) (out [][]geom.Point2) {
	for len(out) < n {
		p := pt(0.1+wide*r.Float64(), 0.1+high*r.Float64())
		line := []geom.Point2{p}
		dir := r.Float64() * 2 * math.Pi
		for range 20 + r.IntN(20) {
			p = p.Add(pt(0.003*math.Cos(dir), 0.003*math.Sin(dir)))
			dir += r.NormFloat64() * 0.18
			line = append(line, p)
		}
		if !slices.ContainsFunc(line, func(p geom.Point2) bool { return p.X < 0.02 || p.Y < 0.02 || p.X > 0.6 || p.Y > 0.5 }) {
			out = append(out, line)
		}
	}
	return out
}

// TestHairCrossings holds the length of hair that lies across and upon itself
// against the length that was laid. Part of a dense tuft lies wholly beneath the
// rest: no picture shows that.
func TestHairCrossings(t *testing.T) {
	first := rand.Uint64() % 1000
	t.Logf("seeds from %d", first)
	for _, d := range []struct {
		name       string
		n          int
		wide, high float64 // m
		mean, rms  float64 // bounds, per cent
	}{{"one", 1, 0.4, 0.3, 1.5, 2}, {"loose", 6, 0.4, 0.3, 1.5, 2}, {"crossing", 12, 0.33, 0.14, 2, 2.5}, {"dense", 16, 0.25, 0.12, 3, 4}} {
		var mean, square, middle float64
		const sets = 12
		for k := range uint64(sets) {
			hairs := tuft(rand.New(rand.NewPCG(first+k, 77)), d.n, d.wide, d.high)
			want := 0.0
			for _, l := range hairs {
				want += Strand(l).length()
			}
			c, o := hairSeen(hairs, 0.0024, 0.0012, 0.6, 520, 440)
			h := c.strands(o, overhead{c.side})
			q := 100 * (h.Length/want - 1)
			mean += q / sets
			square += q * q / sets
			middle += 100 * (h.Middle/want - 1) / sets
		}
		t.Logf("%s: mean %+.2f %% (bound %g), root mean square %.2f (bound %g); middle lines alone %+.2f", d.name, mean, d.mean, math.Sqrt(square), d.rms, middle)
		if math.Abs(mean) > d.mean || math.Sqrt(square) > d.rms {
			t.Errorf("%s: beyond its bound", d.name)
		}
	}
}
