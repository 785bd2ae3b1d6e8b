package work

import (
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/labtest"
	"swathe/coverage/compare"
	"swathe/geom"
	"swathe/report"
	"swathe/report/compared"
)

const maple = "../../../testdata/maple"

// mapleLab makes a lab of testdata/maple whose recordings are its true paths.
func mapleLab(t testing.TB) *lab.Lab {
	t.Helper()
	dir := t.TempDir()
	raw, err := os.ReadFile(filepath.Join(maple, "lab.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	labtest.Put(t, dir, "lab.yaml", string(raw))
	runs, _ := filepath.Glob(maple + "/truth/cluttered/*/trace.csv")
	if len(runs) != 3 {
		t.Fatalf("testdata/maple has %d true paths, want 3", len(runs))
	}
	for _, file := range runs {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		b.WriteString("t_s,x_m,y_m,heading_deg\n")
		for _, r := range rows[1:] {
			h, err := strconv.ParseFloat(r[3], 64)
			if err != nil {
				t.Fatal(err)
			}
			fmt.Fprintf(&b, "%s,%s,%s,%.4f\n", r[0], r[1], r[2], geom.Degrees(h))
		}
		labtest.Put(t, dir, "recordings/cluttered/"+filepath.Base(filepath.Dir(file))+".csv", b.String())
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	l.Settings.Uncertainty.Draws, l.Settings.Uncertainty.BudgetDraws = 40, 10
	items, err := List(l, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range All(context.Background(), l, items, Options{Jobs: 2}, Watcher{}) {
		if o.Kind != Measured {
			t.Fatalf("%s: %s: %s", o.Run, o.Kind, o.Reason)
		}
	}
	return l
}

type mapleTruth struct {
	CoveredShare float64 `json:"covered_share"`
	Redundancy   float64 `json:"redundancy"`
	DistanceM    float64 `json:"distance_m"`
}

func truthOf(t *testing.T, run string) (v mapleTruth) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(maple, "truth/cluttered", run, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := report.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// Mapping against mapped runs 1 and 2: the differences are those of the program
// that drew the recordings, within 0.002 of a share and 0.03 of redundancy.
func TestCompareMaple(t *testing.T) {
	l := mapleLab(t)
	for _, trial := range []int{1, 2} {
		mapped := fmt.Sprintf("siskin_mapped_%d", trial)
		in, err := Compare(l, "test", []string{"cluttered/siskin_mapping_1", "cluttered/" + mapped}, compare.DefaultOptions())
		if err != nil {
			t.Fatalf("%v: %v", err, in.Doc.Refused)
		}
		a, b := truthOf(t, "siskin_mapping_1"), truthOf(t, mapped)
		got := map[string]float64{}
		for _, d := range in.Doc.Differ {
			got[d.Figure] = d.Value
		}
		for _, c := range []struct {
			figure    string
			want, tol float64
		}{{"covered_share", b.CoveredShare - a.CoveredShare, 0.002}, {"redundancy", b.Redundancy - a.Redundancy, 0.03}, {"distance_m", b.DistanceM - a.DistanceM, 0.1}} {
			t.Logf("mapped run %d less mapping run 1, %s: got %.5f, truth %.5f, off by %.5f, allowed %.3g", trial, c.figure, got[c.figure], c.want, got[c.figure]-c.want, c.tol)
			if !(math.Abs(got[c.figure]-c.want) <= c.tol) {
				t.Errorf("%s: got %g, truth %g", c.figure, got[c.figure], c.want)
			}
		}
	}
	ids, err := Pick(l, []string{"cluttered/*"})
	if err != nil {
		t.Fatal(err)
	}
	in, err := Compare(l, "all", ids, compare.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if len(in.Maps) != 3 || len(in.Line) != 3 || len(in.Doc.Joint) != 2 {
		t.Fatalf("%d maps, %d curves, %d joints", len(in.Maps), len(in.Line), len(in.Doc.Joint))
	}
	dir, err := l.WriteComparison("all", func(dir string) error { return compared.WriteComparison(dir, *in) })
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range []string{"comparison.json", "index.html", "runs.csv", "figures.csv", "differences.csv", "counts.csv", "together.csv", "never_covered.csv",
		"curves.png", "maps.png", "agreement.png", "together.png", "difference-1.png"} {
		if st, err := os.Stat(filepath.Join(dir, f)); err != nil || st.Size() == 0 {
			t.Errorf("%s: %v", f, err)
		}
	}
	raw, err := os.ReadFile(filepath.Join(dir, "comparison.json"))
	if err != nil {
		t.Fatal(err)
	}
	var back compared.Comparison
	if err := report.Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	if len(back.Runs) != 3 || !report.Measured(back.Runs[0].Values["covered_share"]) || !report.Measured(back.Runs[0].Interval95["covered_share"].Lo) {
		t.Errorf("read back: %+v", back.Runs)
	}
	page, err := os.ReadFile(filepath.Join(dir, "index.html"))
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"http://", "https://", "<script", "src=\"/"} {
		if strings.Contains(string(page), bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if out := os.Getenv("SWATHE_LOOK"); out != "" {
		if err := os.CopyFS(out, os.DirFS(dir)); err != nil {
			t.Fatal(err)
		}
	}
}

// BenchmarkCompare20 lays twenty runs side by side, files included.
func BenchmarkCompare20(b *testing.B) {
	l := mapleLab(b)
	var ids []string
	for i := 1; i <= 20; i++ {
		name := fmt.Sprintf("siskin_single_%d", i)
		to := l.ResultDir("cluttered", name)
		if err := os.CopyFS(to, os.DirFS(l.ResultDir("cluttered", fmt.Sprintf("siskin_mapped_%d", 1+i%2)))); err != nil {
			b.Fatal(err)
		}
		raw, err := os.ReadFile(filepath.Join(to, "run.json"))
		if err != nil {
			b.Fatal(err)
		}
		s := strings.Replace(string(raw), `"phase": "mapped"`, `"phase": "single"`, 1)
		s = strings.Replace(s, fmt.Sprintf(`"trial": %d`, 1+i%2), fmt.Sprintf(`"trial": %d`, i), 1)
		if err := os.WriteFile(filepath.Join(to, "run.json"), []byte(s), 0o644); err != nil {
			b.Fatal(err)
		}
		ids = append(ids, "cluttered/"+name)
	}
	for b.Loop() {
		start := time.Now()
		in, err := Compare(l, "bench", ids, compare.DefaultOptions())
		if err != nil {
			b.Fatal(err)
		}
		b.Logf("read and swept in %.2f s", time.Since(start).Seconds())
		if _, err := l.WriteComparison("bench", func(dir string) error { return compared.WriteComparison(dir, *in) }); err != nil {
			b.Fatal(err)
		}
	}
}
