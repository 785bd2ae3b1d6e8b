package lab

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// SetupValue returns what lab.yaml says as a value; ok is false if it is no
// YAML. An empty file is an empty Map.
func SetupValue(data []byte) (m Map, ok bool) {
	var problems Problems
	r, body := parse(SetupFile, data, &problems)
	if len(problems.List) > 0 {
		return nil, false
	}
	if body == nil {
		return Map{}, true
	}
	m, ok = r.value(body, 0).(Map)
	return m, ok && len(problems.List) == 0
}

// EditSetup returns the text of a lab.yaml changed so that it says want and
// nothing else: only what differs is touched, so that comments, order and the
// tester's own spelling stay. An error is a sentence; the text is then
// unchanged.
func EditSetup(data []byte, want Map) ([]byte, error) {
	text := string(data)
	crlf := strings.Contains(text, "\r\n")
	text = strings.ReplaceAll(text, "\r\n", "\n")
	out, err := editText(text, want)
	if err != nil {
		return data, err
	}
	// What was meant must be what stands there, or nothing is written.
	if got, ok := SetupValue([]byte(out)); !ok || !same(got, want) {
		return data, errors.New("this page can't safely change lab.yaml as it is written. Edit it by hand")
	}
	if crlf {
		out = strings.ReplaceAll(out, "\n", "\r\n")
	}
	return []byte(out), nil
}

func editText(text string, want Map) (string, error) {
	var problems Problems
	r, body := parse(SetupFile, []byte(text), &problems)
	if len(problems.List) > 0 {
		return "", fmt.Errorf("lab.yaml is not valid YAML, so this page cannot change it; fix it by hand: %w", &problems)
	}
	if body == nil {
		if text != "" && !strings.HasSuffix(text, "\n") {
			text += "\n"
		}
		return text + strings.Join(spellBlock(want, 0, 0), "\n") + "\n", nil
	}
	e := &editor{reader: r}
	for _, l := range strings.Split(text, "\n") {
		e.text = append(e.text, []rune(l))
	}
	if !isBlockMap(body) {
		return "", errors.New("lab.yaml is written on one line; this page can change only files with one key on each line")
	}
	e.merge(body, want, 0)
	return e.apply(), nil
}

// edit replaces the text from one place to another; lines and columns from 0,
// the end not included.
type edit struct {
	line, col, toLine, toCol int
	text                     string
}

type editor struct {
	*reader
	text  [][]rune
	edits []edit
}

func (e *editor) apply() string {
	slices.SortStableFunc(e.edits, func(a, b edit) int {
		if a.line != b.line {
			return a.line - b.line
		}
		if a.col != b.col {
			return a.col - b.col
		}
		// What is put in goes before what is taken out behind it.
		return (a.toLine - b.toLine)
	})
	var b strings.Builder
	line, col := 0, 0
	copyTo := func(l, c int) {
		for ; line < l; line, col = line+1, 0 {
			b.WriteString(string(e.text[line][min(col, len(e.text[line])):]))
			b.WriteByte('\n')
		}
		if line < len(e.text) && c > col {
			c = min(c, len(e.text[line]))
			b.WriteString(string(e.text[line][col:c]))
			col = c
		}
	}
	for _, d := range e.edits {
		copyTo(d.line, d.col)
		b.WriteString(d.text)
		line, col = d.toLine, d.toCol
	}
	if line < len(e.text) {
		last := len(e.text) - 1
		copyTo(last, len(e.text[last]))
	}
	return b.String()
}

func isBlockMap(n ast.Node) bool {
	switch v := n.(type) {
	case *ast.MappingNode:
		return !v.IsFlowStyle
	case *ast.MappingValueNode:
		return true
	}
	return false
}

func pairsOf(n ast.Node) []*ast.MappingValueNode {
	switch v := n.(type) {
	case *ast.MappingNode:
		return v.Values
	case *ast.MappingValueNode:
		return []*ast.MappingValueNode{v}
	}
	return nil
}

// lastLine returns the last line (from 0) on which something of n stands.
func lastLine(n ast.Node) int {
	v := &lastVisitor{}
	ast.Walk(v, n)
	return v.line - 1
}

type lastVisitor struct{ line int }

func (v *lastVisitor) Visit(n ast.Node) ast.Visitor {
	note := func(l int) { v.line = max(v.line, l) }
	switch m := n.(type) {
	case *ast.MappingNode:
		if m.End != nil && m.IsFlowStyle {
			note(m.End.Position.Line)
		}
	case *ast.SequenceNode:
		if m.End != nil && m.IsFlowStyle {
			note(m.End.Position.Line)
		}
	case *ast.LiteralNode:
		note(m.Start.Position.Line + strings.Count(strings.TrimRight(m.Value.GetToken().Origin, "\n "), "\n") + 1)
		return nil
	case *ast.NullNode:
		return v // an empty value has no place of its own
	}
	if t := n.GetToken(); t != nil && t.Position != nil {
		note(t.Position.Line + strings.Count(strings.Trim(t.Value, "\n"), "\n"))
	}
	return v
}

// merge makes the block mapping n say want; depth is how many keys lead to it.
func (e *editor) merge(n ast.Node, want Map, depth int) {
	pairs := pairsOf(n)
	indent := pairs[0].Key.GetToken().Position.Column - 1
	first := pairs[0].Key.GetToken().Position.Line - 1
	at := map[string]int{} // line behind each entry that stays
	for _, p := range pairs {
		key := p.Key.GetToken()
		line, end := key.Position.Line-1, max(key.Position.Line-1, lastLine(p.Value))
		v, stays := want.Get(key.Value)
		if !stays {
			e.edits = append(e.edits, edit{line, 0, end + 1, 0, ""})
			continue
		}
		at[key.Value] = end + 1
		if !same(e.value(p.Value, 0), v) {
			e.set(p, Pair{key.Value, v}, line, end, indent, depth+1)
		}
	}
	// New keys go behind the one that they follow in want.
	behind, fresh := first, []string(nil)
	flush := func() {
		if len(fresh) > 0 {
			e.insert(behind, fresh)
			fresh = nil
		}
	}
	for _, p := range want {
		if l, ok := at[p.Key]; ok {
			flush()
			behind = l
			continue
		}
		fresh = append(fresh, spellEntry(p, indent, depth+1)...)
	}
	flush()
}

// insert puts lines before the line given.
func (e *editor) insert(line int, lines []string) {
	if line >= len(e.text) { // behind a last line without an end
		last := len(e.text) - 1
		e.edits = append(e.edits, edit{last, len(e.text[last]), last, len(e.text[last]), "\n" + strings.Join(lines, "\n")})
		return
	}
	e.edits = append(e.edits, edit{line, 0, line, 0, strings.Join(lines, "\n") + "\n"})
}

// set gives an entry another value.
func (e *editor) set(p *ast.MappingValueNode, want Pair, line, end, indent, depth int) {
	if m, ok := want.Value.(Map); ok && isBlockMap(p.Value) && len(m) > 0 {
		e.merge(p.Value, m, depth)
		return
	}
	if l, ok := want.Value.([]any); ok && len(l) > 0 {
		if s, ok := p.Value.(*ast.SequenceNode); ok && !s.IsFlowStyle && len(s.Values) > 0 {
			e.mergeList(s, l, depth)
			return
		}
	}
	if from, toLine, to, ok := e.inline(p.Value); ok {
		text := flow(want.Value)
		if asBlock(want.Value, depth) {
			text = "\n" + strings.Join(spellBlock(want.Value, indent+2, depth), "\n")
		}
		e.edits = append(e.edits, edit{p.Value.GetToken().Position.Line - 1, from, toLine, to, text})
		return
	}
	e.edits = append(e.edits, edit{line, 0, end + 1, 0, strings.Join(spellEntry(want, indent, depth), "\n") + "\n"})
}

// inline returns where a value stands that ends on a line of its own accord: a
// flow list or mapping, or a scalar of one line.
func (e *editor) inline(n ast.Node) (from, toLine, to int, ok bool) {
	switch v := n.(type) {
	case *ast.MappingNode:
		if !v.IsFlowStyle || v.End == nil {
			return
		}
		return v.Start.Position.Column - 1, v.End.Position.Line - 1, v.End.Position.Column, true
	case *ast.SequenceNode:
		if !v.IsFlowStyle || v.End == nil {
			return
		}
		return v.Start.Position.Column - 1, v.End.Position.Line - 1, v.End.Position.Column, true
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		p := n.GetToken().Position
		row := e.text[p.Line-1]
		from = p.Column - 1
		if from >= len(row) {
			return
		}
		to = len(row)
		if q := row[from]; q == '"' || q == '\'' {
			to = -1
			for i := from + 1; i < len(row); i++ {
				if row[i] == '\\' && q == '"' {
					i++
				} else if row[i] == q {
					to = i + 1
					break
				}
			}
			if to < 0 {
				return
			}
		} else if i := strings.Index(string(row[from:]), " #"); i >= 0 {
			to = from + len([]rune(string(row[from:])[:i]))
		}
		for to > from && row[to-1] == ' ' {
			to--
		}
		return from, p.Line - 1, to, to > from
	}
	return
}

// mergeList makes the block list s say want. Items that stay the same keep
// their lines; of those between, the first is changed into the first, and so on.
func (e *editor) mergeList(s *ast.SequenceNode, want []any, depth int) {
	indent := s.Start.Position.Column - 1
	have := make([]any, len(s.Values))
	for i, n := range s.Values {
		have[i] = e.value(n, 0)
	}
	lineOf := func(i int) int {
		l, _ := at(s.Values[i])
		return l - 1
	}
	item := func(v any) string { return strings.Repeat(" ", indent) + "- " + flow(v) }
	i, j := 0, 0
	step := func(toI, toJ int) { // what lies before the next pair of equals
		for i < toI && j < toJ {
			e.setItem(s.Values[i], want[j], item(want[j]), depth)
			i, j = i+1, j+1
		}
		for ; i < toI; i++ {
			e.edits = append(e.edits, edit{lineOf(i), 0, lastLine(s.Values[i]) + 1, 0, ""})
		}
		var fresh []string
		for ; j < toJ; j++ {
			fresh = append(fresh, item(want[j]))
		}
		if len(fresh) > 0 {
			if i < len(have) {
				e.insert(lineOf(i), fresh)
			} else {
				e.insert(lastLine(s.Values[len(have)-1])+1, fresh)
			}
		}
	}
	for _, p := range common(have, want) {
		step(p[0], p[1])
		i, j = p[0]+1, p[1]+1
	}
	step(len(have), len(want))
}

func (e *editor) setItem(n ast.Node, want any, whole string, depth int) {
	if m, ok := want.(Map); ok && isBlockMap(n) && len(m) > 0 && e.keepsDash(n, m) {
		e.merge(n, m, depth+1)
		return
	}
	if from, toLine, to, ok := e.inline(n); ok {
		e.edits = append(e.edits, edit{n.GetToken().Position.Line - 1, from, toLine, to, flow(want)})
		return
	}
	l, _ := at(n)
	e.edits = append(e.edits, edit{l - 1, 0, lastLine(n) + 1, 0, whole + "\n"})
}

// keepsDash tells whether the item n can be made to say want entry by entry: its
// first entry stands behind the list's dash, so that line must stay the first.
func (e *editor) keepsDash(n ast.Node, want Map) bool {
	p := pairsOf(n)[0]
	key := p.Key.GetToken().Value
	v, stays := want.Get(key)
	if !stays || want[0].Key != key {
		return false
	}
	if same(e.value(p.Value, 0), v) {
		return true
	}
	_, _, _, ok := e.inline(p.Value)
	return ok
}

// common returns the indices of a longest common subsequence.
func common(a, b []any) [][2]int {
	n := make([][]int, len(a)+1)
	for i := range n {
		n[i] = make([]int, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if same(a[i], b[j]) {
				n[i][j] = n[i+1][j+1] + 1
			} else {
				n[i][j] = max(n[i+1][j], n[i][j+1])
			}
		}
	}
	var out [][2]int
	for i, j := 0, 0; i < len(a) && j < len(b); {
		switch {
		case same(a[i], b[j]):
			out = append(out, [2]int{i, j})
			i, j = i+1, j+1
		case n[i+1][j] >= n[i][j+1]:
			i++
		default:
			j++
		}
	}
	return out
}
