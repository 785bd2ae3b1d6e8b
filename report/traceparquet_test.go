package report

import (
	"bytes"
	"math"
	"testing"

	"github.com/parquet-go/parquet-go"

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

type readRow struct {
	T       float64  `parquet:"t_s"`
	X       *float32 `parquet:"x_m,optional"`
	Y       *float32 `parquet:"y_m,optional"`
	Heading *float32 `parquet:"heading_deg,optional"`
	Speed   *float32 `parquet:"speed_mps,optional"`
	State   string   `parquet:"state"`
	Sigma   *float32 `parquet:"sigma_m,optional"`
	Source  *string  `parquet:"heading_source,optional"`
}

// A path as Parquet, read by another implementation, is the path in trace.csv.
func TestTraceAsParquet(t *testing.T) {
	tr := hour()
	tr.Samples = tr.Samples[:30*400]
	var table, file bytes.Buffer
	if err := writeTrace(&table, tr); err != nil {
		t.Fatal(err)
	}
	if err := WriteTraceParquet(&file, &Run{}, tr, words.Metre); err != nil {
		t.Fatal(err)
	}
	want, err := parseTrace(table.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	got, err := parquet.Read[readRow](bytes.NewReader(file.Bytes()), int64(file.Len()))
	if err != nil || len(got) != len(want) {
		t.Fatalf("%d rows of %d, %v", len(got), len(want), err)
	}
	near := func(v *float32, w, tol float64) bool {
		if v == nil || math.IsNaN(w) {
			return v == nil && math.IsNaN(w)
		}
		return math.Abs(float64(*v)-w) <= tol
	}
	lost := 0
	for i, g := range got {
		w := want[i]
		if g.X == nil {
			lost++
		}
		source := ""
		if g.Source != nil {
			source = *g.Source
		}
		if math.Abs(g.T-w.T) > 5.1e-5 || !near(g.X, w.X, 6e-6) || !near(g.Y, w.Y, 6e-6) || !near(g.Heading, geom.Degrees(w.Heading), 6e-4) ||
			!near(g.Speed, w.Speed, 6e-6) || !near(g.Sigma, w.Sigma, 6e-6) || g.State != w.State.String() || source != w.Source.String() {
			t.Fatalf("row %d: %+v, in trace.csv %+v", i, g, w)
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
	file.Reset()
	if err := WriteTraceParquet(&file, &Run{}, tr, words.Foot); err != nil {
		t.Fatal(err)
	}
	feet, err := parquet.Read[struct {
		X *float32 `parquet:"x_ft,optional"`
		V *float32 `parquet:"speed_ftps,optional"`
	}](bytes.NewReader(file.Bytes()), int64(file.Len()))
	if err != nil {
		t.Fatal(err)
	}
	if s := tr.Samples[5000]; math.Abs(float64(*feet[5000].X)*0.3048-s.X) > 1e-6 || math.Abs(float64(*feet[5000].V)*0.3048-s.Speed) > 1e-6 {
		t.Errorf("in feet %v, %v; in metres %v, %v", *feet[5000].X, *feet[5000].V, s.X, s.Speed)
	}
}

// readColumns reads all numbers column by column, as programs for analysis do,
// and returns how many there are.
func readColumns(b *testing.B, raw []byte) (n int) {
	f, err := parquet.OpenFile(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		b.Fatal(err)
	}
	for _, g := range f.RowGroups() {
		for _, c := range g.ColumnChunks() {
			pages := c.Pages()
			for {
				p, err := pages.ReadPage()
				if err != nil {
					break
				}
				switch d := p.Data(); p.Type().Kind() {
				case parquet.Float:
					n += len(d.Float())
				case parquet.Double:
					n += len(d.Double())
				}
				parquet.Release(p)
			}
			pages.Close()
		}
	}
	return n
}

// BenchmarkHour reads the path of an hour at 30 looks a second, as the CSV of a
// result and as Parquet.
func BenchmarkHour(b *testing.B) {
	tr := hour()
	var table, file bytes.Buffer
	if err := writeTrace(&table, tr); err != nil {
		b.Fatal(err)
	}
	if err := WriteTraceParquet(&file, &Run{}, tr, words.Metre); err != nil {
		b.Fatal(err)
	}
	b.Run("csv", func(b *testing.B) {
		for b.Loop() {
			if _, err := parseTrace(table.Bytes()); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(table.Len())/1e6, "MB")
	})
	b.Run("parquet-columns", func(b *testing.B) {
		for b.Loop() {
			if n := readColumns(b, file.Bytes()); n < 5*len(tr.Samples) {
				b.Fatalf("%d numbers", n)
			}
		}
		b.ReportMetric(float64(file.Len())/1e6, "MB")
	})
	b.Run("parquet-rows", func(b *testing.B) {
		for b.Loop() {
			if _, err := parquet.Read[readRow](bytes.NewReader(file.Bytes()), int64(file.Len())); err != nil {
				b.Fatal(err)
			}
		}
		b.ReportMetric(float64(file.Len())/1e6, "MB")
	})
}
