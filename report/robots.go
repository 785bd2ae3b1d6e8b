package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"swathe/coverage/compare"
	"swathe/report/words"
)

// Robots is every robot measured so far against all the others.
type Robots struct {
	Schema  int           `json:"schema"`
	Runs    int           `json:"runs"` // that take part
	Groups  []RobotStands `json:"groups"`
	Refused []Refused     `json:"refused"`
	Notes   []string      `json:"notes"`
}

// RobotStands is one group of runs of a robot among all of its layout and phase.
type RobotStands struct {
	Layout      string        `json:"layout"`
	Phase       string        `json:"phase"`
	Robot       string        `json:"robot"`
	Name        string        `json:"group"`
	Runs        []string      `json:"runs"`
	Pooled      []string      `json:"pooled_over"`
	Figures     []RobotPlace  `json:"figures"`
	TestObjects []ObjectTally `json:"test_objects"` // null where the layout has none, or none could be told
}

// RobotPlace is where it stands in one figure.
type RobotPlace struct {
	Figure   string    `json:"figure"`
	Unit     string    `json:"unit"`
	N        int       `json:"n"`
	Mean     Float     `json:"mean"`
	SD       Float     `json:"sd"` // between runs; null of fewer than three
	Interval Interval  `json:"interval_95"`
	MeasU    Float     `json:"measurement_standard_uncertainty"`
	Rank     Float     `json:"rank"` // 1 is the first by Order
	Of       int       `json:"ranked"`
	Order    string    `json:"order"`
	AllMean  Float     `json:"all_mean"` // of the groups' means
	AllSD    Float     `json:"all_sd"`
	Left     []Refused `json:"left_out"`
}

func orderWords(f compare.Figure) string {
	switch {
	case f.Better > 0:
		return "more is better"
	case f.Better < 0:
		return "less is better"
	}
	return "largest first"
}

// NewRobots returns the document of all robots.
func NewRobots(st []compare.Standing, no []compare.Refusal, runs []compare.Run, unread []Unread) *Robots {
	d := &Robots{Schema: Schema, Groups: []RobotStands{}, Refused: refused(no), Notes: []string{}}
	for _, u := range unread {
		d.Refused = append(d.Refused, Refused{u.Run, u.Err.Error()})
	}
	out := map[string]bool{}
	for _, r := range no {
		out[r.Run] = true
	}
	byLayout := map[string][]compare.Run{}
	for _, r := range runs {
		if !out[r.ID] {
			byLayout[r.Layout] = append(byLayout[r.Layout], r)
		}
	}
	widths := map[float64]bool{}
	for _, s := range st {
		g := RobotStands{Layout: s.Layout, Phase: s.Phase, Robot: s.Group.Robot, Name: s.Name, Runs: []string{}, Pooled: append([]string{}, s.Group.Pooled...), Figures: []RobotPlace{}}
		var objects []map[string]string
		for _, i := range s.Group.Runs {
			r := byLayout[s.Layout][i]
			g.Runs = append(g.Runs, r.ID)
			widths[math.Round(r.ToolWidth*1e4)] = true
			objects = append(objects, r.TestObjects)
		}
		g.TestObjects = objectTallies(objects)
		d.Runs += len(g.Runs)
		for _, p := range s.Figures {
			c := figureCell(s.Name, p.Cell)
			g.Figures = append(g.Figures, RobotPlace{
				Figure: p.Figure.Name, Unit: string(p.Figure.Unit), N: c.N, Mean: Float(p.Mean), SD: c.SD, Interval: c.Interval, MeasU: c.MeasU,
				Rank: Float(p.Rank), Of: p.Of, Order: orderWords(p.Figure), AllMean: Float(p.All), AllSD: Float(p.Spread), Left: c.Left,
			})
		}
		d.Groups = append(d.Groups, g)
	}
	if len(widths) > 1 {
		d.Notes = append(d.Notes, "The robots' tools differ in width; each is measured by its own.")
	}
	d.Notes = append(d.Notes, "A rank says nothing of how sure it is: look at n and the interval, and compare two robots with swathe compare.")
	return d
}

func (d *Robots) rows() [][]string {
	rows := [][]string{{"layout", "phase", "robot", "group", "figure", "unit", "n", "mean", "sd", "interval_95_low", "interval_95_high", "measurement_standard_uncertainty", "rank", "ranked", "order", "all_mean", "all_sd"}}
	for _, g := range d.Groups {
		for _, p := range g.Figures {
			rows = append(rows, []string{g.Layout, g.Phase, g.Robot, g.Name, p.Figure, p.Unit, fmt.Sprint(p.N), csvNum(p.Mean), csvNum(p.SD), csvNum(p.Interval[0]), csvNum(p.Interval[1]),
				csvNum(p.MeasU), csvNum(p.Rank), fmt.Sprint(p.Of), p.Order, csvNum(p.AllMean), csvNum(p.AllSD)})
		}
	}
	return rows
}

// WriteRobots writes robots.json, robots.csv and index.html into dir.
func WriteRobots(dir string, d *Robots, unit words.Unit) error {
	raw, err := json.MarshalIndent(d, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "robots.json"), append(raw, '\n'), 0o644); err != nil {
		return err
	}
	if err := writeRows(filepath.Join(dir, "robots.csv"), d.rows()); err != nil {
		return err
	}
	var page bytes.Buffer
	if err := d.sheet(unit).Write(&page); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "index.html"), page.Bytes(), 0o644)
}

// placeU is the standard uncertainty that a place's mean is written with.
func (p RobotPlace) u() float64 {
	return FigureCell{N: p.N, SD: p.SD, MeasU: p.MeasU}.u()
}

// sections gives, by layout and phase, one table with a row a group.
func (d *Robots) tables(unit words.Unit) []Section {
	var out []Section
	for i := 0; i < len(d.Groups); {
		g, first := d.Groups[i], i
		t := Table{Name: g.Layout + ", " + g.Phase, Head: []string{"robot", "runs"}}
		var names []string
		for _, p := range g.Figures {
			if f, ok := compare.Find(p.Figure); ok && mainFigure(p.Figure) {
				t.Head = append(t.Head, f.Words)
				names = append(names, p.Figure)
			}
		}
		all := []string{"all robots", ""}
		for k, name := range names {
			p, _ := g.place(name)
			all = append(all, inWords(p.Unit, float64(p.AllMean), float64(p.AllSD)/3, unit))
			if p.AllSD.Known() {
				all[k+2] += ", spread " + inWords(p.Unit, float64(p.AllSD), float64(p.AllSD)/3, unit)
			}
		}
		for ; i < len(d.Groups) && d.Groups[i].Layout == g.Layout && d.Groups[i].Phase == g.Phase; i++ {
			row := []string{d.Groups[i].Name, fmt.Sprint(len(d.Groups[i].Runs))}
			for _, name := range names {
				p, ok := d.Groups[i].place(name)
				if !ok || p.N == 0 {
					row = append(row, "no value")
					continue
				}
				cell := inWords(p.Unit, float64(p.Mean), p.u(), unit)
				if p.Rank.Known() {
					cell += fmt.Sprintf(", number %s of %d", strings.TrimSuffix(fmt.Sprintf("%.1f", float64(p.Rank)), ".0"), p.Of)
				}
				row = append(row, cell)
			}
			t.Rows = append(t.Rows, row)
		}
		t.Rows = append(t.Rows, all)
		sec := Section{Heading: g.Layout + ", " + g.Phase + " runs", Tables: []Table{t}}
		for _, h := range d.Groups[first:i] {
			for _, p := range h.TestObjects {
				sec.List = append(sec.List, h.Name+", "+p.Sentence)
			}
		}
		out = append(out, sec)
	}
	return out
}

func (g RobotStands) place(name string) (RobotPlace, bool) {
	for _, p := range g.Figures {
		if p.Figure == name {
			return p, true
		}
	}
	return RobotPlace{}, false
}

func (d *Robots) sheet(unit words.Unit) Sheet {
	robots := map[string]bool{}
	for _, g := range d.Groups {
		robots[g.Robot] = true
	}
	s := Sheet{Title: "Every robot against all the others", Lead: fmt.Sprintf("%d robots, %d runs", len(robots), d.Runs), Sections: d.tables(unit)}
	s.Sections = append(s.Sections, Section{Heading: "Before you believe a rank", List: d.Notes})
	if len(d.Refused) > 0 {
		var list []string
		for _, r := range d.Refused {
			list = append(list, r.Run+": "+r.Reason+".")
		}
		s.Sections = append(s.Sections, Section{Heading: "Left out", List: list})
	}
	return s
}

// Text writes the tables for a terminal.
func (d *Robots) Text(w io.Writer, unit words.Unit) {
	for _, s := range d.tables(unit) {
		fmt.Fprintln(w, s.Heading)
		for _, t := range s.Tables {
			for _, row := range t.Rows {
				fmt.Fprintf(w, "  %s", row[0])
				if row[1] != "" {
					fmt.Fprintf(w, " (%s)", plural(row[1], "run"))
				}
				for k := 2; k < len(row); k++ {
					fmt.Fprintf(w, "\n    %s: %s", strings.ReplaceAll(t.Head[k], words.NB, " "), strings.ReplaceAll(row[k], words.NB, " "))
				}
				fmt.Fprintln(w)
			}
		}
		for _, line := range s.List {
			fmt.Fprintln(w, "  "+line)
		}
	}
	for _, r := range d.Refused {
		fmt.Fprintf(w, "left out: %s: %s\n", r.Run, r.Reason)
	}
	for _, n := range d.Notes {
		fmt.Fprintln(w, "Note: "+n)
	}
}

func plural(n, what string) string {
	if n == "1" {
		return n + " " + what
	}
	return n + " " + what + "s"
}
