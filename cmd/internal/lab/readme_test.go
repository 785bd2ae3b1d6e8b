package lab

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The lab.yaml that the help page of the lab shows is one that a tester can begin with: it is
// read without complaint, and its camera can be solved.
func TestHelpShowsALab(t *testing.T) {
	text, err := os.ReadFile("../../../report/docs/lab.md")
	if err != nil {
		t.Fatal(err)
	}
	_, after, ok := strings.Cut(string(text), "\n    cameras:\n")
	if !ok {
		t.Fatal("the page shows no lab.yaml")
	}
	doc := "cameras:\n"
	for _, line := range strings.Split(after, "\n") {
		if line != "" && !strings.HasPrefix(line, "    ") {
			break
		}
		doc += strings.TrimPrefix(line, "    ") + "\n"
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, SetupFile), []byte(doc), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Layouts) != 1 || len(l.Robots) != 1 || len(l.Cameras) != 1 {
		t.Errorf("%d layouts, %d robots, %d cameras: one each is shown", len(l.Layouts), len(l.Robots), len(l.Cameras))
	}
	for name := range l.Cameras {
		sol, err := l.Solve(name, nil)
		if err != nil {
			t.Fatal(err)
		}
		if sol.MarkRMSPx > 1 || len(sol.Warnings) > 0 {
			t.Errorf("its marks fit to %.2f px, with warnings %q", sol.MarkRMSPx, sol.Warnings)
		}
	}
}
