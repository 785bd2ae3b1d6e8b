package docs

import (
	"fmt"
	"strings"

	"github.com/yuin/goldmark/ast"
	east "github.com/yuin/goldmark/extension/ast"

	"swathe/report/words"
)

// Text returns a page for a terminal of so many columns. Errors: no such topic.
func Text(name string, width int) (string, error) {
	doc, raw, err := parse(name)
	if err != nil {
		return "", err
	}
	t := textPage{raw: raw}
	for n := doc.FirstChild(); n != nil; n = n.NextSibling() {
		t.block(n, "", "", width)
	}
	return strings.TrimLeft(t.String(), "\n"), nil
}

type textPage struct {
	strings.Builder
	raw []byte
}

// block writes a block, its first line after first, the others after rest.
func (t *textPage) block(n ast.Node, first, rest string, width int) {
	switch v := n.(type) {
	case *ast.Heading:
		line := t.inline(n)
		t.WriteString("\n" + line + "\n")
		if rule, ok := map[int]string{1: "=", 2: "-"}[v.Level]; ok {
			t.WriteString(strings.Repeat(rule, words.Columns(line)) + "\n")
		}
	case *ast.Paragraph, *ast.TextBlock:
		if n.Kind() == ast.KindParagraph && first == rest {
			t.WriteString("\n")
		}
		for i, line := range words.Wrap(t.inline(n), width-words.Columns(rest)) {
			if i > 0 {
				first = rest
			}
			t.WriteString(first + line + "\n")
		}
	case *ast.FencedCodeBlock, *ast.CodeBlock:
		t.WriteString("\n")
		for i := range n.Lines().Len() {
			s := n.Lines().At(i)
			t.WriteString(strings.TrimRight(rest+"    "+string(s.Value(t.raw)), " \n") + "\n")
		}
	case *ast.List:
		t.WriteString("\n")
		k := v.Start
		for item := n.FirstChild(); item != nil; item = item.NextSibling() {
			mark := "- "
			if v.IsOrdered() {
				mark, k = fmt.Sprintf("%d. ", k), k+1
			}
			lead := rest + mark
			for c := item.FirstChild(); c != nil; c = c.NextSibling() {
				t.block(c, lead, rest+strings.Repeat(" ", len(mark)), width)
				lead = rest + strings.Repeat(" ", len(mark))
			}
		}
	case *east.Table:
		t.WriteString("\n" + words.Table(t.rows(v), width, nil))
	default:
		for c := n.FirstChild(); c != nil; c = c.NextSibling() {
			t.block(c, rest, rest, width)
		}
	}
}

// rows are the cells of a table, its head first.
func (t *textPage) rows(table ast.Node) [][]string {
	var out [][]string
	for r := table.FirstChild(); r != nil; r = r.NextSibling() {
		var row []string
		for c := r.FirstChild(); c != nil; c = c.NextSibling() {
			row = append(row, t.inline(c))
		}
		out = append(out, row)
	}
	return out
}

// inline is the text of a block in one line, without marks.
func (t *textPage) inline(n ast.Node) string {
	var b strings.Builder
	for c := n.FirstChild(); c != nil; c = c.NextSibling() {
		switch v := c.(type) {
		case *ast.Text:
			b.Write(v.Segment.Value(t.raw))
			if v.SoftLineBreak() || v.HardLineBreak() {
				b.WriteByte(' ')
			}
		case *ast.String:
			b.Write(v.Value)
		case *ast.Link:
			b.WriteString(t.inline(c))
			if to, ok := topicOf(string(v.Destination)); ok {
				topic, _, _ := strings.Cut(to, "#")
				b.WriteString(" (swathe help " + topic + ")")
			} else {
				b.WriteString(" (" + string(v.Destination) + ")")
			}
		default:
			b.WriteString(t.inline(c))
		}
	}
	return b.String()
}
