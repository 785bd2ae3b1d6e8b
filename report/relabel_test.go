package report

import (
	"os"
	"path/filepath"
	"testing"
)

// Other conditions in a result change nothing else, not even what this program does
// not know.
func TestRelabel(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, RunFile)
	text := "{\n  \"schema\": 2,\n  \"conditions\": {\n    \"light\": \"dimm\"\n  },\n  \"odd\": [\n    0.100,\n    1e3\n  ],\n  \"tool\": \"a \\u003c b\"\n}\n"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, want := range []map[string]string{{"light": "dim", "note": "late"}, {}} {
		if err := Relabel(dir, want); err != nil {
			t.Fatal(err)
		}
	}
	got, _ := os.ReadFile(file)
	if s := "{\n  \"schema\": 2,\n  \"conditions\": {},\n  \"odd\": [\n    0.100,\n    1e3\n  ],\n  \"tool\": \"a \\u003c b\"\n}\n"; string(got) != s {
		t.Errorf("%s\nwant\n%s", got, s)
	}
	if err := os.WriteFile(file, []byte("[]"), 0o644); err != nil {
		t.Fatal(err)
	}
	if Relabel(dir, nil) == nil {
		t.Error("what is no result is taken for one")
	}
}
