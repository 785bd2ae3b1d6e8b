package report

import (
	"bytes"
	"math"
	"testing"

	"swathe/geom"
	"swathe/report/words"
)

// hour is an hour's path at 30 looks a second.
func hour() *geom.Trace {
	t := &geom.Trace{}
	h := 0.0
	for i := range 3600 * 30 {
		at := float64(i) / 30
		h += 0.3 * math.Sin(at/7) / 30
		s := geom.Sample{T: at, X: 2 + 1.9*math.Sin(at/31), Y: 1.5 + 1.4*math.Cos(at/17), Heading: h, Speed: 0.3 + 0.05*math.Sin(at), Sigma: 0.001 + 0.0003*math.Sin(at*3), State: geom.Seen, Source: geom.HeadingTexture}
		if i%900 < 40 {
			s.State, s.Source = geom.Bridged, geom.HeadingTravel
		}
		if i%9000 < 60 {
			s = geom.Sample{T: at, X: math.NaN(), Y: math.NaN(), Heading: math.NaN(), Speed: math.NaN(), Sigma: math.NaN(), State: geom.Lost}
		}
		t.Samples = append(t.Samples, s)
	}
	return t
}

// A path by columns is the path in trace.csv.
func TestTraceTables(t *testing.T) {
	tr := hour()
	tr.Samples = tr.Samples[:30*400]
	var table bytes.Buffer
	if err := writeTrace(&table, tr); err != nil {
		t.Fatal(err)
	}
	want, err := parseTrace(table.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	cs := TraceColumns(&Run{}, tr, words.Metre)
	if len(cs.Columns) != 8 || cs.Rows() != len(want) {
		t.Fatalf("%d columns, %d rows of %d", len(cs.Columns), cs.Rows(), len(want))
	}
	near := func(column int, name string, i int, w, tol float64) {
		c := cs.Columns[column]
		if v := c.Numbers[i]; c.Name != name || math.IsNaN(v) != math.IsNaN(w) || math.Abs(v-w) > tol {
			t.Fatalf("row %d of %s, called %s, is %g, in trace.csv %g", i, name, c.Name, v, w)
		}
	}
	lost := 0
	for i, w := range want {
		if math.IsNaN(w.X) {
			lost++
		}
		near(0, "t_s", i, w.T, 5.1e-5)
		near(1, "x_m", i, w.X, 6e-6)
		near(2, "y_m", i, w.Y, 6e-6)
		near(3, "heading_deg", i, geom.Degrees(w.Heading), 6e-4)
		near(4, "speed_mps", i, w.Speed, 6e-6)
		near(6, "sigma_m", i, w.Sigma, 6e-6)
		if cs.Columns[5].Words[i] != w.State.String() || cs.Columns[7].Words[i] != w.Source.String() {
			t.Fatalf("row %d: %s, %s", i, cs.Columns[5].Words[i], cs.Columns[7].Words[i])
		}
	}
	if lost != 120 {
		t.Errorf("%d rows without a place, want 120", lost)
	}
	// The table for a spreadsheet has the same rows.
	if c := TraceTable(tr, words.Metre); len(c.Rows) != len(want) || c.Rows[5000][1] != num(want[5000].X, decM) || c.Head[1] != "x_m" {
		t.Errorf("the table has %d rows, %v, %v", len(c.Rows), c.Head, c.Rows[5000])
	}
	if c := TraceTable(tr, words.Foot); c.Head[4] != "speed_ftps" || c.Rows[5000][1] != num(tr.Samples[5000].X/0.3048, decM) {
		t.Errorf("in feet %v, %v", c.Head, c.Rows[5000])
	}
	// In feet, exactly (NIST SP 811: 1 ft = 0.3048 m).
	cs = TraceColumns(&Run{}, tr, words.Foot)
	x, v := cs.Columns[1], cs.Columns[4]
	if s := tr.Samples[5000]; x.Name != "x_ft" || v.Name != "speed_ftps" || math.Abs(x.Numbers[5000]*0.3048-s.X) > 1e-6 || math.Abs(v.Numbers[5000]*0.3048-s.Speed) > 1e-6 {
		t.Errorf("in feet %v, %v; in metres %v, %v", x.Numbers[5000], v.Numbers[5000], s.X, s.Speed)
	}
}
