package report

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"swathe/coverage/stats"
	"swathe/report/words"
)

func cells(t *testing.T, c CSVTable) [][]string {
	t.Helper()
	var buf bytes.Buffer
	if err := c.Write(&buf); err != nil {
		t.Fatal(err)
	}
	text, ok := strings.CutPrefix(buf.String(), "\ufeff")
	if !ok {
		t.Errorf("%s does not begin with the mark of UTF-8", c.Name)
	}
	if n, m := strings.Count(text, "\n"), strings.Count(text, "\r\n"); n != m {
		t.Errorf("%s: %d lines, %d of them ended by CR LF", c.Name, n, m)
	}
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", c.Name, err)
	}
	return rows
}

// Every number reads back, every row is as long as its head, and in feet each
// length and area is the metric one by the exact factor (NIST SP 811, B.8).
func TestTables(t *testing.T) {
	in := sample(t)
	in.Events = []Event{{Kind: "other", StartS: 1, EndS: 3.5, X: 0.5, Y: 0.25, Size: 730, Unit: "deg", Sentence: `It said "no", twice; and went on.`}}
	r, err := NewRun(in)
	if err != nil {
		t.Fatal(err)
	}
	r.Coverage.Known = Known{Beside[stats.Interval]{"reachable_share": {Lo: 0.1, Hi: 0.3}}, nil}
	all := func(u words.Unit) []CSVTable {
		return append(RunTables(r, in.Plan, u), FiguresTable([]*Run{r, r}, u), CurveTable([]SheetInput{{Run: r, Figure: in.FigureRun()}}, u))
	}
	feet := all(words.Foot)
	checked := map[string]int{}
	for i, m := range all(words.Metre) {
		a, b := cells(t, m), cells(t, feet[i])
		if len(a) < 2 {
			t.Errorf("%s has no rows", m.Name)
		}
		for j, name := range a[0] {
			factor := 1.0
			switch {
			case strings.Contains(name, "_m2"):
				factor = 0.09290304
			case strings.Contains(name+"_", "_m_"), strings.Contains(name, "_mps"):
				factor = 0.3048
			}
			if (factor != 1) == (name == b[0][j]) {
				t.Errorf("%s: column %s is called %s in feet", m.Name, name, b[0][j])
			}
			for k := 1; k < len(a); k++ {
				x, errx := strconv.ParseFloat(a[k][j], 64)
				y, erry := strconv.ParseFloat(b[k][j], 64)
				if errx != nil || erry != nil {
					if a[k][j] != b[k][j] {
						t.Errorf("%s, %s: %q and %q", m.Name, name, a[k][j], b[k][j])
					}
					continue
				}
				checked[m.Name]++
				if math.Abs(y*factor-x) > 1.1e-6 {
					t.Errorf("%s, %s: %v in metric units, %v in feet", m.Name, name, x, y)
				}
			}
		}
	}
	for _, name := range []string{"missed", "edges", "events", "figures", "curves"} {
		if checked[name] == 0 {
			t.Errorf("no number of %s was compared", name)
		}
	}
	head := FiguresTable([]*Run{r}, words.Metre)
	for i, name := range head.Head {
		if name == "reachable_share_low95" && head.Rows[0][i] != "0.1" {
			t.Errorf("%s is %q", name, head.Rows[0][i])
		}
	}
}
