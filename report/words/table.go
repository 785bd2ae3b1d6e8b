package words

import (
	"strings"
	"unicode/utf8"
)

// Columns is how many columns of a terminal a text takes.
func Columns(s string) int { return utf8.RuneCountInString(s) }

// Wrap breaks text into lines of at most n columns, at spaces; a no-break space
// holds. A word that is longer stands on a line of its own.
func Wrap(text string, n int) []string {
	var lines []string
	line := ""
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == '\n' || r == '\t' }) {
		switch {
		case line == "":
			line = w
		case Columns(line)+1+Columns(w) > n:
			lines, line = append(lines, line), w
		default:
			line += " " + w
		}
	}
	return append(lines, line)
}

// gutter separates the columns of a table.
const gutter = "  "

// Table lays out rows, the first of which is the head, for a terminal of so many
// columns: each column as wide as it needs, and where that is too much, the
// widest are wrapped. right says which columns hold numbers; nil: none. Law: no
// line is longer than width, unless the columns' longest words do not fit.
func Table(rows [][]string, width int, right []bool) string {
	n := 0
	for _, r := range rows {
		n = max(n, len(r))
	}
	w := columnWidths(rows, n, width)
	var b strings.Builder
	for i, r := range rows {
		cells := make([][]string, n)
		high := 1
		for c := range r {
			cells[c] = Wrap(r[c], w[c])
			high = max(high, len(cells[c]))
		}
		for k := range high {
			line := ""
			for c := range n {
				cell := ""
				if k < len(cells[c]) {
					cell = cells[c][k]
				}
				space := strings.Repeat(" ", max(0, w[c]-Columns(cell)))
				if c > 0 {
					line += gutter
				}
				if c < len(right) && right[c] {
					line += space + cell
				} else {
					line += cell + space
				}
			}
			b.WriteString(strings.TrimRight(line, " ") + "\n")
		}
		if i == 0 {
			for c := range n {
				w := strings.Repeat("-", w[c])
				if c > 0 {
					w = gutter + w
				}
				b.WriteString(w)
			}
			b.WriteByte('\n')
		}
	}
	return b.String()
}

// columnWidths takes columns from the widest column until all fit, but none
// below its longest word.
func columnWidths(rows [][]string, n, width int) []int {
	w, least := make([]int, n), make([]int, n)
	for _, r := range rows {
		for c, cell := range r {
			w[c] = max(w[c], Columns(cell))
			for _, word := range Wrap(cell, 0) {
				least[c] = max(least[c], Columns(word))
			}
		}
	}
	sum := (n - 1) * len(gutter)
	for _, x := range w {
		sum += x
	}
	for ; sum > width; sum-- {
		widest := -1
		for c := range w {
			if w[c] > least[c] && (widest < 0 || w[c] > w[widest]) {
				widest = c
			}
		}
		if widest < 0 {
			break
		}
		w[widest]--
	}
	return w
}
