package words

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var nan = math.NaN()

// plain makes tables readable: the no-break space becomes a space.
func plain(s string) string { return strings.ReplaceAll(s, NB, " ") }

// The examples of the Particle Data Group, Review of Particle Physics,
// introduction, section 5.3: 0.827 +- 0.119 becomes 0.83 +- 0.12, and
// 0.827 +- 0.367 becomes 0.8 +- 0.4.
func TestDecimalsFollowTheUncertainty(t *testing.T) {
	for _, c := range []struct {
		v, u float64
		want string
	}{
		{0.827, 0.119, "0.83"},
		{0.827, 0.367, "0.8"},
		{0.8274, 0.0354, "0.827"},
		{0.8274, 0.0356, "0.83"},
		{0.8274, 0.0952, "0.83"},
		{1234.5, 20, "1234"},
		{1234.5, 999, "1234"},
		{12.5, 0, "12.500"},
		{12.5, nan, "12.500"},
		{12.5, math.Inf(1), "12.500"},
		{-0.004, 0.1, "0.00"},
		{-1.5, 0.4, "\u22121.5"},
		{nan, 1, NotMeasured},
		{math.Inf(-1), 1, NotMeasured},
	} {
		if got := Number(c.v, c.u, 3); got != c.want {
			t.Errorf("Number(%v, %v) = %q, want %q", c.v, c.u, got, c.want)
		}
	}
}

func TestPhrases(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Share(0.9308, nan), "93.1 %"},
		{Share(0.9308, 0.04), "93 %"},
		{Share(0.9308, 0.0004), "93.08 %"},
		{Share(0.99996, nan), "100.00 %"},
		{Share(0.9996, nan), "99.96 %"},
		{Share(1, nan), "100.0 %"},
		{Share(nan, nan), NotMeasured},
		{Duration(860), "14 min 20 s"},
		{Duration(840), "14 min"},
		{Duration(59.6), "1 min"},
		{Duration(42.4), "42 s"},
		{Duration(4.26), "4.3 s"},
		{Duration(0), "0.0 s"},
		{Duration(3725), "1 h 02 min"},
		{Duration(3599.7), "1 h 00 min"},
		{Duration(-75), "\u22121 min 15 s"},
		{Duration(nan), NotMeasured},
		{Clock(75), "1:15"},
		{Clock(3725), "1:02:05"},
		{Clock(-5), "\u22120:05"},
		{Clock(nan), NotMeasured},
		{Length(0.0123, nan, Metre), "12 mm"},
		{Length(1.234, nan, Metre), "1.23 m"},
		{Length(412.3, nan, Metre), "412 m"},
		{Length(nan, nan, Metre), NotMeasured},
		{Length(0.0254, nan, Foot), "1.0 in"},
		{Length(3.048, nan, Foot), "10.0 ft"},
		{Area(7.0775, nan, Metre), "7.08 m\u00b2"},
		{Area(0.0123, nan, Metre), "123 cm\u00b2"},
		{Area(0, nan, Metre), "0.00 m\u00b2"},
		{Area(0.9290304, nan, Foot), "10.0 ft\u00b2"},
		{Area(0.00064516, nan, Foot), "1 in\u00b2"},
		{Area(nan, nan, Foot), NotMeasured},
		{Times(1.87, nan), "1.9 times"},
		{Times(1.87, 0.01), "1.870 times"},
		{Times(nan, nan), NotMeasured},
		{Count(1), "once"}, {Count(2), "twice"}, {Count(4), "4 times"},
		{List(nil), ""}, {List([]string{"a"}), "a"}, {List([]string{"a", "b", "c"}), "a, b and c"},
	} {
		if plain(c.got) != c.want {
			t.Errorf("got %q, want %q", plain(c.got), c.want)
		}
	}
}

// NIST Special Publication 811 (2008), appendix B.8: 1 ft = 0.3048 m and
// 1 ft2 = 9.290 304 E-02 m2, both exact.
func TestFactorsAreExact(t *testing.T) {
	if MetresPerFoot != 12*MetresPerInch {
		t.Errorf("a foot is %v m, twelve inches are %v m", MetresPerFoot, 12*MetresPerInch)
	}
	if d := math.Abs(MetresPerFoot*MetresPerFoot - SquareMetresPerFoot); d > 1e-16 {
		t.Errorf("a square foot is off by %g m2", d)
	}
}

func TestTogether(t *testing.T) {
	for in, want := range map[string]string{
		"in 7.9 s, at (2.95, -0.15) m.":   "in 7.9~s, at (2.95,~-0.15)~m.",
		"1 min 5 s of 3 m²; 4 % at 2 m/s": "1~min 5~s of 3~m²; 4~% at 2~m/s",
		"2 more, 3 stools, 4 inches":      "2 more, 3 stools, 4 inches",
		"":                                "",
	} {
		if got := strings.ReplaceAll(Together(in), NB, "~"); got != want {
			t.Errorf("%q becomes %q, want %q", in, got, want)
		}
	}
}

// Whatever the figure and its uncertainty, no phrase has an exponent, "NaN", more
// than six decimals, or a sign that is no minus.
func TestNoExponents(t *testing.T) {
	odd := regexp.MustCompile(`(?i)[0-9]e[+-]?[0-9]|nan|inf|\.[0-9]{7}|(^|\s)-`)
	rapid.Check(t, func(t *rapid.T) {
		draw := func(what string) float64 {
			v := rapid.Float64Range(1, 10).Draw(t, what) * math.Pow(10, rapid.Float64Range(-20, 5).Draw(t, what+"'s power"))
			return v * rapid.SampledFrom([]float64{-1, 0, 1}).Draw(t, what+"'s sign")
		}
		v, u := draw("v"), rapid.SampledFrom([]float64{math.Abs(draw("u")), 0, math.NaN(), math.Inf(1)}).Draw(t, "u or none")
		for _, got := range []string{
			Number(v, u, 2), Share(v, u), Duration(v), Clock(v), Length(v, u, Metre), Length(v, u, Foot), Area(v, u, Metre), Area(v, u, Foot), Times(v, u), Speed(math.Abs(v), Metre),
		} {
			if odd.MatchString(got) {
				t.Fatalf("%g +- %g is written %q", v, u, got)
			}
		}
	})
}
