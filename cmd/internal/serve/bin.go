package serve

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/report/page"
)

// What is taken away from the page goes into LAB/bin, a folder a time, in the
// places that it had in the lab, with a note of what it was. Nothing of it is
// deleted before the tester empties the bin.

// binNote is the name of the note; it is written last, so that what has none was
// broken off and its files are still whole.
const binNote = "bin.json"

func (d *Desk) binDir() string { return filepath.Join(d.dir, "bin") }

// halted ends what is being done with a run and keeps it from beginning again.
func (d *Desk) halted(run string) error {
	if err := d.hold(run); err != nil {
		return err
	}
	for range 200 {
		d.mu.Lock()
		busy := d.active[run] != nil
		d.mu.Unlock()
		if !busy {
			return nil
		}
		time.Sleep(50 * time.Millisecond)
	}
	return page.Refuse(http.StatusConflict, "%s is still being measured and does not stop. Try again in a while.", run)
}

// recordings returns the files of a run, absolute.
func (d *Desk) recordings(run string) []string {
	d.mu.Lock()
	item, ok := d.items[run]
	d.mu.Unlock()
	if ok {
		return item.Files()
	}
	dir, name := filepath.Join(d.dir, "recordings", filepath.Dir(filepath.FromSlash(run))), filepath.Base(run)
	list, _ := os.ReadDir(dir)
	var out []string
	for _, f := range list {
		if lab.IsRecording(f.Name()) && strings.TrimSuffix(f.Name(), filepath.Ext(f.Name())) == name {
			out = append(out, filepath.Join(dir, f.Name()))
		}
	}
	return out
}

// resultFiles returns what there is of a run's result, from the lab's folder.
func (d *Desk) resultFiles(run string) []string {
	var out []string
	for _, f := range []string{"results/" + run, "results/" + run + ".failed.json"} {
		if exists(filepath.Join(d.dir, filepath.FromSlash(f))) {
			out = append(out, f)
		}
	}
	return out
}

// Discard moves a run's result into the bin, or its recording and notes too.
func (d *Desk) Discard(run, what string) error {
	files := []string{}
	if what == page.WholeRun {
		for _, f := range d.recordings(run) {
			if err := d.confined([]string{f}); err != nil {
				return page.Refuse(http.StatusForbidden, "%v.", err)
			}
			rel, err := filepath.Rel(d.dir, f)
			if err != nil {
				return err
			}
			files = append(files, filepath.ToSlash(rel))
			if notes := filepath.ToSlash(lab.NotesFile(rel)); exists(filepath.Join(d.dir, notes)) && !slices.Contains(files, notes) {
				files = append(files, notes)
			}
		}
	}
	if err := d.halted(run); err != nil {
		return err
	}
	files = append(files, d.resultFiles(run)...)
	if len(files) == 0 {
		return page.Refuse(http.StatusNotFound, "There is nothing of %s to be removed.", run)
	}
	if err := d.toBin(run, what, files); err != nil {
		return page.Refuse(http.StatusConflict, "%s can't be moved into the bin: %v.", run, err)
	}
	return d.changed(run, what == page.WholeRun)
}

// changed forgets what was known of a run whose files were moved.
func (d *Desk) changed(run string, recording bool) error {
	d.kept.drop(run)
	d.mu.Lock()
	delete(d.outcome, run)
	delete(d.handled, run)
	delete(d.state, run)
	delete(d.ready, run)
	if recording {
		delete(d.items, run)
	}
	d.version++
	d.mu.Unlock()
	d.nudge()
	if recording {
		return d.free(run)
	}
	return nil
}

// toBin moves files, named from the lab's folder, into a new folder of the bin.
// Where one fails, those before it go back.
func (d *Desk) toBin(run, what string, files []string) (err error) {
	if err := d.confined([]string{d.binDir()}); err != nil {
		return err
	}
	now := time.Now()
	id := now.UTC().Format("20060102-150405.000000")
	b := page.Binned{ID: id, Run: run, What: what, When: now.Format("2006-01-02 15:04"), Files: files}
	dir := filepath.Join(d.binDir(), id)
	var done []string
	defer func() {
		if err != nil {
			for _, f := range done {
				_ = os.Rename(filepath.Join(dir, f), filepath.Join(d.dir, f))
			}
			_ = os.RemoveAll(dir)
		}
	}()
	for _, f := range files {
		f = filepath.FromSlash(f)
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, f)), 0o755); err != nil {
			return err
		}
		if err := os.Rename(filepath.Join(d.dir, f), filepath.Join(dir, f)); err != nil {
			return err
		}
		done = append(done, f)
	}
	raw, err := json.MarshalIndent(b, "", "  ")
	if err != nil {
		return err
	}
	return disk.WriteWhole(filepath.Join(dir, binNote), append(raw, '\n'))
}

// Bin lists what lies in the bin, the latest first.
func (d *Desk) Bin() ([]page.Binned, error) {
	if err := d.confined([]string{d.binDir()}); err != nil {
		return nil, page.Refuse(http.StatusForbidden, "bin/ leads out of the lab's folder and is not shown.")
	}
	list, err := os.ReadDir(d.binDir())
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	out := []page.Binned{}
	for _, f := range list {
		b := page.Binned{ID: f.Name()}
		raw, err := os.ReadFile(filepath.Join(d.binDir(), f.Name(), binNote))
		if err != nil || json.Unmarshal(raw, &b) != nil || b.ID != f.Name() {
			continue
		}
		_ = filepath.WalkDir(filepath.Join(d.binDir(), f.Name()), func(_ string, e fs.DirEntry, err error) error {
			if err == nil && !e.IsDir() {
				if st, err := e.Info(); err == nil {
					b.Bytes += st.Size()
				}
			}
			return nil
		})
		out = append(out, b)
	}
	slices.Reverse(out)
	return out, nil
}

// Restore moves what lies in a folder of the bin back to where it was.
func (d *Desk) Restore(id string) error {
	list, err := d.Bin()
	if err != nil {
		return err
	}
	i := slices.IndexFunc(list, func(b page.Binned) bool { return b.ID == id })
	if i < 0 {
		return page.Refuse(http.StatusNotFound, "There is no such thing in the bin any more.")
	}
	b, dir := list[i], filepath.Join(d.binDir(), id)
	for _, f := range b.Files {
		if !filepath.IsLocal(filepath.FromSlash(f)) || !strings.HasPrefix(f, "recordings/") && !strings.HasPrefix(f, "results/") {
			return page.Refuse(http.StatusForbidden, "The bin's note names %s, which is not where recordings or results are kept.", f)
		}
		if exists(filepath.Join(d.dir, filepath.FromSlash(f))) {
			return page.Refuse(http.StatusConflict, "%s is there again. Rename or remove that one first.", f)
		}
	}
	// The recording last: one that is there without its notes or its result would be
	// measured.
	for _, f := range slices.Backward(b.Files) {
		to := filepath.Join(d.dir, filepath.FromSlash(f))
		if err := d.confined([]string{filepath.Dir(to)}); err != nil {
			return page.Refuse(http.StatusForbidden, "%v.", err)
		}
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return err
		}
		if err := os.Rename(filepath.Join(dir, filepath.FromSlash(f)), to); err != nil {
			return page.Refuse(http.StatusConflict, "%s can't be moved back: %v.", f, err)
		}
	}
	if err := os.RemoveAll(dir); err != nil {
		return err
	}
	if err := d.free(b.Run); err != nil {
		return err
	}
	return d.changed(b.Run, false)
}

// EmptyBin deletes what lies in the bin for good.
func (d *Desk) EmptyBin() error {
	list, err := d.Bin()
	for _, b := range list {
		err = errors.Join(err, os.RemoveAll(filepath.Join(d.binDir(), b.ID)))
	}
	return err
}

// Rename gives a run's recording another name. What was measured under the old
// one goes into the bin: robot and phase decide what is measured.
func (d *Desk) Rename(run string, n page.Naming) error {
	name := lab.RunName{Robot: n.Robot, Phase: n.Phase, Trial: n.Trial}
	if _, err := lab.ParseRunName(name.String()); err != nil {
		return page.Refuse(http.StatusBadRequest, "%v.", err)
	}
	layout := filepath.Dir(filepath.FromSlash(run))
	to := filepath.ToSlash(filepath.Join(layout, name.String()))
	d.mu.Lock()
	item, known := d.items[run]
	_, taken := d.items[to]
	d.mu.Unlock()
	switch {
	case to == run:
		return nil
	case !known || item.Refusal != nil:
		return page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab that could be renamed.", run)
	case taken || len(d.resultFiles(to)) > 0:
		return page.Refuse(http.StatusConflict, "There is a %s already. Choose another trial number.", to)
	}
	moves, err := d.renames(item, name)
	if err != nil {
		return err
	}
	if err := d.halted(run); err != nil {
		return err
	}
	if files := d.resultFiles(run); len(files) > 0 {
		if err := d.toBin(run, page.OnlyResult, files); err != nil {
			return page.Refuse(http.StatusConflict, "The result of %s can't be moved into the bin: %v.", run, err)
		}
	}
	for i, m := range moves {
		if err := os.Rename(m[0], m[1]); err != nil {
			for _, back := range moves[:i] {
				_ = os.Rename(back[1], back[0])
			}
			return page.Refuse(http.StatusConflict, "%s can't be renamed: %v.", filepath.Base(m[0]), err)
		}
	}
	if len(moves) == 0 { // its notes name it
		if err := d.Name(layout, filepath.Base(item.Files()[0]), n); err != nil {
			return err
		}
	}
	return d.changed(run, true)
}

// renames lists which files of a run become which; none where its notes name it.
func (d *Desk) renames(item work.Item, name lab.RunName) ([][2]string, error) {
	var out [][2]string
	for _, f := range item.Files() {
		if err := d.confined([]string{f}); err != nil {
			return nil, page.Refuse(http.StatusForbidden, "%v.", err)
		}
		if sheeted(f) {
			return nil, page.Refuse(http.StatusConflict, "%s is named in the run sheet %s of its folder. Change it there.", filepath.Base(f), lab.RunSheet)
		}
	}
	was := item.Run.RunName.String()
	notes := lab.NotesFile(item.Files()[0])
	if raw, err := os.ReadFile(notes); err == nil {
		if m, ok := lab.SetupValue(raw); ok {
			for _, key := range []string{"robot", "phase", "trial"} {
				if _, ok := m.Get(key); ok {
					return nil, nil
				}
			}
		}
		out = append(out, [2]string{notes, filepath.Join(filepath.Dir(notes), name.String()+".yaml")})
	}
	for _, f := range item.Files() {
		base := filepath.Base(f)
		if len(base) < len(was) || !strings.EqualFold(base[:len(was)], was) {
			return nil, page.Refuse(http.StatusConflict, "%s does not carry the name of its run; rename it by hand.", base)
		}
		out = append(out, [2]string{f, filepath.Join(filepath.Dir(f), name.String()+base[len(was):])})
	}
	for _, m := range out {
		if exists(m[1]) {
			return nil, page.Refuse(http.StatusConflict, "There is a file %s already.", filepath.Base(m[1]))
		}
	}
	return out, nil
}

// sheeted tells whether the run sheet beside a recording speaks of it.
func sheeted(recording string) bool {
	f, err := os.Open(filepath.Join(filepath.Dir(recording), lab.RunSheet))
	if err != nil {
		return false
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	rows, _ := r.ReadAll()
	return slices.ContainsFunc(rows, func(row []string) bool {
		return slices.ContainsFunc(row, func(c string) bool { return strings.TrimSpace(c) == filepath.Base(recording) })
	})
}

// sameRecordings finds runs whose recordings are the same to the byte, by the
// hashes that are known already: of each but the first in order, the first.
func (d *Desk) sameRecordings(items map[string]work.Item, l *lab.Lab) map[string]string {
	if l == nil {
		return nil
	}
	ids := make([]string, 0, len(items))
	for id := range items {
		ids = append(ids, id)
	}
	slices.SortFunc(ids, byName)
	first, out := map[string]string{}, map[string]string{}
	for _, id := range ids {
		key := ""
		for _, f := range items[id].Files() {
			h, ok := l.KnownHash(f)
			if !ok {
				key = ""
				break
			}
			key += h
		}
		if key == "" {
			continue
		}
		if before, ok := first[key]; ok {
			out[id] = before
		} else {
			first[key] = id
		}
	}
	return out
}
