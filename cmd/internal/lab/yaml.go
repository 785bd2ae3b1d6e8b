package lab

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"

	"swathe/geom"
)

// reader walks one YAML file by hand, so that every refusal can name the line
// that it is about. All its methods note problems and return a usable zero, so
// that one reading finds every problem of a file.
type reader struct {
	file     string
	lines    []string
	anchors  map[string]ast.Node
	problems *Problems
}

// parse returns the file's top mapping, or nil with the problem noted.
func parse(file string, data []byte, problems *Problems) (*reader, ast.Node) {
	r := &reader{file: file, problems: problems, anchors: map[string]ast.Node{}}
	if i := invalidUTF8(data); i >= 0 {
		problems.add(Problem{File: file, Line: 1 + strings.Count(string(data[:i]), "\n"),
			Message: "this is not UTF-8 text. Save the file as UTF-8 and try again."})
		return r, nil
	}
	r.lines = strings.Split(string(data), "\n")
	f, err := parser.ParseBytes(data, 0)
	if err != nil {
		r.syntax(err)
		return r, nil
	}
	var body ast.Node
	for _, d := range f.Docs {
		if d.Body == nil {
			continue
		}
		if body != nil {
			r.refuse(d.Body, "a second document starts here. Remove the line of three dashes; one document must hold everything.")
			return r, nil
		}
		body = d.Body
	}
	if body == nil {
		return r, nil
	}
	ast.Walk(collect{r.anchors}, body)
	return r, body
}

func invalidUTF8(data []byte) int {
	for i := 0; i < len(data); {
		c, n := utf8.DecodeRune(data[i:])
		if c == utf8.RuneError && n <= 1 || c == 0 {
			return i
		}
		i += n
	}
	return -1
}

var positionTail = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(` at \[\d+:\d+\]$`) })

func (r *reader) syntax(err error) {
	var ye yaml.Error
	if !errors.As(err, &ye) || ye.GetToken() == nil {
		r.problems.add(Problem{File: r.file, Message: fmt.Sprintf("this is not valid YAML: %v.", err)})
		return
	}
	p := ye.GetToken().Position
	msg := ye.GetMessage()
	switch {
	case strings.Contains(msg, "already defined"):
		msg = positionTail().ReplaceAllString(msg, "")
		msg = strings.TrimPrefix(msg, "mapping ") + " in the same block. Keep one of the two."
	case strings.Contains(msg, "'\t'"):
		msg = "this line is indented with a tab. Use spaces."
	default:
		msg = "this is not valid YAML: " + msg + ". Check the indentation, brackets and colons here."
	}
	r.problems.add(Problem{File: r.file, Line: p.Line, Column: p.Column, Message: msg, Excerpt: excerpt(r.lines, p.Line, p.Column)})
}

type collect struct{ into map[string]ast.Node }

func (c collect) Visit(n ast.Node) ast.Visitor {
	if a, ok := n.(*ast.AnchorNode); ok && a.Name != nil {
		c.into[a.Name.GetToken().Value] = a.Value
	}
	return c
}

// resolve looks through anchors and aliases.
func (r *reader) resolve(n ast.Node) ast.Node {
	for range 8 { // an alias of an alias is odd; one of itself never ends
		switch v := n.(type) {
		case *ast.AnchorNode:
			n = v.Value
		case *ast.AliasNode:
			to, ok := r.anchors[v.Value.GetToken().Value]
			if !ok {
				r.refuse(n, "there is no anchor &%s for this alias. Write the value instead.", v.Value.GetToken().Value)
				r.anchors[v.Value.GetToken().Value] = nil // told once
				return nil
			}
			n = to
		default:
			return n
		}
	}
	return nil
}

// at returns line and column of a node. A mapping's own token is its first
// colon, so the key before it is meant.
func at(n ast.Node) (line, column int) {
	switch v := n.(type) {
	case nil:
		return 0, 0
	case *ast.MappingNode:
		if !v.IsFlowStyle && len(v.Values) > 0 {
			return at(v.Values[0].Key)
		}
	case *ast.MappingValueNode:
		return at(v.Key)
	}
	t := n.GetToken()
	if t == nil || t.Position == nil {
		return 0, 0
	}
	return t.Position.Line, t.Position.Column
}

// refuse notes a problem at node n.
func (r *reader) refuse(n ast.Node, format string, args ...any) {
	line, column := at(n)
	r.problems.add(Problem{File: r.file, Line: line, Column: column,
		Message: fmt.Sprintf(format, args...), Excerpt: excerpt(r.lines, line, column)})
}

// entry is one key of a mapping with its value.
type entry struct {
	name       string
	key, value ast.Node
}

// entries returns the keys of a mapping in the order written; ok is false, with
// the problem noted, if n is no mapping. what names n in the message.
func (r *reader) entries(n ast.Node, at ast.Node, what, want string) (list []entry, ok bool) {
	n = r.resolve(n)
	var values []*ast.MappingValueNode
	switch v := n.(type) {
	case *ast.MappingNode:
		values = v.Values
	case *ast.MappingValueNode:
		values = []*ast.MappingValueNode{v}
	default:
		if n == nil {
			n = at
		} else if _, isNull := n.(*ast.NullNode); isNull {
			n = at
		}
		r.refuse(n, "%s should be %s.", what, want)
		return nil, false
	}
	if most := mostOf(what); len(values) > most {
		r.refuse(at, tooManyEntries, what, len(values), most)
		return nil, false
	}
	for _, v := range values {
		if v.Key.IsMergeKey() {
			r.refuse(v.Key, "merging with << is not supported. Write the keys instead.")
			continue
		}
		list = append(list, entry{v.Key.GetToken().Value, v.Key, v.Value})
	}
	return list, true
}

// What a set-up may hold at most: more than any laboratory needs, and so little
// that a set-up which is judged, however it came here, takes seconds. Each camera
// is solved many times over.
const (
	maxCameras = 60
	maxEntries = 1000 // of any other block, and of a list that has no smaller bound
)

const tooManyEntries = "%s has %d entries; %d is the most. Split the lab into several, each with a folder of its own"

func mostOf(what string) int {
	if what == "cameras" {
		return maxCameras
	}
	return maxEntries
}

// block is a mapping whose keys are fixed.
type block struct {
	*reader
	what string // "robot linden", for messages
	node ast.Node
	keys map[string]entry
}

// block reads a mapping whose keys must be among known; anchor is where to
// point if there is nothing.
func (r *reader) block(n, anchor ast.Node, what string, known ...string) (*block, bool) {
	list, ok := r.entries(n, anchor, what, "a block of keys ("+strings.Join(known, ", ")+")")
	b := &block{r, what, anchor, map[string]entry{}}
	for _, e := range list {
		found := false
		for _, k := range known {
			found = found || k == e.name
		}
		if !found {
			r.refuse(e.key, "%s has no key %q.%s", what, e.name, hint(e.name, known))
			continue
		}
		b.keys[e.name] = e
	}
	return b, ok
}

// has tells whether key was written with a value.
func (b *block) has(key string) bool {
	e, ok := b.keys[key]
	if !ok {
		return false
	}
	_, null := b.resolve(e.value).(*ast.NullNode)
	return !null && e.value != nil
}

// need refuses a missing key; how tells what to write.
func (b *block) need(key, how string) bool {
	if b.has(key) {
		return true
	}
	if e, ok := b.keys[key]; ok {
		b.refuse(e.key, "%s: %s is empty. %s", b.what, key, how)
	} else {
		b.refuse(b.node, "%s has no %s. %s", b.what, key, how)
	}
	return false
}

func (b *block) val(key string) ast.Node { return b.keys[key].value }
func (b *block) key(key string) ast.Node { return b.keys[key].key }
func (b *block) label(key string) string { return b.what + ": " + key }

// number reads a finite number.
func (r *reader) number(n ast.Node, what, unit string) (float64, bool) {
	switch v := r.resolve(n).(type) {
	case *ast.IntegerNode:
		return toFloat(v.Value), true
	case *ast.FloatNode:
		if !math.IsInf(v.Value, 0) {
			return v.Value, true
		}
	case *ast.StringNode:
		// YAML 1.2's core schema has 1e-3 as a number; the parser does not.
		if v.Token.Type == token.StringType {
			if f, err := strconv.ParseFloat(v.Value, 64); err == nil && !math.IsInf(f, 0) && !math.IsNaN(f) {
				return f, true
			}
		}
		r.refuse(n, "%s is %q; it should be a plain number%s, such as 0.25.", what, v.Value, ofUnit(unit))
		return 0, false
	}
	r.refuse(n, "%s should be a plain number%s.", what, ofUnit(unit))
	return 0, false
}

func toFloat(v any) float64 {
	switch x := v.(type) {
	case int64:
		return float64(x)
	case uint64:
		return float64(x)
	}
	return math.NaN()
}

func ofUnit(unit string) string {
	switch unit {
	case "":
		return ""
	case "m":
		unit = "metres"
	}
	return " of " + unit
}

// whole reads a whole number from low to high.
func (r *reader) whole(n ast.Node, what string, low, high int) (int, bool) {
	v, ok := r.resolve(n).(*ast.IntegerNode)
	f := math.NaN()
	if ok {
		f = toFloat(v.Value)
	}
	if !(f >= float64(low) && f <= float64(high)) {
		r.refuse(n, "%s should be a whole number from %d to %d.", what, low, high)
		return 0, false
	}
	return int(f), true
}

// list reads a sequence.
func (r *reader) list(n ast.Node, what, want string) ([]ast.Node, bool) {
	s, ok := r.resolve(n).(*ast.SequenceNode)
	if !ok {
		r.refuse(n, "%s should be %s.", what, want)
		return nil, false
	}
	if len(s.Values) > maxEntries {
		r.refuse(n, "%s has %d entries; %d is the most. Leave out what a drawing at this scale does not show.", what, len(s.Values), maxEntries)
		return nil, false
	}
	return s.Values, true
}

// numbers reads a list of low to high numbers.
func (r *reader) numbers(n ast.Node, what, want string, low, high int) ([]float64, bool) {
	values, ok := r.list(n, what, want)
	if !ok {
		return nil, false
	}
	if len(values) < low || len(values) > high {
		r.refuse(n, "%s has %d numbers; it should be %s.", what, len(values), want)
		return nil, false
	}
	out := make([]float64, len(values))
	for i, v := range values {
		var one bool
		out[i], one = r.number(v, what, "")
		ok = ok && one
	}
	return out, ok
}

// point reads [a, b].
func (r *reader) point(n ast.Node, what, want string) (geom.Point2, bool) {
	v, ok := r.numbers(n, what, want, 2, 2)
	if !ok {
		return geom.Point2{}, false
	}
	return geom.Point2{X: v[0], Y: v[1]}, true
}

// polygon reads a list of [x, y].
func (r *reader) polygon(n ast.Node, what string) ([]geom.Point2, bool) {
	const want = "a list of at least 3 corners, each [x, y] in metres"
	values, ok := r.list(n, what, want)
	if !ok {
		return nil, false
	}
	if len(values) < 3 {
		r.refuse(n, "%s has %d corners; it should be %s.", what, len(values), want)
		return nil, false
	}
	out := make([]geom.Point2, len(values))
	for i, v := range values {
		var one bool
		out[i], one = r.point(v, fmt.Sprintf("%s, corner %d", what, i+1), "[x, y] in metres")
		ok = ok && one
	}
	return out, ok
}

// text reads a word or sentence; a number counts as its own spelling.
func (r *reader) text(n ast.Node, what string) (string, bool) {
	switch v := r.resolve(n).(type) {
	case *ast.StringNode:
		return v.Value, true
	case *ast.LiteralNode:
		return strings.TrimSpace(v.Value.Value), true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return v.GetToken().Value, true
	}
	r.refuse(n, "%s should be a word or a sentence.", what)
	return "", false
}

// bounds are what a number must lie between; open: above low.
type bounds struct {
	low, high float64
	open      bool
}

// between reads a number within bounds, telling hint when it is not.
func (r *reader) between(n ast.Node, what, unit string, in bounds, hint string) (float64, bool) {
	v, ok := r.number(n, what, unit)
	if !ok {
		return 0, false
	}
	if v < in.low || v > in.high || in.open && v == in.low {
		bound := fmt.Sprintf("from %g to %g", in.low, in.high)
		if in.open {
			bound = fmt.Sprintf("above %g and at most %g", in.low, in.high)
		}
		if hint != "" {
			hint = " " + hint
		}
		r.refuse(n, "%s is %g; it should be %s%s.%s", what, v, bound, unitTail(unit), hint)
		return 0, false
	}
	return v, true
}

func unitTail(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}
