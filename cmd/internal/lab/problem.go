package lab

import (
	"fmt"
	"strings"
)

// Problem is one thing wrong with a file that the user wrote.
type Problem struct {
	File    string // as the user would name it, relative to the lab folder
	Line    int    // from 1; 0 if the problem is the file as a whole
	Column  int    // from 1; 0 if unknown
	Message string // what is wrong and how to mend it, whole sentences
	Excerpt string // the lines around it with a pointer; empty if there are none
}

// Where returns file:line, or the file alone.
func (p Problem) Where() string {
	if p.Line == 0 {
		return p.File
	}
	return fmt.Sprintf("%s:%d", p.File, p.Line)
}

// Error gives place and message on one line, without the excerpt.
func (p Problem) Error() string { return p.Where() + ": " + p.Message }

// maxProblems bounds how many problems of one reading are told: one slip of the
// indentation can make dozens, and the first few show what to mend.
const maxProblems = 10

// Problems is every problem found in one reading, in the order of the files'
// lines. It is an error when it is not empty.
type Problems struct {
	List []Problem
	More int // how many were found beyond those in List
}

// Error lists the problems with their excerpts.
func (p *Problems) Error() string {
	var b strings.Builder
	for i, q := range p.List {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(q.Error())
		if q.Excerpt != "" {
			b.WriteByte('\n')
			b.WriteString(q.Excerpt)
		}
	}
	if p.More > 0 {
		fmt.Fprintf(&b, "\nand %d more: fix these first.", p.More)
	}
	return b.String()
}

func (p *Problems) add(q Problem) {
	if len(p.List) >= maxProblems {
		p.More++
		return
	}
	p.List = append(p.List, q)
}

// excerpt shows line (from 1) of a file with its neighbours and a pointer under
// column. Long lines are cut round the column.
func excerpt(lines []string, line, column int) string {
	const width = 96
	if line < 1 || line > len(lines) {
		return ""
	}
	cut := 0
	if column > width-16 {
		cut = column - width/2
	}
	var b strings.Builder
	for n := line - 1; n <= line+1; n++ {
		if n < 1 || n > len(lines) || n > line && strings.TrimSpace(lines[n-1]) == "" {
			continue
		}
		text := []rune(strings.ReplaceAll(strings.TrimRight(lines[n-1], "\r"), "\t", " "))
		if cut < len(text) {
			text = text[cut:]
		} else {
			text = nil
		}
		if len(text) > width {
			text = append(text[:width-3], '.', '.', '.')
		}
		mark := "  "
		if n == line {
			mark = "> "
		}
		fmt.Fprintf(&b, "  %s%4d | %s\n", mark, n, string(text))
		if n == line && column > 0 {
			fmt.Fprintf(&b, "         | %s^\n", strings.Repeat(" ", column-1-cut))
		}
	}
	return strings.TrimRight(b.String(), "\n")
}

// Nearest returns the word of known that word most likely meant, or "".
func Nearest(word string, known []string) string {
	best, at := "", 1+len([]rune(word))/3
	for _, k := range known {
		if strings.EqualFold(word, k) {
			return k
		}
		if d := editDistance(strings.ToLower(word), k); d <= at && (best == "" || d < at) {
			best, at = k, d
		}
	}
	return best
}

// editDistance counts the insertions, deletions, substitutions and swaps of
// neighbours that turn a into b (optimal string alignment).
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	d := make([][]int, len(x)+1)
	for i := range d {
		d[i] = make([]int, len(y)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(x)][len(y)]
}

// DidYouMean returns " Did you mean X?" or, failing that, the list of what is
// known.
func DidYouMean(word string, known []string) string {
	if k := Nearest(word, known); k != "" {
		return fmt.Sprintf(" Did you mean %q?", k)
	}
	if len(known) == 0 {
		return ""
	}
	return fmt.Sprintf(" Known here: %s.", strings.Join(known, ", "))
}
