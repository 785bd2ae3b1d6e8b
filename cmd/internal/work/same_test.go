package work

import (
	"bytes"
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/track"
)

// The same in gives the same out, byte for byte: from run to run, one recording
// at a time or two, in whatever order, and whatever was measured or failed
// before. The odd recordings are short and of every container; with SWATHE_LONG
// all of them and all of maple are measured.
func TestSameInSameOut(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("the eye is not named by SWATHE_EYE (bash cmd/test.sh builds it and names it)")
	}
	long := os.Getenv("SWATHE_LONG") != ""
	labs := map[string][]string{odd: {"cluttered/siskin_mapped_4", "cluttered/siskin_mapped_9", "cluttered/siskin_mapped_13", "cluttered/siskin_mapped_19"}}
	if long {
		labs = map[string][]string{odd: nil, maple: nil}
	}
	for from, names := range labs {
		t.Run(filepath.Base(from), func(t *testing.T) {
			first := measureCopy(t, eye, from, names, 1, false)
			second := measureCopy(t, eye, from, names, 2, true)
			if len(first) < 5 {
				t.Fatalf("only %d files came of it", len(first))
			}
			for name, a := range first {
				b, ok := second[name]
				switch {
				case !ok:
					t.Errorf("%s came of the first time only", name)
				case !bytes.Equal(a, b):
					t.Errorf("%s differs: %d and %d bytes", name, len(a), len(b))
				}
			}
			for name := range second {
				if _, ok := first[name]; !ok {
					t.Errorf("%s came of the second time only", name)
				}
			}
		})
	}
}

// measureCopy measures a copy of a lab from nothing and returns what lies in its
// results, by name. Left out is what says when something was done: the cache of
// hashes, the lock, and the time in the note of a failure.
func measureCopy(t *testing.T, eye, from string, names []string, jobs int, backwards bool) map[string][]byte {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	items, err := List(l, names)
	if err != nil {
		t.Fatal(err)
	}
	if backwards {
		slices.Reverse(items)
	}
	look := Eye{Measure: func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
		return track.Measure(ctx, eye, job, track.DefaultOptions(), tell)
	}}
	All(context.Background(), l, items, Options{Jobs: jobs, Anyway: true, Eye: look}, Watcher{})
	out := map[string][]byte{}
	err = filepath.WalkDir(l.ResultsDir(), func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, _ := filepath.Rel(l.ResultsDir(), p)
		if strings.HasPrefix(name, ".") && filepath.Dir(name) == "." {
			return nil
		}
		data, err := os.ReadFile(p)
		if strings.HasSuffix(name, ".failed.json") {
			lines := bytes.Split(data, []byte("\n"))
			data = bytes.Join(slices.DeleteFunc(lines, func(l []byte) bool { return bytes.Contains(l, []byte(`"when":`)) }), []byte("\n"))
		}
		out[name] = data
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(l.ResultsDir(), ".rooms")); err == nil {
		t.Error("measuring left a picture of the room behind")
	}
	return out
}
