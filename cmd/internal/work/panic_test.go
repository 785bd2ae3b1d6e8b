package work

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/track"
)

// Where the program itself fails the user reads one sentence, and the lines
// that its maintainers need lie in a file that the sentence names.
func TestStackGoesIntoTheReport(t *testing.T) {
	dir := t.TempDir()
	raw, err := os.ReadFile(filepath.Join(maple, "lab.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	film := filepath.Join(dir, "recordings", "cluttered", "siskin_mapped_1.mp4")
	if err = errors.Join(os.WriteFile(filepath.Join(dir, "lab.yaml"), raw, 0o644), os.MkdirAll(filepath.Dir(film), 0o755), os.WriteFile(film, raw, 0o644)); err != nil {
		t.Fatal(err)
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	items, err := List(l, nil)
	if err != nil {
		t.Fatal(err)
	}
	eye := Eye{Measure: func(context.Context, track.Job, func(track.Progress)) (*track.Result, error) {
		var none []int
		return nil, fmt.Errorf("%d", none[0])
	}}
	out := All(context.Background(), l, items[:1], Options{Eye: eye}, Watcher{})[0]
	if out.Kind != Failed || strings.Contains(out.Reason, "goroutine") || strings.Contains(out.Reason, "\n") {
		t.Errorf("the user reads (%s): %s", out.Kind, out.Reason)
	}
	_, file, found := strings.Cut(out.Reason, "A report for the maintainers is in ")
	if !found || !strings.Contains(out.Reason, "the program failed on this recording") {
		t.Fatalf("no report is named: %s", out.Reason)
	}
	if text, err := os.ReadFile(filepath.Join(l.Dir, file)); err != nil || !strings.Contains(string(text), "panic_test.go") {
		t.Errorf("the report does not say where it failed: %v %s", err, text)
	}
}
