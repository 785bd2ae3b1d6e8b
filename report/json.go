package report

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"strconv"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
	jsonv1 "github.com/go-json-experiment/json/v1"

	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/coverage/stats"
)

// NaN is a number that was not measured; in JSON it is null.
var NaN = math.NaN()

// Measured tells whether a number was measured.
func Measured(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// jsonDecimals keeps micrometres, microseconds and millionths of a share.
const jsonDecimals = 6

// Exact is a number that JSON has with all its digits.
type Exact float64

// rules are those of encoding/json, but that every float64 is written with at most
// six decimals, and null stands for one that was not measured.
var rules = json.JoinOptions(jsonv1.DefaultOptionsV1(),
	json.WithMarshalers(json.JoinMarshalers(
		json.MarshalToFunc(func(e *jsontext.Encoder, v float64) error {
			if !Measured(v) {
				return e.WriteToken(jsontext.Null)
			}
			return e.WriteValue(jsontext.Value(trimmed(v, jsonDecimals)))
		}),
		json.MarshalToFunc(func(e *jsontext.Encoder, i stats.Interval) error {
			if !Measured(i.Lo) && !Measured(i.Hi) {
				return e.WriteToken(jsontext.Null)
			}
			return json.MarshalEncode(e, [2]float64{i.Lo, i.Hi})
		}),
		json.MarshalToFunc(func(e *jsontext.Encoder, t coverage.Times) error { return writeKeyed(e, t, levelKeys) }),
		json.MarshalToFunc(func(e *jsontext.Encoder, p coverage.Passes) error { return writeKeyed(e, p, passKeys) }),
		json.MarshalFunc(func(l compare.Layout) ([]byte, error) { return json.Marshal(l, jsonv1.DefaultOptionsV1()) }), // with all digits
	)),
	json.WithUnmarshalers(json.JoinUnmarshalers(
		json.UnmarshalFromFunc(func(d *jsontext.Decoder, v *float64) error {
			raw, err := d.ReadValue()
			if err != nil {
				return err
			}
			switch *v = NaN; raw.Kind() {
			case 'n':
			case '0':
				*v, err = strconv.ParseFloat(string(raw), 64)
			default:
				err = fmt.Errorf("%s is not a number: give a number or null", raw)
			}
			return err
		}),
		json.UnmarshalFromFunc(func(d *jsontext.Decoder, i *stats.Interval) error {
			var v []float64
			if err := json.UnmarshalDecode(d, &v); err != nil {
				return err
			}
			switch *i = stats.NoInterval; {
			case len(v) == 2:
				*i = stats.Interval{Lo: v[0], Hi: v[1]}
			case v != nil:
				return fmt.Errorf("an interval has %d numbers; give two, or null", len(v))
			}
			return nil
		}),
		json.UnmarshalFromFunc(func(d *jsontext.Decoder, t *coverage.Times) error { return readKeyed(d, (*[5]float64)(t), levelKeys) }),
		json.UnmarshalFromFunc(func(d *jsontext.Decoder, p *coverage.Passes) error { return readKeyed(d, (*[5]float64)(p), passKeys) }),
	)))

// The names of five numbers that are an object in JSON.
var (
	levelKeys = [5]string{"50", "80", "90", "95", "99"} // of coverage.Times
	passKeys  = [5]string{"0", "1", "2", "3", "4+"}     // of coverage.Passes
)

func writeKeyed(e *jsontext.Encoder, v [5]float64, keys [5]string) error {
	if err := e.WriteToken(jsontext.BeginObject); err != nil {
		return err
	}
	for i, k := range keys {
		if err := errors.Join(e.WriteToken(jsontext.String(k)), json.MarshalEncode(e, v[i])); err != nil {
			return err
		}
	}
	return e.WriteToken(jsontext.EndObject)
}

func readKeyed(d *jsontext.Decoder, v *[5]float64, keys [5]string) error {
	var all map[string]float64
	err := json.UnmarshalDecode(d, &all)
	for i, k := range keys {
		v[i] = all[k]
	}
	return err
}

// Marshal writes a value of this package as JSON; encoding/json would refuse a number
// that was not measured.
func Marshal(v any) ([]byte, error) { return json.Marshal(v, rules) }

// marshalIndent is Marshal for a file that people look into.
func MarshalIndent(v any) ([]byte, error) { return json.Marshal(v, rules, jsontext.WithIndent("  ")) }

// JSON is a value of this package for encoding/json.
type JSON struct{ Value any }

// MarshalJSON is Marshal.
func (j JSON) MarshalJSON() ([]byte, error) { return Marshal(j.Value) }

// Unmarshal is the inverse of Marshal; encoding/json would take null for 0.
func Unmarshal(raw []byte, into any) error { return json.Unmarshal(raw, into, rules) }

// Digits writes a number for a table, as JSON has it; empty if it was not measured.
func Digits(v float64) string { return num(v, jsonDecimals) }

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
