package report_test

import (
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/compared"
	"swathe/report/words"
)

func TestRobotsFiles(t *testing.T) {
	dir, ids := report.SyntheticResults(t, 240)
	runs, unread := report.Indexed(dir, ids)
	st, no, err := compare.Standings(runs, compare.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	doc := compared.NewRobots(st, no, compare.Primary, unread, nil)
	if doc.Runs != 240 || len(doc.Groups) != 240 {
		t.Fatalf("%d runs, %d groups", doc.Runs, len(doc.Groups))
	}
	out := t.TempDir()
	if err := compared.WriteRobots(out, doc, words.Metre); err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(filepath.Join(out, "robots.json"))
	if err != nil {
		t.Fatal(err)
	}
	var back compared.Robots
	if err := report.Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(back.Groups[5].Runs, doc.Groups[5].Runs) || back.Groups[5].Figures[0].Mean != doc.Groups[5].Figures[0].Mean {
		t.Errorf("read back %+v", back.Groups[5])
	}
	// One run each: nobody has a rank, and the tables are ordered all the same.
	last := 2.0
	for _, g := range doc.Groups[:40] {
		at := slices.IndexFunc(g.Figures, func(p compared.RobotPlace) bool { return p.Figure == compare.Primary })
		if at < 0 {
			t.Fatalf("%s: no place", g.Name)
		}
		p := g.Figures[at]
		if p.Rank != nil || p.Mean > last {
			t.Errorf("%s: %+v after %g", g.Name, p, last)
		}
		last = p.Mean
	}
}

// BenchmarkRobots2000 reads 2,000 result folders, with and without an index,
// and writes the tables.
func BenchmarkRobots2000(b *testing.B) {
	dir, ids := report.SyntheticResults(b, 2000)
	out := b.TempDir()
	all := func() {
		runs, unread := report.Indexed(dir, ids)
		st, no, err := compare.Standings(runs, compare.DefaultOptions())
		if err != nil {
			b.Fatal(err)
		}
		if err := compared.WriteRobots(out, compared.NewRobots(st, no, compare.Primary, unread, nil), words.Metre); err != nil {
			b.Fatal(err)
		}
	}
	for _, c := range []struct {
		name string
		drop bool
	}{{"index=none", true}, {"index=there", false}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if c.drop {
					os.Remove(filepath.Join(dir, report.IndexFile))
				}
				start := time.Now()
				all()
				b.ReportMetric(time.Since(start).Seconds(), "s/last")
			}
		})
	}
}
