package report

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report/figure"
	"swathe/report/words"
)

// DossierInput is what the page on one robot is made of.
type DossierInput struct {
	Robot      string
	Identity   [][]string // rows of name and value
	Standings  []compare.Standing
	Runs       []compare.Run // the robot's, all of them
	Outcomes   []RunOutcome  // of the same
	Work       [][]string    // run, time at work, docked, trips to the dock, energy
	Left       []RunResidue  // what each run left on the patches of its layout
	Bench      []BenchRow
	Maps       []SheetPicture // one a layout
	NotTested  []string
	Laboratory [][]string
	Unit       words.Unit
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
	figure        compare.Figure
	cell          FigureCell
	rank          compare.Place
	others        float64 // mean of the other robots' means; NaN: there is none
	robots        int     // others
}

// own returns the robot's group of a layout and phase that holds its newest run,
// where it has several (another firmware, another sample).
func (in DossierInput) own() []compare.Standing {
	at := map[string]int{}
	var out []compare.Standing
	for _, s := range in.Standings {
		if s.Group.Robot != in.Robot {
			continue
		}
		key := s.Layout + "/" + s.Phase
		if i, there := at[key]; !there {
			at[key] = len(out)
			out = append(out, s)
		} else if in.newest(s) > in.newest(out[i]) {
			out[i] = s
		}
	}
	return out
}

// newest is when the newest run of a group was made: its date, else its trial.
func (in DossierInput) newest(s compare.Standing) string {
	best := ""
	for _, r := range in.Runs {
		if r.Layout == s.Layout && r.Phase == s.Phase && strings.HasPrefix(s.Name, r.Robot) && in.holds(s, r) {
			best = max(best, r.Conditions["date"]+fmt.Sprintf("/%06d", r.Trial))
		}
	}
	return best
}

// holds tells whether a group that is set apart holds a run.
func (in DossierInput) holds(s compare.Standing, r compare.Run) bool {
	for _, a := range s.Group.Apart {
		if f := r.Conditions["firmware"]; strings.HasPrefix(a, "firmware ") && a != "firmware "+f {
			return false
		}
		if f := r.Conditions["sample"]; strings.HasPrefix(a, "sample ") && a != "sample "+f {
			return false
		}
	}
	return true
}

// places lists every figure of the robot. The average beside it is that of the
// other robots, each counted once, never of itself.
func (in DossierInput) places() []place {
	var out []place
	for _, s := range in.own() {
		for _, p := range s.Figures {
			q := place{layout: s.Layout, phase: s.Phase, figure: p.Figure, cell: figureCell(s.Name, p.Cell), rank: p, others: math.NaN()}
			byRobot := map[string][]float64{}
			for _, o := range in.Standings {
				if o.Layout != s.Layout || o.Phase != s.Phase || o.Group.Robot == in.Robot {
					continue
				}
				for _, op := range o.Figures {
					if op.Figure.Name == p.Figure.Name && !math.IsNaN(op.Mean) {
						byRobot[o.Group.Robot] = append(byRobot[o.Group.Robot], op.Mean)
					}
				}
			}
			var means []float64
			for _, v := range byRobot {
				m, _ := stats.MeanSD(v)
				means = append(means, m)
			}
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
	if p.robots == 0 {
		return "no other robot"
	}
	return inWords(string(p.figure.Unit), p.others, math.NaN(), unit) + fmt.Sprintf(" (%d)", p.robots)
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
func Dossier(in DossierInput) Sheet {
	ps := in.places()
	s := Sheet{Title: "Dossier: " + in.Robot, Lead: in.lead(ps), Details: fmt.Sprintf("%d runs measured. A draft generated from the figures: check it against them before you publish it.", len(in.Runs))}
	add := func(p Section) {
		if len(p.Text)+len(p.List)+len(p.Tables)+len(p.Pictures) > 0 {
			s.Sections = append(s.Sections, p)
		}
	}
	add(in.figuresSection(ps))
	add(in.wordsSection("Strengths", ps, true))
	add(in.wordsSection("Weaknesses", ps, false))
	add(Section{Heading: "Where it cleaned", Pictures: in.Maps})
	add(in.phaseSection(ps))
	add(in.objectSection())
	add(in.residueSection())
	add(in.benchSection())
	add(in.firmwareSection())
	add(in.outcomeSection())
	add(in.identitySection())
	add(Section{Heading: "Not tested", List: in.NotTested})
	add(Section{Heading: "Cautions", List: dossierCautions})
	return s
}

var dossierCautions = []string{
	"These figures compare robots tested alike in the same rooms. They do not predict other floors and claim conformity with no standard.",
	"Results without dirt show which floor was passed, not how clean it became.",
	"Follow the makers' instructions and local rules: measurements of electricity, sound and batteries need instruments, training and in places a licence. Where a figure must be relied on, use a qualified laboratory's methods.",
}

func (in DossierInput) lead(ps []place) string {
	for _, l := range layoutsOf(ps) {
		if p, ok := findPlace(ps, l, phaseOf(ps, l), compare.Figures[0].Name); ok && p.cell.N > 0 {
			return fmt.Sprintf("%s: %s in %s", p.figure.Words, inWords(string(p.figure.Unit), p.mean(), p.cell.u(), in.Unit), l)
		}
	}
	return "No comparable measurements yet"
}

// mean is that of the runs, also of one or two.
func (p place) mean() float64 {
	if p.cell.Mean.Known() {
		return float64(p.cell.Mean)
	}
	if p.cell.N == 0 {
		return math.NaN()
	}
	sum := 0.0
	for _, v := range p.cell.Values {
		sum += float64(v)
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
	OthersMean  Float      `json:"others_mean"`
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
		f := dossierFigure{p.layout, p.phase, p.figure.Name, string(p.figure.Unit), p.cell, nil, p.rank.Of, Float(p.others), p.robots}
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
	if err := WriteSheet(filepath.Join(dir, "index.html"), s); err != nil {
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
	raw, err := json.MarshalIndent(NewDossierDoc(in), "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "dossier.json"), append(raw, '\n'), 0o644); err != nil {
		return err
	}
	return f.Close()
}
