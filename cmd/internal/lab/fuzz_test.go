package lab

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// kept fails where the seeds of a fuzz target are gone: without them it tests nothing.
func kept(f *testing.F, name string) {
	f.Helper()
	if seeds, err := os.ReadDir("testdata/fuzz/" + name); err != nil || len(seeds) == 0 {
		f.Fatalf("the seeds are gone: %v", err)
	}
}

// FuzzNotes: notes are taken with numbers that mean something, or refused with a place.
func FuzzNotes(f *testing.F) {
	kept(f, "FuzzNotes")
	good, err := os.ReadFile("testdata/lab.yaml")
	if err != nil {
		f.Fatal(err)
	}
	l, err := OpenText(f.TempDir(), good)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		var p *Problems
		if err := l.CheckNotes("x.yaml", data); errors.As(err, &p) && len(p.List) == 0 {
			t.Error("refused for no reason")
		}
	})
}

// FuzzRunSheet: no row is let through that is no row.
func FuzzRunSheet(f *testing.F) {
	kept(f, "FuzzRunSheet")
	good, err := os.ReadFile("testdata/lab.yaml")
	if err != nil {
		f.Fatal(err)
	}
	dir := f.TempDir()
	l, err := OpenText(dir, good)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 1<<16 {
			return
		}
		if err := os.WriteFile(filepath.Join(dir, "runs.csv"), data, 0o644); err != nil {
			t.Fatal(err)
		}
		rows, _ := l.runSheet("runs.csv")
		seen := map[string]bool{}
		for _, r := range rows {
			if seen[r.file] {
				t.Errorf("%q twice", r.file)
			}
			seen[r.file] = true
			if n := r.notes; math.IsInf(n.Start, 0) || math.IsInf(n.End, 0) || n.Start < 0 {
				t.Errorf("%q: from %g to %g s", r.file, n.Start, n.End)
			}
			if err := r.notes.check(); err == nil {
				for _, c := range r.notes.Carried {
					if !(c.From < c.To) || math.IsInf(c.To, 0) {
						t.Errorf("%q: carried %+v", r.file, c)
					}
				}
			}
		}
	})
}
