package residue

import (
	"fmt"
	"math"

	"swathe/geom"
)

// Field is one field of a printed grey or colour card that lies on the floor
// beside a patch: what it shows is known.
type Field struct {
	Outline []geom.Point2 `json:"outline"` // floor, m
	SRGB    [3]float64    `json:"srgb"`    // its colour, codes 0..255 of sRGB, fractions allowed
}

// FromD50 is a colour that a card's maker gives as CIELAB under D50, as printers
// do, in codes of sRGB: by Bradford's matrix from D50 to D65 (ICC.1:2022, annex E;
// its inverse, value from memory), then IEC 61966-2-1. A colour that sRGB cannot
// show has codes beyond 0..255.
func FromD50(l, a, b float64) [3]float64 {
	fy := (l + 16) / 116
	white := [3]float64{0.9642, 1, 0.8249}
	var p [3]float64
	for i, f := range [3]float64{fy + a/500, fy, fy - b/200} {
		const d = 6.0 / 29
		v := 3 * d * d * (f - 4.0/29)
		if f > d {
			v = f * f * f
		}
		p[i] = v * white[i]
	}
	x := 0.9555766*p[0] - 0.0230393*p[1] + 0.0631636*p[2]
	y := -0.0282895*p[0] + 1.0099416*p[1] + 0.0210077*p[2]
	z := 0.0122982*p[0] - 0.0204830*p[1] + 1.3299098*p[2]
	return [3]float64{
		255 * encode(3.2406*x-1.5372*y-0.4986*z),
		255 * encode(-0.9689*x+1.8758*y+0.0415*z),
		255 * encode(0.0557*x-0.2040*y+1.0570*z),
	}
}

// tuning turns colours as a picture has them into those that its card tells, per
// channel in linear light: true = exp(k) seen^e. nil changes nothing.
type tuning struct {
	k, e [3]float64
	miss float64 // CIEDE2000 by which the card's fields are still off, mean
}

// lab is a colour in codes as CIELAB, by the card.
func (t *tuning) lab(r, g, b float64) Lab {
	if t == nil {
		return labAt(r, g, b)
	}
	v := [3]float64{r, g, b}
	for c := range v {
		v[c] = math.Exp(t.k[c] + t.e[c]*math.Log(math.Max(decode(v[c]/255), darkest)))
	}
	return LabOf(v[0], v[1], v[2])
}

const (
	// leastField is how many pixels a field must show: of its mean colour a
	// hundredth of a code is left of the noise of one.
	leastField = 100
	// mostTuning is how far, as a factor, a card may lie from what a picture shows
	// of it: three stops. Beyond, what lies there is not the card.
	mostTuning = 8
	// mostMiss is how far off, CIEDE2000, the fields may be still: a camera's own
	// colours are off by some 3 to 5 of what a card says after its white is right
	// (common practice), another thing than the card by more.
	mostMiss = 8
	// tells is the range of light, as a factor, that the fields must span to tell a
	// camera's tone curve as well as its exposure.
	tells = 3
)

// fieldOf is the mean light of a card's field, at least a pixel and a half inside
// its outline. The error says why it cannot be had.
func fieldOf(g Ground, f Field, p *light, at string) (mean [3]float64, err error) {
	in := erode(raster(g, f.Outline, p.w, p.h), p.w, p.h, 2)
	n, cut := 0, 0
	for i, m := range in {
		if !m {
			continue
		}
		n++
		if clipped(p, i) {
			cut++
		}
		for c := range mean {
			mean[c] += float64(p.c[c][i])
		}
	}
	switch {
	case n < leastField:
		return mean, fmt.Errorf("%s shows on %d pixels; it takes %d", at, n, leastField)
	case cut > n/20:
		return mean, fmt.Errorf("%s is over-exposed or black in the picture", at)
	}
	for c := range mean {
		mean[c] /= float64(n)
	}
	return mean, nil
}

// tune reads a card in a picture in linear light.
func tune(g Ground, card []Field, p *light) (*tuning, error) {
	var seen, known [][3]float64
	for i, f := range card {
		m, err := fieldOf(g, f, p, fmt.Sprintf("field %d of the card", i+1))
		if err != nil {
			return nil, err
		}
		k := [3]float64{}
		for c := range k {
			k[c] = math.Log(math.Max(decode(f.SRGB[c]/255), darkest))
			m[c] = math.Log(math.Max(m[c], darkest))
		}
		seen, known = append(seen, m), append(known, k)
	}
	t := &tuning{e: [3]float64{1, 1, 1}}
	n := float64(len(card))
	for c := range 3 {
		var x, y, xx, xy float64
		low, high := math.Inf(1), math.Inf(-1)
		for i := range seen {
			u, v := seen[i][c], known[i][c]
			x, y, xx, xy = x+u/n, y+v/n, xx+u*u/n, xy+u*v/n
			low, high = min(low, u), max(high, u)
		}
		if high-low > math.Log(tells) {
			t.e[c] = (xy - x*y) / (xx - x*x)
		}
		t.k[c] = y - t.e[c]*x
		if d := math.Abs(y - x); d > math.Log(mostTuning) || !(t.e[c] > 0.4 && t.e[c] < 2.5) {
			return nil, fmt.Errorf("what lies where the card should be differs from it by a factor of %.1f", math.Exp(d))
		}
	}
	for i, f := range card {
		q := [3]float64{}
		for c := range q {
			q[c] = 255 * encode(math.Exp(seen[i][c]))
		}
		t.miss += CIEDE2000(t.lab(q[0], q[1], q[2]), labAt(f.SRGB[0], f.SRGB[1], f.SRGB[2])) / n
	}
	if t.miss > mostMiss {
		return nil, fmt.Errorf("its fields are off by %.1f (CIEDE2000) still when their light is right: not this card, or its values are of another light", t.miss)
	}
	return t, nil
}

// cards tunes the common light by a patch's card, as the brightest picture shows
// it, and says by how much, as a share of the light, the card in the other
// pictures contradicts the floor about it.
func (j Job) cards(why *notes, card []Field, lit *lighting, clean, before, after *light) (t *tuning, spread float64) {
	if len(card) == 0 {
		return nil, 0
	}
	best, name := before, "before"
	switch {
	case lit.into != nil && lit.into == lit.after:
		best, name = after, "after"
	case lit.into == nil && clean != nil:
		best, name = clean, "clean"
	}
	t, err := tune(j.Ground, card, best)
	if err != nil {
		why.add("the colours are not corrected by the card: in the %s picture %v", name, err)
		return nil, 0
	}
	whole := &roi{w: before.w, h: before.h}
	for _, p := range []struct {
		l   *light
		own *gain
	}{{clean, nil}, {before, lit.before}, {after, lit.after}} {
		if p.l == nil || p.l == best {
			continue
		}
		q := lit.carry(whole, p.l, p.own)
		for i, f := range card {
			a, err1 := fieldOf(j.Ground, f, q, "")
			b, err2 := fieldOf(j.Ground, f, best, "")
			if err1 != nil || err2 != nil {
				why.add("field %d of the card does not show well in every picture, so it does not judge the light between them", i+1)
				return t, spread
			}
			for c := range a {
				spread = math.Max(spread, math.Abs(math.Log(a[c]/b[c])))
			}
		}
	}
	return t, spread
}
