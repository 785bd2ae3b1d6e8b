package lab

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Each thing that can be changed behind the program's back is told, and nothing
// else; remembered hashes do not hide it.
func TestVerify(t *testing.T) {
	for _, c := range []struct {
		name, want string
		differ     bool
		change     func(t *testing.T, l *Lab, r Run, dir string) error
	}{
		{"nothing", "", false, func(*testing.T, *Lab, Run, string) error { return nil }},
		{"a figure", "run.json was changed", true, func(t *testing.T, l *Lab, r Run, dir string) error {
			return os.WriteFile(filepath.Join(dir, "run.json"), []byte("2"), 0o644)
		}},
		{"a file less", "run.json is missing", true, func(t *testing.T, l *Lab, r Run, dir string) error { return os.Remove(filepath.Join(dir, "run.json")) }},
		{"the recording, with its time put back", "is not the one that was measured", true, func(t *testing.T, l *Lab, r Run, dir string) error {
			st, err := os.Stat(r.Files[0])
			return errors.Join(err, os.WriteFile(r.Files[0], []byte("other"), 0o644), os.Chtimes(r.Files[0], st.ModTime(), st.ModTime()))
		}},
		{"the recording removed", "its recording, is gone", false, func(t *testing.T, l *Lab, r Run, dir string) error { return os.Remove(r.Files[0]) }},
		{"the set-up that is kept", "setup.yaml was changed", true, func(t *testing.T, l *Lab, r Run, dir string) error {
			return os.WriteFile(filepath.Join(dir, SetupName), []byte("robots: {}\n"), 0o644)
		}},
		{"lab.yaml", "lab.yaml has changed", false, func(t *testing.T, l *Lab, r Run, dir string) error { return l.Settings.Set("cell", "0.02") }},
		{"made.json", "made.json can't be read", true, func(t *testing.T, l *Lab, r Run, dir string) error {
			return os.WriteFile(filepath.Join(dir, MadeName), []byte("{"), 0o644)
		}},
		{"a name that leads out", "not in the lab's folder", true, func(t *testing.T, l *Lab, r Run, dir string) error {
			file := filepath.Join(dir, MadeName)
			raw, err := os.ReadFile(file)
			return errors.Join(err, os.WriteFile(file, []byte(strings.Replace(string(raw), "recordings/cluttered", "../recordings/cluttered", 1)), 0o644))
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, r := oneRun(t)
			err := l.WriteResult(r, mustStatus(t, l, r), func(dir string) error {
				return os.WriteFile(filepath.Join(dir, "run.json"), []byte("1"), 0o644)
			})
			if err != nil {
				t.Fatal(err)
			}
			if err := c.change(t, l, r, l.ResultDir(r.Layout, r.RunName.String())); err != nil {
				t.Fatal(err)
			}
			v, err := l.Verify(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			all := append(append([]Finding{}, v.Differ...), v.Notes...)
			if (c.want == "") != (len(all) == 0) || c.want != "" && !strings.Contains(all[0].What, c.want) || (len(v.Differ) > 0) != c.differ {
				t.Errorf("told: differ %v, notes %v", v.Differ, v.Notes)
			}
		})
	}
}
