package report

import (
	"math"
	"os"
	"path/filepath"
	"testing"
)

func kept(f *testing.F, name string) {
	f.Helper()
	if seeds, err := os.ReadDir("testdata/fuzz/" + name); err != nil || len(seeds) == 0 {
		f.Fatalf("the seeds are gone: %v", err)
	}
}

// FuzzParseTrace: what is read back of a path runs forward in time.
func FuzzParseTrace(f *testing.F) {
	kept(f, "FuzzParseTrace")
	f.Fuzz(func(t *testing.T, data []byte) {
		samples, err := parseTrace(data)
		if err != nil {
			return
		}
		last := math.Inf(-1)
		for i, s := range samples {
			if !(s.T > last) || math.IsInf(s.T+s.X+s.Y+s.Heading+s.Speed+s.Sigma, 0) || s.Speed < 0 || s.Sigma < 0 {
				t.Fatalf("sample %d let through: %+v after %g", i, s, last)
			}
			last = s.T
		}
	})
}

// FuzzReadRun: a run.json is read, or refused with its name.
func FuzzReadRun(f *testing.F) {
	kept(f, "FuzzReadRun")
	f.Fuzz(func(t *testing.T, data []byte) {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, RunFile), data, 0o644); err != nil {
			t.Fatal(err)
		}
		if r, err := ReadRun(dir); err == nil && r.Schema != Schema {
			t.Fatalf("schema %d let through", r.Schema)
		}
	})
}
