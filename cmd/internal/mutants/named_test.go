package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestNamedAreThere holds that each change of the table can still be made: what it
// replaces stands once in its file.
func TestNamedAreThere(t *testing.T) {
	for _, m := range named {
		text, err := os.ReadFile(filepath.Join("../../..", m.file))
		if err != nil {
			t.Error(err)
		} else if n := strings.Count(string(text), m.old); n != 1 {
			t.Errorf("%s: %q stands %d times in %s", m.what, m.old, n, m.file)
		}
	}
}
