package residue

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// gain is the light of one picture against that of another at every place, per
// channel, in linear light: p = exp(polynomial in the place) clean^tone. Lamps,
// daylight and a lens's vignetting are smooth over a floor; soil is not. tone is
// 1 but for what a camera's curve does with another exposure; the floor's own
// pattern tells it.
type gain struct {
	cx, cy, s float64 // place is ((x-cx)/s, (y-cy)/s)
	k         [3][]float64
	tone      float64
	// spread is what is left between blocks of clean floor, as a share: the
	// uncertainty of the correction.
	spread float64
}

// gainDegree of the polynomial: a lamp's cosine to the fourth power and a
// vignette over a room are within 0.3 % of it.
const gainDegree = 4

// toneSigma is how far tone is from 1 if nothing tells it.
const toneSigma = 0.03

// mostTone is the most by which tone may differ from 1, and toneFrom the round of
// the fit from which it is sought.
const mostTone, toneFrom = 0.3, 5

// gainBlock is the side of the squares over which light is compared, px: large
// against grain and texture's misfit, small against soil.
const gainBlock = 16

func terms(dst []float64, x, y float64) []float64 {
	dst = dst[:0]
	px := 1.0
	for i := 0; i <= gainDegree; i++ {
		py := px
		for j := 0; i+j <= gainDegree; j++ {
			dst = append(dst, py)
			py *= y
		}
		px *= x
	}
	return dst
}

// fitGain finds gain of p over clean from the blocks that floor marks. Soil,
// robots, people and shadows are outliers (Tukey's biweight).
func fitGain(p, clean *light, floor []bool) *gain {
	w, h := p.w, p.h
	type block struct {
		x, y float64
		// Logarithms: of the ratio, and of the floor in both pictures, their mean. By
		// the clean one alone its noise, which is in the ratio too, would pass for tone
		// wherever a floor has no pattern. The fourth is of luma: where a floor is plain
		// JPEG rounds the chroma of whole blocks by a code, which would pass for tone too.
		v, t [4]float64
	}
	var blocks []block
	for y0 := 0; y0+gainBlock <= h; y0 += gainBlock {
		for x0 := 0; x0+gainBlock <= w; x0 += gainBlock {
			var ratio, level [4][]float64
			for y := y0; y < y0+gainBlock; y++ {
				for x := x0; x < x0+gainBlock; x++ {
					i := y*w + x
					if !floor[i] || clipped(p, i) || clipped(clean, i) {
						continue
					}
					for c := range ratio {
						v := clean.log(c, i)
						ratio[c], level[c] = append(ratio[c], p.log(c, i)-v), append(level[c], v)
					}
				}
			}
			if len(ratio[0]) < gainBlock*gainBlock/2 {
				continue
			}
			b := block{x: float64(x0) + gainBlock/2 - 0.5, y: float64(y0) + gainBlock/2 - 0.5}
			for c := range ratio {
				b.v[c] = trimmedMean(ratio[c])
				b.t[c] = trimmedMean(level[c]) + b.v[c]/2
			}
			blocks = append(blocks, b)
		}
	}
	if len(blocks) < 40 {
		return nil
	}
	g := &gain{cx: float64(w) / 2, cy: float64(h) / 2, s: float64(max(w, h)) / 2}
	weight := make([]float64, len(blocks))
	for i := range weight {
		weight[i] = 1
	}
	// A row has the terms of the place and, for luma, last, the floor's own level.
	var rows, toned [][]float64
	for _, b := range blocks {
		r := terms(nil, (b.x-g.cx)/g.s, (b.y-g.cy)/g.s)
		rows, toned = append(rows, r), append(toned, append(slices.Clone(r), b.t[3]))
	}
	a := 0.0
	// All three channels share the weights: what is soil in one is in all.
	for round := 0; round < 12; round++ {
		// What only one picture shows is above the level in both: a robot is tone to
		// anything that does not yet know it for an outlier.
		if round >= toneFrom {
			k := weighted(toned, func(i int) float64 { return blocks[i].v[3] }, weight, sq(math.Max(g.spread, 2e-3)/toneSigma))
			a = min(max(k[len(k)-1], -mostTone), mostTone)
		}
		for c := range g.k {
			g.k[c] = weighted(rows, func(i int) float64 { return blocks[i].v[c] - a*blocks[i].t[c] }, weight, 0)
		}
		dist := make([]float64, len(blocks))
		for i := range blocks {
			for c := range 3 {
				dist[i] = math.Max(dist[i], math.Abs(blocks[i].v[c]-a*blocks[i].t[c]-inner(g.k[c], rows[i])))
			}
		}
		sorted := slices.Clone(dist)
		slices.Sort(sorted)
		s := math.Max(sorted[len(sorted)/2], 2e-4)
		g.spread = s
		cut := 6.0 * s
		for i, d := range dist {
			weight[i] = 0
			if d < cut {
				weight[i] = sq(1 - sq(d/cut))
			}
		}
	}
	g.tone = (1 + a/2) / (1 - a/2)
	for c := range g.k {
		for i := range g.k[c] {
			g.k[c][i] /= 1 - a/2
		}
	}
	return g
}

// field is the logarithm of the gain at every pixel of a part of the picture, by
// straight lines between places gainBlock apart.
func (g *gain) field(x0, y0, w, h int) (f [3][]float32) {
	nx, ny := w/gainBlock+2, h/gainBlock+2
	grid := make([][3]float64, nx*ny)
	var buf [15]float64
	for j := range ny {
		for i := range nx {
			t := terms(buf[:0], (float64(x0+i*gainBlock)-g.cx)/g.s, (float64(y0+j*gainBlock)-g.cy)/g.s)
			for c := range 3 {
				grid[j*nx+i][c] = inner(g.k[c], t)
			}
		}
	}
	for c := range f {
		f[c] = make([]float32, w*h)
		for y := range h {
			j, fy := y/gainBlock, float64(y%gainBlock)/gainBlock
			for x := range w {
				i, fx := x/gainBlock, float64(x%gainBlock)/gainBlock
				a, b := grid[j*nx+i:], grid[(j+1)*nx+i:]
				f[c][y*w+x] = float32((a[0][c]*(1-fx)+a[1][c]*fx)*(1-fy) + (b[0][c]*(1-fx)+b[1][c]*fx)*fy)
			}
		}
	}
	return f
}

// apply brings the clean floor's light, w x h from (x0, y0), into that of the
// picture that g was fitted to; undo the other way.
func (g *gain) apply(l *light, x0, y0 int) {
	f := g.field(x0, y0, l.w, l.h)
	for c := range l.c {
		for i, v := range l.c[c] {
			l.c[c][i] = float32(math.Exp(float64(f[c][i]) + g.tone*math.Log(float64(max(v, darkest)))))
		}
	}
}

func (g *gain) undo(l *light, x0, y0 int) {
	f := g.field(x0, y0, l.w, l.h)
	for c := range l.c {
		for i, v := range l.c[c] {
			l.c[c][i] = float32(math.Exp((math.Log(float64(max(v, darkest))) - float64(f[c][i])) / g.tone))
		}
	}
}

// darkest is the least light that has a logarithm here: a third of a code.
const darkest = 1e-4

// middle is the gain of luminance in the middle of the picture.
func (g *gain) middle() float64 {
	return 0.2126*math.Exp(g.k[0][0]) + 0.7152*math.Exp(g.k[1][0]) + 0.0722*math.Exp(g.k[2][0])
}

// mostTint is how far one light may differ from another in the balance of red,
// green and blue: that of a lamp and of daylight is within 1.6 once a camera has
// balanced either.
const mostTint = 1.6

// tint is the largest of the three channels' gains by the smallest.
func (g *gain) tint() float64 {
	if g == nil {
		return 1
	}
	a, b, c := g.k[0][0], g.k[1][0], g.k[2][0]
	return math.Exp(max(a, b, c) - min(a, b, c))
}

// log is the logarithm of channel c at pixel i, or of what its luma, channel 3, is
// in linear light.
func (l *light) log(c, i int) float64 {
	if c < 3 {
		return math.Log(float64(l.c[c][i]))
	}
	y := 0.299*encodeFast(l.c[0][i]) + 0.587*encodeFast(l.c[1][i]) + 0.114*encodeFast(l.c[2][i])
	return math.Log(decode(float64(y) / 255))
}

// clipped tells whether a pixel is too dark or too bright to compare light by.
func clipped(l *light, i int) bool {
	for c := range l.c {
		if v := l.c[c][i]; v < 0.002 || v > 0.985 {
			return true
		}
	}
	return false
}

func inner(a, b []float64) float64 {
	v := 0.0
	for i := range a {
		v += a[i] * b[i]
	}
	return v
}

// weighted least squares; the last unknown is held to 0 by the given weight.
func weighted(rows [][]float64, v func(int) float64, weight []float64, hold float64) []float64 {
	n := len(rows[0])
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, r := range rows {
		w := weight[i]
		if w == 0 {
			continue
		}
		y := v(i)
		for j := range n {
			b.SetVec(j, b.AtVec(j)+w*r[j]*y)
			for k := j; k < n; k++ {
				a.SetSym(j, k, a.At(j, k)+w*r[j]*r[k])
			}
		}
	}
	for j := range n {
		a.SetSym(j, j, a.At(j, j)*(1+1e-9)+1e-9)
	}
	a.SetSym(n-1, n-1, a.At(n-1, n-1)+hold)
	var x mat.VecDense
	var chol mat.Cholesky
	if !chol.Factorize(a) || chol.SolveVecTo(&x, b) != nil {
		return make([]float64, n)
	}
	return slices.Clone(x.RawVector().Data)
}

// trimmedMean is the mean of the middle half.
func trimmedMean(v []float64) float64 {
	slices.Sort(v)
	v = v[len(v)/4 : len(v)-len(v)/4]
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}
