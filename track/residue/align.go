package residue

import (
	"fmt"
	"math"

	"swathe/geom"
)

// pattern is the floor's own pattern: the logarithm of luminance between two
// sizes, px, in units of its own spread; 0 where there is no floor. Strong places
// count no more than three spreads: soil, feet and lamps must not decide.
type pattern struct {
	w, h   int
	v      []float32
	spread float64 // in codes of a picture
	noise  float64 // what noise alone would spread by, in codes
}

func patternOf(l *light, floor []bool, fine, coarse float64) *pattern {
	y := l.luminance()
	for i, v := range y {
		y[i] = float32(math.Log(float64(max(v, 0.002))))
	}
	a, b, c := smooth(y, l.w, l.h, fine), smooth(y, l.w, l.h, coarse), smooth(y, l.w, l.h, 1)
	p := &pattern{w: l.w, h: l.h, v: a}
	// What stands at the floor's edge reaches as far in as the wider Gaussian.
	inner := erode(floor, l.w, l.h, int(3*coarse))
	var m, n []float64
	for i := range a {
		if a[i] -= b[i]; !inner[i] {
			a[i] = 0
		} else if i%5 == 0 {
			m, n = append(m, math.Abs(float64(a[i]))), append(n, math.Abs(float64(y[i]-c[i])))
		}
	}
	spread := 1.4826 * geom.Median(m)
	cut := float32(3 * spread)
	var level []float64
	for i := 0; i < len(y); i += 7 {
		if inner[i] {
			level = append(level, float64(y[i]))
		}
	}
	if len(level) > 0 {
		// The logarithm of codes is that of light by 2.2. Noise from pixel to pixel
		// keeps sqrt(1 - 1/pi + 1/(8 pi)) of itself less its Gaussian of 1 px, and of the
		// band some 1 / (2 sqrt(pi) fine).
		codes := 255 * encode(math.Exp(geom.Median(level))) / 2.2
		p.spread, p.noise = spread*codes, 1.4826*geom.Median(n)/0.85*codes/(2*math.Sqrt(math.Pi)*fine)
	}
	for i, v := range a {
		a[i] = min(max(v, -cut), cut)
	}
	return p
}

// match is the correlation of p with q moved by (dx, dy) px.
func (p *pattern) match(q *pattern, dx, dy int) float64 {
	var pp, qq, pq float64
	for y := max(0, -dy); y < min(p.h, p.h-dy); y++ {
		a, b := p.v[y*p.w:(y+1)*p.w], q.v[(y+dy)*p.w:(y+dy+1)*p.w]
		for x := max(0, -dx); x < min(p.w, p.w-dx); x++ {
			u, v := a[x], b[x+dx]
			if u != 0 && v != 0 {
				pp += float64(u * u)
				qq += float64(v * v)
				pq += float64(u * v)
			}
		}
	}
	if pp == 0 || qq == 0 {
		return 0
	}
	return pq / math.Sqrt(pp*qq)
}

// shift finds by how many pixels q's pattern lies beside p's, within reach, and
// how well they match there: the best whole step and a parabola through it and
// its neighbours.
func (p *pattern) shift(q *pattern, reach int) (dx, dy, match float64) {
	bx, by, best := 0, 0, p.match(q, 0, 0)
	// Downhill from 0 first, then everywhere if that finds nothing good.
	search := func(step, r int) {
		cx, cy := bx, by
		for j := -r; j <= r; j += step {
			for i := -r; i <= r; i += step {
				if m := p.match(q, cx+i, cy+j); m > best {
					bx, by, best = cx+i, cy+j, m
				}
			}
		}
	}
	search(1, 1)
	if best < sameFloor {
		search(4, reach)
		search(2, 2)
		search(1, 1)
	}
	top := func(a, b, c float64) float64 {
		if d := a - 2*b + c; d < 0 {
			return min(max((a-c)/(2*d), -0.5), 0.5)
		}
		return 0
	}
	dx = float64(bx) + top(p.match(q, bx-1, by), best, p.match(q, bx+1, by))
	dy = float64(by) + top(p.match(q, bx, by-1), best, p.match(q, bx, by+1))
	return dx, dy, best
}

// sameFloor is the correlation of two pictures' patterns below which they show
// another floor.
const sameFloor = 0.4

// plain tells whether a pattern is no more than a camera's noise and its coding,
// which is even in codes and some twice as coarse as that of single pixels: then
// the floor has none to tell by.
func (p *pattern) plain() bool {
	return p.spread < 0.3 || p.spread < 1 && p.spread < 2.5*p.noise
}

// Mismatch says that two pictures do not show the same floor from the same place.
type Mismatch struct{ Message string }

func (m *Mismatch) Error() string { return m.Message }

// aligned tells by how many pixels p lies beside ref, or a *Mismatch if it is too
// far, or another floor.
func aligned(ref, p *light, floor []bool, side float64, names [2]string) (dx, dy float64, err error) {
	// Fine enough to tell a tenth of a pixel, coarse enough to be above the noise.
	a, b := patternOf(ref, floor, 1.5, 8), patternOf(p, floor, 1.5, 8)
	dx, dy, m := a.shift(b, 24)
	if m >= sameFloor {
		if d := math.Hypot(dx, dy); d*side > MaxMarkResidual && d > 0.5 {
			return dx, dy, &Mismatch{fmt.Sprintf("take both pictures from one place, or give marks that are right for both: the %s picture is shifted by %.1f mm (%.1f pixels) from the %s one",
				names[1], d*side*1000, d, names[0])}
		}
		return dx, dy, nil
	}
	if a.plain() && b.plain() {
		return 0, 0, nil // nothing to tell by
	}
	return 0, 0, &Mismatch{fmt.Sprintf("take both pictures of the same floor from one place: the %s picture differs from the %s one, or the camera moved too far (their patterns agree by only %.0f %%)",
		names[1], names[0], 100*math.Max(0, m))}
}

// moved is a picture taken from (dx, dy) px further on: Catmull and Rom's cubic
// between pixels.
func (l *light) moved(dx, dy float64) *light {
	ix, iy := int(math.Floor(dx)), int(math.Floor(dy))
	kx, ky := cubic(dx-float64(ix)), cubic(dy-float64(iy))
	o := newLight(l.w, l.h)
	tmp := make([]float32, l.w*l.h)
	for c := range l.c {
		for y := range l.h {
			row := l.c[c][y*l.w : (y+1)*l.w]
			for x := range l.w {
				v := float32(0)
				for i, k := range kx {
					v += k * row[min(max(x+ix+i-1, 0), l.w-1)]
				}
				tmp[y*l.w+x] = v
			}
		}
		for y := range l.h {
			dst := o.c[c][y*l.w : (y+1)*l.w]
			for i, k := range ky {
				row := tmp[min(max(y+iy+i-1, 0), l.h-1)*l.w:]
				for x := range dst {
					dst[x] += k * row[x]
				}
			}
		}
	}
	return o
}

func cubic(t float64) [4]float32 {
	return [4]float32{
		float32(((-0.5*t+1)*t - 0.5) * t), float32((1.5*t-2.5)*t*t + 1),
		float32(((-1.5*t+2)*t + 0.5) * t), float32((0.5*t - 0.5) * t * t),
	}
}
