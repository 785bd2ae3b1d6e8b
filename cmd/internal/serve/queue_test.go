package serve

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func opened(t *testing.T, dir string) (*Desk, *strings.Builder) {
	t.Helper()
	said := &strings.Builder{}
	d, err := New(context.Background(), dir, DefaultOptions(), Eye{}, func(format string, args ...any) { said.WriteString(format + "\n") })
	if err != nil {
		t.Fatal(err)
	}
	return d, said
}

// The file of versions before River is read once: what was stopped stays stopped,
// through restarts too.
func TestOldQueueTakenOver(t *testing.T) {
	dir := t.TempDir()
	old := filepath.Join(dir, "results", oldQueue)
	if err := os.MkdirAll(filepath.Dir(old), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(old, []byte(`{"held": ["hall/rowan_single_1"], "again": ["hall/rowan_single_2"]}`), 0o644); err != nil {
		t.Fatal(err)
	}
	for start := range 2 {
		d, said := opened(t, dir)
		held, err := d.queue.Held(t.Context())
		if err != nil || len(held) != 1 || !held["hall/rowan_single_1"] {
			t.Errorf("start %d: held %v, %v", start, held, err)
		}
		if d.again["hall/rowan_single_2"] != (start == 0) {
			t.Errorf("start %d: again %v", start, d.again)
		}
		if err := d.Close(); err != nil {
			t.Fatal(err)
		}
		if said.Len() > 0 {
			t.Errorf("start %d said %s", start, said)
		}
	}
	if _, err := os.Stat(old); err == nil {
		t.Error("the old file is still there")
	}
}

// A queue that is no database is put aside, and one that can't be written is kept
// in memory: the page opens all the same, and says so.
func TestQueueThatCannotBeUsed(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "results", ".queue.sqlite")
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(strings.Repeat("no database ", 1000)), 0o644); err != nil {
		t.Fatal(err)
	}
	d, said := opened(t, dir)
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(said.String(), "put aside") || d.queue.Memory {
		t.Errorf("said %q", said)
	}
	if _, err := os.Stat(file + ".damaged"); err != nil {
		t.Error(err)
	}
	// A folder where the file should be, and where the damaged one would go.
	dir = t.TempDir()
	for _, name := range []string{".queue.sqlite/x", ".queue.sqlite.damaged/y"} {
		if err := os.MkdirAll(filepath.Join(dir, "results", name), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	d, said = opened(t, dir)
	if err := d.queue.Hold(t.Context(), "hall/rowan_single_1"); err != nil {
		t.Error(err)
	}
	if err := d.Close(); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(said.String(), "can't be kept") || !d.queue.Memory {
		t.Errorf("said %q", said)
	}
}
