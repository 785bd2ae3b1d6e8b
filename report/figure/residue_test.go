package figure

import (
	"bytes"
	"image/color"
	"math"
	"strings"
	"testing"

	"swathe/geom"
)

// spill is a drawn patch of 0.3 x 0.2 m: a striped floor, a stain of 8 cm square of
// which the left half is gone afterwards. Its colours differ by 20 where it lies.
func spill() Residue {
	r := Residue{
		Layout: "pantry", Patch: "spill", Kind: "stain", BeforeM2: 0.0064, AfterM2: 0.0032, BeforeLengthM: math.NaN(), AfterLengthM: math.NaN(),
		BeforeCount: 1, AfterCount: 1, LeftShare: 0.5, DifferenceMean: 20,
		Outline: []geom.Point2{{X: 1, Y: 0.5}, {X: 1.3, Y: 0.5}, {X: 1.3, Y: 0.7}, {X: 1, Y: 0.7}},
		Cols:    300, Rows: 200, X0: 1, Y0: 0.5, PixelM: 0.001,
	}
	for v := range r.Rows {
		for u := range r.Cols {
			floor := [3]byte{196, 176, 150}
			if u/20%2 == 1 {
				floor = [3]byte{180, 160, 134}
			}
			soil := [3]byte{120, 60, 40}
			put := func(to, d *[]byte, lies bool) {
				c, delta := floor, byte(u%3)
				if lies {
					c, delta = soil, 80
				}
				*to, *d = append(*to, c[:]...), append(*d, delta)
			}
			in := u >= 100 && u < 180 && v >= 30 && v < 110
			put(&r.Before, &r.DifferenceBefore, in)
			put(&r.After, &r.DifferenceAfter, in && u >= 140)
		}
	}
	return r
}

func spillTools() []ResidueTool {
	return []ResidueTool{
		{"brush", [5]float64{0.0010, 0.0024, 0.0020, 0.0010, 0}, [5]float64{0.0010, 0.0014, 0.0007, 0.0001, 0}},
		{"pad", [5]float64{0.0052, 0.0012, 0, 0, 0}, [5]float64{0.0030, 0.0002, 0, 0, 0}},
	}
}

func TestGoldenResidue(t *testing.T) {
	for _, theme := range []Theme{Light, Dark, Print} {
		opt := DefaultOptions()
		opt.Width, opt.Height, opt.DPI, opt.Theme = 640, 480, 80, theme
		p, err := Left(spill(), opt)
		if err != nil {
			t.Fatal(err)
		}
		golden(t, "residue_"+string(theme), p)
		if p, err = LeftByPasses(spill(), "pantry/wren_mapped_1", spillTools(), opt); err != nil {
			t.Fatal(err)
		}
		golden(t, "residue_passes_"+string(theme), p)
	}
}

// The pictures before, after and of the difference show the stain with its drawn
// area, the right way up, at the scale that the picture states.
func TestResidueAtOneScale(t *testing.T) {
	opt := DefaultOptions()
	opt.Labels, opt.Width, opt.Height = None, 900, 640
	p, err := Left(spill(), opt)
	if err != nil {
		t.Fatal(err)
	}
	img, m := p.Image(), p.MetresPerPixel()
	count := func(of color.RGBA) (m2, x, y float64) {
		n := 0.0
		for v := range opt.Height {
			for u := range opt.Width {
				if c := color.RGBAModel.Convert(img.At(u, v)).(color.RGBA); c == of {
					n, x, y = n+1, x+float64(u), y+float64(v)
				}
			}
		}
		return n * m * m, x / n, y / n
	}
	for what, c := range map[string]color.RGBA{"pictures": {120, 60, 40, 255}, "differences": soilColours[3]} {
		m2, _, _ := count(c)
		t.Logf("%s: %.5f m2", what, m2)
		if want := 0.0064 + 0.0032; math.Abs(m2-want) > 0.03*want { // a pixel along the edges
			t.Errorf("%s: %.5f m2 of soil before and after, want %.5f", what, m2, want)
		}
	}
	_, _, y := count(color.RGBA{120, 60, 40, 255})
	_, _, below := count(soilColours[3])
	// The stain lies in the upper part of the patch; the differences lie beneath the pictures.
	if height := 0.2 / m; math.Abs(below-y-height) > 0.2*height {
		t.Errorf("differences lie %.0f pixels beneath the pictures, which are %.0f high", below-y, height)
	}
	if middle := y * m; middle > 0.1 {
		t.Errorf("the stain's middle lies %.3f m from the top, want 0.07 and the margin", middle)
	}
	bad := spill()
	bad.After = bad.After[1:]
	if _, err := Left(bad, opt); err == nil {
		t.Error("half a picture was drawn")
	}
	if _, err := LeftByPasses(spill(), "", nil, opt); err == nil {
		t.Error("passes of no run were drawn")
	}
}

// What a picture says in words for readers who cannot see it.
func TestResidueAlt(t *testing.T) {
	opt := DefaultOptions()
	p, err := LeftByPasses(spill(), "pantry/wren_mapped_1", spillTools(), opt)
	if err != nil {
		t.Fatal(err)
	}
	alt := strings.ReplaceAll(p.Alt, "\u00a0", " ")
	for _, want := range []string{"brush: never passed 100.0 % of 10 cm²", "3 passes 10.0 % of 10 cm², 4 or more no soil there", "pad: never passed 57.7 % of 52 cm²"} {
		if !strings.Contains(alt, want) {
			t.Errorf("%q does not hold %q", alt, want)
		}
	}
	r := spill()
	r.LeftShare, r.Reason = math.NaN(), "the light is too uneven"
	if p, err = Left(r, opt); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(p.Alt, "not measured") || !strings.Contains(p.Alt, r.Reason) {
		t.Errorf("the reason is missing: %s", p.Alt)
	}
	var buf bytes.Buffer
	for _, f := range Formats() {
		if err := p.Write(&buf, f); err != nil {
			t.Error(err)
		}
	}
}

// A plate has every patch before in one row and after below it, each by its colours.
func TestLeftPlate(t *testing.T) {
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI = 640, 480, 80
	other := spill()
	other.Patch = "second"
	p, err := LeftPlate([]Residue{spill(), other}, opt)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(p.Alt, "2 patches of the layout pantry") || !strings.Contains(p.Alt, "second (stain)") {
		t.Error(p.Alt)
	}
	golden(t, "residue_plate", p)
	if _, err := LeftPlate(nil, opt); err == nil {
		t.Error("a plate of nothing is drawn")
	}
}
