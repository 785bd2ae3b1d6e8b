package report

import (
	"fmt"
	"maps"
	"slices"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"
)

// Event is something that happened, with its time, place and size.
type Event struct {
	Kind     string
	StartS   float64 // from the first frame
	EndS     float64
	X, Y     float64            // floor, m
	Size     float64            // in Unit
	Unit     string             // such as "deg", "s", "m"
	Sentence string             // plain words for a reader
	More     map[string]float64 // what belongs to its kind, names with their unit: "turn_deg"; NaN: not measured
	Words    map[string]string  // what belongs to its kind and is no number: "with"
}

// MarshalJSONTo writes the fields of More and Words beside the fixed ones, in order.
func (e Event) MarshalJSONTo(to *jsontext.Encoder) error {
	err := to.WriteToken(jsontext.BeginObject)
	put := func(name string, v any) {
		if err == nil {
			err = to.WriteToken(jsontext.String(name))
		}
		if err == nil {
			err = json.MarshalEncode(to, v)
		}
	}
	put("kind", e.Kind)
	put("start_s", e.StartS)
	put("end_s", e.EndS)
	put("x_m", e.X)
	put("y_m", e.Y)
	put("size", e.Size)
	put("unit", e.Unit)
	put("sentence", e.Sentence)
	rest := map[string]any{}
	for n, w := range e.Words {
		rest[n] = w
	}
	for n, v := range e.More {
		rest[n] = v
	}
	for _, n := range slices.Sorted(maps.Keys(rest)) {
		put(n, rest[n])
	}
	if err != nil {
		return err
	}
	return to.WriteToken(jsontext.EndObject)
}

// UnmarshalJSON is the inverse of MarshalJSONTo.
func (e *Event) UnmarshalJSON(raw []byte) error {
	var all map[string]jsontext.Value
	if err := Unmarshal(raw, &all); err != nil {
		return err
	}
	*e = Event{StartS: NaN, EndS: NaN, X: NaN, Y: NaN, Size: NaN}
	for name, to := range map[string]any{
		"kind": &e.Kind, "start_s": &e.StartS, "end_s": &e.EndS, "x_m": &e.X, "y_m": &e.Y,
		"size": &e.Size, "unit": &e.Unit, "sentence": &e.Sentence,
	} {
		if v, ok := all[name]; ok {
			if err := Unmarshal(v, to); err != nil {
				return fmt.Errorf("event field %s: %w", name, err)
			}
			delete(all, name)
		}
	}
	for name, v := range all {
		if v.Kind() == '"' {
			var w string
			if err := Unmarshal(v, &w); err != nil {
				return fmt.Errorf("event field %s: %w", name, err)
			}
			if e.Words == nil {
				e.Words = map[string]string{}
			}
			e.Words[name] = w
			continue
		}
		var f float64
		if err := Unmarshal(v, &f); err != nil {
			return fmt.Errorf("event field %s: %w", name, err)
		}
		if e.More == nil {
			e.More = map[string]float64{}
		}
		e.More[name] = f
	}
	return nil
}
