package lab

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"
)

// Map is a mapping whose keys keep their order. The values in it are Map, []any,
// json.Number, string, bool or nil.
type Map []Pair

// Pair is one key of a Map.
type Pair struct {
	Key   string
	Value any
}

// Get returns the value of a key.
func (m Map) Get(key string) (any, bool) {
	for _, p := range m {
		if p.Key == key {
			return p.Value, true
		}
	}
	return nil, false
}

// Set returns m with a key set, at its old place or at the end.
func (m Map) Set(key string, v any) Map {
	out := append(Map{}, m...)
	for i := range out {
		if out[i].Key == key {
			out[i].Value = v
			return out
		}
	}
	return append(out, Pair{key, v})
}

// Without returns m without a key.
func (m Map) Without(key string) Map {
	out := Map{}
	for _, p := range m {
		if p.Key != key {
			out = append(out, p)
		}
	}
	return out
}

// MarshalJSON writes the keys in their order.
func (m Map) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, p := range m {
		if i > 0 {
			b.WriteByte(',')
		}
		k, err := json.Marshal(p.Key)
		if err != nil {
			return nil, err
		}
		v, err := json.Marshal(p.Value)
		if err != nil {
			return nil, err
		}
		b.Write(k)
		b.WriteByte(':')
		b.Write(v)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// maxDepth bounds how deep values may lie in each other; lab.yaml needs seven.
const maxDepth = 20

// ParseJSON reads a JSON object, its keys in order.
func ParseJSON(raw []byte) (Map, error) {
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	v, err := jsonValue(d, 0)
	if err != nil {
		return nil, err
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, errors.New("there is text after the end of the set-up")
	}
	m, ok := v.(Map)
	if !ok {
		return nil, errors.New("the set-up is not a JSON object")
	}
	return m, nil
}

// TooMany says which block of a set-up has more entries than it may. Asked before
// the set-up is written as YAML, which takes long for as many as that.
func (m Map) TooMany() error {
	for _, p := range m {
		if block, ok := p.Value.(Map); ok && len(block) > mostOf(p.Key) {
			return fmt.Errorf(tooManyEntries, p.Key, len(block), mostOf(p.Key))
		}
	}
	return nil
}

func jsonValue(d *json.Decoder, depth int) (any, error) {
	if depth > maxDepth {
		return nil, errors.New("the set-up is nested too deeply")
	}
	t, err := d.Token()
	if err != nil {
		return nil, err
	}
	switch t {
	case json.Delim('{'):
		m := Map{}
		for d.More() {
			k, err := d.Token()
			if err != nil {
				return nil, err
			}
			v, err := jsonValue(d, depth+1)
			if err != nil {
				return nil, err
			}
			key, _ := k.(string)
			if _, twice := m.Get(key); twice {
				return nil, fmt.Errorf("the key %q appears twice", key)
			}
			m = append(m, Pair{key, v})
		}
		_, err := d.Token()
		return m, err
	case json.Delim('['):
		l := []any{}
		for d.More() {
			v, err := jsonValue(d, depth+1)
			if err != nil {
				return nil, err
			}
			l = append(l, v)
		}
		_, err := d.Token()
		return l, err
	}
	return t, nil
}

// value returns what a YAML node says.
func (r *reader) value(n ast.Node, depth int) any {
	if depth > maxDepth {
		return nil
	}
	switch v := r.resolve(n).(type) {
	case *ast.MappingNode:
		m := Map{}
		for _, e := range v.Values {
			m = append(m, Pair{e.Key.GetToken().Value, r.value(e.Value, depth+1)})
		}
		return m
	case *ast.MappingValueNode:
		return Map{{v.Key.GetToken().Value, r.value(v.Value, depth+1)}}
	case *ast.SequenceNode:
		l := []any{}
		for _, e := range v.Values {
			l = append(l, r.value(e, depth+1))
		}
		return l
	case *ast.IntegerNode:
		return json.Number(strconv.FormatFloat(toFloat(v.Value), 'f', -1, 64))
	case *ast.FloatNode:
		if text := strings.ReplaceAll(v.Token.Value, "_", ""); jsonNumber().MatchString(text) {
			return json.Number(text)
		}
		return json.Number(strconv.FormatFloat(v.Value, 'g', -1, 64))
	case *ast.BoolNode:
		return v.Value
	case *ast.StringNode:
		if v.Token.Type == token.StringType && jsonNumber().MatchString(v.Value) {
			return json.Number(v.Value) // see number
		}
		return v.Value
	case *ast.LiteralNode:
		return v.Value.Value
	}
	return nil
}

var jsonNumber = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^-?(0|[1-9][0-9]*)(\.[0-9]+)?([eE][-+]?[0-9]+)?$`) })

// same tells whether two values say the same; the order of keys says nothing.
func same(a, b any) bool {
	switch x := a.(type) {
	case Map:
		y, ok := b.(Map)
		if !ok || len(x) != len(y) {
			return false
		}
		for _, p := range x {
			if v, ok := y.Get(p.Key); !ok || !same(p.Value, v) {
				return false
			}
		}
		return true
	case []any:
		y, ok := b.([]any)
		return ok && slices.EqualFunc(x, y, same)
	case json.Number:
		y, ok := b.(json.Number)
		v, err1 := x.Float64()
		u, err2 := y.Float64()
		return ok && err1 == nil && err2 == nil && v == u
	}
	return a == b
}

// Words that YAML readers take for something else than text.
var notPlain = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?i)^(true|false|yes|no|on|off|null|y|n|~)$`) })
var plainWord = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[A-Za-z][A-Za-z0-9_./*-]*( [A-Za-z0-9_./*-]+)*$`) })

func spellText(s string) string {
	if plainWord().MatchString(s) && !notPlain().MatchString(s) {
		return s
	}
	return strconv.Quote(s)
}

// flow spells a value on one line.
func flow(v any) string {
	switch x := v.(type) {
	case Map:
		var parts []string
		for _, p := range x {
			parts = append(parts, spellText(p.Key)+": "+flow(p.Value))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case []any:
		var parts []string
		for _, e := range x {
			parts = append(parts, flow(e))
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case json.Number:
		if v, err := x.Float64(); err == nil && !math.IsInf(v, 0) {
			if v == 0 {
				return "0"
			}
			return x.String()
		}
		return strconv.Quote(x.String())
	case string:
		return spellText(x)
	case bool:
		return strconv.FormatBool(x)
	}
	return "null"
}

// asBlock tells whether a value is written over several lines: depth is how
// many keys lead to it. Rooms and robots are blocks; a mark or a sofa is a line.
func asBlock(v any, depth int) bool {
	switch x := v.(type) {
	case Map:
		return len(x) > 0 && (depth < 3 || slices.ContainsFunc(x, func(p Pair) bool { _, ok := p.Value.(Map); return ok }))
	case []any:
		return slices.ContainsFunc(x, func(e any) bool { _, ok := e.(Map); return ok })
	}
	return false
}

// block spells a value over lines that begin with indent spaces.
func spellBlock(v any, indent, depth int) []string {
	pad := strings.Repeat(" ", indent)
	var out []string
	switch x := v.(type) {
	case Map:
		for _, p := range x {
			out = append(out, spellEntry(p, indent, depth+1)...)
		}
	case []any:
		for _, e := range x {
			out = append(out, pad+"- "+flow(e))
		}
	}
	return out
}

// spellEntry spells a key with its value; depth is that of the value.
func spellEntry(p Pair, indent, depth int) []string {
	head := strings.Repeat(" ", indent) + spellText(p.Key) + ":"
	if asBlock(p.Value, depth) {
		return append([]string{head}, spellBlock(p.Value, indent+2, depth)...)
	}
	return []string{head + " " + flow(p.Value)}
}
