package compared

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report"
	"swathe/report/sheet"
	"swathe/report/words"
)

// Robots is every robot measured so far against all the others.
type Robots struct {
	Schema  int               `json:"schema"`
	Primary string            `json:"primary"` // the figure that orders the tables
	Runs    int               `json:"runs"`    // that take part
	Groups  []RobotStands     `json:"groups"`
	Score   []RobotScore      `json:"score"` // null where none was asked for
	Bench   []RobotBench      `json:"bench"` // null where nothing was weighed or metered
	Refused []compare.Refusal `json:"refused"`
	Notes   []string          `json:"notes"`

	conditions map[string][]report.ConditionValues // of all runs of a table, by its heading
}

// RobotBench is one figure of the bench of one robot beside those of the others,
// in words with their units.
type RobotBench struct {
	Group      string     `json:"group"` // the robot, with its firmware where it was measured with several
	Robot      string     `json:"robot"`
	Quantity   string     `json:"quantity"`
	Name       string     `json:"name"` // for a reader, with where it was measured
	Value      string     `json:"value"`
	Unit       string     `json:"unit"`
	N          int        `json:"n"`    // trials
	Mean       float64    `json:"mean"` // in the unit, as the next
	SD         float64    `json:"sd"`   // between trials; null of fewer than three, and of levels of sound
	Interval   [2]float64 `json:"interval_95"`
	OthersMean float64    `json:"others_mean"`
	Rank       *[2]int    `json:"rank"`
	Ranked     int        `json:"ranked"`
	Others     string     `json:"others"` // mean of the other robots, never of this one
	Of         int        `json:"other_robots"`
}

// benchSection is the bench of all robots: a row a figure, a column a robot.
func (d *Robots) benchSection() sheet.Section {
	t := sheet.Table{Name: "Bench measurements", Head: []string{"figure"}}
	at := map[string]int{}
	for _, b := range d.Bench {
		if !slices.Contains(t.Head[1:], b.Robot) {
			t.Head = append(t.Head, b.Robot)
		}
	}
	for _, b := range d.Bench {
		i, there := at[b.Name]
		if !there {
			i = len(t.Rows)
			at[b.Name] = i
			row := make([]string, len(t.Head))
			row[0] = b.Name
			for k := range row[1:] {
				row[k+1] = words.NotMeasured
			}
			t.Rows = append(t.Rows, row)
		}
		cell := b.Value
		if b.Rank != nil {
			cell += ", rank " + rankWords(*b.Rank, b.Ranked)
		}
		if b.Group != b.Robot { // several firmware versions, below each other
			cell = strings.TrimSuffix(strings.TrimPrefix(b.Group, b.Robot+" ("), ")") + ": " + cell
		}
		at := &t.Rows[i][1+slices.Index(t.Head[1:], b.Robot)]
		if *at == words.NotMeasured {
			*at = cell
		} else {
			*at += "; " + cell
		}
	}
	return sheet.Section{Heading: "Bench measurements", Tables: []sheet.Table{t}, Text: []string{"In brackets: 95 % interval of the mean. Readings of recorded runs that did not finish are not averaged."}}
}

// RobotStands is one group of runs of a robot among all of its layout and phase.
type RobotStands struct {
	Layout      string                   `json:"layout"`
	Arrangement int                      `json:"arrangement"` // of the room, from 1; 0 where the layout had but one
	Phase       string                   `json:"phase"`
	Robot       string                   `json:"robot"`
	Name        string                   `json:"group"`
	Runs        []string                 `json:"runs"`
	Pooled      []string                 `json:"pooled_over"`
	Figures     []RobotPlace             `json:"figures"`
	Conditions  []report.ConditionValues `json:"conditions"`   // of its runs
	TestObjects []ObjectTally            `json:"test_objects"` // null where the layout has none, or none could be told
}

// RobotPlace is where it stands in one figure.
type RobotPlace struct {
	Figure   string            `json:"figure"`
	Unit     string            `json:"unit"`
	N        int               `json:"n"`
	Of       int               `json:"runs"`
	Mean     float64           `json:"mean"` // null of a time that some runs never reached
	SD       float64           `json:"sd"`   // between runs; null of fewer than three
	Interval stats.Interval    `json:"interval_95"`
	MeasU    float64           `json:"measurement_standard_uncertainty"` // of one run
	CommonU  float64           `json:"common_standard_uncertainty"`      // of the mean, of what its runs share
	Median   float64           `json:"median"`                           // of a time, never being the longest; null where it is never
	Never    []compare.Refusal `json:"never_reached"`
	AtLeast  []compare.Bound   `json:"at_least"` // lower bounds, of runs that did not finish
	Rank     *[2]int           `json:"rank"`     // the best and the worst rank that it may have: robots that cannot be told apart share ranks; null: none
	Ranked   int               `json:"ranked"`   // groups that have one
	Order    string            `json:"order"`
	AllMean  float64           `json:"all_mean"` // of the groups' means
	AllSD    float64           `json:"all_sd"`
	Left     []compare.Refusal `json:"left_out"`
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

// NewRobots returns the document of all robots; unit gives the unit of a condition.
func NewRobots(st []compare.Standing, no []compare.Refusal, primary string, unread []report.Unread, unit func(string) string) *Robots {
	d := &Robots{Schema: report.Schema, Primary: primary, Groups: []RobotStands{}, Refused: append([]compare.Refusal{}, no...), Notes: []string{}}
	for _, u := range unread {
		d.Refused = append(d.Refused, compare.Refusal{Run: u.Run, Reason: u.Err.Error()})
	}
	widths := map[float64]bool{}
	rooms, stated := map[string]int{}, map[string][]map[string]string{}
	for _, s := range st {
		rooms[s.Layout] = max(rooms[s.Layout], s.Room)
	}
	for _, s := range st {
		g := RobotStands{Layout: s.Layout, Phase: s.Phase, Robot: s.Group.Robot, Name: s.Name, Runs: []string{}, Pooled: append([]string{}, s.Group.Pooled...), Figures: []RobotPlace{}}
		if rooms[s.Layout] > 1 {
			g.Arrangement = s.Room
		}
		var objects []map[string]string
		for _, r := range s.Runs {
			g.Runs = append(g.Runs, r.ID)
			widths[math.Round(r.ToolWidth*1e4)] = true
			objects = append(objects, r.TestObjects)
			if why := r.Unfinished(); why != "" {
				d.Notes = append(d.Notes, fmt.Sprintf("%s: %s. Its shares are lower bounds and are not averaged.", r.ID, why))
			}
		}
		g.Conditions = report.ConditionsOf(conditionsOf(s.Runs), unit)
		g.TestObjects = objectTallies(objects)
		d.Runs += len(g.Runs)
		for _, p := range s.Figures {
			c := p.Cell
			place := RobotPlace{
				Figure: p.Figure.Name, Unit: string(p.Figure.Unit), N: c.N, Of: c.Of, Mean: p.Mean, SD: c.SD, Interval: c.Interval, MeasU: c.MeasU, CommonU: c.CommonU,
				Median: c.Median, Never: c.Never, AtLeast: c.AtLeast, Ranked: p.Of, Order: orderWords(p.Figure), AllMean: p.All, AllSD: p.Spread, Left: c.Left,
			}
			if p.First > 0 {
				place.Rank = &[2]int{p.First, p.Last}
			}
			g.Figures = append(g.Figures, place)
		}
		d.Groups = append(d.Groups, g)
	}
	d.conditions = map[string][]report.ConditionValues{}
	for i := range d.Groups {
		h := d.Groups[i].heading()
		stated[h] = append(stated[h], conditionsOf(st[i].Runs)...)
	}
	for h, rs := range stated {
		d.conditions[h] = report.ConditionsOf(rs, unit)
	}
	for layout, n := range rooms {
		if n > 1 {
			d.Notes = append(d.Notes, fmt.Sprintf("%s was measured in %d arrangements (room, obstacles, areas or test objects differ); robots are compared within each.", layout, n))
		}
	}
	slices.Sort(d.Notes)
	if len(widths) > 1 {
		d.Notes = append(d.Notes, "The robots' tools differ in width; each robot is measured with its own.")
	}
	d.Notes = append(d.Notes, "Robots whose intervals overlap share ranks; one with fewer than three complete runs has none. swathe compare gives a verdict for each pair.")
	return d
}

func (d *Robots) rows() [][]string {
	rows := [][]string{{"layout", "phase", "robot", "group", "figure", "unit", "n", "runs", "mean", "sd", "interval_95_low", "interval_95_high", "measurement_standard_uncertainty", "common_standard_uncertainty",
		"median", "never_reached", "rank_best", "rank_worst", "ranked", "order", "all_mean", "all_sd", "arrangement"}}
	for _, g := range d.Groups {
		for _, p := range g.Figures {
			best, worst := "", ""
			if p.Rank != nil {
				best, worst = fmt.Sprint(p.Rank[0]), fmt.Sprint(p.Rank[1])
			}
			rows = append(rows, []string{g.Layout, g.Phase, g.Robot, g.Name, p.Figure, p.Unit, fmt.Sprint(p.N), fmt.Sprint(p.Of), report.Digits(p.Mean), report.Digits(p.SD), report.Digits(p.Interval.Lo), report.Digits(p.Interval.Hi),
				report.Digits(p.MeasU), report.Digits(p.CommonU), report.Digits(p.Median), fmt.Sprint(len(p.Never)), best, worst, fmt.Sprint(p.Ranked), p.Order, report.Digits(p.AllMean), report.Digits(p.AllSD), fmt.Sprint(max(1, g.Arrangement))})
		}
	}
	return rows
}

// benchRows is the bench as a table.
func (d *Robots) benchRows() [][]string {
	rows := [][]string{{"robot", "group", "quantity", "name", "unit", "n", "mean", "sd", "interval_95_low", "interval_95_high", "rank_best", "rank_worst", "ranked", "others_mean", "other_robots"}}
	for _, b := range d.Bench {
		best, worst := "", ""
		if b.Rank != nil {
			best, worst = fmt.Sprint(b.Rank[0]), fmt.Sprint(b.Rank[1])
		}
		rows = append(rows, []string{b.Robot, b.Group, b.Quantity, b.Name, b.Unit, fmt.Sprint(b.N), report.Digits(b.Mean), report.Digits(b.SD), report.Digits(b.Interval[0]), report.Digits(b.Interval[1]), best, worst, fmt.Sprint(b.Ranked), report.Digits(b.OthersMean), fmt.Sprint(b.Of)})
	}
	return rows
}

// WriteRobots writes robots.json, robots.csv, bench.csv (if there are readings)
// and index.html into dir.
func WriteRobots(dir string, d *Robots, unit words.Unit) error {
	raw, err := report.MarshalIndent(d)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "robots.json"), append(raw, '\n'), 0o644); err != nil {
		return err
	}
	if err := writeRows(filepath.Join(dir, "robots.csv"), d.rows()); err != nil {
		return err
	}
	if len(d.Bench) > 0 {
		if err := writeRows(filepath.Join(dir, "bench.csv"), d.benchRows()); err != nil {
			return err
		}
	}
	var page bytes.Buffer
	if err := d.Sheet(unit).Write(&page); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "index.html"), page.Bytes(), 0o644)
}

// cell is a place as a comparison writes it.
func (p RobotPlace) cell() FigureCell {
	c := FigureCell{Cell: compare.Cell{N: p.N, Of: p.Of, Mean: p.Mean, SD: p.SD, Interval: p.Interval, MeasU: p.MeasU, CommonU: p.CommonU, Median: p.Median, Never: p.Never, AtLeast: p.AtLeast, Left: p.Left}}
	for range p.N {
		c.Values = append(c.Values, p.Mean) // of two, their mean stands for both
	}
	return c
}

// words writes a place: its value, and its rank where it has one.
func (p RobotPlace) words(in words.Unit, rank bool) string {
	c := p.cell()
	out := shortCell(p.Unit, c, in)
	if p.N == 2 && len(p.Never) == 0 {
		out = inWords(p.Unit, p.Mean, p.MeasU, in)
	}
	if rank && p.Rank != nil {
		out += ", rank " + rankWords(*p.Rank, p.Ranked)
	}
	return out
}

func rankWords(r [2]int, of int) string {
	if r[0] == r[1] {
		return fmt.Sprintf("%d of %d", r[0], of)
	}
	return fmt.Sprintf("%d to %d of %d", r[0], r[1], of)
}

// tables gives, by layout and phase, one table with a row a group, the best by
// the primary figure first.
func (d *Robots) tables(unit words.Unit) []sheet.Section {
	var out []sheet.Section
	for i := 0; i < len(d.Groups); {
		g, first := d.Groups[i], i
		primary, _ := compare.Find(d.Primary)
		t := sheet.Table{Name: g.heading(), Head: []string{"robot", "runs", primary.Words, "95" + words.NB + "% interval", "rank"}}
		var names []string
		for _, p := range g.Figures {
			if f, ok := compare.Find(p.Figure); ok && mainFigure(p.Figure) && p.Figure != d.Primary {
				t.Head, names = append(t.Head, f.Words), append(names, p.Figure)
			}
		}
		for ; i < len(d.Groups) && d.Groups[i].heading() == g.heading(); i++ {
			h := d.Groups[i]
			row := []string{h.Name, fmt.Sprint(len(h.Runs))}
			if p, ok := h.place(d.Primary); ok {
				c := p.cell()
				rank := ""
				if p.Rank != nil {
					rank = rankWords(*p.Rank, p.Ranked)
				}
				if c.runsOf() != row[1] {
					row[1] = c.runsOf()
				}
				value := p.words(unit, false)
				if b := boundWords(p.Unit, c, unit); b != "" && p.N > 0 {
					value += "; " + b
				}
				row = append(row, value, intervalWords(p.Unit, c, unit), rank)
			} else {
				row = append(row, "no value", "", "")
			}
			for _, name := range names {
				if p, ok := h.place(name); ok {
					row = append(row, p.words(unit, true))
				} else {
					row = append(row, "no value")
				}
			}
			t.Rows = append(t.Rows, row)
		}
		sec := sheet.Section{Heading: g.heading(), Tables: []sheet.Table{t}}
		sec.Tables[0].Note = conditionLine(d.conditions[g.heading()])
		for _, h := range d.Groups[first:i] {
			for _, p := range h.TestObjects {
				sec.List = append(sec.List, h.Name+", "+p.Sentence)
			}
		}
		out = append(out, sec)
	}
	return out
}

// heading names the table that a group stands in.
func (g RobotStands) heading() string {
	s := g.Layout + ", " + g.Phase + " runs"
	if g.Arrangement > 0 {
		s += fmt.Sprintf(", arrangement %d of the room", g.Arrangement)
	}
	return s
}

func (g RobotStands) place(name string) (RobotPlace, bool) {
	for _, p := range g.Figures {
		if p.Figure == name {
			return p, true
		}
	}
	return RobotPlace{}, false
}

// Sheet is the page of all robots.
func (d *Robots) Sheet(unit words.Unit) sheet.Sheet {
	robots := map[string]bool{}
	for _, g := range d.Groups {
		robots[g.Robot] = true
	}
	s := sheet.Sheet{Title: "Every robot compared with all others", Lead: words.Some(len(robots), "robot") + ", " + words.Some(d.Runs, "run"), Sections: append(d.tables(unit), d.scoreSections()...)}
	if len(d.Bench) > 0 {
		s.Sections = append(s.Sections, d.benchSection())
	}
	s.Sections = append(s.Sections, d.conditionsSection(), sheet.Section{Heading: "About the ranks", List: d.Notes})
	if len(d.Refused) > 0 {
		var list []string
		for _, r := range d.Refused {
			list = append(list, r.Run+": "+r.Reason+".")
		}
		s.Sections = append(s.Sections, sheet.Section{Heading: "Left out", List: list})
	}
	return s
}

// conditionsSection is the conditions of each group, folded: they are long.
func (d *Robots) conditionsSection() sheet.Section {
	t := sheet.Table{Name: "Conditions by group", Head: []string{"group", "conditions"}}
	for _, g := range d.Groups {
		t.Rows = append(t.Rows, []string{g.Name + ", " + g.Layout, strings.TrimPrefix(conditionLine(g.Conditions), "Conditions: ")})
	}
	return sheet.Section{Heading: "Conditions by group", Folded: true, Tables: []sheet.Table{t}}
}

// Text writes the tables for a terminal.
func (d *Robots) Text(w io.Writer, unit words.Unit) {
	all := append(d.tables(unit), d.scoreSections()...)
	if len(d.Bench) > 0 {
		all = append(all, d.benchSection())
	}
	for _, s := range all {
		fmt.Fprintln(w, s.Heading)
		for _, t := range s.Tables {
			writeTable(w, t, "  ")
			if t.Note != "" {
				fmt.Fprintln(w, "  "+strings.ReplaceAll(t.Note, words.NB, " "))
			}
		}
		for _, line := range s.List {
			fmt.Fprintln(w, "  "+strings.ReplaceAll(line, words.NB, " "))
		}
	}
	for _, r := range d.Refused {
		fmt.Fprintf(w, "left out: %s: %s\n", r.Run, r.Reason)
	}
	for _, n := range d.Notes {
		fmt.Fprintln(w, "Note: "+n)
	}
}
