package parquet

import (
	"bytes"
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"

	outside "github.com/parquet-go/parquet-go"
)

// row is a table's row as the outside implementation reads it.
type row struct {
	T float64  `parquet:"t_s"`
	X *float32 `parquet:"x_m,optional"`
	Y *float64 `parquet:"y_m,optional"`
	S string   `parquet:"state"`
	H *string  `parquet:"source,optional"`
}

func table(n int, seed int64) []Column {
	rng := rand.New(rand.NewSource(seed))
	t, x, y, s, h := make([]float64, n), make([]float32, n), make([]float64, n), make([]string, n), make([]string, n)
	for i := range t {
		t[i], x[i], y[i] = float64(i)/30, rng.Float32()*5, rng.NormFloat64()
		s[i] = []string{"seen", "bridged", "lost"}[rng.Intn(30)/28]
		if rng.Intn(5) == 0 {
			s[i] = "carried"
		}
		if rng.Intn(10) == 0 {
			x[i], y[i] = float32(math.NaN()), math.NaN()
		} else {
			h[i] = "top"
		}
	}
	return []Column{{Name: "t_s", Float64: t}, {Name: "x_m", Float32: x, Optional: true}, {Name: "y_m", Float64: y, Optional: true},
		{Name: "state", Words: s}, {Name: "source", Words: h, Optional: true}}
}

// What is written comes back from another implementation, nulls as nulls, over
// several pages, for tables of no row too.
func TestAnotherReaderReadsIt(t *testing.T) {
	const seed = 3
	t.Logf("seed %d", seed)
	for _, n := range []int{0, 1, 2, 1000, pageRows, 2*pageRows + 17} {
		cs := table(n, seed)
		var buf bytes.Buffer
		if err := Write(&buf, cs, []Meta{{"x", "m"}, {"run", "den/wren_mapped_1"}}, "a test"); err != nil {
			t.Fatal(err)
		}
		f, err := outside.OpenFile(bytes.NewReader(buf.Bytes()), int64(buf.Len()))
		if err != nil {
			t.Fatalf("%d rows: %v", n, err)
		}
		if v, ok := f.Lookup("run"); !ok || v != "den/wren_mapped_1" {
			t.Errorf("the metadata say of the run %q, %v", v, ok)
		}
		if got := fmt.Sprint(f.Schema()); !strings.Contains(got, "required double t_s") || !strings.Contains(got, "optional float x_m") || !strings.Contains(got, "required binary state (STRING)") {
			t.Errorf("the schema is %s", got)
		}
		rows, err := outside.Read[row](bytes.NewReader(buf.Bytes()), int64(buf.Len()))
		if err != nil || len(rows) != n {
			t.Fatalf("%d rows: read %d, %v", n, len(rows), err)
		}
		nulls := 0
		for i, r := range rows {
			same := r.T == cs[0].Float64[i] && r.S == cs[3].Words[i]
			if x := cs[1].Float32[i]; math.IsNaN(float64(x)) {
				nulls++
				same = same && r.X == nil && r.Y == nil && r.H == nil
			} else {
				same = same && r.X != nil && *r.X == x && r.Y != nil && *r.Y == cs[2].Float64[i] && r.H != nil && *r.H == "top"
			}
			if !same {
				t.Fatalf("%d rows: row %d comes back as %+v", n, i, r)
			}
		}
		if n >= 1000 && nulls < n/20 {
			t.Errorf("only %d nulls", nulls)
		}
	}
}

func TestRefusals(t *testing.T) {
	many := make([]string, 300)
	for i := range many {
		many[i] = fmt.Sprint(i)
	}
	for what, cs := range map[string][]Column{
		"needs a column":  nil,
		"has 2 rows":      {{Name: "a", Float64: []float64{1}}, {Name: "b", Float64: []float64{1, 2}}},
		"different words": {{Name: "a", Words: many}},
	} {
		if err := Write(&bytes.Buffer{}, cs, nil, ""); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%v, want %q", err, what)
		}
	}
	if err := Write(full{}, table(10, 1), nil, ""); err == nil {
		t.Error("a full disk goes unnoticed")
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, fmt.Errorf("no space left") }
