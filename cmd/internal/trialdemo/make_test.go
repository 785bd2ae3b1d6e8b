package trialdemo

import (
	"os"
	"path/filepath"
	"testing"

	"swathe/cmd/internal/bench"
	"swathe/cmd/internal/lab"
)

// What is made is a lab without a slip, the same each time, and its bench sheet
// is taken whole.
func TestMake(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	for _, dir := range []string{a, b} {
		if err := Make(dir); err != nil {
			t.Fatal(err)
		}
	}
	files := 0
	err := filepath.WalkDir(a, func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		files++
		rel, _ := filepath.Rel(a, p)
		x, err1 := os.ReadFile(p)
		y, err2 := os.ReadFile(filepath.Join(b, rel))
		if err1 != nil || err2 != nil || string(x) != string(y) {
			t.Errorf("%s is not the same when it is made again", rel)
		}
		return nil
	})
	if err != nil || files < 45 {
		t.Fatalf("%d files, %v", files, err)
	}
	l, err := lab.Open(a)
	if err != nil {
		t.Fatal(err)
	}
	runs, refused, err := l.Recordings()
	if err != nil || len(refused) > 0 || len(runs) != 44 {
		t.Fatalf("%d runs, refused %v, %v", len(runs), refused, err)
	}
	for _, r := range runs {
		if r.Notes.Conditions["operator"] == "" || r.Notes.Conditions["firmware"] == "" {
			t.Errorf("%s states %v", r.ID(), r.Notes.Conditions)
		}
	}
	f, err := os.Open(filepath.Join(a, BenchSheet))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rs, err := bench.ReadCSV(l, BenchSheet, f)
	if err != nil {
		t.Fatal(err)
	}
	s, err := bench.Open(l)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if got, err := s.Put(BenchSheet, rs, false); err != nil || got.Added != len(rs) || got.Added < 200 {
		t.Errorf("%+v, %v", got, err)
	}
}
