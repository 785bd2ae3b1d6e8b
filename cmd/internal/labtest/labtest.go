// Package labtest holds what tests of several packages do with a lab's folder.
package labtest

import (
	"os"
	"path/filepath"
	"testing"
)

// Put writes a file of a folder, such as recordings/hall/wren_single_1.csv, with the
// folders above it.
func Put(t testing.TB, dir, name, text string) {
	t.Helper()
	file := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
