package report

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"swathe/coverage/compare"
	"swathe/coverage/conduct"
	"swathe/coverage/stats"
	"swathe/geom"
)

// IndexFile is the name of the index that a results folder may hold. It only
// saves reading: it may be deleted at any time, and what it says of a run counts
// only while the run's run.json has the size and the time of change it had.
const IndexFile = ".index.json"

// indexVersion is raised when an entry holds something else than before.
const indexVersion = 4

type index struct {
	Version int                   `json:"version"`
	Runs    map[string]indexEntry `json:"runs"` // by <layout>/<run>
}

// indexEntry is a compare.Run as JSON can hold it.
type indexEntry struct {
	Size    int64 `json:"size"`
	MTimeNS int64 `json:"mtime_ns"`

	Layout      string                 `json:"layout"`
	Robot       string                 `json:"robot"`
	Phase       string                 `json:"phase"`
	Trial       int                    `json:"trial"`
	Tool        string                 `json:"tool"`
	ToolM       [3]float64             `json:"tool_m"` // width, ahead, left
	Definition  string                 `json:"definition"`
	Setup       string                 `json:"setup"`
	Room        compare.Layout         `json:"room"`
	FloorM2     [2]float64             `json:"floor_m2"` // open, common
	Conditions  map[string]string      `json:"conditions,omitempty"`
	StartM      [2]float64             `json:"start_m"`
	Lost        float64                `json:"lost_share"`
	Mark        string                 `json:"mark,omitempty"`
	Started     string                 `json:"started"`
	Ended       string                 `json:"ended"`
	Dock        bool                   `json:"dock"`
	StuckEnd    bool                   `json:"stuck_end,omitempty"`
	Figures     map[string][5]*float64 `json:"figures"` // value, standard uncertainty, interval, the run's own part of the uncertainty
	Events      map[string]int         `json:"events"`
	TestObjects map[string]string      `json:"test_objects,omitempty"`
}

func entryOf(r compare.Run) indexEntry {
	e := indexEntry{
		Layout: r.Layout, Robot: r.Robot, Phase: r.Phase, Trial: r.Trial, Tool: r.Tool,
		ToolM: [3]float64{r.ToolWidth, r.ToolPlace[0], r.ToolPlace[1]}, Definition: r.Definition, Setup: r.Setup, Room: r.Room, FloorM2: [2]float64{r.OpenM2, r.CommonM2}, Conditions: r.Conditions,
		StartM: [2]float64{r.Start.X, r.Start.Y}, Lost: r.LostShare, Mark: r.Mark, Started: r.Started, Ended: r.Ended, Dock: r.Dock, StuckEnd: r.StuckEnd,
		Figures: map[string][5]*float64{}, Events: r.Events, TestObjects: r.TestObjects,
	}
	known := func(v float64) *float64 {
		if f := v; Measured(f) {
			return &f
		}
		return nil
	}
	for name, v := range r.Values {
		f := [5]*float64{known(v)}
		if u, ok := r.U[name]; ok {
			f[1] = known(u)
		}
		if iv, ok := r.Interval[name]; ok {
			f[2], f[3] = known(iv.Lo), known(iv.Hi)
		}
		if u, ok := r.Own[name]; ok {
			f[4] = known(u)
		}
		e.Figures[name] = f
	}
	return e
}

func (e indexEntry) run(id string) compare.Run {
	r := compare.Run{
		ID: id, Layout: e.Layout, Robot: e.Robot, Phase: e.Phase, Trial: e.Trial, Tool: e.Tool,
		ToolWidth: e.ToolM[0], ToolPlace: [2]float64{e.ToolM[1], e.ToolM[2]}, Definition: e.Definition, Setup: e.Setup, Room: e.Room, OpenM2: e.FloorM2[0], CommonM2: e.FloorM2[1], Conditions: e.Conditions,
		Start: geom.Point2{X: e.StartM[0], Y: e.StartM[1]}, LostShare: e.Lost, Mark: e.Mark, Started: e.Started, Ended: e.Ended, Dock: e.Dock, StuckEnd: e.StuckEnd,
		Values: map[string]float64{}, U: map[string]float64{}, Own: map[string]float64{}, Interval: map[string]stats.Interval{}, Events: e.Events, TestObjects: e.TestObjects,
	}
	of := func(f *float64) float64 {
		if f == nil {
			return NaN
		}
		return *f
	}
	for name, f := range e.Figures {
		if f[0] == nil {
			continue
		}
		r.Values[name] = of(f[0])
		if f[1] != nil {
			r.U[name] = of(f[1])
		}
		if f[4] != nil {
			r.Own[name] = of(f[4])
		}
		if f[2] != nil || f[3] != nil {
			r.Interval[name] = stats.Interval{Lo: of(f[2]), Hi: of(f[3])}
		}
	}
	return r
}

// Unread is a result that could not be read.
type Unread struct {
	Run string
	Err error
}

// Indexed returns what comparisons need of the results called ids
// (<layout>/<run>) under the folder of results, in order. What the index knows
// and has not changed is taken from it; the rest is read, and the index brought
// up to date. An index that is missing, damaged or cannot be written costs time
// and nothing else.
func Indexed(results string, ids []string) (runs []compare.Run, unread []Unread) {
	file := filepath.Join(results, IndexFile)
	old := readIndex(file)
	entries := make([]*indexEntry, len(ids))
	errs := make([]error, len(ids))
	changed := len(old) != len(ids)
	var mu sync.Mutex
	inTurn(len(ids), func(i int) {
		var fresh bool
		entries[i], fresh, errs[i] = indexOne(results, ids[i], old)
		if fresh || errs[i] != nil {
			mu.Lock()
			changed = true
			mu.Unlock()
		}
	})
	now := index{Version: indexVersion, Runs: make(map[string]indexEntry, len(ids))}
	for i, e := range entries {
		if errs[i] != nil {
			unread = append(unread, Unread{ids[i], errs[i]})
			continue
		}
		runs = append(runs, e.run(ids[i]))
		now.Runs[ids[i]] = *e
	}
	if changed {
		writeIndex(file, now)
	}
	return runs, unread
}

func indexOne(results, id string, old map[string]indexEntry) (e *indexEntry, fresh bool, err error) {
	dir := filepath.Join(results, filepath.FromSlash(id))
	st, err := os.Stat(filepath.Join(dir, RunFile))
	if err != nil {
		return nil, false, err
	}
	if o, ok := old[id]; ok && o.Size == st.Size() && o.MTimeNS == st.ModTime().UnixNano() {
		return &o, false, nil
	}
	r, err := readCompared(filepath.Join(dir, RunFile))
	if err != nil {
		return nil, false, err
	}
	n := entryOf(ComparedRun(r))
	n.Size, n.MTimeNS = st.Size(), st.ModTime().UnixNano()
	return &n, true, nil
}

// compared is the part of run.json that comparisons need; of events and rows,
// which make most of the file, only what is counted.
type compared struct {
	Schema      int               `json:"schema"`
	Layout      string            `json:"layout"`
	Robot       string            `json:"robot"`
	Phase       string            `json:"phase"`
	Trial       int               `json:"trial"`
	Conditions  map[string]string `json:"conditions"`
	Trace       TraceInfo         `json:"trace"`
	Run         RunInfo           `json:"run"`
	Tool        string            `json:"tool"`
	ToolWidthM  float64           `json:"tool_width_m"`
	ToolAheadM  float64           `json:"tool_ahead_m"`
	ToolLeftM   float64           `json:"tool_left_m"`
	Coverage    Block             `json:"coverage"`
	Floor       FloorInfo         `json:"floor"`
	Uncertainty *Uncertainty      `json:"uncertainty"`
	LayoutParts compare.Layout    `json:"layout_parts"`
	Events      []struct {
		Kind string  `json:"kind"`
		EndS float64 `json:"end_s"`
	} `json:"events"`
	Docking *conduct.Docking `json:"docking"`
	Active  *conduct.Active  `json:"active"`
	Rows    *struct {
		Blocks []struct {
			Lanes int `json:"lanes"`
		} `json:"blocks"`
	} `json:"rows"`
	TestObjects []TestObject      `json:"test_objects"`
	Versions    map[string]string `json:"versions"`
	SetupSHA    string            `json:"setup_sha256"`
}

// readCompared is ReadRun without what comparisons do not need.
func readCompared(file string) (*Run, error) {
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var c compared
	if err := Unmarshal(raw, &c); err != nil {
		return nil, fmt.Errorf("%s: %w: measure the recording again with --again", file, err)
	}
	if c.Schema != Schema {
		return nil, otherSchema(file, c.Schema)
	}
	r := &Run{Schema: c.Schema, Layout: c.Layout, Robot: c.Robot, Phase: c.Phase, Trial: c.Trial, Conditions: c.Conditions, Trace: c.Trace, Run: c.Run,
		Tool: c.Tool, ToolWidthM: c.ToolWidthM, ToolAheadM: c.ToolAheadM, ToolLeftM: c.ToolLeftM, Coverage: c.Coverage, Floor: c.Floor, Uncertainty: c.Uncertainty, LayoutParts: c.LayoutParts, Docking: c.Docking, Active: c.Active, TestObjects: c.TestObjects, Versions: c.Versions, SetupSHA: c.SetupSHA}
	if c.Events != nil {
		r.Events = []Event{}
	}
	for _, e := range c.Events {
		r.Events = append(r.Events, Event{Kind: e.Kind, EndS: e.EndS})
	}
	if c.Rows != nil {
		r.Rows = &Rows{}
		for _, b := range c.Rows.Blocks {
			r.Rows.Blocks = append(r.Rows.Blocks, RowBlock{Lanes: b.Lanes})
		}
	}
	return r, nil
}

// lastIndex is the index that was read or written last. A program that lists runs
// again and again need not decode what it knows; nobody changes the entries.
var lastIndex struct {
	sync.Mutex
	file string
	stat fs.FileInfo
	runs map[string]indexEntry
}

// WarmIndex reads the index, so that the next Indexed need not.
func WarmIndex(results string) { readIndex(filepath.Join(results, IndexFile)) }

func readIndex(file string) map[string]indexEntry {
	m := &lastIndex
	m.Lock()
	defer m.Unlock()
	// Taken before the content: one that is written meanwhile is read next time.
	st, err := os.Stat(file)
	if err != nil {
		return nil
	}
	if m.file == file && os.SameFile(m.stat, st) && m.stat.Size() == st.Size() && m.stat.ModTime().Equal(st.ModTime()) {
		return m.runs
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil
	}
	var x index
	if Unmarshal(raw, &x) != nil || x.Version != indexVersion {
		return nil
	}
	m.file, m.stat, m.runs = file, st, x.Runs
	return x.Runs
}

// writeIndex writes beside and renames, so that no reader sees half an index.
func writeIndex(file string, x index) {
	raw, err := Marshal(x)
	if err != nil {
		return
	}
	tmp, err := os.CreateTemp(filepath.Dir(file), IndexFile+".*")
	if err != nil {
		return
	}
	_, err = tmp.Write(raw)
	st, serr := tmp.Stat()
	if err = errors.Join(err, serr, tmp.Close()); err == nil {
		err = os.Rename(tmp.Name(), file)
	}
	if err == nil {
		lastIndex.Lock()
		lastIndex.file, lastIndex.stat, lastIndex.runs = file, st, x.Runs
		lastIndex.Unlock()
	}
	if err != nil {
		_ = os.Remove(tmp.Name())
	}
}

// RequireResults is ResultIDs where there must be one.
func RequireResults(results string) ([]string, error) {
	ids, err := ResultIDs(results)
	if err == nil && len(ids) == 0 {
		err = errors.New("there is no result in this lab yet; run swathe measure first")
	}
	return ids, err
}

// ResultIDs lists the results under a folder of results as <layout>/<run>, in
// order: every folder with a run.json in it.
func ResultIDs(results string) ([]string, error) {
	layouts, err := os.ReadDir(results)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	var out []string
	for _, l := range layouts {
		if !l.IsDir() || strings.HasPrefix(l.Name(), ".") {
			continue
		}
		runs, err := os.ReadDir(filepath.Join(results, l.Name()))
		if err != nil {
			return nil, err
		}
		for _, r := range runs {
			if r.IsDir() && !strings.HasPrefix(r.Name(), ".") {
				out = append(out, l.Name()+"/"+r.Name())
			}
		}
	}
	return out, nil
}
