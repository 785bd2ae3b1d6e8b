package residue

import (
	"math"
	"os"
	"strings"
	"testing"

	"swathe/geom"
)

// TestFromD50 holds the change of white: a perfect white and a grey stay neutral,
// and L of a grey is kept.
func TestFromD50(t *testing.T) {
	for _, l := range []float64{100, 50, 20} {
		v := FromD50(l, 0, 0)
		q := labAt(v[0], v[1], v[2])
		if math.Abs(q.L-l) > 0.05 || math.Hypot(q.A, q.B) > 0.1 {
			t.Errorf("grey of L* %g under D50 becomes %v under D65", l, q)
		}
	}
	if v := FromD50(50, 60, 40); !(v[0] > v[1]+80 && v[0] > v[2]+60) {
		t.Errorf("a red becomes codes %v", v)
	}
}

// drawnCard is a white, a grey, a black and two coloured fields of 4 x 4 cm.
var drawnCard = []Field{
	{box(0.06, -0.08, 0.10, -0.04), [3]float64{230, 230, 230}},
	{box(0.11, -0.08, 0.15, -0.04), [3]float64{118, 118, 118}},
	{box(0.16, -0.08, 0.20, -0.04), [3]float64{52, 52, 52}},
	{box(0.21, -0.08, 0.25, -0.04), [3]float64{165, 70, 60}},
	{box(0.26, -0.08, 0.30, -0.04), [3]float64{60, 90, 160}},
}

// TestCard: in two lights, one of them dim and yellow, a stain differs from its
// floor by what it was drawn with where a card tells the light, and by something
// else where none does.
func TestCard(t *testing.T) {
	marks, view := drawMarks()
	own, residual, err := marks.Solve(drawW, drawH)
	if err != nil {
		t.Fatal(err)
	}
	d := *floors()[2]
	d.card, d.quick = drawnCard, true
	sb, sa := d.soil()
	none := spotless()
	truth := truth(&d, sb.blobs[0])
	for _, c := range []struct {
		name string
		k    float64
		tint [3]float64
		card []Field
		want string // in the reason
	}{
		{"white light", 1, [3]float64{1, 1, 1}, drawnCard, ""},
		{"dim and yellow", 0.45, [3]float64{1, 0.85, 0.55}, drawnCard, ""},
		{"dim and yellow, grey only", 0.45, [3]float64{1, 0.85, 0.55}, drawnCard[1:2], ""},
		{"another card", 1, [3]float64{1, 1, 1}, []Field{{drawnCard[0].Outline, drawnCard[4].SRGB}, {drawnCard[4].Outline, drawnCard[3].SRGB}}, "not corrected by the card"},
	} {
		if c.name != "dim and yellow" && os.Getenv("SWATHE_LONG") == "" {
			continue // the others with SWATHE_LONG=1
		}
		t.Run(c.name, func(t *testing.T) {
			d := d
			d.tint = &c.tint
			j := Job{Ground: own, Residual: residual, Room: drawRoom, Patches: []Patch{drawPatches[0]},
				Before: d.shoot(t, view, &sb, c.k, 0, 92, 1), After: d.shoot(t, view, &sa, 0.9*c.k, 0, 92, 2), Clean: d.shoot(t, view, none, c.k, 0, 92, 3)}
			plain, err := Measure(j)
			if err != nil {
				t.Fatal(err)
			}
			j.Patches[0].Card = c.card
			out, err := Measure(j)
			if err != nil {
				t.Fatal(err)
			}
			f := out["spill"]
			if f.Reason != nil {
				t.Log(*f.Reason)
			}
			if c.want != "" {
				if f.Reason == nil || !strings.Contains(*f.Reason, c.want) || f.CardDifference != nil {
					t.Errorf("the reason is %v, want %q", deref(f.Reason), c.want)
				}
				return
			}
			if f.CardDifference == nil || f.DifferenceMean == nil {
				t.Fatalf("card %v, difference %v: %v", deref(f.CardDifference), deref(f.DifferenceMean), deref(f.Reason))
			}
			iv := f.Interval95["difference_mean"]
			t.Logf("difference: drawn %.2f, with the card %.2f (bound 1.0; 95 %% %.2f to %.2f), without %.2f; the card's fields are off by %.2f", truth, *f.DifferenceMean, iv[0], iv[1], *plain["spill"].DifferenceMean, *f.CardDifference)
			if math.Abs(*f.DifferenceMean-truth) > 1 || !(iv[0] <= truth && truth <= iv[1]) {
				t.Error("not what was drawn, or not within its interval")
			}
			if c.k < 1 && math.Abs(*plain["spill"].DifferenceMean-truth) < 1 {
				t.Error("the light makes no difference here, so this shows nothing of the card")
			}
		})
	}
}

// truth is the mean colour difference of a blob to the floor under it as drawn, in
// even white light.
func truth(d *drawn, blob []geom.Point2) float64 {
	sum, n := 0.0, 0.0
	for y := 0.05; y < 0.4; y += 0.002 {
		for x := 0.05; x < 0.55; x += 0.002 {
			if geom.InRing(blob, pt(x, y)) {
				c := d.floor(x, y)
				sum += CIEDE2000(LabOf(c[0], c[1], c[2]), LabOf(c[0]*d.stain[0], c[1]*d.stain[1], c[2]*d.stain[2]))
				n++
			}
		}
	}
	return sum / n
}

// TestShades: a shadow that falls into the patch after is told and not counted, a
// person's leg or a robot across the outline is counted in neither picture, and grey
// soil with an edge is soil.
func TestShades(t *testing.T) {
	_, view := drawMarks()
	base := *floors()[2]
	base.quick = true
	sb, sa := base.soil()
	none := spotless()
	clean, before := base.shoot(t, view, none, 1, 0.1, 92, 1), base.shoot(t, view, &sb, 1, 0.1, 92, 2)
	measure := func(d *drawn, soil *soilSet, seed uint64) *Figures {
		out, err := Measure(Job{Ground: view, Room: drawRoom, Patches: drawPatches[:1], Before: before, After: d.shoot(t, view, soil, 1, 0.1, 92, seed), Clean: clean})
		if err != nil {
			t.Fatal(err)
		}
		f := out["spill"]
		t.Logf("after %v m2, shade %v, masked %v: %v", deref(f.AfterM2), deref(f.ShadeM2), deref(f.MaskedM2), deref(f.Reason))
		return f
	}
	want := *measure(&base, &sa, 3).AfterM2
	soft := func(p, at geom.Point2, r, dark float64) float64 {
		return 1 - dark*0.5*math.Erfc((p.Dist(at)-r)/(math.Sqrt2*0.006))
	}
	shadow := base
	shadow.shade = func(p geom.Point2) float64 { return soft(p, pt(0.47, 0.32), 0.035, 0.35) }
	if f := measure(&shadow, &sa, 4); f.ShadeM2 == nil || math.Abs(*f.ShadeM2-0.00385) > 0.0015 || math.Abs(*f.AfterM2-want) > 0.02*want {
		t.Errorf("a shadow of 38 cm2 is told as %v m2; %v of %g m2 are counted", deref(f.ShadeM2), deref(f.AfterM2), want)
	}
	if os.Getenv("SWATHE_LONG") == "" {
		return // the others with SWATHE_LONG=1
	}
	bright := base
	bright.shade = func(p geom.Point2) float64 { return soft(p, pt(0.47, 0.32), 0.035, -0.4) }
	if f := measure(&bright, &sa, 5); f.ShadeM2 == nil || math.Abs(*f.AfterM2-want) > 0.02*want {
		t.Errorf("a reflection: %v m2 told, %v of %g m2 counted", deref(f.ShadeM2), deref(f.AfterM2), want)
	}
	leg := base
	leg.shade = func(p geom.Point2) float64 {
		if p.X > 0.44 && p.X < 0.5 && p.Y < 0.12 {
			return 0.15
		}
		return 1
	}
	if f := measure(&leg, &sa, 6); f.MaskedM2 == nil || math.Abs(*f.MaskedM2-0.0042) > 0.0015 || math.Abs(*f.AfterM2-want) > 0.02*want {
		t.Errorf("a leg over 42 cm2: %v m2 masked, %v of %g m2 counted", deref(f.MaskedM2), deref(f.AfterM2), want)
	}
	// A pale robot with a dark bumper that stands across a corner of the patch.
	robot, at := base, pt(0.6, 0.42)
	robot.shade = func(p geom.Point2) float64 {
		switch d := p.Dist(at); {
		case d > 0.12:
			return 1
		case d > 0.1:
			return 0.12
		}
		return 1.7
	}
	hides := 0.0
	for y := 0.05; y < 0.4; y += 0.001 {
		for x := 0.05; x < 0.55; x += 0.001 {
			if at.Dist(pt(x, y)) < 0.12 {
				hides += 1e-6
			}
		}
	}
	if f := measure(&robot, &sa, 8); f.MaskedM2 == nil || math.Abs(*f.MaskedM2-hides) > 0.25*hides || math.Abs(*f.AfterM2-want) > 0.02*want {
		t.Errorf("a robot over %.1f cm2: %v m2 masked, %v of %g m2 counted", 1e4*hides, deref(f.MaskedM2), deref(f.AfterM2), want)
	}
	grey := base
	grey.shade = func(p geom.Point2) float64 {
		if p.Dist(pt(0.47, 0.32)) < 0.035 {
			return 0.65
		}
		return 1
	}
	if f := measure(&grey, &sa, 7); f.ShadeM2 != nil || math.Abs(*f.AfterM2-want-0.00385) > 0.0003 {
		t.Errorf("grey soil of 38.5 cm2 with an edge: %v m2 told as shadow, %v counted of %g", deref(f.ShadeM2), deref(f.AfterM2), want+0.00385)
	}
}
