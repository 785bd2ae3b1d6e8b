package lab

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"swathe/cmd/internal/disk"
	"swathe/track"
)

// AnalysisVersion is raised whenever the same recording would give other
// figures than before; results of a lower version are out of date.
const AnalysisVersion = 7

// Names of files that the lab itself keeps in a result, beside the report's.
const (
	SetupName    = "setup.yaml"   // the set-up of the day, see Lab.Setup
	MadeName     = "made.json"    // what the result was made from
	FailedSuffix = ".failed.json" // ends the name of the note of a failure, beside the folder of a result
)

// made is what a result or a failure was made from: it is up to date as long as
// these stay the same.
type made struct {
	Analysis    int      `json:"analysis"`
	Files       []string `json:"files"`  // names from the lab's folder
	SHA256      []string `json:"sha256"` // of each file
	NotesSHA256 string   `json:"notes_sha256"`
	// MeasuredSHA256 is of those notes that figures rest on; empty in results of
	// before it was kept.
	MeasuredSHA256 string `json:"measured_notes_sha256,omitempty"`
	SetupSHA256    string `json:"setup_sha256"`
	Camera         string `json:"camera"` // the one that looked
	// Results holds the hash of every file of the result but this one; empty in
	// results of before it was kept.
	Results map[string]string `json:"results_sha256,omitempty"`
}

// Failed is a recording that could not be measured, as kept in .failed.json.
type Failed struct {
	Schema int      `json:"schema"`
	Run    string   `json:"run"`
	Kind   string   `json:"kind"`   // class of the reason, such as "no robot"
	Reason string   `json:"reason"` // whole sentences
	TimeS  *float64 `json:"time_s"` // in the recording where it went wrong; null if it has no time
	When   string   `json:"when"`   // RFC 3339
	made
}

// Verdict says whether a run needs to be measured.
type Verdict int

// The verdicts.
const (
	Fresh        Verdict = iota // never measured
	UpToDate                    // a result is there and belongs to this recording
	OutOfDate                   // a result is there and its recording, notes or version changed
	FailedBefore                // it could not be measured, and nothing has changed since
)

// Status is what is known about a run before it is measured.
type Status struct {
	Verdict Verdict
	Why     string // of OutOfDate: what changed; of FailedBefore: the reason
	Failed  *Failed
	Differs bool // the result belongs to another set-up than today's
	Labels  bool // the result is up to date but for its conditions, see Relabel
	made    made
	was     made
}

// ResultsDir is the folder of results.
func (l *Lab) ResultsDir() string { return filepath.Join(l.Dir, "results") }

// ResultDir is the folder of one run's result.
func (l *Lab) ResultDir(layout, run string) string {
	return filepath.Join(l.ResultsDir(), layout, run)
}

func (l *Lab) failedFile(layout, run string) string { return l.ResultDir(layout, run) + FailedSuffix }

// unfinishedMark ends the name of the folder in which swathe-eye keeps how far it is
// with a run.
const unfinishedMark = ".unfinished"

// UnfinishedDir is where swathe-eye keeps how far it is with a run.
func (l *Lab) UnfinishedDir(r Run) string {
	return filepath.Join(l.ResultsDir(), r.Layout, "."+r.RunName.String()+unfinishedMark)
}

// DropUnfinished removes what swathe-eye kept of a run.
func (l *Lab) DropUnfinished(r Run) { os.RemoveAll(l.UnfinishedDir(r)) }

// unfinishedFor is how long what swathe-eye kept waits for somebody to go on with it.
const unfinishedFor = 7 * 24 * time.Hour

// tidyUnfinished removes what swathe-eye kept of recordings that are gone, and what
// nobody went on with.
func tidyUnfinished(dir string) error {
	kept, _ := filepath.Glob(filepath.Join(dir, ".*"+unfinishedMark))
	for _, k := range kept {
		st, err := os.Stat(k)
		if err == nil && time.Since(st.ModTime()) < unfinishedFor && recordingsThere(filepath.Join(k, "state")) {
			continue
		}
		if err := os.RemoveAll(k); err != nil {
			return err
		}
	}
	return nil
}

// recordingsThere tells whether a recording is there of which swathe-eye kept a state.
func recordingsThere(state string) bool {
	f, err := os.Open(state)
	if err != nil {
		return false
	}
	defer f.Close()
	var far struct{ Files []string }
	return json.NewDecoder(f).Decode(&far) == nil && slices.ContainsFunc(far.Files, func(file string) bool {
		_, err := os.Stat(file)
		return err == nil
	})
}

// Status tells whether a run needs to be measured. It reads the recording only
// if its size or time of change are new.
func (l *Lab) Status(r Run) (Status, error) {
	var s Status
	now, err := l.madeOf(r)
	if err != nil {
		return s, err
	}
	s.made = now
	var was made
	dir := l.ResultDir(r.Layout, r.RunName.String())
	ok, err := readJSON(filepath.Join(dir, MadeName), &was)
	if err != nil {
		return s, err
	}
	if ok {
		setup, err := os.ReadFile(filepath.Join(dir, SetupName))
		s.Differs = err == nil && hashOf(setup) != now.SetupSHA256
		if why := changed(was, now); why != "" {
			s.Verdict, s.Why = OutOfDate, why
		} else {
			s.Verdict, s.Labels, s.was = UpToDate, was.NotesSHA256 != now.NotesSHA256, was
		}
	} else if _, err := os.Stat(dir); err == nil {
		s.Verdict, s.Why = OutOfDate, "its folder lacks "+MadeName
	}
	if s.Verdict == UpToDate {
		return s, nil
	}
	var f Failed
	if ok, err = readJSON(l.failedFile(r.Layout, r.RunName.String()), &f); err != nil {
		return s, err
	}
	if ok && changed(f.made, now) == "" && f.SetupSHA256 == now.SetupSHA256 {
		s.Verdict, s.Why, s.Failed = FailedBefore, f.Reason, &f
	}
	return s, nil
}

// Signature changes when a run's notes or set-up do, or when its result or the
// note of its failure comes or goes; it does not read the recording.
func (l *Lab) Signature(r Run) string {
	sig := hashOf([]byte(r.Notes.text())) + l.SetupHash(r.Layout, r.Robot, l.CameraOf(r))
	for _, f := range []string{filepath.Join(l.ResultDir(r.Layout, r.RunName.String()), MadeName), l.failedFile(r.Layout, r.RunName.String())} {
		if st, err := os.Stat(f); err == nil {
			sig += fmt.Sprint(" ", st.ModTime().UnixNano())
		} else {
			sig += " none"
		}
	}
	return sig
}

func changed(was, now made) string {
	switch {
	case was.Analysis != now.Analysis:
		return "the program's analysis has changed"
	case !slices.Equal(was.SHA256, now.SHA256):
		return "the recording changed"
	case was.NotesSHA256 != now.NotesSHA256 && was.MeasuredSHA256 != now.MeasuredSHA256:
		return "the notes about the recording changed"
	}
	return ""
}

func (l *Lab) madeOf(r Run) (made, error) {
	m := made{Analysis: AnalysisVersion, NotesSHA256: hashOf([]byte(r.Notes.text())), MeasuredSHA256: hashOf([]byte(r.Notes.measured())), Camera: l.CameraOf(r)}
	m.SetupSHA256 = l.SetupHash(r.Layout, r.Robot, m.Camera)
	for _, f := range r.Files {
		h, err := l.hashes.Sum(f)
		if err != nil {
			return m, fmt.Errorf("%s can't be read: %w", l.rel(f), err)
		}
		m.Files = append(m.Files, l.rel(f))
		m.SHA256 = append(m.SHA256, h)
	}
	return m, nil
}

// readJSON reads a file that the program wrote; ok is false if it is not there
// or no longer makes sense, which costs one measurement more.
func readJSON(file string, into any) (ok bool, err error) {
	data, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) || err != nil && errors.Is(err, syscall.ENOTDIR) {
		return false, nil
	} else if err != nil {
		return false, err
	}
	return json.Unmarshal(data, into) == nil, nil
}

// WriteResult makes the result of a run: fill writes the files of the report
// into an empty folder that then takes its place. An earlier failure is
// forgotten. The error is a sentence.
func (l *Lab) WriteResult(r Run, s Status, fill func(dir string) error) error {
	target := l.ResultDir(r.Layout, r.RunName.String())
	err := disk.ReplaceDir(target, func(dir string) error {
		if err := fill(dir); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, SetupName), l.Setup(r.Layout, r.Robot, s.made.Camera), 0o644); err != nil {
			return err
		}
		return writeMade(dir, s.made)
	})
	if err != nil {
		return disk.Explain(l.rel(target), err)
	}
	_ = os.Remove(target + ReportSuffix)
	if err := os.Remove(l.failedFile(r.Layout, r.RunName.String())); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return disk.Explain(l.rel(filepath.Dir(target)), err)
	}
	return nil
}

// TakeResult makes the result of a run of files that fill brings from elsewhere,
// made.json among them: each is held against the hash that stands there. The error
// is a sentence.
func (l *Lab) TakeResult(layout, run string, fill func(dir string) error) error {
	target := l.ResultDir(layout, run)
	err := disk.ReplaceDir(target, func(dir string) error {
		if err := fill(dir); err != nil {
			return err
		}
		var m made
		if ok, err := readJSON(filepath.Join(dir, MadeName), &m); err != nil || !ok || len(m.Results) == 0 {
			return errors.Join(fmt.Errorf("its %s is damaged", MadeName), err)
		}
		for f, want := range m.Results {
			if !filepath.IsLocal(filepath.FromSlash(f)) {
				return fmt.Errorf("its %s names %q", MadeName, f)
			}
			if got, err := track.HashFile(filepath.Join(dir, filepath.FromSlash(f))); err != nil || got != want {
				return errors.Join(fmt.Errorf("its %s is damaged", f), err)
			}
		}
		return nil
	})
	if err != nil {
		return disk.Explain(l.rel(target), err)
	}
	_ = os.Remove(target + ReportSuffix)
	if err := os.Remove(l.failedFile(layout, run)); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return disk.Explain(l.rel(filepath.Dir(target)), err)
	}
	return nil
}

// writeMade notes in a result's folder what it was made of, and the hashes of its
// files.
func writeMade(dir string, m made) error {
	m.Results = map[string]string{}
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == MadeName {
			return err
		}
		rel, err := filepath.Rel(dir, p)
		if err != nil {
			return err
		}
		m.Results[filepath.ToSlash(rel)], err = track.HashFile(p)
		return err
	})
	if err != nil {
		return err
	}
	data, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, MadeName), append(data, '\n'), 0o644)
}

// Relabel keeps a result whose recording, notes and set-up all are as they were,
// and has patch write today's conditions into a copy of its folder that then takes
// its place: a slip in them costs no measuring. The error is a sentence.
func (l *Lab) Relabel(r Run, s Status, patch func(dir string) error) error {
	target := l.ResultDir(r.Layout, r.RunName.String())
	err := disk.ReplaceDir(target, func(dir string) error {
		if err := os.CopyFS(dir, os.DirFS(target)); err != nil {
			return err
		}
		if err := patch(dir); err != nil {
			return err
		}
		s.was.NotesSHA256 = s.made.NotesSHA256
		return writeMade(dir, s.was)
	})
	if err != nil {
		return disk.Explain(l.rel(target), err)
	}
	return nil
}

// WriteFailure notes that a run could not be measured. A result of before is
// left where it is.
func (l *Lab) WriteFailure(r Run, s Status, kind, reason string, t float64) error {
	f := Failed{Schema: 1, Run: r.ID(), Kind: kind, Reason: reason, When: time.Now().UTC().Format(time.RFC3339), made: s.made}
	if !math.IsNaN(t) {
		f.TimeS = &t
	}
	return l.writeFailed(l.failedFile(r.Layout, r.RunName.String()), f)
}

// ReportSuffix ends the name of a report for the program's maintainers, beside the
// folder of a result.
const ReportSuffix = ".report.txt"

// WriteCrash writes what the program's maintainers need to know of a crash
// beside the note of the failure, and returns where, from the lab's folder.
func (l *Lab) WriteCrash(r Run, text string) (string, error) {
	file := l.ResultDir(r.Layout, r.RunName.String()) + ReportSuffix
	err := os.MkdirAll(filepath.Dir(file), 0o755)
	if err == nil {
		err = disk.Put(file, []byte(text))
	}
	return l.rel(file), disk.Explain(l.rel(filepath.Dir(file)), err)
}

// WriteRefusal notes a recording that is no run.
func (l *Lab) WriteRefusal(r Refusal) error {
	f := Failed{Schema: 1, Run: r.ID(), Kind: "not a run", Reason: r.Message, When: time.Now().UTC().Format(time.RFC3339)}
	f.Analysis = AnalysisVersion
	for _, file := range r.Files {
		f.Files = append(f.Files, l.rel(file))
		h, err := l.hashes.Sum(file)
		if err != nil {
			h = ""
		}
		f.SHA256 = append(f.SHA256, h)
	}
	name := l.failedFile(r.Layout, r.Name)
	var old Failed
	if ok, _ := readJSON(name, &old); ok && old.Reason == f.Reason && slices.Equal(old.SHA256, f.SHA256) {
		return nil // it stands there already
	}
	return l.writeFailed(name, f)
}

func (l *Lab) writeFailed(name string, f Failed) error {
	data, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return err
	}
	err = os.MkdirAll(filepath.Dir(name), 0o755)
	if err == nil {
		err = disk.Put(name, append(data, '\n'))
	}
	return disk.Explain(l.rel(filepath.Dir(name)), err)
}

// Tidy removes what interrupted runs left behind, and the notes of failures
// whose recordings are gone. Call it with the lab locked.
func (l *Lab) Tidy() error {
	layouts, err := os.ReadDir(l.ResultsDir())
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return disk.Explain("results", err)
	}
	for _, dir := range []string{l.ResultsDir(), l.ComparisonsDir()} {
		if err := disk.Tidy(dir); err != nil {
			return disk.Explain(l.rel(dir), err)
		}
	}
	dirs := []string{l.ResultsDir()}
	for _, d := range layouts {
		if d.IsDir() && !strings.HasPrefix(d.Name(), ".") {
			dirs = append(dirs, filepath.Join(l.ResultsDir(), d.Name()))
		}
	}
	for _, dir := range dirs {
		if err := disk.Tidy(dir); err != nil {
			return disk.Explain(l.rel(dir), err)
		}
		if err := tidyUnfinished(dir); err != nil {
			return disk.Explain(l.rel(dir), err)
		}
		notes, _ := filepath.Glob(filepath.Join(dir, "*"+FailedSuffix))
		for _, n := range notes {
			var f Failed
			if ok, _ := readJSON(n, &f); ok && len(f.Files) > 0 && !slices.ContainsFunc(f.Files, l.exists) {
				if err := os.Remove(n); err != nil {
					return disk.Explain(l.rel(dir), err)
				}
			}
		}
	}
	return nil
}

// TidyRun removes what interrupted measurements of one run left behind.
func (l *Lab) TidyRun(layout, run string) error {
	dir := l.ResultDir(layout, run)
	return disk.Explain(l.rel(filepath.Dir(dir)), disk.TidyOf(filepath.Dir(dir), "."+filepath.Base(dir)+"."))
}

func (l *Lab) exists(rel string) bool {
	_, err := os.Stat(filepath.Join(l.Dir, filepath.FromSlash(rel)))
	return err == nil
}

// SaveHashes keeps what the recordings hashed to for the next start.
func (l *Lab) SaveHashes() { _ = l.hashes.Save() }

// Results returns <layout>/<run> of every finished result, in order.
func (l *Lab) Results() ([]string, error) {
	found, err := filepath.Glob(filepath.Join(l.ResultsDir(), "*", "*", MadeName))
	if err != nil {
		return nil, err
	}
	var out []string
	for _, f := range found {
		dir := filepath.Dir(f)
		if base := filepath.Base(dir); !strings.HasPrefix(base, ".") {
			out = append(out, filepath.Base(filepath.Dir(dir))+"/"+base)
		}
	}
	slices.Sort(out)
	return out, nil
}

// Differing returns which results belong to another set-up than today's.
func (l *Lab) Differing() ([]string, error) {
	all, err := l.Results()
	if err != nil {
		return nil, err
	}
	var out []string
	for _, id := range all {
		layout, run, _ := strings.Cut(id, "/")
		setup, err := os.ReadFile(filepath.Join(l.ResultDir(layout, run), SetupName))
		if err != nil {
			continue
		}
		var m made
		if ok, err := readJSON(filepath.Join(l.ResultDir(layout, run), MadeName), &m); err != nil || !ok {
			continue
		}
		name, err := ParseRunName(run)
		if err != nil || hashOf(setup) != l.SetupHash(layout, name.Robot, m.Camera) {
			out = append(out, id)
		}
	}
	return out, nil
}

// Hashes returns the SHA-256 of each of a run's recordings, lower-case hex.
func (l *Lab) Hashes(r Run) ([]string, error) {
	m, err := l.madeOf(r)
	return m.SHA256, err
}
