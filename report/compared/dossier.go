package compared

import (
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/sheet"
	"swathe/report/words"
)

// DossierInput is what the page on one robot is made of.
type DossierInput struct {
	Robot     string
	Identity  [][]string // rows of name and value
	Standings []compare.Standing
	Runs      []compare.Run       // the robot's, all of them
	Outcomes  []RunOutcome        // of the same
	Work      [][]string          // by group: name, runs, time at work, in the dock, returns to it, energy
	Recharged []string            // sentences: runs that went to the dock and on
	Left      []report.RunResidue // what each run left on the patches of its layout
	Bench     []BenchRow
	Maps      []sheet.Picture // one a layout
	NotTested []string
	Missing   []string // what a final report needs and nobody wrote
	Deviating []string // sentences: runs that were made, and not as planned

	ConditionUnit func(name string) string
	Laboratory    [][]string
	Unit          words.Unit
}

// BenchRow is one figure of the bench beside those of the other robots.
type BenchRow struct {
	Name, Words, Where string
	Value, Others      string
	Rank               compare.Place // First, Last and Of alone
	OtherRobots        int
}

func (b BenchRow) others() string {
	if b.OtherRobots == 0 {
		return "no other robot"
	}
	return b.Others + fmt.Sprintf(" (%d)", b.OtherRobots)
}

// place is a figure of the robot in one layout and phase, among the others.
type place struct {
	layout, phase string
	of            compare.Standing // the group that the figure is of
	figure        compare.Figure
	cell          FigureCell
	rank          compare.Place
	others        float64 // mean of the other robots' means; NaN: there is none
	robots        int     // others that have one
	without       int     // others that were measured there and have none, such as a time that was not always reached
}

// own returns, by layout and phase, the group of the robot that the page is
// about: of the sample and firmware of its newest run the group with the most
// runs. rest are its other groups, such as those of an older firmware.
func (in DossierInput) own() (own, rest []compare.Standing) {
	newest := map[string]compare.Run{}
	key := func(r compare.Run) string { return r.Layout + "/" + r.Phase }
	when := func(r compare.Run) string { return r.Conditions["date"] + fmt.Sprintf("/%06d", r.Trial) }
	for _, r := range in.Runs {
		if n, there := newest[key(r)]; !there || when(r) > when(n) {
			newest[key(r)] = r
		}
	}
	at := map[string]int{}
	for _, s := range in.Standings {
		if s.Group.Robot != in.Robot {
			continue
		}
		n := newest[s.Layout+"/"+s.Phase]
		fits := slices.ContainsFunc(s.Runs, func(r compare.Run) bool {
			return r.Conditions["firmware"] == n.Conditions["firmware"] && r.Conditions["sample"] == n.Conditions["sample"]
		})
		i, there := at[key(n)]
		switch {
		case !fits:
			rest = append(rest, s)
		case !there:
			at[key(n)] = len(own)
			own = append(own, s)
		case len(s.Runs) > len(own[i].Runs):
			own[i], rest = s, append(rest, own[i])
		default:
			rest = append(rest, s)
		}
	}
	return own, rest
}

// places lists every figure of the robot. The average beside it is that of the
// other robots, each counted once, never of itself.
func (in DossierInput) places() []place {
	var out []place
	own, _ := in.own()
	for _, s := range own {
		for _, p := range s.Figures {
			q := place{layout: s.Layout, phase: s.Phase, of: s, figure: p.Figure, cell: FigureCell{s.Name, p.Cell}, rank: p, others: math.NaN()}
			byRobot := map[string][]float64{}
			cells := []compare.Cell{p.Cell}
			for _, o := range in.Standings {
				if o.Layout != s.Layout || o.Phase != s.Phase || o.Group.Robot == in.Robot {
					continue
				}
				byRobot[o.Group.Robot] = append(byRobot[o.Group.Robot], nil...)
				for _, op := range o.Figures {
					if op.Figure.Name == p.Figure.Name {
						cells = append(cells, op.Cell)
					}
					if op.Figure.Name == p.Figure.Name && !math.IsNaN(op.Mean) {
						byRobot[o.Group.Robot] = append(byRobot[o.Group.Robot], op.Mean)
					}
				}
			}
			var means []float64
			for _, v := range byRobot {
				if len(v) == 0 {
					q.without++
					continue
				}
				m, _ := stats.MeanSD(v)
				means = append(means, m)
			}
			// Its own older firmware is no rival.
			q.rank = compare.RankOf(cells, 0, p.Figure, 0.95)
			slices.Sort(means) // the order of a map must not show in the last digit
			q.robots = len(means)
			if q.robots > 0 {
				q.others, _ = stats.MeanSD(means)
			}
			out = append(out, q)
		}
	}
	return out
}

// rankOf writes a rank.
func rankOf(p compare.Place) string {
	if w := p.Words(); w != "" {
		return w
	}
	return "no rank"
}

// stands tells whether a rank lies in the better (or the worse) half of three
// and more, whatever of it is not settled.
func stands(p compare.Place, best bool) bool {
	if p.Of < 3 || p.First == 0 {
		return false
	}
	return best && 2*p.Last <= p.Of || !best && 2*(p.First-1) >= p.Of
}

func (p place) othersWords(unit words.Unit) string {
	none := "has none"
	if strings.HasPrefix(p.figure.Name, "time_to_") {
		none = "did not always reach it"
	}
	switch {
	case p.robots+p.without == 0:
		return "no other robot"
	case p.robots == 0 && p.without == 1:
		return "the other " + none
	case p.robots == 0:
		return fmt.Sprintf("each of %d others %s", p.without, none)
	}
	out := inWords(string(p.figure.Unit), p.others, math.NaN(), unit) + fmt.Sprintf(" (%d)", p.robots)
	if p.without > 0 {
		out += fmt.Sprintf("; %d other %s", p.without, none)
	}
	return out
}

// headline are the figures that the page begins with, those of the floor; the
// time is that to the highest level that any of the runs reached.
var headline = []string{"covered_share", "time_to_s.50", "redundancy", "duration_s"}

func headlineOf(runs []compare.Run) []string {
	out := slices.Clone(headline)
	for _, level := range []string{"95", "90", "80"} {
		name := "time_to_s." + level
		if slices.ContainsFunc(runs, func(r compare.Run) bool { return !math.IsNaN(r.Value(name)) }) {
			out[1] = name
			break
		}
	}
	return out
}

// phaseOf returns the phase that a layout is told by: the one in which a robot
// works from day to day.
func phaseOf(ps []place, layout string) string {
	for _, want := range []string{"mapped", "single", "mapping"} {
		for _, p := range ps {
			if p.layout == layout && p.phase == want {
				return want
			}
		}
	}
	return ""
}

func layoutsOf(ps []place) []string {
	var out []string
	for _, p := range ps {
		if !slices.Contains(out, p.layout) {
			out = append(out, p.layout)
		}
	}
	return out
}

func findPlace(ps []place, layout, phase, name string) (place, bool) {
	for _, p := range ps {
		if p.layout == layout && p.phase == phase && p.figure.Name == name {
			return p, true
		}
	}
	return place{}, false
}

// Dossier returns the page.
func Dossier(in DossierInput) sheet.Sheet {
	ps := in.places()
	s := sheet.Sheet{Title: "Dossier: " + in.Robot, Lead: in.lead(ps), Details: in.details()}
	add := func(p sheet.Section) {
		if len(p.Text)+len(p.List)+len(p.Tables)+len(p.Pictures) > 0 {
			s.Sections = append(s.Sections, p)
		}
	}
	add(in.figuresSection(ps))
	add(in.wordsSection("Strengths", ps, true))
	add(in.wordsSection("Weaknesses", ps, false))
	add(sheet.Section{Heading: "Where it cleaned", Pictures: in.Maps})
	add(in.phaseSection(ps))
	add(in.objectSection())
	add(in.residueSection())
	add(in.benchSection())
	add(in.firmwareSection())
	add(in.outcomeSection())
	add(in.identitySection())
	add(sheet.Section{Heading: "Missing for a final report", List: in.Missing})
	add(sheet.Section{Heading: "Not as planned", List: in.Deviating})
	add(sheet.Section{Heading: "Not tested", List: in.NotTested})
	add(sheet.Section{Heading: "Cautions", List: dossierCautions})
	return s
}

var dossierCautions = []string{
	"These figures compare robots tested alike in the same rooms, with no other kind of cleaner. They relate only to the samples tested, do not predict other floors and claim conformity with no standard.",
	"Results without dirt show which floor was passed, not how clean it became.",
	"Follow the makers' instructions and local rules: measurements of electricity, sound and batteries need instruments, training and in places a licence. Where a figure must be relied on, use a qualified laboratory's methods.",
}

// lead is the primary figure in each layout.
func (in DossierInput) lead(ps []place) string {
	var parts []string
	for _, l := range layoutsOf(ps) {
		if p, ok := findPlace(ps, l, phaseOf(ps, l), compare.Figures[0].Name); ok && p.cell.N > 0 {
			parts = append(parts, inWords(string(p.figure.Unit), p.mean(), p.cell.u(), in.Unit)+" in "+l)
		}
	}
	if len(parts) == 0 {
		return "No comparable measurements yet"
	}
	return compare.Figures[0].Words + ": " + words.List(parts)
}

// details says what the page rests on.
func (in DossierInput) details() string {
	var stated []map[string]string
	for _, r := range in.Runs {
		stated = append(stated, r.Conditions)
	}
	out := words.Some(len(in.Runs), "run") + " measured"
	for _, c := range report.ConditionsOf(stated, nil) {
		switch c.Name {
		case "date", "firmware", "sample":
			out += ", " + c.Heading() + " " + c.Words()
		}
	}
	others := map[string]bool{}
	for _, s := range in.Standings {
		if s.Group.Robot != in.Robot {
			others[s.Group.Robot] = true
		}
	}
	const most = 6 // names
	switch names := slices.Sorted(maps.Keys(others)); {
	case len(names) > most:
		out += fmt.Sprintf(". Compared with %d other robots", len(names))
	case len(names) > 0:
		out += ". Compared with " + words.List(names)
	}
	return out + ". A draft generated from the figures: check it against them before you publish it."
}

// mean is that of the runs, also of one or two.
func (p place) mean() float64 {
	if report.Measured(p.cell.Mean) {
		return p.cell.Mean
	}
	if p.cell.N == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, v := range p.cell.Values {
		sum += v
	}
	return sum / float64(len(p.cell.Values))
}

// dossierFigure is a figure of dossier.json.
type dossierFigure struct {
	Layout      string     `json:"layout"`
	Phase       string     `json:"phase"`
	Figure      string     `json:"figure"`
	Unit        string     `json:"unit"`
	Cell        FigureCell `json:"cell"`
	Rank        *[2]int    `json:"rank"` // the best and the worst that it may have; null: none
	Ranked      int        `json:"ranked"`
	OthersMean  float64    `json:"others_mean"`
	OtherRobots int        `json:"other_robots"`
}

// DossierDoc is the content of dossier.json.
type DossierDoc struct {
	Robot     string          `json:"robot"`
	Runs      []string        `json:"runs"`
	Figures   []dossierFigure `json:"figures"`
	Outcomes  []RunOutcome    `json:"outcomes"`
	NotTested []string        `json:"not_tested"`
}

// NewDossierDoc returns the document.
func NewDossierDoc(in DossierInput) DossierDoc {
	d := DossierDoc{Robot: in.Robot, Runs: []string{}, Figures: []dossierFigure{}, Outcomes: in.Outcomes, NotTested: append([]string{}, in.NotTested...)}
	for _, r := range in.Runs {
		d.Runs = append(d.Runs, r.ID)
	}
	for _, p := range in.places() {
		f := dossierFigure{p.layout, p.phase, p.figure.Name, string(p.figure.Unit), p.cell, nil, p.rank.Of, p.others, p.robots}
		if p.rank.First > 0 {
			f.Rank = &[2]int{p.rank.First, p.rank.Last}
		}
		d.Figures = append(d.Figures, f)
	}
	return d
}

// WriteDossier writes index.html, dossier.md with its pictures, and dossier.json
// into dir.
func WriteDossier(dir string, in DossierInput) error {
	s := Dossier(in)
	if err := sheet.WriteFile(filepath.Join(dir, "index.html"), s); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(dir, "dossier.md"))
	if err != nil {
		return err
	}
	defer f.Close()
	err = s.Markdown(f, func(n int, p *figure.Picture) (string, error) {
		name := fmt.Sprintf("picture-%d.png", n)
		out, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			return "", err
		}
		defer out.Close()
		if err := p.Write(out, "png"); err != nil {
			return "", err
		}
		return name, out.Close()
	})
	if err != nil {
		return err
	}
	raw, err := report.MarshalIndent(NewDossierDoc(in))
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "dossier.json"), append(raw, '\n'), 0o644); err != nil {
		return err
	}
	return f.Close()
}
