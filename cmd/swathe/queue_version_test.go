package main

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
)

// A worker refuses recordings that a program of another analysis version put in,
// and says so; the queue counts them apart.
func TestOtherVersion(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "lab")
	pathLab(t, dir)
	swathe := func(want int, args ...string) string {
		t.Helper()
		var out bytes.Buffer
		if code := run(context.Background(), args, &out, &out); code != want {
			t.Fatalf("swathe %s ended with %d:\n%s", strings.Join(args, " "), code, out.String())
		}
		return out.String()
	}
	swathe(exitOK, "queue", dir, "add")
	db, err := sql.Open("sqlite", filepath.Join(dir, "results/.queue.sqlite"))
	must(t, err)
	defer db.Close()
	// As a program of the next version would have put them in. The version ends the
	// queue's name; a lab's own name may hold the same digits.
	ours, next := fmt.Sprintf("-%d", lab.AnalysisVersion), fmt.Sprintf("-%d", lab.AnalysisVersion+1)
	if _, err := db.Exec("update river_job set queue = substr(queue, 1, length(queue) - ?) || ?", len(ours), next); err != nil {
		t.Fatal(err)
	}
	said := swathe(exitWrong, "work", dir, "--until-empty")
	if !strings.Contains(said, "3 recordings wait for a program of another analysis version; this one refuses them. Use the same version of swathe everywhere") {
		t.Errorf("the worker said: %s", said)
	}
	if made, _ := filepath.Glob(filepath.Join(dir, "results/cluttered/*")); len(made) > 0 {
		t.Errorf("it measured %v", made)
	}
	if said := swathe(exitOK, "queue", dir); !strings.Contains(said, "3 recordings wait for swathe of another analysis version") {
		t.Errorf("the queue said: %s", said)
	}
}
