package export

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// A file that fails midway leaves what stood there before, and nothing beside it.
func TestFileWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	e := &exporter{dir: dir, out: &Outcome{}}
	put := func(text string, fail error) error {
		return e.file("a.csv", "", func(w io.Writer) error {
			if _, err := io.WriteString(w, text); err != nil {
				return err
			}
			return fail
		})
	}
	if err := put("first", nil); err != nil {
		t.Fatal(err)
	}
	if err := put("half", errors.New("disk full")); err == nil {
		t.Error("a failed write was not told")
	}
	got, err := os.ReadFile(filepath.Join(dir, "a.csv"))
	if err != nil || string(got) != "first" {
		t.Errorf("after a failed write the file holds %q, %v; want what stood there before", got, err)
	}
	if files, _ := os.ReadDir(dir); len(files) != 1 || len(e.out.Files) != 1 {
		t.Errorf("%d files in the folder, %d told; want 1 and 1", len(files), len(e.out.Files))
	}
}
