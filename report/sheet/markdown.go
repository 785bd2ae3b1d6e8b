package sheet

import (
	"fmt"
	"io"
	"strings"

	"swathe/report/figure"
	"swathe/report/words"
)

// Markdown writes the page as text that an editor can go on with. picture is
// asked to keep each picture (light, numbered from 1) and returns the name to
// write; nil leaves pictures out.
func (s Sheet) Markdown(w io.Writer, picture func(n int, p *figure.Picture) (string, error)) error {
	var b strings.Builder
	plain := func(t string) string { return strings.ReplaceAll(t, words.NB, " ") }
	fmt.Fprintf(&b, "# %s\n\n%s\n", plain(s.Title), plain(s.Lead))
	if s.Details != "" {
		fmt.Fprintf(&b, "\n%s\n", plain(s.Details))
	}
	n := 0
	for _, part := range s.Sections {
		if part.Heading != "" {
			fmt.Fprintf(&b, "\n## %s\n", plain(part.Heading))
		}
		for _, p := range part.Text {
			fmt.Fprintf(&b, "\n%s\n", plain(p))
		}
		for i, p := range part.List {
			if i == 0 {
				b.WriteByte('\n')
			}
			fmt.Fprintf(&b, "%d. %s\n", i+1, plain(p))
		}
		for _, t := range part.Tables {
			b.WriteString("\n" + plain(t.markdown()))
			if t.Note != "" {
				fmt.Fprintf(&b, "\n%s\n", plain(t.Note))
			}
		}
		for _, p := range part.Pictures {
			if picture == nil {
				continue
			}
			opt := p.Options
			opt.Theme = figure.Light
			pic, err := p.Draw(opt)
			if err != nil {
				return err
			}
			n++
			name, err := picture(n, pic)
			if err != nil {
				return err
			}
			fmt.Fprintf(&b, "\n![%s](%s)\n\n%s\n", strings.ReplaceAll(plain(pic.Alt), "\n", " "), name, plain(p.Caption))
		}
		for _, t := range part.Terms {
			fmt.Fprintf(&b, "\n**%s**: %s\n", plain(t.Term), plain(t.Means))
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (t Table) markdown() string {
	head := t.Head
	if head == nil && len(t.Rows) > 0 {
		head = make([]string, len(t.Rows[0]))
	}
	cell := func(c string) string {
		return strings.ReplaceAll(strings.ReplaceAll(c, "|", "\\|"), "\n", " ")
	}
	var b strings.Builder
	row := func(cells []string) {
		b.WriteByte('|')
		for _, c := range cells {
			b.WriteString(" " + cell(c) + " |")
		}
		b.WriteByte('\n')
	}
	row(head)
	b.WriteString("|" + strings.Repeat(" --- |", len(head)) + "\n")
	for _, r := range t.Rows {
		row(r)
	}
	return b.String()
}
