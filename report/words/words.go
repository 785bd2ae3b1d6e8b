// Package words writes measured values for people: no more digits than the
// uncertainty supports, units that a reader expects, and a plain phrase where a
// value could not be measured. Files keep more digits; see package report.
//
// Every function accepts NaN and returns NotMeasured for it. Between a number
// and its unit stands a no-break space (U+00A0), as the SI Brochure asks
// (BIPM, 9th edition, section 5.4.3).
package words

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// NotMeasured stands where a value could not be measured.
const NotMeasured = "not measured"

// NB is the space between a number and its unit.
const NB = "\u00a0"

// Unit is a system of units for lengths and areas.
type Unit string

// The units of lengths in pictures and tables.
const (
	Metre Unit = "m"
	Foot  Unit = "ft"
)

// Exact factors: NIST Special Publication 811 (2008), appendix B.8.
const (
	MetresPerInch       = 0.0254
	MetresPerFoot       = 0.3048
	SquareMetresPerFoot = 0.09290304 // per square foot
)

// Valid tells whether u is a known unit.
func (u Unit) Valid() bool { return u == Metre || u == Foot }

// Decimals returns how many decimals (never negative) a value deserves whose
// standard uncertainty is u. It is the rule of the Particle Data Group (Review
// of Particle Physics, introduction, section 5.3): with the three leading
// digits of u from 100 to 354 keep two of them, from 355 to 949 one, above
// that round up to the next power of ten and keep two. An uncertainty of 0 or
// NaN says nothing: fallback is returned.
func Decimals(u float64, fallback int) int {
	if math.IsNaN(u) || math.IsInf(u, 0) || u <= 0 {
		return fallback
	}
	exp := int(math.Floor(math.Log10(u)))
	lead := u / math.Pow(10, float64(exp-2)) // 100 <= lead < 1000
	keep := 1
	switch {
	case lead < 354.5:
		keep = 2
	case lead >= 949.5:
		exp++
		keep = 2
	}
	return min(max(0, keep-1-exp), mostDecimals)
}

// mostDecimals bounds the decimals: an uncertainty that a rounding error left
// over, of 1e-17, is none that digits could follow.
const mostDecimals = 6

// Number writes v with the digits that its standard uncertainty u supports;
// fallback is the number of decimals where u is unknown (NaN or 0).
func Number(v, u float64, fallback int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return NotMeasured
	}
	return fixed(v, Decimals(u, fallback))
}

// fixed is %.*f that writes no "-0.0" and takes the typographer's minus.
func fixed(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.HasPrefix(s, "-") {
		if strings.Trim(s, "-0.") == "" {
			return s[1:]
		}
		return "\u2212" + s[1:]
	}
	return s
}

// Share writes a share from 0 to 1 as per cent; u is its standard uncertainty
// as a share, NaN where unknown (then one decimal). A share below 1 that would
// round to 100 keeps the digits that show it is not all, up to two.
func Share(v, u float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return NotMeasured
	}
	d := Decimals(u*100, 1)
	s := fixed(v*100, d)
	for v < 1 && d < 2 && strings.HasPrefix(s, "100") {
		d++
		s = fixed(v*100, d)
	}
	return s + NB + "%"
}

// Duration writes seconds as "42 s", "14 min 20 s" or "1 h 02 min".
func Duration(s float64) string {
	if math.IsNaN(s) || math.IsInf(s, 0) {
		return NotMeasured
	}
	sign := ""
	if s < 0 {
		sign, s = "\u2212", -s
	}
	if s < 9.95 {
		return sign + fixed(s, 1) + NB + "s"
	}
	n := int(math.Round(s))
	switch {
	case n < 60:
		return fmt.Sprintf("%s%d"+NB+"s", sign, n)
	case n < 3600:
		if n%60 == 0 {
			return fmt.Sprintf("%s%d"+NB+"min", sign, n/60)
		}
		return fmt.Sprintf("%s%d"+NB+"min"+NB+"%d"+NB+"s", sign, n/60, n%60)
	}
	n = int(math.Round(s / 60))
	return fmt.Sprintf("%s%d"+NB+"h"+NB+"%02d"+NB+"min", sign, n/60, n%60)
}

// Clock writes seconds as m:ss or h:mm:ss, for marks on a time line.
func Clock(s float64) string {
	if math.IsNaN(s) || math.IsInf(s, 0) {
		return NotMeasured
	}
	n := int(math.Round(math.Abs(s)))
	sign := ""
	if s < 0 && n > 0 {
		sign = "\u2212"
	}
	if n < 3600 {
		return fmt.Sprintf("%s%d:%02d", sign, n/60, n%60)
	}
	return fmt.Sprintf("%s%d:%02d:%02d", sign, n/3600, n/60%60, n%60)
}

// Length writes metres in the unit asked for; u is the standard uncertainty in
// metres, NaN where unknown. Short lengths come in millimetres or inches.
func Length(m, u float64, unit Unit) string {
	if math.IsNaN(m) || math.IsInf(m, 0) {
		return NotMeasured
	}
	a := math.Abs(m)
	if unit == Foot {
		if a < 2*MetresPerFoot {
			return Number(m/MetresPerInch, u/MetresPerInch, 1) + NB + "in"
		}
		return Number(m/MetresPerFoot, u/MetresPerFoot, pick(a < 30, 1, 0)) + NB + "ft"
	}
	if a < 0.1 {
		return Number(m*1000, u*1000, 0) + NB + "mm"
	}
	return Number(m, u, pick(a < 10, 2, pick(a < 100, 1, 0))) + NB + "m"
}

// Area writes square metres in the unit asked for; u as in Length, m2. Areas
// too small for two decimals of a square metre come in square centimetres or
// square inches.
func Area(m2, u float64, unit Unit) string {
	if math.IsNaN(m2) || math.IsInf(m2, 0) {
		return NotMeasured
	}
	a := math.Abs(m2)
	if unit == Foot {
		if a > 0 && a < 0.05 {
			const in2 = MetresPerInch * MetresPerInch
			return Number(m2/in2, u/in2, 0) + NB + "in\u00b2"
		}
		return Number(m2/SquareMetresPerFoot, u/SquareMetresPerFoot, 1) + NB + "ft\u00b2"
	}
	if a > 0 && a < 0.05 {
		return Number(m2*1e4, u*1e4, 0) + NB + "cm\u00b2"
	}
	return Number(m2, u, pick(a < 10, 2, 1)) + NB + "m\u00b2"
}

// Times writes how often something was done: "1.9 times".
func Times(v, u float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return NotMeasured
	}
	return Number(v, u, 1) + NB + "times"
}

// Some writes a number of things: "1 run", "3 runs".
func Some(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Count writes "once", "twice" or "n times" of a whole number.
func Count(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d"+NB+"times", n)
}

// List joins words as "a, b and c".
func List(items []string) string {
	switch n := len(items); n {
	case 0:
		return ""
	case 1:
		return items[0]
	default:
		return strings.Join(items[:n-1], ", ") + " and " + items[n-1]
	}
}

func pick(c bool, a, b int) int {
	if c {
		return a
	}
	return b
}

var (
	unitApart  = regexp.MustCompile(`(\d\)?) (s|min|h|m|mm|cm|km|m/s|ft/s|m²|cm²|ft|in|ft²|in²|%|degrees)([\s.,;:)]|$)`)
	placeApart = regexp.MustCompile(`\((-?[\d.]+), (-?[\d.]+)\)`)
)

// Together joins numbers with their units, and the two numbers of a place, by
// spaces at which no line breaks.
func Together(s string) string {
	s = placeApart.ReplaceAllString(s, "($1,"+NB+"$2)")
	// Twice: in "5 m 3 s" the space behind the first is part of its match.
	s = unitApart.ReplaceAllString(s, "$1"+NB+"$2$3")
	return unitApart.ReplaceAllString(s, "$1"+NB+"$2$3")
}
