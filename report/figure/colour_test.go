package figure

import (
	"fmt"
	"image/color"
	"math"
	"math/rand"
	"slices"
	"testing"

	"github.com/lucasb-eyer/go-colorful"
	"gonum.org/v1/plot/palette/brewer"
)

// lab is a colour in CIELAB under D65.
type lab struct{ l, a, b float64 }

// linear undoes the transfer curve of sRGB (IEC 61966-2-1).
func linear(v uint8) float64 {
	x := float64(v) / 255
	if x <= 0.04045 {
		return x / 12.92
	}
	return math.Pow((x+0.055)/1.055, 2.4)
}

// toLab converts linear sRGB to CIELAB.
func toLab(r, g, b float64) lab {
	x := (0.4124564*r + 0.3575761*g + 0.1804375*b) / 0.95047
	y := 0.2126729*r + 0.7151522*g + 0.0721750*b
	z := (0.0193339*r + 0.1191920*g + 0.9503041*b) / 1.08883
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	return lab{116*f(y) - 16, 500 * (f(x) - f(y)), 200 * (f(y) - f(z))}
}

// ciede2000 is the colour difference of CIE 142-2001 as G. Sharma, W. Wu and
// E. N. Dalal give it: "The CIEDE2000 color-difference formula: implementation
// notes, supplementary test data, and mathematical observations", Color
// Research and Application 30(1), 2005, pp. 21-30.
func ciede2000(p, q lab) float64 {
	deg := math.Pi / 180
	// Hues that are exactly opposite (pair 14) must not fall to either side by
	// rounding.
	const opposite = 1e-9
	c7 := func(c float64) float64 { return math.Sqrt(math.Pow(c, 7) / (math.Pow(c, 7) + math.Pow(25, 7))) }
	g := 0.5 * (1 - c7((math.Hypot(p.a, p.b)+math.Hypot(q.a, q.b))/2))
	a1, a2 := p.a*(1+g), q.a*(1+g)
	c1, c2 := math.Hypot(a1, p.b), math.Hypot(a2, q.b)
	hue := func(a, b float64) float64 {
		if a == 0 && b == 0 {
			return 0
		}
		h := math.Atan2(b, a) / deg
		if h < 0 {
			h += 360
		}
		return h
	}
	h1, h2 := hue(a1, p.b), hue(a2, q.b)
	dl, dc := q.l-p.l, c2-c1
	dh := h2 - h1
	switch {
	case c1*c2 == 0:
		dh = 0
	case dh > 180+opposite:
		dh -= 360
	case dh < -180-opposite:
		dh += 360
	}
	dH := 2 * math.Sqrt(c1*c2) * math.Sin(dh/2*deg)
	lm, cm := (p.l+q.l)/2, (c1+c2)/2
	hm := h1 + h2
	if c1*c2 != 0 {
		switch {
		case math.Abs(h1-h2) <= 180+opposite:
			hm /= 2
		case hm < 360:
			hm = (hm + 360) / 2
		default:
			hm = (hm - 360) / 2
		}
	}
	t := 1 - 0.17*math.Cos((hm-30)*deg) + 0.24*math.Cos(2*hm*deg) + 0.32*math.Cos((3*hm+6)*deg) - 0.20*math.Cos((4*hm-63)*deg)
	rt := -math.Sin(2*30*math.Exp(-math.Pow((hm-275)/25, 2))*deg) * 2 * c7(cm)
	sl := 1 + 0.015*math.Pow(lm-50, 2)/math.Sqrt(20+math.Pow(lm-50, 2))
	sc, sh := 1+0.045*cm, 1+0.015*cm*t
	return math.Sqrt(math.Pow(dl/sl, 2) + math.Pow(dc/sc, 2) + math.Pow(dH/sh, 2) + rt*dc/sc*dH/sh)
}

// Table 1 of Sharma, Wu and Dalal 2005.
var sharma = []struct {
	p, q lab
	d    float64
}{
	{lab{50, 2.6772, -79.7751}, lab{50, 0, -82.7485}, 2.0425},
	{lab{50, 3.1571, -77.2803}, lab{50, 0, -82.7485}, 2.8615},
	{lab{50, 2.8361, -74.02}, lab{50, 0, -82.7485}, 3.4412},
	{lab{50, -1.3802, -84.2814}, lab{50, 0, -82.7485}, 1.0000},
	{lab{50, -1.1848, -84.8006}, lab{50, 0, -82.7485}, 1.0000},
	{lab{50, -0.9009, -85.5211}, lab{50, 0, -82.7485}, 1.0000},
	{lab{50, 0, 0}, lab{50, -1, 2}, 2.3669},
	{lab{50, -1, 2}, lab{50, 0, 0}, 2.3669},
	{lab{50, 2.49, -0.001}, lab{50, -2.49, 0.0009}, 7.1792},
	{lab{50, 2.49, -0.001}, lab{50, -2.49, 0.001}, 7.1792},
	{lab{50, 2.49, -0.001}, lab{50, -2.49, 0.0011}, 7.2195},
	{lab{50, 2.49, -0.001}, lab{50, -2.49, 0.0012}, 7.2195},
	{lab{50, -0.001, 2.49}, lab{50, 0.0009, -2.49}, 4.8045},
	{lab{50, -0.001, 2.49}, lab{50, 0.001, -2.49}, 4.8045},
	{lab{50, -0.001, 2.49}, lab{50, 0.0011, -2.49}, 4.7461},
	{lab{50, 2.5, 0}, lab{50, 0, -2.5}, 4.3065},
	{lab{50, 2.5, 0}, lab{73, 25, -18}, 27.1492},
	{lab{50, 2.5, 0}, lab{61, -5, 29}, 22.8977},
	{lab{50, 2.5, 0}, lab{56, -27, -3}, 31.9030},
	{lab{50, 2.5, 0}, lab{58, 24, 15}, 19.4535},
	{lab{50, 2.5, 0}, lab{50, 3.1736, 0.5854}, 1.0000},
	{lab{50, 2.5, 0}, lab{50, 3.2972, 0}, 1.0000},
	{lab{50, 2.5, 0}, lab{50, 1.8634, 0.5757}, 1.0000},
	{lab{50, 2.5, 0}, lab{50, 3.2592, 0.335}, 1.0000},
	{lab{60.2574, -34.0099, 36.2677}, lab{60.4626, -34.1751, 39.4387}, 1.2644},
	{lab{63.0109, -31.0961, -5.8663}, lab{62.8187, -29.7946, -4.0864}, 1.2630},
	{lab{61.2901, 3.7196, -5.3901}, lab{61.4292, 2.248, -4.962}, 1.8731},
	{lab{35.0831, -44.1164, 3.7933}, lab{35.0232, -40.0716, 1.5901}, 1.8645},
	{lab{22.7233, 20.0904, -46.694}, lab{23.0331, 14.973, -42.5619}, 2.0373},
	{lab{36.4612, 47.858, 18.3852}, lab{36.2715, 50.5065, 21.2231}, 1.4146},
	{lab{90.8027, -2.0831, 1.441}, lab{91.1528, -1.6435, 0.0447}, 1.4441},
	{lab{90.9257, -0.5406, -0.9208}, lab{88.6381, -0.8985, -0.7239}, 1.5381},
	{lab{6.7747, -0.2908, -2.4247}, lab{5.8714, -0.0985, -2.2286}, 0.6377},
	{lab{2.0776, 0.0795, -1.135}, lab{0.9033, -0.0636, -0.5514}, 0.9082},
}

func TestCIEDE2000AgainstItsPublishedPairs(t *testing.T) {
	if len(sharma) != 34 {
		t.Fatalf("%d pairs, the table has 34", len(sharma))
	}
	worst := 0.0
	for i, s := range sharma {
		for _, d := range []float64{ciede2000(s.p, s.q), ciede2000(s.q, s.p)} {
			worst = math.Max(worst, math.Abs(d-s.d))
			if math.Abs(d-s.d) > 1e-4 {
				t.Errorf("pair %d: %.4f, published %.4f", i+1, d, s.d)
			}
		}
	}
	t.Logf("worst deviation %.2g, bound 1e-4", worst)
}

// A second implementation, go-colorful, agrees on random colours.
func TestCIEDE2000AgainstGoColorful(t *testing.T) {
	seed := rand.Int63()
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for i := 0; i < 2000; i++ {
		p, q := colorful.Color{R: rng.Float64(), G: rng.Float64(), B: rng.Float64()}, colorful.Color{R: rng.Float64(), G: rng.Float64(), B: rng.Float64()}
		of := func(c colorful.Color) lab {
			l, a, b := c.Lab()
			return lab{l * 100, a * 100, b * 100}
		}
		want := p.DistanceCIEDE2000(q) * 100
		if got := ciede2000(of(p), of(q)); math.Abs(got-want) > 1e-6*(1+want) {
			t.Fatalf("%v and %v: %.6f, go-colorful %.6f", p, q, got, want)
		}
	}
}

// sight is a way of seeing a colour.
type sight struct {
	name string
	see  func(c color.RGBA) lab
}

// Full protanopia, deuteranopia and tritanopia: the matrices for severity 1.0 of G. M.
// Machado, M. M. Oliveira and L. A. F. Fernandes, "A physiologically-based
// model for simulation of color vision deficiency", IEEE Transactions on
// Visualization and Computer Graphics 15(6), 2009 (from memory; their rows sum
// to one, which the test checks).
var (
	protan = [3][3]float64{{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}}
	deutan = [3][3]float64{{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}
	tritan = [3][3]float64{{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}}
)

func matrix(m [3][3]float64) func(color.RGBA) lab {
	return func(c color.RGBA) lab {
		v := [3]float64{linear(c.R), linear(c.G), linear(c.B)}
		var o [3]float64
		for i := range o {
			for j := range v {
				o[i] += m[i][j] * v[j]
			}
			o[i] = math.Min(1, math.Max(0, o[i]))
		}
		return toLab(o[0], o[1], o[2])
	}
}

var sights = []sight{
	{"full colour", matrix([3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}})},
	{"protanopia", matrix(protan)},
	{"deuteranopia", matrix(deutan)},
	{"tritanopia", matrix(tritan)},
	{"grey print", func(c color.RGBA) lab { y := luminance(c); return toLab(y, y, y) }},
}

func TestSimulationKeepsGrey(t *testing.T) {
	for _, m := range [][3][3]float64{protan, deutan, tritan} {
		for i, r := range m {
			if s := r[0] + r[1] + r[2]; math.Abs(s-1) > 2e-6 {
				t.Errorf("row %d sums to %v", i, s)
			}
		}
	}
}

// apart checks that colours stay at least bound apart in every sight: pairs of
// neighbours, or all pairs.
func apart(t *testing.T, what string, cs []color.RGBA, all bool, bound float64) {
	t.Helper()
	for _, s := range sights {
		least, at := math.Inf(1), ""
		for i := range cs {
			for j := i + 1; j < len(cs); j++ {
				if !all && j > i+1 {
					break
				}
				if d := ciede2000(s.see(cs[i]), s.see(cs[j])); d < least {
					least, at = d, fmt.Sprintf("%d and %d", i, j)
				}
			}
		}
		t.Logf("%s, %s: least difference %.1f (%s), bound %.0f", what, s.name, least, at, bound)
		if least < bound {
			t.Errorf("%s, %s: colours %s are only %.2f apart, want %.0f", what, s.name, at, least, bound)
		}
	}
}

func TestColoursStayApartForEveryReader(t *testing.T) {
	apart(t, "pass map, all pairs", PassColours[:], true, 5)
	apart(t, "time use", []color.RGBA{useNewColour, useEdgesColour, useAgainColour, useOtherColour}, true, 5)
	for n := 2; n <= maxCounted; n++ {
		apart(t, fmt.Sprintf("agreement of %d runs", n), agreementColours(n), true, 5)
	}
	apart(t, "difference of two runs", differenceColours[:], true, 5)
	apart(t, "soil", soilColours[:], true, 5)
	apart(t, "seconds", secondsColours(), false, 5)
	for theme, p := range palettes {
		var cs []color.RGBA
		for i := 0; i <= 5; i++ {
			cs = append(cs, p.timeColour(float64(i)/5))
		}
		apart(t, "time in fifths, "+string(theme), cs, false, 5)
		for i, c := range append(cs, missedColour) {
			if d := ciede2000(sights[4].see(c), sights[4].see(p.floor)); d < 10 {
				t.Errorf("%s: colour of time %d is only %.1f from the floor in grey", theme, i, d)
			}
		}
	}
}

// inferno is built to rise in lightness evenly (van der Walt and Smith 2015; our
// table of every tenth colour is from memory); a slip in it would show as a step.
func TestRampRisesEvenly(t *testing.T) {
	lightness := func(i int) float64 {
		return sights[0].see(ramp(float64(i) / 255)).l
	}
	// Steps of five, as in the table: smaller ones drown in the rounding to 8 bits.
	mean := (lightness(255) - lightness(0)) / 51
	for i := 5; i < 256; i += 5 {
		if d := lightness(i) - lightness(i-5); d < 0.4*mean || d > 1.6*mean {
			t.Errorf("step %d rises by %.3f, on average %.3f", i, d, mean)
		}
	}
}

// ratio is the contrast of two colours (WCAG 2.2).
func ratio(a, b color.RGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// Cleaned floor stands out from all that can lie beside it by 1.5, in every theme;
// two classes of floor stand out from each other by 3 or have different patterns.
func TestCleanedFloorStandsOut(t *testing.T) {
	for theme, p := range palettes {
		for what, c := range map[string]color.RGBA{"page": p.page, "bare floor": p.floor, "not reachable": p.hatchGround, "furniture": p.obstacle} {
			if r := ratio(PassColours[0], c); r < 1.5 {
				t.Errorf("%s: cleaned once stands out from %s by %.2f, want 1.5", theme, what, r)
			}
		}
		for i, c := range PassColours {
			r := ratio(c, p.obstacle)
			t.Logf("%s, class %d on furniture: %.2f", theme, i+1, r)
			if theme == Dark && r < 1.5 {
				t.Errorf("%s: class %d stands out from furniture by %.2f, want 1.5", theme, i+1, r)
			}
		}
	}
	for i := range 3 {
		if r := ratio(PassColours[i], PassColours[i+1]); r < 1.5 {
			t.Errorf("classes %d and %d stand out from each other by %.2f, want 1.5", i+1, i+2, r)
		}
	}
	names := []string{"missed", "once", "twice", "3 times", "4 and more"}
	colours := append([]color.RGBA{missedColour}, PassColours[:]...)
	patterns := []string{"lines that fall", "", "dots", "upright lines", ""}
	for i := range colours {
		for j := i + 1; j < len(colours); j++ {
			r := ratio(colours[i], colours[j])
			t.Logf("%s against %s: %.2f : 1, patterns %q and %q", names[i], names[j], r, patterns[i], patterns[j])
			if r < 3 && patterns[i] == patterns[j] {
				t.Errorf("%s and %s are %.2f : 1 apart and have the same pattern", names[i], names[j], r)
			}
		}
	}
	if r := ratio(missedLine, missedColour); r < 3 {
		t.Errorf("the lines on missed floor stand out by %.2f, want 3", r)
	}
}

// Text stands out from its ground by 4.5 or more (WCAG 2.2, 1.4.3).
func TestWordsStandOut(t *testing.T) {
	for theme, p := range palettes {
		for what, r := range map[string]float64{
			"text": ratio(p.text, p.page), "faint text": ratio(p.faint, p.page),
			"dashes on the line beneath them": ratio(p.over, p.page),
			"a name on an obstacle":           ratio(contrast(p.obstacle).c.(color.RGBA), p.obstacle),
		} {
			t.Logf("%s, %s: %.1f, bound 4.5", theme, what, r)
			if r < 4.5 {
				t.Errorf("%s, %s: contrast %.2f, want 4.5", theme, what, r)
			}
		}
		// A line that must be seen stands out by 3 (WCAG 2.2, 1.4.11).
		least := math.Inf(1)
		for i := 0; i <= 100; i++ {
			least = math.Min(least, ratio(p.timeColour(float64(i)/100), p.floor))
		}
		t.Logf("%s, the path on the floor: %.2f at the least, bound 3", theme, least)
		if least < 3 {
			t.Errorf("%s: the path stands out from the floor by %.2f, want 3", theme, least)
		}
	}
}

// The colours that the code says are ColorBrewer's are: a second copy of its
// tables, gonum's, has them.
func TestColoursAreThePublishedOnes(t *testing.T) {
	of := func(kind brewer.PaletteType, name string, n int) []color.RGBA {
		p, err := brewer.GetPalette(kind, name, n)
		if err != nil {
			t.Fatal(err)
		}
		var out []color.RGBA
		for _, c := range p.Colors() {
			r, g, b, _ := c.RGBA()
			out = append(out, color.RGBA{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8), 255})
		}
		return out
	}
	nine := of(brewer.TypeSequential, "Blues", 9)
	blues := []color.RGBA{nine[3], nine[5], nine[6], nine[7]}
	if !slices.Equal(blues, PassColours[:]) {
		t.Errorf("Blues: %v, ours %v", blues, PassColours)
	}
	if reds := of(brewer.TypeSequential, "Reds", 5); reds[4] != missedColour {
		t.Errorf("Reds: %v, ours %v", reds[4], missedColour)
	}
	if c := of(brewer.TypeSequential, "YlGnBu", 7); !slices.Equal(c, secondsColours()) {
		t.Errorf("YlGnBu: %v, ours %v", c, secondsColours())
	}
	if c := of(brewer.TypeDiverging, "PuOr", 8); !slices.Contains(c, differenceColours[1]) || !slices.Contains(c, differenceColours[2]) {
		t.Errorf("PuOr: %v, ours %v", c, differenceColours)
	}
	greens := of(brewer.TypeSequential, "Greens", 7)
	for _, c := range agreementScale {
		if !slices.Contains(greens, c) {
			t.Errorf("Greens: %v, ours %v", greens, agreementScale)
		}
	}
}
