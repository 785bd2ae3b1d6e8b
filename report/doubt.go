package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"swathe/coverage/doubt"
)

// Interval is the low and the high end of an interval: null if there is none,
// a null end if it is open ("perhaps never").
type Interval [2]Float

// MarshalJSON writes [low, high], or null.
func (i Interval) MarshalJSON() ([]byte, error) {
	if !i[0].Known() && !i[1].Known() {
		return []byte("null"), nil
	}
	return json.Marshal([]Float{i[0], i[1]})
}

// UnmarshalJSON is the inverse of MarshalJSON.
func (i *Interval) UnmarshalJSON(raw []byte) error {
	*i = Interval{NaN, NaN}
	if string(raw) == "null" {
		return nil
	}
	var v []Float
	if err := json.Unmarshal(raw, &v); err != nil {
		return err
	}
	if len(v) != 2 {
		return fmt.Errorf("an interval has %d numbers; give two, or null", len(v))
	}
	*i = Interval{v[0], v[1]}
	return nil
}

// Beside holds one value for each of several figures, in JSON an object of the
// same shape as the object that holds the figures: the key "time_to_s.90" is
// the member "90" of the member "time_to_s".
type Beside[T any] map[string]T

// MarshalJSON nests the names at their dots; json.Marshal orders them.
func (b Beside[T]) MarshalJSON() ([]byte, error) {
	if b == nil {
		return []byte("null"), nil
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
	return json.Marshal(out)
}

// UnmarshalJSON is the inverse of MarshalJSON.
func (b *Beside[T]) UnmarshalJSON(raw []byte) error {
	*b = nil
	if string(raw) == "null" {
		return nil
	}
	var all map[string]json.RawMessage
	if err := json.Unmarshal(raw, &all); err != nil {
		return err
	}
	*b = Beside[T]{}
	for name, v := range all {
		if !bytes.HasPrefix(v, []byte("{")) {
			var x T
			if err := json.Unmarshal(v, &x); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
			(*b)[name] = x
			continue
		}
		var members map[string]T
		if err := json.Unmarshal(v, &members); err != nil {
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
	Interval95 Beside[Interval] `json:"interval_95"`          // null: not worked out
	StandardU  Beside[Float]    `json:"standard_uncertainty"` // the same
}

func knownOf(m map[string]doubt.Figure) Known {
	if m == nil {
		return Known{}
	}
	k := Known{Beside[Interval]{}, Beside[Float]{}}
	for name, f := range m {
		k.Interval95[name] = Interval{Float(f.Lo), Float(f.Hi)}
		k.StandardU[name] = Float(f.U)
	}
	return k
}

// U returns the standard uncertainty of a figure, NaN if it is not known.
func (k Known) U(name string) Float {
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
	Level  Float    `json:"level"`
	Budget []Budget `json:"budget"` // each input drawn alone
}

// Budget is what one input alone contributes: standard uncertainties of the
// headline tool's figures, the run's and the floor's.
type Budget struct {
	Input     string        `json:"input"`
	Words     string        `json:"drawn"`
	Draws     int           `json:"draws"`
	StandardU Beside[Float] `json:"standard_uncertainty"`
	Bias      Beside[Float] `json:"bias"` // by how much this input makes a figure too large, on average; not taken off
}

// leastLaneEfficiency is how many of its standard uncertainties the two laws of
// search must lie apart, that a place between them means anything: they lie 1
// apart on its scale.
const leastLaneEfficiency = 5

// settleLanes takes the lane efficiency out where it is not known well enough.
func (b *Block) settleLanes() {
	if u := b.U(doubt.LaneEfficiency); !u.Known() || !(leastLaneEfficiency*u < 1) {
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
	u := &Uncertainty{Method: d.Method(), Draws: d.Draws, Seed: d.Seed, Level: Float(d.Level), Budget: []Budget{}}
	for _, b := range d.Budget {
		out := Budget{Input: b.Input, Words: b.Words, Draws: b.Number, StandardU: Beside[Float]{}, Bias: Beside[Float]{}}
		for name, v := range b.U {
			out.StandardU[name], out.Bias[name] = Float(v), Float(b.Bias[name])
		}
		u.Budget = append(u.Budget, out)
	}
	r.Uncertainty = u
}
