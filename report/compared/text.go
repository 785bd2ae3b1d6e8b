package compared

import (
	"fmt"
	"io"
	"strings"

	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/sheet"
	"swathe/report/words"
)

// mainFigure tells which figures stand in the short tables.
func mainFigure(name string) bool {
	switch name {
	case "reachable_share", "covered_share", "duration_s", "redundancy", "time_to_reachable_s.90":
		return true
	}
	return false
}

// maxTold bounds the exploratory differences that a terminal shows.
const maxTold = 8

// Text writes the comparison for a terminal: who takes part, the primary figure
// with its verdicts, the main figures as one table, and what else could be told.
func (d *Comparison) Text(w io.Writer, unit words.Unit) {
	say := func(format string, a ...any) {
		fmt.Fprintln(w, strings.ReplaceAll(fmt.Sprintf(format, a...), words.NB, " "))
	}
	say("%s: %d runs in %d groups", d.Layout, len(d.Runs), len(d.Groups))
	for _, r := range d.Refused {
		say("  left out: %s: %s", r.Run, r.Reason)
	}
	f := d.figure(d.Primary)
	say("\n%s (primary figure, with 95 %% intervals)", f.Words)
	writeTable(w, d.primaryTable(unit), "  ")
	if t := d.verdictTable(unit); len(t.Rows) > 0 {
		say("")
		writeTable(w, t, "  ")
	}
	say("\nMain figures by group (means; exploratory but for the primary one)")
	writeTable(w, d.mainTable(unit), "  ")
	told, few, all := d.exploratory()
	switch {
	case len(told) > 0:
		say("\nDifferences shown among %d others, by Holm's correction (exploratory):", all)
		for _, x := range told[:min(len(told), maxTold)] {
			g := d.figure(x.Figure)
			say("  %s: %s, %s", g.Words, pairVerdict(x), differenceWords(g.Unit, x, unit))
		}
		if n := len(told) - maxTold; n > 0 {
			say("  and %d more: see differences.csv", n)
		}
	case all > 0 && few == all:
		say("\nThere are too few runs to test the %d other differences.", all)
	case all > 0:
		say("\nNone of the %d other differences is distinguishable from chance (exploratory, by Holm's correction).", all)
	}
	for _, j := range d.Joint {
		if j.Name == AllRuns || len(d.Joint) == 1 {
			say("\nFloor missed by %s: %s", j.Name, j.Words)
		}
	}
	if len(d.Notes) > 0 {
		say("")
	}
	for _, n := range d.Notes {
		say("Note: %s", n)
	}
}

// AllRuns is the name of what all runs of a comparison leave between them.
const AllRuns = "all runs"

func (d *Comparison) figure(name string) FigureRow {
	for _, f := range d.Figures {
		if f.Figure == name {
			return f
		}
	}
	return FigureRow{Figure: name, Words: name}
}

// exploratory returns the differences other than the primary figure's that are
// settled, of how many there were too few runs, and how many there are.
func (d *Comparison) exploratory() (told []DifferenceRow, few, all int) {
	for _, x := range d.Differ {
		if x.Primary || x.Reason != nil {
			continue
		}
		all++
		switch {
		case x.told():
			told = append(told, x)
		case compare.Verdict(x.Verdict) == compare.TooFew:
			few++
		}
	}
	return told, few, all
}

// runsOf writes how many runs a cell has a value of, of how many.
func (c FigureCell) runsOf() string {
	if c.N+len(c.Never) == c.Of {
		return fmt.Sprint(c.Of)
	}
	return fmt.Sprintf("%d of %d", c.N+len(c.Never), c.Of)
}

// primaryTable has a row a group.
func (d *Comparison) primaryTable(unit words.Unit) sheet.Table {
	f := d.figure(d.Primary)
	t := sheet.Table{Name: f.Words, Head: []string{"group", "n", "mean", "95" + words.NB + "% interval", "standard deviation between runs"}}
	bounds := false
	for _, c := range f.Groups {
		bounds = bounds || len(c.AtLeast) > 0
	}
	if bounds {
		t.Head = append(t.Head, "lower bounds")
	}
	for _, c := range f.Groups {
		sd := ""
		if report.Measured(c.SD) {
			sd = spreadWords(f.Unit, c.SD, unit)
		}
		row := []string{c.Group, c.runsOf(), valueWords(f.Unit, c, unit), intervalWords(f.Unit, c, unit), sd}
		if bounds {
			row = append(row, boundWords(f.Unit, c, unit))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// verdictTable has a row a pair of groups, of the primary figure.
func (d *Comparison) verdictTable(unit words.Unit) sheet.Table {
	t := sheet.Table{Name: "Verdicts", Head: []string{"groups", "second minus first", "p (Holm)", "verdict"}}
	f := d.figure(d.Primary)
	for _, x := range d.Differ {
		if x.Primary {
			t.Rows = append(t.Rows, []string{x.Groups[0] + ", " + x.Groups[1], differenceWords(f.Unit, x, unit), probability(x.HolmP), verdictAdvice(x)})
		}
	}
	return t
}

func verdictAdvice(x DifferenceRow) string {
	out := verdictWords(x)
	if x.Advice != "" {
		out += "; " + x.Advice
	}
	return out
}

// mainTable has a row a group and a column a main figure.
func (d *Comparison) mainTable(unit words.Unit) sheet.Table {
	t := sheet.Table{Name: "Main figures", Head: []string{"group"}}
	var figures []FigureRow
	for _, f := range d.Figures {
		if mainFigure(f.Figure) {
			figures, t.Head = append(figures, f), append(t.Head, f.Words)
		}
	}
	for k, g := range d.Groups {
		row := []string{g.Name}
		for _, f := range figures {
			row = append(row, shortCell(f.Unit, f.Groups[k], unit))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// shortCell writes a cell without its interval.
func shortCell(unit string, c FigureCell, in words.Unit) string {
	if len(c.Never) > 0 {
		return fmt.Sprintf("reached in %d of %d", c.N, c.N+len(c.Never))
	}
	if c.N == 0 && len(c.AtLeast) > 0 {
		return boundWords(unit, c, in)
	}
	return valueWords(unit, c, in)
}

// spreadWords writes a standard deviation; of a share in points.
func spreadWords(unit string, sd float64, in words.Unit) string {
	if unit == "share" {
		return words.Number(sd*100, sd*100/3, 1) + words.NB + "points"
	}
	return inWords(unit, sd, sd/3, in)
}

// writeTable writes a table for a terminal. Heads wrap within their columns; a
// row too long for 100 characters goes on below, under its own heading.
func writeTable(w io.Writer, t sheet.Table, indent string) {
	most, last := 26, 44 // characters of a column, and of the last
	if len(t.Head) > 5 {
		most, last = 16, 24
	}
	width := make([]int, len(t.Head))
	wrapped := make([][][]string, 0, len(t.Rows)+1)
	for _, row := range append([][]string{t.Head}, t.Rows...) {
		var cells [][]string
		for i, c := range row {
			room := most
			if i == len(t.Head)-1 {
				room = last
			}
			lines := wrap(strings.ReplaceAll(c, words.NB, "\x00"), room)
			for k, l := range lines {
				lines[k] = strings.ReplaceAll(l, "\x00", " ")
				width[i] = max(width[i], len([]rune(lines[k])))
			}
			cells = append(cells, lines)
		}
		wrapped = append(wrapped, cells)
	}
	for _, cells := range wrapped {
		high := 0
		for _, c := range cells {
			high = max(high, len(c))
		}
		for l := range high {
			var b strings.Builder
			b.WriteString(indent)
			for i, c := range cells {
				text := ""
				if l < len(c) {
					text = c[l]
				}
				b.WriteString(text + strings.Repeat(" ", width[i]-len([]rune(text))+2))
			}
			fmt.Fprintln(w, strings.TrimRight(b.String(), " "))
		}
	}
}

// wrap breaks a text at its spaces into lines of so many characters, longer
// words whole.
func wrap(s string, room int) []string {
	var out []string
	line := ""
	for _, word := range strings.Fields(s) {
		switch {
		case line == "":
			line = word
		case len([]rune(line))+1+len([]rune(word)) <= room:
			line += " " + word
		default:
			out, line = append(out, line), word
		}
	}
	return append(out, line)
}
