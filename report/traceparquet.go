package report

import (
	"io"
	"math"

	"swathe/geom"
	"swathe/report/parquet"
	"swathe/report/words"
)

// WriteTraceParquet writes a run's path as Apache Parquet: the columns of
// trace.csv with their types, in the unit asked for, which their names carry;
// nulls for what is not known; in the file's metadata what the columns mean.
// Lengths and angles are 32-bit numbers: a thousandth of a millimetre in a room
// of 8 m, a tenth of what trace.csv keeps.
func WriteTraceParquet(w io.Writer, run *Run, t *geom.Trace, unit words.Unit) error {
	n := len(t.Samples)
	at, state, source := make([]float64, n), make([]string, n), make([]string, n)
	for i, s := range t.Samples {
		at[i], state[i], source[i] = s.T, s.State.String(), s.Source.String()
	}
	column := func(name string, v func(s *geom.Sample) float64) parquet.Column {
		c := parquet.Column{Name: unitName(name, unit), Float32: make([]float32, n), Optional: true}
		for i := range t.Samples {
			q := inUnit(name, v(&t.Samples[i]), unit)
			if math.IsInf(q, 0) {
				q = math.NaN()
			}
			c.Float32[i] = float32(q)
		}
		return c
	}
	columns := []parquet.Column{
		{Name: "t_s", Float64: at},
		column("x_m", func(s *geom.Sample) float64 { return s.X }),
		column("y_m", func(s *geom.Sample) float64 { return s.Y }),
		column("heading_deg", func(s *geom.Sample) float64 { return geom.Degrees(s.Heading) }),
		column("speed_mps", func(s *geom.Sample) float64 { return s.Speed }),
		{Name: "state", Words: state},
		column("sigma_m", func(s *geom.Sample) float64 { return s.Sigma }),
		{Name: "heading_source", Words: source, Optional: true},
	}
	length := "m"
	if unit == words.Foot {
		length = "ft"
	}
	return parquet.Write(w, columns, []parquet.Meta{
		{Key: "run", Value: run.Layout + "/" + run.Name()},
		{Key: "t_s", Value: "time from the recording's first frame, s"},
		{Key: "x, y", Value: "position of the robot's centre on the floor, " + length + "; x runs right, y up the plan"},
		{Key: "heading", Value: "degrees, counter-clockwise from +x"},
		{Key: "speed", Value: length + "/s"},
		{Key: "sigma", Value: "standard uncertainty of the position along one axis, " + length},
		{Key: "state", Value: "seen, bridged (hidden or missed shortly, filled in), carried or lost"},
	}, "swathe")
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
