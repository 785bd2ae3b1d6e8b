package docs

import (
	"fmt"
	"strings"

	"github.com/gomarkdown/markdown/ast"

	"swathe/report/words"
)

// Text returns a page for a terminal of so many columns. Errors: no such topic.
func Text(name string, width int) (string, error) {
	doc, err := parse(name)
	if err != nil {
		return "", err
	}
	var t textPage
	for _, n := range doc.GetChildren() {
		t.block(n, "", "", width)
	}
	return strings.TrimLeft(t.String(), "\n"), nil
}

type textPage struct{ strings.Builder }

// block writes a block, its first line after first, the others after rest.
func (t *textPage) block(n ast.Node, first, rest string, width int) {
	switch v := n.(type) {
	case *ast.Heading:
		line := inline(n)
		t.WriteString("\n" + line + "\n")
		if rule, ok := map[int]string{1: "=", 2: "-"}[v.Level]; ok {
			t.WriteString(strings.Repeat(rule, words.Columns(line)) + "\n")
		}
	case *ast.Paragraph:
		if first == rest {
			t.WriteString("\n")
		}
		for i, line := range words.Wrap(inline(n), width-words.Columns(rest)) {
			if i > 0 {
				first = rest
			}
			t.WriteString(first + line + "\n")
		}
	case *ast.CodeBlock:
		t.WriteString("\n")
		for _, line := range strings.Split(strings.TrimRight(string(v.Literal), "\n"), "\n") {
			t.WriteString(strings.TrimRight(rest+"    "+line, " ") + "\n")
		}
	case *ast.List:
		t.WriteString("\n")
		for k, item := range v.Children {
			mark := "- "
			if v.ListFlags&ast.ListTypeOrdered != 0 {
				mark = fmt.Sprintf("%d. ", max(v.Start, 1)+k)
			}
			lead := rest + mark
			for _, c := range item.GetChildren() {
				t.block(c, lead, rest+strings.Repeat(" ", len(mark)), width)
				lead = rest + strings.Repeat(" ", len(mark))
			}
		}
	case *ast.Table:
		t.WriteString("\n" + words.Table(rows(v), width, nil))
	default:
		for _, c := range n.GetChildren() {
			t.block(c, rest, rest, width)
		}
	}
}

// rows are the cells of a table, its head first.
func rows(table ast.Node) [][]string {
	var out [][]string
	ast.WalkFunc(table, func(n ast.Node, entering bool) ast.WalkStatus {
		r, ok := n.(*ast.TableRow)
		if !ok || !entering {
			return ast.GoToNext
		}
		var row []string
		for _, c := range r.Children {
			row = append(row, inline(c))
		}
		out = append(out, row)
		return ast.SkipChildren
	})
	return out
}

// inline is the text of a block in one line, without marks.
func inline(n ast.Node) string {
	var b strings.Builder
	for _, c := range n.GetChildren() {
		if l := c.AsLeaf(); l != nil {
			b.WriteString(strings.ReplaceAll(string(l.Literal), "\n", " "))
			continue
		}
		b.WriteString(inline(c))
		if v, ok := c.(*ast.Link); ok {
			if to, ok := topicOf(string(v.Destination)); ok {
				topic, _, _ := strings.Cut(to, "#")
				b.WriteString(" (swathe help " + topic + ")")
			} else {
				b.WriteString(" (" + string(v.Destination) + ")")
			}
		}
	}
	return b.String()
}
