package report

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
)

// Float is a number of which NaN means "not measured": JSON null.
type Float float64

// NaN is the Float that was not measured.
var NaN = Float(math.NaN())

// Known tells whether the value was measured.
func (f Float) Known() bool { return !math.IsNaN(float64(f)) && !math.IsInf(float64(f), 0) }

// jsonDecimals keeps micrometres, microseconds and millionths of a share.
const jsonDecimals = 6

// MarshalJSON writes the number with at most six decimals, NaN and infinities
// as null.
func (f Float) MarshalJSON() ([]byte, error) {
	if !f.Known() {
		return []byte("null"), nil
	}
	return []byte(trimmed(float64(f), jsonDecimals)), nil
}

// trimmed is %.*f without trailing zeros.
func trimmed(v float64, decimals int) string {
	s := []byte(strconv.FormatFloat(v, 'f', decimals, 64))
	if bytes.IndexByte(s, '.') >= 0 {
		s = bytes.TrimRight(s, "0")
		s = bytes.TrimSuffix(s, []byte("."))
	}
	if string(s) == "-0" {
		return "0"
	}
	return string(s)
}

// UnmarshalJSON reads a number, or null as NaN.
func (f *Float) UnmarshalJSON(raw []byte) error {
	if string(raw) == "null" {
		*f = NaN
		return nil
	}
	v, err := strconv.ParseFloat(string(raw), 64)
	if err != nil {
		return fmt.Errorf("%s is not a number: give a number or null", raw)
	}
	*f = Float(v)
	return nil
}

// floats converts a slice; nil stays nil, which is null.
func floats(v []float64) []Float {
	if v == nil {
		return nil
	}
	out := make([]Float, len(v))
	for i, x := range v {
		out[i] = Float(x)
	}
	return out
}
