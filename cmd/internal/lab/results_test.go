package lab

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// oneRun is a lab with one path to measure.
func oneRun(t *testing.T) (*Lab, Run) {
	t.Helper()
	l := openGood(t)
	put(t, l, map[string]string{"cluttered/plover_mapped_1.csv": "first"})
	runs, _, err := l.Recordings()
	if err != nil || len(runs) != 1 {
		t.Fatalf("%d runs, %v", len(runs), err)
	}
	return l, runs[0]
}

func mustStatus(t *testing.T, l *Lab, r Run) Status {
	t.Helper()
	s, err := l.Status(r)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func writeText(text string) func(string) error {
	return func(dir string) error {
		return os.WriteFile(filepath.Join(dir, "figures"), []byte(text), 0o644)
	}
}

func figures(t *testing.T, l *Lab, r Run) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(l.ResultDir(r.Layout, r.RunName.String()), "figures"))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func TestStatus(t *testing.T) {
	l, r := oneRun(t)
	file := r.Files[0]
	s := mustStatus(t, l, r)
	if s.Verdict != Fresh {
		t.Fatalf("a new recording: %+v", s)
	}
	if err := l.WriteResult(r, s, writeText("1")); err != nil {
		t.Fatal(err)
	}
	l.SaveHashes()
	if s = mustStatus(t, l, r); s.Verdict != UpToDate || s.Differs {
		t.Errorf("just measured: %+v", s)
	}

	// Touched but the same: its hash tells. (The time is set far off, so that a
	// coarse clock of the file system does not hide it.)
	if err := os.Chtimes(file, time.Time{}, time.Now().Add(-time.Hour)); err != nil {
		t.Fatal(err)
	}
	if s = mustStatus(t, l, r); s.Verdict != UpToDate {
		t.Errorf("touched: %+v", s)
	}

	// Changed in content.
	if err := os.WriteFile(file, []byte("other"), 0o644); err != nil {
		t.Fatal(err)
	}
	if s = mustStatus(t, l, r); s.Verdict != OutOfDate || s.Why != "the recording changed" {
		t.Errorf("changed: %+v", s)
	}
	if err := l.WriteResult(r, s, writeText("2")); err != nil {
		t.Fatal(err)
	}
	if figures(t, l, r) != "2" {
		t.Errorf("the older result stayed")
	}

	// Other notes: those that figures rest on make it out of date, other conditions
	// are only to be written anew.
	start := r.Notes.Start
	for _, change := range []func(){func() { r.Notes.Start = 3 }, func() { r.Notes.Conditions["sample"] = "b" }} {
		change()
		if s = mustStatus(t, l, r); s.Verdict != OutOfDate || s.Why != "the notes about the recording changed" {
			t.Errorf("other notes: %+v", s)
		}
		r.Notes.Start = start
		delete(r.Notes.Conditions, "sample")
	}
	r.Notes.Conditions["mode"] = "quiet"
	if s = mustStatus(t, l, r); s.Verdict != UpToDate || !s.Labels {
		t.Errorf("another mode: %+v", s)
	}
	if err := l.Relabel(r, s, writeText("2 quiet")); err != nil {
		t.Fatal(err)
	}
	if s = mustStatus(t, l, r); s.Verdict != UpToDate || s.Labels || s.Differs || figures(t, l, r) != "2 quiet" {
		t.Errorf("relabelled: %+v, %s", s, figures(t, l, r))
	}
	delete(r.Notes.Conditions, "mode")
	if s = mustStatus(t, l, r); !s.Labels {
		t.Errorf("the mode taken back: %+v", s)
	} else if err := l.Relabel(r, s, writeText("2")); err != nil {
		t.Fatal(err)
	}

	// Another set-up: up to date, but told.
	l.Robots["plover"].Height = 0.08
	if s = mustStatus(t, l, r); s.Verdict != UpToDate || !s.Differs {
		t.Errorf("another set-up: %+v", s)
	}
	if d, err := l.Differing(); err != nil || len(d) != 1 || d[0] != "cluttered/plover_mapped_1" {
		t.Errorf("differing: %v, %v", d, err)
	}

	// A result made by another version of the analysis.
	made := filepath.Join(l.ResultDir(r.Layout, r.RunName.String()), MadeName)
	data, err := os.ReadFile(made)
	if err != nil {
		t.Fatal(err)
	}
	old := strings.Replace(string(data), `"analysis": `, `"analysis": 9`, 1)
	if err := os.WriteFile(made, []byte(old), 0o644); err != nil {
		t.Fatal(err)
	}
	if s = mustStatus(t, l, r); s.Verdict != OutOfDate || s.Why != "the program's analysis has changed" {
		t.Errorf("another version: %+v", s)
	}
}

func TestFailureIsNotTriedForEver(t *testing.T) {
	l, r := oneRun(t)
	fail := func() {
		t.Helper()
		if err := l.WriteFailure(r, mustStatus(t, l, r), "no robot", "Nothing was seen.", 12.5); err != nil {
			t.Fatal(err)
		}
		if s := mustStatus(t, l, r); s.Verdict != FailedBefore || s.Why != "Nothing was seen." || s.Failed.TimeS == nil || *s.Failed.TimeS != 12.5 {
			t.Fatalf("just failed: %+v", s)
		}
	}
	fail()
	l.Robots["plover"].Height = 0.08
	if s := mustStatus(t, l, r); s.Verdict != Fresh {
		t.Errorf("another set-up: %+v", s)
	}
	fail()
	r.Notes.Start = 3
	if s := mustStatus(t, l, r); s.Verdict != Fresh {
		t.Errorf("other notes: %+v", s)
	}
	fail()
	if err := os.WriteFile(r.Files[0], []byte("copied whole now"), 0o644); err != nil {
		t.Fatal(err)
	}
	s := mustStatus(t, l, r)
	if s.Verdict != Fresh {
		t.Errorf("another recording: %+v", s)
	}
	if err := l.WriteResult(r, s, writeText("1")); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(l.failedFile(r.Layout, r.RunName.String())); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the failure stands beside the result: %v", err)
	}
	if err := l.WriteFailure(r, s, "no robot", "x", math.NaN()); err != nil {
		t.Fatal(err)
	}
	if figures(t, l, r) != "1" {
		t.Errorf("a failure took the older result away")
	}
}

// Whatever stops the writing, the older result is there whole.
func TestResultWholeOrNotAtAll(t *testing.T) {
	l, r := oneRun(t)
	s := mustStatus(t, l, r)
	if err := l.WriteResult(r, s, writeText("1")); err != nil {
		t.Fatal(err)
	}
	half := errors.New("half")
	err := l.WriteResult(r, s, func(dir string) error {
		if err := writeText("2")(dir); err != nil {
			return err
		}
		return half
	})
	if !errors.Is(err, half) || figures(t, l, r) != "1" {
		t.Errorf("%v; figures %q", err, figures(t, l, r))
	}
	parent := filepath.Dir(l.ResultDir(r.Layout, r.RunName.String()))
	if hidden, _ := filepath.Glob(filepath.Join(parent, ".*")); len(hidden) > 0 {
		t.Errorf("left behind: %v", hidden)
	}

	// Killed between the two renames: the older one lies aside and is put back.
	target := l.ResultDir(r.Layout, r.RunName.String())
	aside := filepath.Join(parent, ".plover_mapped_1"+".aside-"+"4711")
	building := filepath.Join(parent, ".plover_mapped_1"+".building-"+"4711")
	if err := os.Rename(target, aside); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(building, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := l.Tidy(); err != nil {
		t.Fatal(err)
	}
	if figures(t, l, r) != "1" {
		t.Errorf("the older result was not put back")
	}
	// Killed after them: the newer one stays.
	if err := os.CopyFS(aside, os.DirFS(target)); err != nil {
		t.Fatal(err)
	}
	if err := writeText("3")(target); err != nil {
		t.Fatal(err)
	}
	if err := l.Tidy(); err != nil {
		t.Fatal(err)
	}
	if hidden, _ := filepath.Glob(filepath.Join(parent, ".*")); len(hidden) > 0 || figures(t, l, r) != "3" {
		t.Errorf("left behind: %v; figures %q", hidden, figures(t, l, r))
	}
}

func TestTidyForgetsRecordingsThatAreGone(t *testing.T) {
	l, r := oneRun(t)
	if err := l.WriteFailure(r, mustStatus(t, l, r), "no robot", "x", math.NaN()); err != nil {
		t.Fatal(err)
	}
	note := l.failedFile(r.Layout, r.RunName.String())
	if err := l.Tidy(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(note); err != nil {
		t.Errorf("forgotten while the recording is there: %v", err)
	}
	if err := os.Remove(r.Files[0]); err != nil {
		t.Fatal(err)
	}
	if err := l.Tidy(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(note); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("kept though the recording is gone: %v", err)
	}
}

// A file where a folder should be, at each level.
func TestCannotWrite(t *testing.T) {
	l, r := oneRun(t)
	s := mustStatus(t, l, r)
	layout := filepath.Dir(l.ResultDir(r.Layout, r.RunName.String()))
	for _, file := range []string{l.ResultsDir(), layout} {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, nil, 0o644); err != nil {
			t.Fatal(err)
		}
		const want = "there is a file in place of a folder"
		if err := l.WriteResult(r, s, writeText("1")); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", file, err)
		}
		if err := l.WriteFailure(r, s, "x", "y", math.NaN()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", file, err)
		}
		if err := os.Remove(file); err != nil {
			t.Fatal(err)
		}
	}
}

// A damaged cache of hashes or made.json costs time and nothing else.
func TestDamagedKeepings(t *testing.T) {
	l, r := oneRun(t)
	if err := l.WriteResult(r, mustStatus(t, l, r), writeText("1")); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(l.ResultsDir(), hashFile), []byte("{broken"), 0o644); err != nil {
		t.Fatal(err)
	}
	again, err := Open(l.Dir)
	if err != nil {
		t.Fatal(err)
	}
	if s := mustStatus(t, again, r); s.Verdict != UpToDate {
		t.Errorf("with a damaged cache: %+v", s)
	}
	if err := os.WriteFile(filepath.Join(l.ResultDir(r.Layout, r.RunName.String()), MadeName), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if s := mustStatus(t, again, r); s.Verdict != OutOfDate {
		t.Errorf("with a damaged %s: %+v", MadeName, s)
	}
}

// A second program is kept off while the lab is locked, and not by what a
// crashed one left behind.
func TestLock(t *testing.T) {
	if dir := os.Getenv("SWATHE_TEST_LOCK"); dir != "" {
		l, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := l.Lock(); err != nil {
			t.Fatal(err)
		}
		os.Exit(0) // dies with the lock in hand
	}
	l := openGood(t)
	release, err := l.Lock()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := l.Lock(); err == nil || !strings.Contains(err.Error(), "being measured by process") {
		t.Errorf("locked twice: %v", err)
	}
	release()
	crash := exec.Command(os.Args[0], "-test.run=^TestLock$")
	crash.Env = append(os.Environ(), "SWATHE_TEST_LOCK="+l.Dir)
	if out, err := crash.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	if data, err := os.ReadFile(filepath.Join(l.ResultsDir(), lockFile)); err != nil || len(data) == 0 {
		t.Fatalf("the other program left no lock behind: %v", err)
	}
	if release, err = l.Lock(); err != nil {
		t.Fatalf("a lock left behind keeps everybody off: %v", err)
	}
	release()
}
