package report

import (
	"fmt"
	"strings"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"swathe/coverage/doubt"
	"swathe/coverage/stats"
)

// Beside holds one value for each of several figures, in JSON an object of the
// same shape as the object that holds the figures: the key "time_to_s.90" is
// the member "90" of the member "time_to_s".
type Beside[T any] map[string]T

// MarshalJSONTo nests the names at their dots.
func (b Beside[T]) MarshalJSONTo(e *jsontext.Encoder) error {
	if b == nil {
		return e.WriteToken(jsontext.Null)
	}
	out := map[string]any{}
	for name, v := range b {
		group, member, nested := strings.Cut(name, ".")
		if !nested {
			out[name] = v
			continue
		}
		m, _ := out[group].(map[string]T)
		if m == nil {
			m = map[string]T{}
			out[group] = m
		}
		m[member] = v
	}
	return json.MarshalEncode(e, out)
}

// UnmarshalJSON is the inverse of MarshalJSONTo.
func (b *Beside[T]) UnmarshalJSON(raw []byte) error {
	*b = nil
	if string(raw) == "null" {
		return nil
	}
	var all map[string]jsontext.Value
	if err := Unmarshal(raw, &all); err != nil {
		return err
	}
	*b = Beside[T]{}
	for name, v := range all {
		if v.Kind() != '{' {
			var x T
			if err := Unmarshal(v, &x); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			(*b)[name] = x
			continue
		}
		var members map[string]T
		if err := Unmarshal(v, &members); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		for m, x := range members {
			(*b)[name+"."+m] = x
		}
	}
	return nil
}

// Known says how well the figures of one object of run.json are known.
type Known struct {
	Interval95 Beside[stats.Interval] `json:"interval_95"`          // null: not worked out
	StandardU  Beside[float64]        `json:"standard_uncertainty"` // the same
}

func knownOf(m map[string]doubt.Figure) Known {
	if m == nil {
		return Known{}
	}
	k := Known{Beside[stats.Interval]{}, Beside[float64]{}}
	for name, f := range m {
		k.Interval95[name] = stats.Interval{Lo: f.Lo, Hi: f.Hi}
		k.StandardU[name] = f.U
	}
	return k
}

// U returns the standard uncertainty of a figure, NaN if it is not known.
func (k Known) U(name string) float64 {
	if u, ok := k.StandardU[name]; ok {
		return u
	}
	return NaN
}

// Uncertainty says how the intervals of a run were found.
type Uncertainty struct {
	Method string   `json:"method"` // in words
	Draws  int      `json:"draws"`
	Seed   int64    `json:"seed"`
	Level  float64  `json:"level"`
	Budget []Budget `json:"budget"` // each input drawn alone
}

// Budget is what one input alone contributes: standard uncertainties of the
// headline tool's figures, the run's and the floor's.
type Budget struct {
	Input     string          `json:"input"`
	Words     string          `json:"drawn"`
	Draws     int             `json:"draws"`
	StandardU Beside[float64] `json:"standard_uncertainty"`
	Bias      Beside[float64] `json:"bias"` // by how much this input makes a figure too large, on average; not taken off
}

// leastLaneEfficiency is how many of its standard uncertainties the two laws of
// search must lie apart, that a place between them means anything: they lie 1
// apart on its scale.
const leastLaneEfficiency = 5

// settleLanes takes the lane efficiency out where it is not known well enough.
func (b *Block) settleLanes() {
	if u := b.U(doubt.LaneEfficiency); !Measured(u) || !(leastLaneEfficiency*u < 1) {
		b.Economy.LaneEfficiency = NaN
		delete(b.Interval95, doubt.LaneEfficiency)
	}
}

// addDoubt fills in how well the figures are known.
func (r *Run) addDoubt(d *doubt.Result) {
	r.Run.Known, r.Floor.Known = knownOf(d.Run), knownOf(d.Floor)
	r.Coverage.Known = knownOf(d.Blocks[r.Tool])
	r.Coverage.settleLanes()
	for name, b := range r.OtherTools {
		b.Known = knownOf(d.Blocks[name])
		b.settleLanes()
		r.OtherTools[name] = b
	}
	u := &Uncertainty{Method: d.Method(), Draws: d.Draws, Seed: d.Seed, Level: d.Level, Budget: []Budget{}}
	for _, b := range d.Budget {
		out := Budget{Input: b.Input, Words: b.Words, Draws: b.Number, StandardU: Beside[float64]{}, Bias: Beside[float64]{}}
		for name, v := range b.U {
			out.StandardU[name], out.Bias[name] = v, b.Bias[name]
		}
		u.Budget = append(u.Budget, out)
	}
	r.Uncertainty = u
}
