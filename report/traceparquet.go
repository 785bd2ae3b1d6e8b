package report

import (
	"math"

	"swathe/geom"
	"swathe/report/words"
)

// Kinds of a Column's values.
const (
	ColumnFloat  = "float"
	ColumnDouble = "double"
	ColumnWords  = "words"
)

// Column is a column of a ColumnTable. If it is Optional, NaN and the empty word
// are nulls.
type Column struct {
	Name, Kind string
	Numbers    []float64
	Words      []string
	Optional   bool
}

// Rows is how many values it has.
func (c *Column) Rows() int { return max(len(c.Numbers), len(c.Words)) }

// ColumnTable is a table by columns, as Apache Parquet has it, and what is to
// be told of it.
type ColumnTable struct {
	Columns []Column
	Meta    [][2]string
}

// Rows is how many rows it has.
func (t *ColumnTable) Rows() int { return t.Columns[0].Rows() }

// TraceColumns is a run's path for Apache Parquet: the columns of
// trace.csv with their types, in the unit asked for, which their names carry;
// nulls for what is not known; in the file's metadata what the columns mean.
// Lengths and angles are 32-bit numbers: a thousandth of a millimetre in a room
// of 8 m, a tenth of what trace.csv keeps.
func TraceColumns(run *Run, t *geom.Trace, unit words.Unit) ColumnTable {
	n := len(t.Samples)
	at, state, source := make([]float64, n), make([]string, n), make([]string, n)
	for i, s := range t.Samples {
		at[i], state[i], source[i] = s.T, s.State.String(), s.Source.String()
	}
	column := func(name string, v func(s *geom.Sample) float64) Column {
		c := Column{Name: unitName(name, unit), Kind: ColumnFloat, Numbers: make([]float64, n), Optional: true}
		for i := range t.Samples {
			c.Numbers[i] = inUnit(name, v(&t.Samples[i]), unit)
			if math.IsInf(c.Numbers[i], 0) {
				c.Numbers[i] = math.NaN()
			}
		}
		return c
	}
	length := "m"
	if unit == words.Foot {
		length = "ft"
	}
	return ColumnTable{Columns: []Column{
		{Name: "t_s", Kind: ColumnDouble, Numbers: at},
		column("x_m", func(s *geom.Sample) float64 { return s.X }),
		column("y_m", func(s *geom.Sample) float64 { return s.Y }),
		column("heading_deg", func(s *geom.Sample) float64 { return geom.Degrees(s.Heading) }),
		column("speed_mps", func(s *geom.Sample) float64 { return s.Speed }),
		{Name: "state", Kind: ColumnWords, Words: state},
		column("sigma_m", func(s *geom.Sample) float64 { return s.Sigma }),
		{Name: "heading_source", Kind: ColumnWords, Words: source, Optional: true},
	}, Meta: [][2]string{
		{"run", run.Layout + "/" + run.Name()},
		{"t_s", "time from the recording's first frame, s"},
		{"x, y", "position of the robot's centre on the floor, " + length + "; x runs right, y up the plan"},
		{"heading", "degrees, counter-clockwise from +x"},
		{"speed", length + "/s"},
		{"sigma", "standard uncertainty of the position along one axis, " + length},
		{"state", "seen, bridged (hidden or missed shortly, filled in), carried or lost"},
	}}
}

// TraceTable is a run's path for a spreadsheet: the columns of trace.csv in the
// unit asked for, empty where nothing is known.
func TraceTable(t *geom.Trace, unit words.Unit) CSVTable {
	out := CSVTable{Name: "trace", Head: make([]string, len(traceHeader)), Rows: make([][]string, len(t.Samples))}
	for i, name := range traceHeader {
		out.Head[i] = unitName(name, unit)
	}
	for i := range t.Samples {
		out.Rows[i] = traceRow(&t.Samples[i], unit)
	}
	return out
}

// traceRow writes a sample under traceHeader, lengths in the unit asked for.
func traceRow(s *geom.Sample, unit words.Unit) []string {
	in := func(name string, v float64) string { return num(inUnit(name, v, unit), decM) }
	return []string{num(s.T, decS), in("x_m", s.X), in("y_m", s.Y), num(geom.Degrees(s.Heading), decDeg), in("speed_mps", s.Speed),
		s.State.String(), in("sigma_m", s.Sigma), s.Source.String()}
}
