package lab

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Run is a recording, or several that are parts of one, tied to what it shows.
type Run struct {
	Layout string
	RunName
	Files []string // absolute, in order
	Notes Notes
}

// ID returns <layout>/<robot>_<phase>_<trial>.
func (r Run) ID() string { return r.Layout + "/" + r.RunName.String() }

// IsPath tells whether the run is a path measured elsewhere.
func (r Run) IsPath() bool { return IsPath(r.Files[0]) }

// Gaps returns the seconds from each part to the next; NaN stands for one
// frame's time.
func (r Run) Gaps() []float64 {
	out := make([]float64, len(r.Files)-1)
	for i := range out {
		switch {
		case len(r.Notes.Gap) == 1:
			out[i] = r.Notes.Gap[0]
		case i < len(r.Notes.Gap):
			out[i] = r.Notes.Gap[i]
		default:
			out[i] = math.NaN()
		}
	}
	return out
}

// Refusal is a recording that cannot be tied to a run: a result with a reason.
type Refusal struct {
	Layout  string   // the folder that it lies in; empty if in none
	Name    string   // of the run if known, else of the file without its type
	Files   []string // absolute
	Message string   // what is wrong and how to mend it
}

// ID returns <layout>/<name>.
func (r Refusal) ID() string { return strings.TrimPrefix(r.Layout+"/"+r.Name, "/") }

// RecordingsDir is the folder into which the tester drops recordings.
func (l *Lab) RecordingsDir() string { return filepath.Join(l.Dir, "recordings") }

// Recordings looks through recordings/ and returns the runs in order of layout
// and name, and the recordings that are no run. A missing folder is an error.
func (l *Lab) Recordings() (runs []Run, refused []Refusal, err error) {
	layouts, err := os.ReadDir(l.RecordingsDir())
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil, fmt.Errorf("there is no folder %s. Make it, with one folder for each layout (%s), and put the recordings there",
			l.rel(l.RecordingsDir()), strings.Join(l.LayoutNames, ", "))
	} else if err != nil {
		return nil, nil, fmt.Errorf("the recordings can't be listed: %w", err)
	}
	for _, d := range layouts {
		full := filepath.Join(l.RecordingsDir(), d.Name())
		if st, err := os.Stat(full); err == nil && !st.IsDir() {
			if isRecording(d.Name()) {
				refused = append(refused, Refusal{Name: stem(d.Name()), Files: []string{full},
					Message: fmt.Sprintf("the recording is not in a layout's folder. Move it to recordings/<layout>/, where <layout> is one of: %s.", strings.Join(l.LayoutNames, ", "))})
			} else if isOtherFilm(full) {
				refused = append(refused, Refusal{Name: d.Name(), Files: []string{full}, Message: otherFilmWords(d.Name())})
			}
			continue
		}
		if strings.HasPrefix(d.Name(), ".") {
			continue
		}
		r, f, err := l.layoutRecordings(d.Name())
		if err != nil {
			return nil, nil, err
		}
		runs, refused = append(runs, r...), append(refused, f...)
	}
	return runs, refused, nil
}

func stem(name string) string { return strings.TrimSuffix(name, filepath.Ext(name)) }

// rel names a file as the user would: from the lab's folder, with slashes.
func (l *Lab) rel(file string) string {
	if r, err := filepath.Rel(l.Dir, file); err == nil && !strings.HasPrefix(r, "..") {
		return filepath.ToSlash(r)
	}
	return file
}

// Rel names a file of the lab as the user would: from the lab's folder.
func (l *Lab) Rel(file string) string { return l.rel(file) }

// piece is one file with what is known of it, before parts are joined.
type piece struct {
	file  string // absolute
	name  RunName
	part  int
	notes Notes
}

func (l *Lab) layoutRecordings(layout string) (runs []Run, refused []Refusal, err error) {
	dir := filepath.Join(l.RecordingsDir(), layout)
	files, err := os.ReadDir(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("the recordings of layout %s can't be listed: %w", layout, err)
	}
	relDir := "recordings/" + layout + "/"
	refuse := func(name, file, format string, args ...any) {
		f := Refusal{Layout: layout, Name: name, Message: fmt.Sprintf(format, args...)}
		if file != "" {
			f.Files = []string{filepath.Join(dir, file)}
		}
		refused = append(refused, f)
	}
	rows, bad := l.runSheet(relDir + RunSheet)
	for _, p := range bad {
		where := stem(RunSheet)
		if p.Line > 0 {
			where += fmt.Sprintf(" line %d", p.Line)
		}
		refuse(where, RunSheet, "%s", p.Error())
	}
	byFile := map[string]sheetRow{}
	for _, r := range rows {
		byFile[r.file] = r
	}
	groups := map[RunName][]piece{}
	var order []RunName
	for _, f := range files {
		full := filepath.Join(dir, f.Name())
		st, err := os.Stat(full)
		if err != nil {
			continue // gone since it was listed
		}
		if st.IsDir() {
			if !strings.HasPrefix(f.Name(), ".") && holdsRecording(full) {
				refuse(f.Name(), f.Name(), "%s%s/ is a folder inside a layout's folder and is not searched. Move its recordings up to %s.", relDir, f.Name(), relDir)
			}
			continue
		}
		row, inSheet := byFile[f.Name()]
		delete(byFile, f.Name())
		if !isRecording(f.Name()) {
			if inSheet {
				refuse(stem(f.Name()), f.Name(), "%s%s:%d: %s is not of a type that can be measured. Known types: %s and %s.", relDir, RunSheet, row.line, f.Name(), strings.Join(videoTypes, " "), pathType)
			} else if isOtherFilm(full) {
				// Its whole name: a run may carry the stem.
				refuse(f.Name(), f.Name(), "%s", otherFilmWords(f.Name()))
			}
			continue
		}
		base, _ := splitPart(stem(f.Name()))
		if _, known := l.Layouts[layout]; !known {
			refuse(base, f.Name(), "there is no layout %q in %s.%s Describe it there, or move the recording.", layout, SetupFile, DidYouMean(layout, l.LayoutNames))
			continue
		}
		p, err := l.identify(relDir, f.Name(), row, inSheet)
		if err != nil {
			refuse(base, f.Name(), "%s", sentence(err))
			continue
		}
		p.file = full
		if _, seen := groups[p.name]; !seen {
			order = append(order, p.name)
		}
		groups[p.name] = append(groups[p.name], p)
	}
	for _, name := range sortedKeys(byFile) {
		refuse(stem(name), name, "%s%s:%d names %s, which is not in %s. Copy it there, or remove the row.", relDir, RunSheet, byFile[name].line, name, relDir)
	}
	for _, name := range order {
		run, err := l.join(layout, name, groups[name])
		if err != nil {
			f := Refusal{Layout: layout, Name: name.String(), Message: sentence(err)}
			for _, p := range groups[name] {
				f.Files = append(f.Files, p.file)
			}
			refused = append(refused, f)
			continue
		}
		runs = append(runs, run)
	}
	slices.SortStableFunc(runs, func(a, b Run) int { return strings.Compare(a.ID(), b.ID()) })
	return runs, refused, nil
}

func holdsRecording(dir string) bool {
	files, _ := os.ReadDir(dir)
	return slices.ContainsFunc(files, func(f fs.DirEntry) bool {
		return !f.IsDir() && (isRecording(f.Name()) || isOtherFilm(filepath.Join(dir, f.Name())))
	})
}

// sentence ends an error's text in a full stop.
func sentence(err error) string {
	s := err.Error()
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "^") || strings.HasSuffix(s, "?") {
		return s
	}
	return s + "."
}

// identify reads a file's name, its row of the run sheet and the file beside it.
func (l *Lab) identify(relDir, file string, row sheetRow, inSheet bool) (piece, error) {
	p := piece{notes: noNotes()}
	if inSheet {
		p.notes = row.notes
	}
	base, part := splitPart(stem(file))
	p.part = part
	names := []string{base, stem(file)}
	if part == 0 {
		names = names[:1]
	}
	for i, n := range names {
		for _, ext := range []string{".yaml", ".yml"} {
			m, ok, err := l.sidecar(relDir + n + ext)
			if err != nil {
				return p, err
			}
			if !ok {
				continue
			}
			if i == 1 && part > 1 {
				// Beside a later part only the gap before it makes sense.
				q := m
				q.Gap = nil
				if q.text() != noNotes().text() || len(m.Gap) != 1 {
					return p, fmt.Errorf("%s%s%s: the notes of a later part may hold only gap_s, one number. Move the rest to %s%s", relDir, n, ext, base, ext)
				}
			}
			p.notes = p.notes.over(m)
		}
	}
	if err := p.notes.check(); err != nil {
		return p, err
	}
	l.dated(p.file, p.notes.Conditions)
	if row.part != 0 {
		p.part = row.part
	}
	n := p.notes
	p.name = RunName{n.Robot, n.Phase, n.Trial}
	if n.Robot == "" || n.Phase == "" || n.Trial == 0 {
		fromName, err := ParseRunName(base)
		if err != nil {
			return p, err
		}
		if n.Robot == "" {
			p.name.Robot = fromName.Robot
		}
		if n.Phase == "" {
			p.name.Phase = fromName.Phase
		}
		if n.Trial == 0 {
			p.name.Trial = fromName.Trial
		}
	}
	if _, known := l.Robots[p.name.Robot]; !known {
		return p, fmt.Errorf("there is no robot %q in %s or robots/.%s Describe it there, or rename the recording", p.name.Robot, SetupFile, DidYouMean(p.name.Robot, l.RobotNames))
	}
	if n.Camera != "" && l.Cameras[n.Camera] == nil {
		return p, fmt.Errorf("its notes name the camera %q, which %s lacks.%s", n.Camera, SetupFile, DidYouMean(n.Camera, l.CameraNames))
	}
	return p, nil
}

// join makes one run of the files that carry one name.
func (l *Lab) join(layout string, name RunName, pieces []piece) (Run, error) {
	slices.SortStableFunc(pieces, func(a, b piece) int { return a.part - b.part })
	run := Run{Layout: layout, RunName: name, Notes: noNotes()}
	single := len(pieces) == 1 && pieces[0].part == 0
	for i, p := range pieces {
		if !single && p.part != i+1 {
			if p.part == 0 || i > 0 && p.part == pieces[i-1].part {
				return run, fmt.Errorf("several recordings have the name of this run: %s. Give each its own trial number; if the camera split one recording, call the parts ..._part1, ..._part2 (in the run sheet: column part)", baseNames(pieces))
			}
			return run, fmt.Errorf("part %d is missing; found: %s. Copy it too, or number the parts from 1 without a gap", i+1, baseNames(pieces))
		}
		if IsPath(p.file) != IsPath(pieces[0].file) {
			return run, fmt.Errorf("a video and a path cannot be parts of one run: %s", baseNames(pieces))
		}
		run.Files = append(run.Files, p.file)
		if i == 0 {
			run.Notes = p.notes
		}
	}
	// A gap that stands beside a later part is the one before that part.
	if len(pieces) > 1 {
		gaps, own := run.Gaps(), false
		for i, p := range pieces[1:] {
			if len(p.notes.Gap) == 1 && (len(run.Notes.Gap) != 1 || p.notes.Gap[0] != run.Notes.Gap[0]) {
				gaps[i], own = p.notes.Gap[0], true
			}
		}
		if own {
			run.Notes.Gap = gaps
		}
	}
	if n := len(run.Notes.Gap); n > 1 && n != len(run.Files)-1 {
		return run, fmt.Errorf("gap_s has %d numbers for %d parts; write one for each part after the first, or one for all", n, len(run.Files))
	}
	lay := l.Layouts[layout]
	if !run.IsPath() && lay.Camera == "" && run.Notes.Camera == "" {
		return run, fmt.Errorf("layout %s has no camera, so only paths (%s) can be measured in it. Describe the camera in %s", layout, pathType, SetupFile)
	}
	return run, nil
}

func baseNames(pieces []piece) string {
	var out []string
	for _, p := range pieces {
		out = append(out, filepath.Base(p.file))
	}
	return strings.Join(out, ", ")
}
