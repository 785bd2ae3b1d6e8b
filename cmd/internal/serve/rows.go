package serve

import (
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/page"
)

// Rows lists every recording and result.
func (d *Desk) Rows() ([]page.Row, error) {
	d.mu.Lock()
	if d.rows != nil && d.rowsAt == d.version {
		defer d.mu.Unlock()
		return d.rows, nil
	}
	version, items := d.version, maps.Clone(d.items)
	rows := map[string]*page.Row{}
	for id, state := range d.state {
		r := newRow(id)
		r.State = state
		item := d.items[id]
		o, tried := d.outcome[id]
		if tried && (state == page.Failed || state == page.Measured) {
			r.Differs = o.Differs
			if state == page.Failed {
				r.Why = o.Reason
			}
		}
		if item.Refusal != nil && len(item.Refusal.Files) == 1 && state == page.Failed {
			file := filepath.Base(item.Refusal.Files[0])
			if lab.NeedsName(file) && filepath.Dir(item.Refusal.Files[0]) != filepath.Join(d.dir, "recordings") {
				r.State, r.File = page.Unnamed, file
			}
		}
		r.Recording = true
		if item.Refusal == nil {
			c := item.Run.Notes.Conditions
			r.Firmware, r.Date = c["firmware"], c["date"]
		}
		rows[id] = r
	}
	l := d.lab
	unread := l == nil
	d.mu.Unlock()
	same := d.sameRecordings(items, l)

	ids, err := report.ResultIDs(d.results())
	if err != nil {
		return nil, err
	}
	if unread {
		d.bareRecordings(rows)
	}
	runs, bad := report.Indexed(d.results(), ids)
	byID := map[string]compare.Run{}
	for _, r := range runs {
		byID[r.ID] = r
	}
	for _, id := range ids {
		v, ok := byID[id]
		if !ok {
			continue
		}
		r := rows[id]
		if r == nil {
			r = newRow(id)
			r.State = page.Measured
			rows[id] = r
		}
		r.Result = true
		r.Share, r.Minutes = value(v, "reachable_share"), value(v, "duration_s")/60
		r.Covered, r.DistanceM, r.Redundancy = value(v, "covered_share"), value(v, "distance_m"), value(v, "redundancy")
		r.Lost, r.Ended, r.Firmware, r.Date = v.LostShare, v.Ended, v.Conditions["firmware"], v.Conditions["date"]
		r.Robot, r.Phase, r.Trial = v.Robot, v.Phase, v.Trial
	}
	for _, u := range bad {
		if r := rows[u.Run]; r != nil && r.Why == "" {
			r.Why = u.Err.Error()
		}
	}
	out := make([]page.Row, 0, len(rows))
	for id, r := range rows {
		r.Same = same[id]
		out = append(out, *r)
	}
	slices.SortFunc(out, func(a, b page.Row) int { return byName(a.ID, b.ID) })
	d.mu.Lock()
	d.rows, d.rowsAt = out, version
	d.mu.Unlock()
	return out, nil
}

func newRow(id string) *page.Row {
	layout, name, ok := strings.Cut(id, "/")
	if !ok {
		layout, name = "", id
	}
	r := &page.Row{ID: id, Layout: layout, Name: name, Share: report.NaN, Minutes: report.NaN, Covered: report.NaN, DistanceM: report.NaN, Redundancy: report.NaN, Lost: report.NaN}
	if n, err := lab.ParseRunName(name); err == nil {
		r.Robot, r.Phase, r.Trial = n.Robot, n.Phase, n.Trial
	}
	return r
}

func value(r compare.Run, name string) float64 {
	if v, ok := r.Values[name]; ok {
		return v
	}
	return report.NaN
}

// byName puts trial 2 before trial 10.
func byName(a, b string) int {
	cut := func(s string) (string, int) {
		i := strings.LastIndexByte(s, '_')
		n, err := strconv.Atoi(s[i+1:])
		if err != nil {
			return s, 0
		}
		return s[:i], n
	}
	an, at := cut(a)
	bn, bt := cut(b)
	if c := strings.Compare(an, bn); c != 0 {
		return c
	}
	return at - bt
}

// bareRecordings lists what lies in recordings/ while there is no set-up that
// could say more.
func (d *Desk) bareRecordings(rows map[string]*page.Row) {
	files, _ := filepath.Glob(filepath.Join(d.dir, "recordings", "*", "*"))
	for _, f := range files {
		name := filepath.Base(f)
		if !lab.IsRecording(name) {
			continue
		}
		id := filepath.Base(filepath.Dir(f)) + "/" + strings.TrimSuffix(name, filepath.Ext(name))
		r := newRow(id)
		r.State, r.Recording = page.Waiting, true
		if lab.NeedsName(name) && !exists(strings.TrimSuffix(f, filepath.Ext(f))+".yaml") {
			r.State, r.File = page.Unnamed, name
		}
		rows[id] = r
	}
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

// Names returns the layouts and robots that the set-up knows, and the folders
// of recordings while there is none.
func (d *Desk) Names() (layouts, robots []string) {
	d.mu.Lock()
	l := d.lab
	d.mu.Unlock()
	if l != nil {
		return l.LayoutNames, l.RobotNames
	}
	dirs, _ := os.ReadDir(filepath.Join(d.dir, "recordings"))
	for _, f := range dirs {
		if f.IsDir() && !strings.HasPrefix(f.Name(), ".") {
			layouts = append(layouts, f.Name())
		}
	}
	return layouts, nil
}

// Name says which run a recording is: in the file of notes beside it.
func (d *Desk) Name(layout, file string, n page.Naming) error {
	r := lab.RunName{Robot: n.Robot, Phase: n.Phase, Trial: n.Trial}
	if _, err := lab.ParseRunName(r.String()); err != nil {
		return page.Refuse(http.StatusBadRequest, "%v.", err)
	}
	return d.note(filepath.Join(d.dir, "recordings", layout, file), func(m lab.Map) lab.Map {
		m = m.Set("robot", n.Robot)
		m = m.Set("phase", n.Phase)
		return m.Set("trial", json.Number(strconv.Itoa(n.Trial)))
	})
}

// Notes returns what stands about a run's recording.
func (d *Desk) Notes(run string) (page.Notes, error) {
	n := page.Notes{Carried: [][2]float64{}}
	d.mu.Lock()
	item, ok := d.items[run]
	d.mu.Unlock()
	if !ok || item.Refusal != nil {
		return n, page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab.", run)
	}
	if s := item.Run.Notes.Start; report.Measured(s) {
		n.StartS = (*float64)(&s)
	}
	if s := item.Run.Notes.End; report.Measured(s) {
		n.EndS = (*float64)(&s)
	}
	for _, c := range item.Run.Notes.Carried {
		n.Carried = append(n.Carried, [2]float64{c.From, c.To})
	}
	return n, nil
}

// SaveNotes writes them beside the recording, the rest of the notes as it was.
func (d *Desk) SaveNotes(run string, n page.Notes) error {
	d.mu.Lock()
	item, ok := d.items[run]
	d.mu.Unlock()
	if !ok || item.Refusal != nil {
		return page.Refuse(http.StatusNotFound, "There is no recording of %s in this lab.", run)
	}
	number := func(v float64) json.Number { return json.Number(strconv.FormatFloat(v, 'f', -1, 64)) }
	err := d.note(item.Run.Files[0], func(m lab.Map) lab.Map {
		for key, v := range map[string]*float64{"start_s": n.StartS, "end_s": n.EndS} {
			if v == nil {
				m = m.Without(key)
			} else {
				m = m.Set(key, number(*v))
			}
		}
		spans := []any{}
		for _, c := range n.Carried {
			spans = append(spans, []any{number(c[0]), number(c[1])})
		}
		if len(spans) == 0 {
			return m.Without("carried")
		}
		return m.Set("carried", spans)
	})
	if err != nil {
		return err
	}
	if err := d.free(run); err != nil {
		return err
	}
	d.nudge()
	return nil
}

// note changes the notes beside a recording.
func (d *Desk) note(recording string, change func(lab.Map) lab.Map) error {
	if err := d.confined([]string{recording}); err != nil {
		return page.Refuse(http.StatusForbidden, "%v.", err)
	}
	d.setupMu.Lock()
	defer d.setupMu.Unlock()
	file := lab.NotesFile(recording)
	if st, err := os.Lstat(file); err == nil && !st.Mode().IsRegular() {
		return page.Refuse(http.StatusForbidden, "%s is not an ordinary file, so it was not written.", filepath.Base(file))
	}
	old, err := os.ReadFile(file)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	m, ok := lab.SetupValue(old)
	if !ok {
		return page.Refuse(http.StatusConflict, "%s is not valid YAML; fix it by hand first.", filepath.Base(file))
	}
	text, err := lab.EditSetup(old, change(m))
	if err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	if err := d.reader().CheckNotes(filepath.Base(file), text); err != nil {
		return page.Refuse(http.StatusUnprocessableEntity, "%v", err)
	}
	if err := disk.WriteWhole(file, text); err != nil {
		return page.Refuse(http.StatusInsufficientStorage, "%v.", err)
	}
	d.nudge()
	return nil
}
