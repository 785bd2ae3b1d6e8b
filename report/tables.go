package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"swathe/coverage"
	"swathe/geom"
	"swathe/report/words"
)

// CSVTable is a table for a spreadsheet: UTF-8 with the mark that spreadsheets
// look for, the unit in each column's name, a point as decimal mark, lines
// ended by CR LF (RFC 4180).
type CSVTable struct {
	Name string // base of the file's name
	Head []string
	Rows [][]string
}

// Write writes the table.
func (t CSVTable) Write(w io.Writer) error {
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	if err := c.Write(t.Head); err != nil {
		return err
	}
	if err := c.WriteAll(t.Rows); err != nil {
		return err
	}
	return c.Error()
}

// inUnit turns a column of metres or square metres into the unit asked for.
func inUnit(name string, v float64, unit words.Unit) float64 {
	if unit != words.Foot {
		return v
	}
	switch {
	case strings.Contains(name, "_m2"):
		return v / words.SquareMetresPerFoot
	case strings.HasSuffix(name, "_m"), strings.HasSuffix(name, "_mps"):
		return v / words.MetresPerFoot
	}
	return v
}

// unitName turns a field's name into the column's: distance_m into distance_ft.
func unitName(name string, unit words.Unit) string {
	if unit != words.Foot {
		return name
	}
	switch {
	case strings.Contains(name, "_m2"):
		return strings.Replace(name, "_m2", "_ft2", 1)
	case strings.HasSuffix(name, "_m"):
		return strings.TrimSuffix(name, "_m") + "_ft"
	case strings.HasSuffix(name, "_mps"):
		return strings.TrimSuffix(name, "_mps") + "_ftps"
	}
	return name
}

// column is one figure of a table.
type column struct {
	name string // as in run.json
	v    func(r *Run) (float64, Known)
}

func figureColumns() []column {
	c := func(name string, v func(r *Run) (float64, Known)) column { return column{name, v} }
	block := func(name string, v func(b *Block) float64) column {
		return c(name, func(r *Run) (float64, Known) { return v(&r.Coverage), r.Coverage.Known })
	}
	run := func(name string, v func(i *RunInfo) float64) column {
		return c(name, func(r *Run) (float64, Known) { return v(&r.Run), r.Run.Known })
	}
	list := []column{
		block("reachable_share", func(b *Block) float64 { return b.ReachableShare }),
		block("covered_share", func(b *Block) float64 { return b.CoveredShare }),
		run("duration_s", func(i *RunInfo) float64 { return i.DurationS }),
		run("distance_m", func(i *RunInfo) float64 { return i.DistanceM }),
		run("moving_share", func(i *RunInfo) float64 { return i.MovingShare }),
		run("mean_speed_mps", func(i *RunInfo) float64 { return i.MeanSpeedMPS }),
		block("mean_passes", func(b *Block) float64 { return b.MeanPasses }),
		block("redundancy", func(b *Block) float64 { return b.Redundancy }),
		block("covered_m2", func(b *Block) float64 { return b.CoveredM2 }),
		block("swept_m2", func(b *Block) float64 { return b.SweptM2 }),
	}
	for i, level := range coverage.Levels {
		list = append(list, block(fmt.Sprintf("time_to_reachable_s.%d", level), func(b *Block) float64 { return b.TimeToReachable[i] }))
	}
	return append(list,
		block("plateau_s", func(b *Block) float64 { return b.PlateauS }),
		block("rate_m2_per_min", func(b *Block) float64 { return b.RateM2PerMin }),
		c("open_m2", func(r *Run) (float64, Known) { return r.Floor.OpenM2, r.Floor.Known }),
		c("reachable_m2", func(r *Run) (float64, Known) { return r.Floor.ReachableM2, r.Floor.Known }),
		c("active_s", func(r *Run) (float64, Known) {
			if r.Active == nil {
				return NaN, Known{}
			}
			return r.Active.ActiveS, Known{}
		}),
		c("docked_s", func(r *Run) (float64, Known) {
			if r.Docking == nil {
				return NaN, Known{}
			}
			return r.Docking.DockedS, Known{}
		}))
}

// FiguresTable holds the figures of runs, a row a run, each with the ends of
// its 95 % interval where one was worked out, and the conditions of the run.
func FiguresTable(runs []*Run, unit words.Unit) CSVTable {
	t := CSVTable{Name: "figures", Head: []string{"layout", "robot", "phase", "trial", "ended"}}
	cols := figureColumns()
	for _, c := range cols {
		// time_to_reachable_s.90 becomes time_to_reachable_90_s.
		name := c.name
		if base, level, ok := strings.Cut(name, "_s."); ok {
			name = base + "_" + level + "_s"
		}
		name = unitName(name, unit)
		t.Head = append(t.Head, name, name+"_low95", name+"_high95")
	}
	stated := map[string]bool{}
	for _, r := range runs {
		for k := range r.Conditions {
			stated[k] = true
		}
	}
	conditions := slices.Sorted(maps.Keys(stated))
	for _, k := range conditions {
		t.Head = append(t.Head, "condition_"+k)
	}
	for _, r := range runs {
		row := []string{r.Layout, r.Robot, r.Phase, trimmed(float64(r.Trial), 0), r.Run.Ended}
		for _, c := range cols {
			v, k := c.v(r)
			lo, hi := NaN, NaN
			if iv, ok := k.Interval95[c.name]; ok {
				lo, hi = iv.Lo, iv.Hi
			}
			for _, x := range []float64{v, lo, hi} {
				row = append(row, num(inUnit(c.name, x, unit), 6))
			}
		}
		for _, k := range conditions {
			row = append(row, r.Conditions[k])
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// RunTables holds the lists of one run: missed patches, edges, areas, ledger
// and events, those that it has.
func RunTables(r *Run, plan *geom.Plan, unit words.Unit) []CSVTable {
	var out []CSVTable
	add := func(name string, head []string, rows [][]any) {
		if len(rows) == 0 {
			return
		}
		t := CSVTable{Name: name}
		for _, h := range head {
			t.Head = append(t.Head, unitName(h, unit))
		}
		for _, row := range rows {
			cells := make([]string, len(row))
			for i, v := range row {
				switch x := v.(type) {
				case string:
					cells[i] = x
				case float64:
					cells[i] = num(inUnit(head[i], x, unit), 6)
				case int:
					cells[i] = trimmed(float64(x), 0)
				}
			}
			t.Rows = append(t.Rows, cells)
		}
		out = append(out, t)
	}
	var rows [][]any
	for i, m := range r.Missed {
		rows = append(rows, []any{i + 1, m.AreaM2, m.X, m.Y, m.Beside})
	}
	add("missed", []string{"patch", "area_m2", "x_m", "y_m", "beside"}, rows)
	rows = nil
	for _, e := range r.Edges {
		rows = append(rows, []any{e.Name, e.LengthM, e.FollowedM, e.FollowedShare, e.ClearanceM, e.RightShare})
	}
	add("edges", []string{"edge", "length_m", "followed_m", "followed_share", "clearance_m", "right_share"}, rows)
	rows = nil
	for _, a := range r.Areas {
		rows = append(rows, []any{a.Name, a.Kind, a.OpenM2, a.ReachableM2, a.CoveredM2, a.CoveredShare, a.ReachableShare, a.MeanPasses, a.MeanSpeedMPS, a.TimeS})
	}
	add("areas", []string{"area", "kind", "open_m2", "reachable_m2", "covered_m2", "covered_share", "reachable_share", "mean_passes", "mean_speed_mps", "time_s"}, rows)
	rows = nil
	if r.Ledger != nil {
		for _, e := range r.Ledger.Entries {
			rows = append(rows, []any{e.Name, e.TimeS, e.DistanceM, e.NewM2, e.AgainM2})
		}
	}
	add("minutes", []string{"entry", "time_s", "distance_m", "new_m2", "again_m2"}, rows)
	rows = nil
	for _, e := range r.Events {
		size, of := e.Size, e.Unit
		if unit == words.Foot && (of == "m" || of == "m/s") {
			size, of = size/words.MetresPerFoot, strings.Replace(of, "m", "ft", 1)
		}
		rows = append(rows, []any{e.Kind, e.StartS, e.EndS, e.X, e.Y, size, of, e.Text(plan, unit)})
	}
	add("events", []string{"kind", "start_s", "end_s", "x_m", "y_m", "size", "unit", "sentence"}, rows)
	return out
}

// CurveTable holds the coverage curves of runs below each other.
func CurveTable(runs []SheetInput, unit words.Unit) CSVTable {
	head := []string{"t_s", "covered_share", "reachable_share", "perfect_lanes_share", "random_share", "swept_m2", "distance_m"}
	t := CSVTable{Name: "curves", Head: []string{"layout", "robot", "phase", "trial"}}
	for _, h := range head {
		t.Head = append(t.Head, unitName(h, unit))
	}
	for _, in := range runs {
		r := in.Run
		for _, p := range in.Figure.Cover.Curve {
			row := []string{r.Layout, r.Robot, r.Phase, trimmed(float64(r.Trial), 0)}
			for i, v := range []float64{p.T - r.Run.StartS, p.CoveredShare, p.ReachableShare, p.Perfect, p.Random, p.SweptM2, p.DistanceM} {
				if math.IsNaN(v) {
					row = append(row, "")
					continue
				}
				row = append(row, num(inUnit(head[i], v, unit), 6))
			}
			t.Rows = append(t.Rows, row)
		}
	}
	return t
}
