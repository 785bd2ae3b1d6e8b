package lab

import (
	"fmt"
	"strings"
	"testing"
)

// A mistyped mark leaves the camera and is named at its line, in the set-up as
// opened and as the page tries it.
func TestMistypedMark(t *testing.T) {
	const was, is = `"floor": [2.1, 1.1]`, `"floor": [21, 1.1]`
	text := strings.Replace(goodLab(t), was, is, 1)
	want := fmt.Sprintf("%s:%d: mark 8 does not fit: by the other marks it is at 2.10, 1.10, not at 21, 1.1", SetupFile, 1+strings.Count(text[:strings.Index(text, is)], "\n"))
	l, err := Open(labDir(t, text))
	if err != nil {
		t.Fatal(err)
	}
	s, err := l.Solve("ceiling", nil)
	if err != nil || !strings.Contains(strings.Join(s.Warnings, "\n"), want) {
		t.Errorf("opened: %v %q, want %q", err, s.Warnings, want)
	}
	c := TryCameras(t.Context(), t.TempDir(), []byte(text))["ceiling"]
	if c.Solution == nil || !strings.Contains(strings.Join(c.Solution.Warnings, "\n"), want) {
		t.Errorf("tried: %v, want %q", c.Err, want)
	}
}
