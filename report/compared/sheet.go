package compared

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/sheet"
	"swathe/report/words"
)

type namedPicture struct {
	name string
	sheet.Picture
}

// maxPairs bounds the difference maps: of more groups, only against the first.
const maxPairs = 6

// pictures lists what a comparison shows.
func (in ComparisonInput) pictures() []namedPicture {
	d := in.Doc
	var out []namedPicture
	add := func(name, caption string, h int, draw func(figure.Options) (*figure.Picture, error)) {
		out = append(out, namedPicture{name, sheet.Picture{Caption: caption, Draw: draw, Options: in.size(h)}})
	}
	var groups []string
	for _, g := range d.Groups {
		groups = append(groups, g.Name)
	}
	if len(in.Line) > 0 {
		add("curves", "Share cleaned over time, one line for each run, one colour for each group.", 800, func(o figure.Options) (*figure.Picture, error) {
			return figure.Curves(d.Layout, groups, in.Line, o)
		})
	}
	for at := 0; at < len(in.Maps); at += platePer {
		rs := in.Maps[at:min(at+platePer, len(in.Maps))]
		name := "maps"
		if len(in.Maps) > platePer {
			name = fmt.Sprintf("maps-%d", at/platePer+1)
		}
		if len(rs) == 1 {
			add(name, "How often each spot was cleaned.", 860, func(o figure.Options) (*figure.Picture, error) { return figure.Passes(rs[0], o) })
			continue
		}
		high := 860
		if len(rs) <= 3 {
			high = 620
		}
		add(name, "How often each spot was cleaned, all plans at one scale.", high, func(o figure.Options) (*figure.Picture, error) { return figure.Plate(rs, o) })
	}
	if len(in.Maps) > 1 {
		add("agreement", "In how many of the runs each spot was cleaned.", 860, func(o figure.Options) (*figure.Picture, error) { return figure.Agreement(in.Maps, o) })
	}
	if len(d.Joint) > 0 {
		var all []figure.Shared
		for _, j := range d.Joint {
			s := figure.Shared{Name: j.Name, Group: slices.Index(groups, j.Name)}
			for k := range j.After {
				s.Share, s.Chance = append(s.Share, j.After[k]), append(s.Chance, j.AfterChance[k])
			}
			all = append(all, s)
		}
		add("together", d.Joint[0].Words, 760, func(o figure.Options) (*figure.Picture, error) {
			return figure.AfterRuns(d.Layout, "Floor missed after several runs", all, o)
		})
	}
	n := 0
	for i := range d.Groups {
		for j := i + 1; j < len(d.Groups) && n < maxPairs; j++ {
			as, bs := in.of(d.Groups[i].Runs), in.of(d.Groups[j].Runs)
			if len(as) == 0 || len(bs) == 0 {
				continue
			}
			n++
			a, b := groups[i], groups[j]
			add(fmt.Sprintf("difference-%d", n), "Floor cleaned by only one side: "+a+" and "+b+".", 860, func(o figure.Options) (*figure.Picture, error) {
				return figure.GroupDifference(a, as, b, bs, o)
			})
		}
	}
	return out
}

// size is the size of a comparison's pictures, their smallest text as large as
// on the page of a run.
func (in ComparisonInput) size(h int) figure.Options {
	o := figure.DefaultOptions()
	o.Width, o.Height, o.DPI, o.Unit = 1200, h, 250, in.Unit
	return o
}

// platePer is how many maps stand on one picture.
const platePer = 6

// of returns the maps of the runs named.
func (in ComparisonInput) of(ids []string) []figure.Run {
	var out []figure.Run
	for _, id := range ids {
		for k, own := range in.IDs {
			if own == id {
				out = append(out, in.Maps[k])
			}
		}
	}
	return out
}

// sheet makes the page, in the order in which a reader may doubt it: who takes
// part, what the comparison is about, what bounds its say, the maps; all else is
// folded away.
func (in ComparisonInput) sheet(pics []namedPicture) sheet.Sheet {
	d := in.Doc
	s := sheet.Sheet{Title: "Comparison of runs in " + d.Layout, Lead: in.lead(), Details: fmt.Sprintf("%d runs in %d groups", len(d.Runs), len(d.Groups))}
	add := func(p sheet.Section) { s.Sections = append(s.Sections, p) }
	fold := func(p sheet.Section) { p.Folded = true; add(p) }
	f := d.figure(d.Primary)
	add(in.participants())
	add(sheet.Section{Heading: f.Words + ": the primary figure", Tables: nonempty(d.primaryTable(in.Unit), d.verdictTable(in.Unit)), Text: []string{in.howFound()}})
	add(sheet.Section{Heading: "Limitations", List: d.Notes, Text: in.shares()})
	add(sheet.Section{Heading: "Maps", Pictures: chosen(pics, "maps", "agreement")})
	fold(sheet.Section{Heading: "All figures by group", Tables: []sheet.Table{in.allFigures()}, Text: []string{
		"In brackets: 95" + words.NB + "% interval of the mean; for a single run, of its measurement. Two runs are given as two values. A run that did not finish gives a lower bound (\u2265), which is not averaged."}})
	if t := in.exploratoryTable(); len(t.Rows) > 0 {
		fold(sheet.Section{Heading: "All differences (exploratory)", Tables: []sheet.Table{t}, Text: []string{
			fmt.Sprintf("These were not specified in advance. Among many differences some are large by chance; the last two columns are after Holm's correction for all %d of them.", len(t.Rows))}})
	}
	fold(sheet.Section{Heading: "Coverage over time", Pictures: chosen(pics, "curves")})
	if len(d.Joint) > 0 {
		j := in.jointSection()
		j.Pictures = chosen(pics, "together")
		fold(j)
	}
	fold(sheet.Section{Heading: "Floor cleaned by only one group", Pictures: chosen(pics, "difference")})
	fold(in.outcomes())
	fold(in.theRuns())
	kept := s.Sections[:0]
	for _, p := range s.Sections {
		if len(p.Text)+len(p.List)+len(p.Tables)+len(p.Pictures) > 0 {
			kept = append(kept, p)
		}
	}
	s.Sections = kept
	return s
}

func nonempty(ts ...sheet.Table) (out []sheet.Table) {
	for _, t := range ts {
		if len(t.Rows) > 0 {
			out = append(out, t)
		}
	}
	return out
}

// chosen returns the pictures whose names begin so.
func chosen(pics []namedPicture, names ...string) (out []sheet.Picture) {
	for _, name := range names {
		for _, p := range pics {
			if base, _, _ := strings.Cut(p.name, "-"); base == name {
				out = append(out, p.Picture)
			}
		}
	}
	return out
}

// participants says who takes part, who does not, and why.
func (in ComparisonInput) participants() sheet.Section {
	d := in.Doc
	t := sheet.Table{Name: "Runs included", Head: []string{"group", "n", "runs", "conditions"}}
	for _, g := range d.Groups {
		t.Rows = append(t.Rows, []string{g.Name, fmt.Sprint(len(g.Runs)), words.List(g.Runs), strings.TrimPrefix(conditionLine(g.Conditions), "Conditions: ")})
	}
	s := sheet.Section{Heading: "Runs included and left out", Tables: []sheet.Table{t}}
	for _, x := range d.Refused {
		s.List = append(s.List, x.Run+" is left out: "+x.Reason+".")
	}
	for _, g := range d.figure(d.Primary).Groups {
		for _, b := range g.AtLeast {
			s.List = append(s.List, b.Run+" is not averaged: "+b.Reason+".")
		}
	}
	if len(s.List) == 0 {
		s.Text = []string{"No run was left out."}
	}
	return s
}

// howFound says where the primary figure's intervals and verdicts come from.
func (in ComparisonInput) howFound() string {
	f, _ := compare.Find(in.Doc.Primary)
	how := "The interval of a mean combines the scatter between runs, which more runs reduce, and what the runs share, such as the brush's width and the survey, which they do not; effective degrees of freedom follow JCGM 100:2008, G.4. It is an interval for the mean, not for the next run."
	if f.Unit == compare.Share {
		how += " Intervals of shares are calculated on the angular scale (2 asin sqrt share), so that they stay within 0 and 100" + words.NB + "%."
	}
	n := 0
	method := map[string]bool{}
	for _, x := range in.Doc.Differ {
		if x.Primary {
			n++
			method[x.Method] = true
		}
	}
	if method[compare.MethodWelch] {
		how += " Differences between separate groups are tested with Welch's test."
	}
	if method[compare.MethodPaired] {
		how += " Groups whose notes declare blocks or dates are compared in pairs."
	}
	if method[compare.MethodRanks] {
		how += " Where some runs never reached it, groups are compared by ranks."
	}
	if n > 1 {
		how += fmt.Sprintf(" The %d pairs are corrected for multiple comparison (Holm).", n)
	}
	return how
}

// shares says how much of the primary figure's uncertainty more runs would not
// take away.
func (in ComparisonInput) shares() []string {
	f := in.Doc.figure(in.Doc.Primary)
	var parts []string
	for _, c := range f.Groups {
		if report.Measured(c.CommonU) && report.Measured(c.SD) && c.N > 2 {
			parts = append(parts, fmt.Sprintf("%s %s from scatter, %s shared", c.Group, spreadWords(f.Unit, c.SD/math.Sqrt(float64(c.N)), in.Unit), spreadWords(f.Unit, c.CommonU, in.Unit)))
		}
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{"Standard uncertainty of each mean: " + words.List(parts) + ". More runs do not reduce what is shared."}
}

func (in ComparisonInput) allFigures() sheet.Table {
	d := in.Doc
	t := sheet.Table{Name: "Figures by group", Head: []string{"figure"}}
	for _, g := range d.Groups {
		t.Head = append(t.Head, g.Name)
	}
	for _, f := range d.Figures {
		row := []string{f.Words}
		for _, c := range f.Groups {
			row = append(row, cellWords(f.Unit, c, in.Unit))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (in ComparisonInput) exploratoryTable() sheet.Table {
	t := sheet.Table{Name: "Differences", Head: []string{"figure", "groups", "second minus first", "p", "p (Holm)", "verdict"}}
	for _, x := range in.Doc.Differ {
		if x.Primary || x.Reason != nil {
			continue
		}
		f := in.Doc.figure(x.Figure)
		t.Rows = append(t.Rows, []string{f.Words, x.Groups[0] + ", " + x.Groups[1], differenceWords(f.Unit, x, in.Unit), probability(x.P), probability(x.HolmP), verdictAdvice(x)})
	}
	return t
}

// outcomes says how many runs of each group did what.
func (in ComparisonInput) outcomes() sheet.Section {
	c := sheet.Table{Name: "Outcomes by group", Head: []string{"group", "runs that", "number", "95" + words.NB + "% interval of the share"}}
	for _, n := range in.Doc.Counts {
		iv := ""
		if report.Measured(n.Interval.Lo) {
			iv = words.Share(n.Interval.Lo, 0.02) + " to " + words.Share(n.Interval.Hi, 0.02)
		}
		number := fmt.Sprintf("%d of %d", n.K, n.N)
		if len(n.Open) > 0 {
			number += fmt.Sprintf(", %d cut short before", len(n.Open))
		}
		c.Rows = append(c.Rows, []string{n.Group, n.What, number, iv})
	}
	return sheet.Section{Heading: "Outcomes by group", Tables: nonempty(c)}
}

func (in ComparisonInput) theRuns() sheet.Section {
	r := sheet.Table{Name: "The runs", Head: []string{"run", "group", "share of open floor", "share of reachable floor", "time", "distance"}}
	for _, v := range in.Doc.Runs {
		share := func(name string) string { return words.Share(v.Values[name], v.U(name)) }
		r.Rows = append(r.Rows, []string{v.Run, v.Group, share("covered_share"), share("reachable_share"),
			words.Duration(v.Values["duration_s"]), words.Length(v.Values["distance_m"], v.U("distance_m"), in.Unit)})
	}
	return sheet.Section{Heading: "The runs", Tables: []sheet.Table{r}}
}

// lead is the one thing to know: of two groups the verdict, of more the primary
// figure of each.
func (in ComparisonInput) lead() string {
	f := in.Doc.figure(in.Doc.Primary)
	var parts []string
	for _, c := range f.Groups {
		v := valueWords(f.Unit, c, in.Unit)
		if v == "" {
			v = boundWords(f.Unit, c, in.Unit)
		}
		parts = append(parts, c.Group+" "+v)
	}
	if len(parts) == 0 {
		return f.Words + ": " + words.NotMeasured
	}
	lead := f.Words + ": " + words.List(parts)
	var only []DifferenceRow
	for _, x := range in.Doc.Differ {
		if x.Primary && x.Reason == nil {
			only = append(only, x)
		}
	}
	if len(f.Groups) == 2 && len(only) == 1 {
		verdict := pairVerdict(only[0])
		if !only[0].told() {
			verdict = verdictWords(only[0]) // both groups are named before it
		}
		lead += "; " + verdict
	}
	return lead
}

func (in ComparisonInput) jointSection() sheet.Section {
	s := sheet.Section{Heading: "Floor missed by all runs"}
	for _, j := range in.Doc.Joint {
		s.Text = append(s.Text, j.Name+": "+j.Words)
		t := sheet.Table{Name: "Share covered by runs of " + j.Name + " together", Head: []string{"runs together", "covered share of the floor reachable in every run", "expected by chance"}}
		for k := range j.After {
			t.Rows = append(t.Rows, []string{fmt.Sprint(k + 1), words.Share(j.After[k], 0.0005), words.Share(j.AfterChance[k], 0.0005)})
		}
		s.Tables = append(s.Tables, t)
		p := sheet.Table{Name: "Floor that no run of " + j.Name + " covered", Head: []string{"floor that none covered", "where"}}
		for _, x := range j.Patches[:min(len(j.Patches), 10)] {
			p.Rows = append(p.Rows, []string{words.Area(x.AreaM2, 0, in.Unit), fmt.Sprintf("%s, at (%.2f, %.2f) m", x.Beside, x.X, x.Y)})
		}
		if len(p.Rows) > 0 {
			s.Tables = append(s.Tables, p)
		}
	}
	return s
}
