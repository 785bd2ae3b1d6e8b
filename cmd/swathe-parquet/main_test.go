package main

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"math/rand"
	"os"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"swathe/cmd/internal/columns"
	"swathe/geom"
	"swathe/report"
	"swathe/report/words"
)

// TestMain lets the test's own program stand in for swathe-parquet.
func TestMain(m *testing.M) {
	if os.Getenv("SWATHE_PARQUET") != "" {
		main()
		return
	}
	os.Setenv("SWATHE_PARQUET", os.Args[0])
	os.Exit(m.Run())
}

// row is a path's row, in metres.
type row struct {
	T       float64  `parquet:"t_s"`
	X       *float32 `parquet:"x_m,optional"`
	Y       *float32 `parquet:"y_m,optional"`
	Heading *float32 `parquet:"heading_deg,optional"`
	Speed   *float32 `parquet:"speed_mps,optional"`
	State   string   `parquet:"state,dict"`
	Sigma   *float32 `parquet:"sigma_m,optional"`
	Source  *string  `parquet:"heading_source,dict,optional"`
}

// A path comes back as it was, nulls as nulls, under the columns of trace.csv in
// their order and with their types, for a path of no sample too.
func TestTrace(t *testing.T) {
	const seed = 3
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for _, n := range []int{0, 1, 1000, 70000} {
		tr := &geom.Trace{}
		for i := range n {
			s := geom.Sample{T: float64(i) / 30, X: rng.Float64() * 5, Y: rng.NormFloat64(), Heading: rng.Float64(), Speed: rng.Float64(), Sigma: rng.Float64(), State: geom.Seen, Source: geom.HeadingTexture}
			if rng.Intn(10) == 0 {
				s = geom.Sample{T: s.T, X: math.NaN(), Y: math.NaN(), Heading: math.NaN(), Speed: math.Inf(1), Sigma: math.NaN(), State: geom.Lost}
			}
			tr.Samples = append(tr.Samples, s)
		}
		var file bytes.Buffer
		if err := columns.Write(&file, report.TraceColumns(&report.Run{}, tr, words.Metre)); err != nil {
			t.Fatal(err)
		}
		f, err := parquet.OpenFile(bytes.NewReader(file.Bytes()), int64(file.Len()))
		if err != nil {
			t.Fatalf("%d rows: %v", n, err)
		}
		if v, ok := f.Lookup("speed"); !ok || v != "m/s" {
			t.Errorf("the metadata say of the speed %q, %v", v, ok)
		}
		if got, want := f.Schema().String(), parquet.NewSchema("table", parquet.SchemaOf(row{})).String(); got != want {
			t.Errorf("the schema is %s\nwant %s", got, want)
		}
		got, err := parquet.Read[row](bytes.NewReader(file.Bytes()), int64(file.Len()))
		if err != nil || len(got) != n {
			t.Fatalf("%d rows of %d: %v", len(got), n, err)
		}
		same := func(v *float32, w float64) bool {
			if v == nil {
				return math.IsNaN(w) || math.IsInf(w, 0)
			}
			return *v == float32(w)
		}
		for i, g := range got {
			s, source := tr.Samples[i], ""
			if g.Source != nil {
				source = *g.Source
			}
			if g.T != s.T || !same(g.X, s.X) || !same(g.Y, s.Y) || !same(g.Heading, geom.Degrees(s.Heading)) || !same(g.Speed, s.Speed) ||
				!same(g.Sigma, s.Sigma) || g.State != s.State.String() || source != s.Source.String() || source == "" && g.Source != nil {
				t.Fatalf("%d rows: row %d of %+v comes back as %+v", n, i, s, g)
			}
		}
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestRefusals(t *testing.T) {
	number := func(name string, v ...float64) report.Column {
		return report.Column{Name: name, Kind: report.ColumnDouble, Numbers: v}
	}
	for what, cs := range map[string][]report.Column{
		"needs a column": nil,
		"has 2 rows":     {number("a", 1), number("b", 1, 2)},
	} {
		if err := columns.Write(&bytes.Buffer{}, report.ColumnTable{Columns: cs}); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%v, want %q", err, what)
		}
	}
	if err := columns.Write(full{}, report.ColumnTable{Columns: []report.Column{number("a", 1, 2)}}); err == nil {
		t.Error("a full disk goes unnoticed")
	}
	t.Setenv("SWATHE_PARQUET", fmt.Sprint(t.TempDir(), "/none"))
	if err := columns.Write(&bytes.Buffer{}, report.ColumnTable{}); err == nil || !strings.Contains(err.Error(), "swathe-parquet failed") {
		t.Errorf("a program that is not there gave %v", err)
	}
}
