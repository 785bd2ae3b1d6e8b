package report

import (
	"fmt"
	"slices"

	"swathe/report/figure"
	"swathe/report/words"
)

type namedPicture struct {
	name string
	SheetPicture
}

// maxPairs bounds the difference maps: of more groups, only against the first.
const maxPairs = 6

// pictures lists what a comparison shows.
func (in ComparisonInput) pictures() []namedPicture {
	d := in.Doc
	var out []namedPicture
	add := func(name, caption string, h int, draw func(figure.Options) (*figure.Picture, error)) {
		out = append(out, namedPicture{name, SheetPicture{caption, draw, in.size(h)}})
	}
	var groups []string
	for _, g := range d.Groups {
		groups = append(groups, g.Name)
	}
	if len(in.Line) > 0 {
		add("curves", "How the cleaned share grew, one line a run, one colour a group.", 800, func(o figure.Options) (*figure.Picture, error) {
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
				s.Share, s.Chance = append(s.Share, float64(j.After[k])), append(s.Chance, float64(j.AfterChance[k]))
			}
			all = append(all, s)
		}
		add("together", d.Joint[0].Words, 760, func(o figure.Options) (*figure.Picture, error) {
			return figure.AfterRuns(d.Layout, "What is left after several runs", all, o)
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
			add(fmt.Sprintf("difference-%d", n), "Which floor one side cleaned and the other did not: "+a+" and "+b+".", 860, func(o figure.Options) (*figure.Picture, error) {
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

// sheet makes the page.
func (in ComparisonInput) sheet(pics []namedPicture) Sheet {
	d := in.Doc
	s := Sheet{Title: "Comparison of runs in " + d.Layout, Lead: in.lead(), Details: fmt.Sprintf("%d runs in %d groups", len(d.Runs), len(d.Groups))}
	add := func(p Section) { s.Sections = append(s.Sections, p) }
	t := Table{Name: "Figures by group", Head: []string{"figure"}}
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
	add(Section{Heading: "Figures", Tables: []Table{t}, Text: []string{
		"In brackets: 95" + words.NB + "% interval of the mean from how the runs scatter; of a single run, of its measurement. Of two runs both values stand alone."}})
	if len(d.Notes) > 0 {
		add(Section{Heading: "Before you believe a difference", List: d.Notes})
	}
	if len(d.Differ) > 0 {
		t := Table{Name: "Differences", Head: []string{"figure", "groups", "difference", "ratio"}}
		for _, x := range d.Differ {
			f := in.figure(x.Figure)
			if x.Reason != nil && !mainFigure(x.Figure) {
				continue
			}
			ratio := ""
			if x.Ratio.Known() && x.Reason == nil {
				ratio = words.Number(float64(x.Ratio), 0, 2)
			}
			t.Rows = append(t.Rows, []string{f.Words, x.Groups[1] + " less " + x.Groups[0], differenceWords(f.Unit, x, in.Unit), ratio})
		}
		add(Section{Heading: "Differences", Tables: []Table{t}})
	}
	var shown []SheetPicture
	for _, p := range pics {
		shown = append(shown, p.SheetPicture)
	}
	add(Section{Heading: "Pictures", Pictures: shown})
	if len(d.Joint) > 0 {
		add(in.jointSection())
	}
	c := Table{Name: "How many runs did what", Head: []string{"group", "runs that", "number", "95" + words.NB + "% interval of the share"}}
	for _, n := range d.Counts {
		iv := ""
		if n.Interval[0].Known() {
			iv = words.Share(float64(n.Interval[0]), 0.02) + " to " + words.Share(float64(n.Interval[1]), 0.02)
		}
		c.Rows = append(c.Rows, []string{n.Group, n.What, fmt.Sprintf("%d of %d", n.K, n.N), iv})
	}
	add(Section{Heading: "How many runs did what", Tables: []Table{c}})
	r := Table{Name: "The runs", Head: []string{"run", "group", "cleaned of the floor within reach", "time", "distance"}}
	for _, v := range d.Runs {
		r.Rows = append(r.Rows, []string{v.Run, v.Group, words.Share(float64(v.Values["reachable_share"]), float64(v.U("reachable_share"))),
			words.Duration(float64(v.Values["duration_s"])), words.Length(float64(v.Values["distance_m"]), float64(v.U("distance_m")), in.Unit)})
	}
	runs := Section{Heading: "The runs", Tables: []Table{r}}
	if len(d.Refused) > 0 {
		for _, x := range d.Refused {
			runs.List = append(runs.List, x.Run+" was left out: "+x.Reason+".")
		}
	}
	add(runs)
	return s
}

func (in ComparisonInput) figure(name string) FigureRow {
	for _, f := range in.Doc.Figures {
		if f.Figure == name {
			return f
		}
	}
	return FigureRow{Figure: name, Words: name}
}

// lead is the one thing to know: the headline figure of each group.
func (in ComparisonInput) lead() string {
	f := in.figure("reachable_share")
	var parts []string
	for _, c := range f.Groups {
		switch {
		case c.N == 0:
		case c.N == 2:
			parts = append(parts, c.Group+" "+inWords(f.Unit, float64(c.Values[0]), float64(c.MeasU), in.Unit)+" and "+inWords(f.Unit, float64(c.Values[1]), float64(c.MeasU), in.Unit))
		default:
			parts = append(parts, c.Group+" "+inWords(f.Unit, float64(c.Mean), c.u(), in.Unit))
		}
	}
	if len(parts) == 0 {
		return "What the runs cleaned of the floor within reach is " + words.NotMeasured
	}
	return "Cleaned of the floor within reach: " + words.List(parts)
}

func (in ComparisonInput) jointSection() Section {
	s := Section{Heading: "What several runs leave"}
	for _, j := range in.Doc.Joint {
		s.Text = append(s.Text, j.Name+": "+j.Words)
		t := Table{Name: "Share covered by runs of " + j.Name + " together", Head: []string{"runs together", "covered", "by chance"}}
		for k := range j.After {
			t.Rows = append(t.Rows, []string{fmt.Sprint(k + 1), words.Share(float64(j.After[k]), 0.0005), words.Share(float64(j.AfterChance[k]), 0.0005)})
		}
		s.Tables = append(s.Tables, t)
		p := Table{Name: "Floor that no run of " + j.Name + " covered", Head: []string{"floor that none covered", "where"}}
		for _, x := range j.Patches[:min(len(j.Patches), 10)] {
			p.Rows = append(p.Rows, []string{words.Area(float64(x.AreaM2), 0, in.Unit), fmt.Sprintf("%s, at (%.2f, %.2f) m", x.Beside, float64(x.X), float64(x.Y))})
		}
		if len(p.Rows) > 0 {
			s.Tables = append(s.Tables, p)
		}
	}
	return s
}
