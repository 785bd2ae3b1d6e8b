package report

import (
	"encoding/json"
	"fmt"
	"sort"
	"strings"
)

// Event is something that happened, with its time, place and size.
type Event struct {
	Kind     string
	StartS   Float // from the first frame
	EndS     Float
	X, Y     Float              // floor, m
	Size     Float              // in Unit
	Unit     string             // such as "deg", "s", "m"
	Sentence string             // plain words for a reader
	More     map[string]float64 // what belongs to its kind, names with their unit: "turn_deg"; NaN: not measured
	Words    map[string]string  // what belongs to its kind and is no number: "with"
}

// MarshalJSON writes the fields of More and Words beside the fixed ones, in order.
func (e Event) MarshalJSON() ([]byte, error) {
	var b strings.Builder
	put := func(name string, v any) error {
		raw, err := json.Marshal(v)
		if err != nil {
			return err
		}
		if b.Len() > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "%q:%s", name, raw)
		return nil
	}
	fixed := []struct {
		name string
		v    any
	}{
		{"kind", e.Kind}, {"start_s", e.StartS}, {"end_s", e.EndS}, {"x_m", e.X}, {"y_m", e.Y},
		{"size", e.Size}, {"unit", e.Unit}, {"sentence", e.Sentence},
	}
	for _, f := range fixed {
		if err := put(f.name, f.v); err != nil {
			return nil, err
		}
	}
	names := make([]string, 0, len(e.More)+len(e.Words))
	for n := range e.More {
		names = append(names, n)
	}
	for n := range e.Words {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		var v any = e.Words[n]
		if f, ok := e.More[n]; ok {
			v = Float(f)
		}
		if err := put(n, v); err != nil {
			return nil, err
		}
	}
	return []byte("{" + b.String() + "}"), nil
}

// UnmarshalJSON is the inverse of MarshalJSON.
func (e *Event) UnmarshalJSON(raw []byte) error {
	var all map[string]json.RawMessage
	if err := json.Unmarshal(raw, &all); err != nil {
		return err
	}
	*e = Event{StartS: NaN, EndS: NaN, X: NaN, Y: NaN, Size: NaN}
	for name, to := range map[string]any{
		"kind": &e.Kind, "start_s": &e.StartS, "end_s": &e.EndS, "x_m": &e.X, "y_m": &e.Y,
		"size": &e.Size, "unit": &e.Unit, "sentence": &e.Sentence,
	} {
		if v, ok := all[name]; ok {
			if err := json.Unmarshal(v, to); err != nil {
				return fmt.Errorf("event field %s: %w", name, err)
			}
			delete(all, name)
		}
	}
	for name, v := range all {
		if len(v) > 0 && v[0] == '"' {
			var w string
			if err := json.Unmarshal(v, &w); err != nil {
				return fmt.Errorf("event field %s: %w", name, err)
			}
			if e.Words == nil {
				e.Words = map[string]string{}
			}
			e.Words[name] = w
			continue
		}
		var f Float
		if err := json.Unmarshal(v, &f); err != nil {
			return fmt.Errorf("event field %s: %w", name, err)
		}
		if e.More == nil {
			e.More = map[string]float64{}
		}
		e.More[name] = float64(f)
	}
	return nil
}
