package bench

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/units"
)

// Key says what a reading is of. Two readings of one key contradict each other.
type Key struct {
	Robot, Sample, Firmware string
	Layout, Phase           string // empty: the reading is of no recorded run
	Trial                   int    // from 1
	Surface                 string // carpet, hard floor; empty: it has none
	Pass                    int    // from 1; 0: of all passes together
	Quantity                string
}

// trial is the key without what differs within one trial.
func (k Key) trial() Key {
	k.Pass, k.Quantity = 0, ""
	return k
}

func (k Key) String() string {
	parts := []string{k.Robot}
	if k.Sample != "" {
		parts = append(parts, "sample "+k.Sample)
	}
	if k.Firmware != "" {
		parts = append(parts, "firmware "+k.Firmware)
	}
	if k.Layout != "" {
		parts = append(parts, k.Layout, k.Phase)
	}
	parts = append(parts, fmt.Sprintf("trial %d", k.Trial), k.Surface)
	if k.Pass > 0 {
		parts = append(parts, fmt.Sprintf("pass %d", k.Pass))
	}
	return k.Quantity + " of " + strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), ", ")
}

// Reading is one value as it was written down. Value and Uncertainty keep the
// digits that were typed.
type Reading struct {
	Key
	Value, Unit, Uncertainty string // the standard uncertainty, in the same unit; empty: not known
	Date, Operator, Note     string

	line int // of the file it came from; 0: it was entered before
}

// SI returns the value and its standard uncertainty; NaN where not known.
func (r Reading) SI() (v, u float64) {
	un, _ := units.Find(r.Unit)
	x, _ := strconv.ParseFloat(r.Value, 64)
	u = math.NaN()
	if r.Uncertainty != "" {
		if w, err := strconv.ParseFloat(r.Uncertainty, 64); err == nil {
			u = un.WidthToSI(w)
		}
	}
	return un.ToSI(x), u
}

// Columns of the CSV, in its order.
var Columns = []string{"robot", "sample", "firmware", "layout", "phase", "trial", "surface", "pass", "quantity", "value", "unit", "uncertainty", "date", "operator", "note"}

var needed = []string{"robot", "trial", "quantity", "value", "unit"}

// fields returns the reading in the order of Columns.
func (r Reading) fields() []string {
	pass := ""
	if r.Pass > 0 {
		pass = strconv.Itoa(r.Pass)
	}
	return []string{r.Robot, r.Sample, r.Firmware, r.Layout, r.Phase, strconv.Itoa(r.Trial), r.Surface, pass, r.Quantity, r.Value, r.Unit, r.Uncertainty, r.Date, r.Operator, r.Note}
}

// WriteCSV writes readings, their columns named.
func WriteCSV(w io.Writer, rs []Reading) error {
	c := csv.NewWriter(w)
	_ = c.Write(Columns) // Flush's error says it all
	for _, r := range rs {
		_ = c.Write(r.fields())
	}
	c.Flush()
	return c.Error()
}

// reader checks readings as they come in and notes what is wrong with file and
// line.
type reader struct {
	l    *lab.Lab
	qs   []Quantity
	file string
	bad  lab.Problems
}

const maxBad = 10

func (r *reader) refuse(line int, format string, a ...any) {
	if len(r.bad.List) >= maxBad {
		r.bad.More++
		return
	}
	r.bad.List = append(r.bad.List, lab.Problem{File: r.file, Line: line, Message: fmt.Sprintf(format, a...)})
}

// err is what was noted, nil if nothing was.
func (r *reader) err() error {
	if len(r.bad.List) == 0 {
		return nil
	}
	return &r.bad
}

// ReadCSV reads readings; file names it in refusals. A file with anything wrong
// in it gives a *lab.Problems and no reading.
func ReadCSV(l *lab.Lab, file string, in io.Reader) ([]Reading, error) {
	r := &reader{l: l, qs: Quantities(l), file: file}
	c := csv.NewReader(lab.SkipBOM(in))
	c.FieldsPerRecord = -1
	c.TrimLeadingSpace = true
	var columns []string
	var out []Reading
	for {
		fields, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			line := 0
			var pe *csv.ParseError
			if errors.As(err, &pe) {
				line = pe.Line
			}
			r.refuse(line, "this is not a comma-separated row: %v. Check the quotes.", err)
			break
		}
		line, _ := c.FieldPos(0)
		for i := range fields {
			fields[i] = strings.TrimSpace(fields[i])
		}
		switch {
		case columns == nil:
			if columns = r.header(line, fields); columns == nil {
				return nil, r.err()
			}
		case strings.Join(fields, "") == "":
		case len(fields) > len(columns):
			r.refuse(line, "this row has %d fields for %d columns. Put quotes around a field that contains a comma.", len(fields), len(columns))
		default:
			if x, ok := r.row(line, columns, fields); ok {
				out = append(out, x)
			}
		}
	}
	if columns == nil && len(r.bad.List) == 0 {
		r.refuse(0, "the file is empty. Its first row names the columns: %s.", strings.Join(Columns, ","))
	}
	return out, r.err()
}

func (r *reader) header(line int, fields []string) []string {
	before := len(r.bad.List)
	for i, f := range fields {
		if !slices.Contains(Columns, f) {
			r.refuse(line, "there is no column %q.%s", f, lab.DidYouMean(f, Columns))
		} else if slices.Contains(fields[:i], f) {
			r.refuse(line, "the column %q appears twice. Keep one.", f)
		}
	}
	for _, n := range needed {
		if !slices.Contains(fields, n) {
			r.refuse(line, "the column %s is missing. Every reading needs %s.", n, strings.Join(needed, ", "))
		}
	}
	if len(r.bad.List) > before {
		return nil
	}
	return fields
}

func (r *reader) row(line int, columns, fields []string) (Reading, bool) {
	before := len(r.bad.List) + r.bad.More
	m := map[string]string{}
	for i, f := range fields {
		m[columns[i]] = f
	}
	for _, n := range needed {
		if m[n] == "" {
			r.refuse(line, "%s is empty. Every reading needs %s.", n, strings.Join(needed, ", "))
		}
	}
	x := Reading{Key: Key{Robot: m["robot"], Sample: m["sample"], Firmware: m["firmware"], Layout: m["layout"], Phase: m["phase"], Surface: m["surface"], Quantity: m["quantity"]},
		Value: m["value"], Unit: m["unit"], Uncertainty: m["uncertainty"], Date: m["date"], Operator: m["operator"], Note: m["note"], line: line}
	x.Trial = r.whole(line, "trial", m["trial"])
	x.Pass = r.whole(line, "pass", m["pass"])
	if len(r.bad.List)+r.bad.More > before {
		return x, false
	}
	r.check(x)
	return x, len(r.bad.List)+r.bad.More == before
}

// whole reads a whole number from 1; 0 of an empty field.
func (r *reader) whole(line int, name, v string) int {
	if v == "" {
		return 0
	}
	n, err := strconv.Atoi(v)
	if err != nil || n < 1 || n > 1e6 {
		r.refuse(line, "%s is %q; it should be a whole number, 1 or more.", name, v)
	}
	return n
}

// check holds a reading against the lab: names, unit, range.
func (r *reader) check(x Reading) {
	say := func(format string, a ...any) { r.refuse(x.line, format, a...) }
	if r.l.Robots[x.Robot] == nil {
		say("there is no robot %q in %s or robots/.%s", x.Robot, lab.SetupFile, lab.DidYouMean(x.Robot, r.l.RobotNames))
	}
	if x.Layout != "" && r.l.Layouts[x.Layout] == nil {
		say("there is no layout %q in %s.%s", x.Layout, lab.SetupFile, lab.DidYouMean(x.Layout, r.l.LayoutNames))
	}
	if x.Phase != "" && !slices.Contains(lab.Phases, x.Phase) {
		say("phase is %q; it should be one of %s.", x.Phase, strings.Join(lab.Phases, ", "))
	}
	if (x.Layout == "") != (x.Phase == "") {
		say("layout and phase name a recorded run together; one of them is empty. Fill in both, or leave both out.")
	}
	if x.Date != "" {
		if _, _, err := lab.ParseDate(x.Date); err != nil {
			say("date is %q; write 2026-03-02, or 2026-03-02 14:30.", x.Date)
		}
	}
	qu, ok := find(r.qs, x.Quantity)
	if !ok {
		say("there is no quantity %q.%s To add a quantity of your own, write it under quantities in %s.", x.Quantity, lab.DidYouMean(x.Quantity, names(r.qs)), lab.SetupFile)
		return
	}
	if qu.Follows != "" {
		say("%s is calculated from %s; enter those.", qu.Name, qu.Follows)
		return
	}
	u, ok := units.Find(x.Unit)
	switch {
	case !ok:
		say("there is no unit %q. %s is given in %s.", x.Unit, qu.Name, units.Choices(qu.Unit.Kind))
		return
	case u.Kind != qu.Unit.Kind:
		say("%s is given in %s, a unit of %s. Give it in a unit of %s: %s.", qu.Name, u.Name, u.Kind, qu.Unit.Kind, units.Choices(qu.Unit.Kind))
		return
	}
	v, err := strconv.ParseFloat(x.Value, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		say("value is %q; it should be a plain number, with its unit in the column unit.", x.Value)
		return
	}
	if si := u.ToSI(v); si < qu.Low || si > qu.High {
		say("%s is %s %s; it should be from %.6g to %.6g %s. Check the unit.", qu.Name, x.Value, x.Unit, u.FromSI(qu.Low), u.FromSI(qu.High), x.Unit)
	}
	if w, err := strconv.ParseFloat(x.Uncertainty, 64); x.Uncertainty != "" && (err != nil || !(w >= 0) || math.IsInf(w, 0)) {
		say("uncertainty is %q; it should be the standard uncertainty, 0 or more in the unit of the value; leave the field empty if it is unknown.", x.Uncertainty)
	}
}

// Parts that cannot exceed a whole: what was picked up and left of what was laid
// out.
var parts = []struct {
	whole string
	of    []string
}{
	{"mass_laid_out", []string{"mass_picked_up", "mass_left"}},
	{"hair_laid_out", []string{"hair_picked_up", "hair_wrapped"}},
}

// balance refuses trials in which more was found than laid out, beyond twice
// the standard uncertainty of the difference; readings without one count as
// exact. Passes add up; a reading of all passes together stands for them.
func (r *reader) balance(all []Reading) {
	byTrial := map[Key][]Reading{}
	var order []Key
	for _, x := range all {
		k := x.trial()
		if byTrial[k] == nil {
			order = append(order, k)
		}
		byTrial[k] = append(byTrial[k], x)
	}
	for _, k := range order {
		for _, p := range parts {
			whole, u2, ok := total(byTrial[k], p.whole)
			if !ok {
				continue
			}
			sum, line := 0.0, 0
			var said []string
			for _, name := range p.of {
				v, pu2, ok := total(byTrial[k], name)
				if !ok {
					continue
				}
				sum, u2 = sum+v, u2+pu2
				said = append(said, name)
			}
			for _, x := range byTrial[k] {
				if x.Quantity == p.whole || slices.Contains(p.of, x.Quantity) {
					line = max(line, x.line)
				}
			}
			if line > 0 && sum > whole+2*math.Sqrt(u2)+1e-12 {
				g := units.Must("g")
				r.refuse(line, "%s of %s come to %.6g g, more than the %.6g g laid out. Check the figures, the unit and the tare; if the balance is that coarse, give its uncertainty.",
					strings.Join(said, " and "), strings.TrimPrefix(k.String(), " of "), g.FromSI(sum), g.FromSI(whole))
			}
		}
	}
}

// total adds up a quantity over its passes; u2 is the square of its standard
// uncertainty.
func total(rs []Reading, name string) (v, u2 float64, ok bool) {
	for _, x := range rs {
		if x.Quantity != name {
			continue
		}
		a, u := x.SI()
		if math.IsNaN(u) {
			u = 0
		}
		if x.Pass == 0 {
			return a, u * u, true
		}
		v, u2, ok = v+a, u2+u*u, true
	}
	return v, u2, ok
}

// sortReadings puts readings into the order of their keys.
func sortReadings(rs []Reading) {
	slices.SortFunc(rs, func(a, b Reading) int {
		return cmp.Or(strings.Compare(a.Robot, b.Robot), strings.Compare(a.Sample, b.Sample), strings.Compare(a.Firmware, b.Firmware),
			strings.Compare(a.Layout, b.Layout), strings.Compare(a.Phase, b.Phase), a.Trial-b.Trial,
			strings.Compare(a.Surface, b.Surface), strings.Compare(a.Quantity, b.Quantity), a.Pass-b.Pass)
	})
}
