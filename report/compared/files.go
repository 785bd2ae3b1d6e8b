package compared

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/words"
)

// ComparisonInput is what the files of a comparison are made of.
type ComparisonInput struct {
	Doc  *Comparison
	Maps []figure.Run // the runs whose maps lie on the same cells, in the order of Doc.Runs; may lack some
	IDs  []string     // of Maps
	Line []figure.Line
	Unit words.Unit
}

// WriteComparison writes comparison.json, its tables, pictures and page into
// dir.
func WriteComparison(dir string, in ComparisonInput) error {
	raw, err := report.MarshalIndent(in.Doc)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "comparison.json"), append(raw, '\n'), 0o644); err != nil {
		return err
	}
	for name, rows := range in.Doc.tables() {
		if err := writeRows(filepath.Join(dir, name+".csv"), rows); err != nil {
			return err
		}
	}
	pics := in.pictures()
	errs := make([]error, len(pics))
	var group sync.WaitGroup
	for i, p := range pics {
		group.Add(1)
		go func() {
			defer group.Done()
			errs[i] = writePicture(filepath.Join(dir, p.name+".png"), p)
		}()
	}
	group.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	var page bytes.Buffer
	if err := in.sheet(pics).Write(&page); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "index.html"), page.Bytes(), 0o644)
}

func writePicture(file string, p namedPicture) error {
	pic, err := p.Draw(p.Options)
	if err != nil {
		return err
	}
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	if err := pic.Write(f, "png"); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

func writeRows(file string, rows [][]string) error {
	f, err := os.Create(file)
	if err != nil {
		return err
	}
	c := csv.NewWriter(f)
	if err := c.WriteAll(rows); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// tables returns the CSV files: their names without ending, and rows.
func (d *Comparison) tables() map[string][][]string {
	out := map[string][][]string{}
	head := []string{"run", "group"}
	for _, f := range d.Figures {
		head = append(head, f.Figure)
	}
	rows := [][]string{head}
	for _, r := range d.Runs {
		row := []string{r.Run, r.Group}
		for _, f := range d.Figures {
			row = append(row, report.Digits(r.Values[f.Figure]))
		}
		rows = append(rows, row)
	}
	out["runs"] = rows

	rows = [][]string{{"figure", "unit", "group", "n", "runs", "mean", "sd", "interval_95_low", "interval_95_high", "interval_from", "measurement_standard_uncertainty", "common_standard_uncertainty", "values", "never_reached", "at_least"}}
	for _, f := range d.Figures {
		for _, c := range f.Groups {
			from := ""
			if c.From != nil {
				from = *c.From
			}
			var vs []string
			for _, v := range c.Values {
				vs = append(vs, report.Digits(v))
			}
			var least []string
			for _, b := range c.AtLeast {
				least = append(least, report.Digits(b.Value))
			}
			rows = append(rows, []string{f.Figure, f.Unit, c.Group, fmt.Sprint(c.N), fmt.Sprint(c.Of), report.Digits(c.Mean), report.Digits(c.SD), report.Digits(c.Interval.Lo), report.Digits(c.Interval.Hi),
				from, report.Digits(c.MeasU), report.Digits(c.CommonU), strings.Join(vs, " "), fmt.Sprint(len(c.Never)), strings.Join(least, " ")})
		}
	}
	out["figures"] = rows

	rows = [][]string{{"from", "to", "figure", "difference", "ratio", "interval_95_low", "interval_95_high", "p", "pairs", "smallest_rank_p", "measurement_standard_uncertainty", "common_standard_uncertainty", "method", "reason", "primary", "p_holm", "verdict", "runs_needed"}}
	for _, x := range d.Differ {
		why := ""
		if x.Reason != nil {
			why = *x.Reason
		}
		rows = append(rows, []string{x.Groups[0], x.Groups[1], x.Figure, report.Digits(x.Value), report.Digits(x.Ratio), report.Digits(x.Interval.Lo), report.Digits(x.Interval.Hi), report.Digits(x.P),
			fmt.Sprint(x.Pairs), report.Digits(x.SmallestP), report.Digits(x.MeasU), report.Digits(x.CommonU), x.Method, why, fmt.Sprint(x.Primary), report.Digits(x.HolmP), x.Verdict, report.Digits(x.Need)})
	}
	out["differences"] = rows

	rows = [][]string{{"group", "what", "k", "n", "cut_short", "interval_95_low", "interval_95_high"}}
	for _, c := range d.Counts {
		rows = append(rows, []string{c.Group, c.What, fmt.Sprint(c.K), fmt.Sprint(c.N), fmt.Sprint(len(c.Open)), report.Digits(c.Interval.Lo), report.Digits(c.Interval.Hi)})
	}
	out["counts"] = rows

	rows = [][]string{{"runs_of", "number", "share_after", "share_after_by_chance"}}
	never := [][]string{{"runs_of", "area_m2", "x_m", "y_m", "beside"}}
	for _, j := range d.Joint {
		for k := range j.After {
			rows = append(rows, []string{j.Name, fmt.Sprint(k + 1), report.Digits(j.After[k]), report.Digits(j.AfterChance[k])})
		}
		for _, p := range j.Patches {
			never = append(never, []string{j.Name, report.Digits(p.AreaM2), report.Digits(p.X), report.Digits(p.Y), p.Beside})
		}
	}
	out["together"], out["never_covered"] = rows, never
	return out
}

// inWords writes a value of a figure with the digits that u supports.
func inWords(unit string, v, u float64, in words.Unit) string {
	switch compare.Unit(unit) {
	case compare.Share:
		return words.Share(v, u)
	case compare.Seconds:
		return words.Duration(v)
	case compare.Metres:
		return words.Length(v, u, in)
	case compare.SquareM:
		return words.Area(v, u, in)
	case compare.SquareMPMin:
		return words.Area(v, u, in) + " a minute"
	case compare.Whole:
		if v == math.Trunc(v) {
			return words.Number(v, math.NaN(), 0)
		}
		return words.Number(v, math.NaN(), 1)
	case compare.MetresPerS:
		return words.Length(v, u, in) + " a second"
	}
	return words.Number(v, u, 2)
}

// changeInWords writes a difference with its sign; of a share in points.
func changeInWords(unit string, v, u float64, in words.Unit) string {
	if math.IsNaN(v) {
		return words.NotMeasured
	}
	s := inWords(unit, v, u, in)
	if compare.Unit(unit) == compare.Share {
		s = words.Number(v*100, u*100, 1) + words.NB + "points"
	}
	if v > 0 {
		return "+" + s
	}
	return s
}
