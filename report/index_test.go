package report

import (
	"fmt"
	"math/rand"
	"os"
	"path/filepath"
	"testing"

	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/coverage/stats"
)

// SyntheticResults makes n result folders with a run.json each, as large as a
// real one: 40 robots in 3 layouts, with events and lanes.
func SyntheticResults(t testing.TB, n int) (dir string, ids []string) {
	t.Helper()
	dir = t.TempDir()
	rng := rand.New(rand.NewSource(12))
	for i := 0; i < n; i++ {
		r := &Run{Schema: Schema, Layout: []string{"empty", "cluttered", "flat"}[i%3], Robot: fmt.Sprintf("robot%d", i/3%40), Phase: []string{"mapping", "mapped"}[i/120%2], Trial: 1 + i/240,
			Tool: "brush", ToolWidthM: 0.18, Versions: map[string]string{"analysis": "1"}, SetupSHA: "a", Conditions: map[string]string{},
			Trace: TraceInfo{LostShare: 0.01}, Run: RunInfo{Started: "at rest", Ended: "docked", Motion: coverage.Motion{DurationS: 600 + 60*rng.NormFloat64(), DistanceM: 150}},
			Coverage: Block{Block: coverage.Block{ReachableShare: 0.9 + 0.03*rng.NormFloat64(), CoveredShare: 0.85, Redundancy: rng.Float64()}}}
		r.Coverage.Known = Known{Beside[stats.Interval]{"reachable_share": {Lo: 0.88, Hi: 0.93}, "time_to_s.90": {Lo: 300, Hi: NaN}}, Beside[float64]{"reachable_share": 0.01, "time_to_s.90": NaN}}
		r.Rows = &Rows{}
		for k := 0; k < 60; k++ {
			r.Events = append(r.Events, Event{Kind: []string{"spin", "pause"}[k%2], StartS: float64(k), EndS: float64(k + 1), X: 1, Y: 2, Sentence: "it turned on the spot for a while", Unit: "deg"})
			r.Rows.Lanes = append(r.Rows.Lanes, RowLane{StartS: float64(k), FromX: 1, ToX: 2})
		}
		name := filepath.Join(dir, r.Layout, r.Name())
		if err := os.MkdirAll(name, 0o755); err != nil {
			t.Fatal(err)
		}
		raw, err := MarshalIndent(r)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(name, RunFile), raw, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	ids, err := ResultIDs(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(ids) != n {
		t.Fatalf("%d folders, want %d", len(ids), n)
	}
	return dir, ids
}

// The index changes nothing but the time: with it, without it, damaged, of
// another version, and after a run changed or went.
func TestIndexIsTheFolders(t *testing.T) {
	dir, ids := SyntheticResults(t, 60)
	fresh, unread := Indexed(dir, ids)
	if len(fresh) != 60 || len(unread) != 0 {
		t.Fatalf("%d read, %v not", len(fresh), unread)
	}
	file := filepath.Join(dir, IndexFile)
	if _, err := os.Stat(file); err != nil {
		t.Fatal(err)
	}
	again := func(what string, want []compare.Run) {
		t.Helper()
		got, _ := Indexed(dir, ids)
		if len(got) != len(want) {
			t.Fatalf("%s: %d runs, want %d", what, len(got), len(want))
		}
		for i := range got {
			if g, w := fmt.Sprint(got[i]), fmt.Sprint(want[i]); g != w { // NaN is no equal of itself
				t.Fatalf("%s: %s\nwant %s", what, g, w)
			}
		}
	}
	again("from the index", fresh)
	for what, data := range map[string]string{"damaged": "{", "another version": `{"version": 0, "runs": {}}`} {
		if err := os.WriteFile(file, []byte(data), 0o644); err != nil {
			t.Fatal(err)
		}
		again(what, fresh)
	}
	// A run that is measured anew counts at once.
	run := filepath.Join(dir, filepath.FromSlash(ids[7]), RunFile)
	r, err := ReadRun(filepath.Dir(run))
	if err != nil {
		t.Fatal(err)
	}
	r.Coverage.ReachableShare = 0.123
	raw, _ := Marshal(r)
	if err := os.WriteFile(run, raw, 0o644); err != nil {
		t.Fatal(err)
	}
	changed, _ := Indexed(dir, ids)
	if changed[7].Value("reachable_share") != 0.123 {
		t.Errorf("a changed run counts as %g", changed[7].Value("reachable_share"))
	}
	// One that cannot be read is told, and the others count.
	if err := os.WriteFile(run, []byte("{}"), 0o644); err != nil {
		t.Fatal(err)
	}
	got, unread := Indexed(dir, ids)
	if len(got) != 59 || len(unread) != 1 || unread[0].Run != ids[7] {
		t.Errorf("%d read, not: %v", len(got), unread)
	}
	// An index that cannot be written costs nothing.
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(file, 0o755); err != nil {
		t.Fatal(err)
	}
	if got, _ := Indexed(dir, ids); len(got) != 59 {
		t.Errorf("%d read without an index", len(got))
	}
}

func TestBesideJSON(t *testing.T) {
	k := Known{Beside[stats.Interval]{"covered_share": {Lo: 0.1, Hi: 0.2}, "time_to_s.90": {Lo: 5, Hi: NaN}, "time_to_s.99": {Lo: NaN, Hi: NaN}}, nil}
	raw, err := Marshal(k)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"interval_95":{"covered_share":[0.1,0.2],"time_to_s":{"90":[5,null],"99":null}},"standard_uncertainty":null}`
	if string(raw) != want {
		t.Errorf("%s\nwant %s", raw, want)
	}
	var back Known
	if err := Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	if back.Interval95["time_to_s.90"].Lo != 5 || Measured(back.Interval95["time_to_s.90"].Hi) || Measured(back.Interval95["time_to_s.99"].Lo) || back.StandardU != nil || Measured(back.U("x")) {
		t.Errorf("read back %+v", back)
	}
	for _, bad := range []string{`{"interval_95":{"a":[1]}}`, `{"interval_95":{"a":"x"}}`, `{"interval_95":3}`} {
		if err := Unmarshal([]byte(bad), &back); err == nil {
			t.Errorf("%s: no error", bad)
		}
	}
}

// What is read of run.json for comparisons is what a full reading gives.
func TestComparedIsTheRun(t *testing.T) {
	dir, ids := SyntheticResults(t, 3)
	for _, id := range ids {
		full, err := ReadRun(filepath.Join(dir, filepath.FromSlash(id)))
		if err != nil {
			t.Fatal(err)
		}
		part, err := readCompared(filepath.Join(dir, filepath.FromSlash(id), RunFile))
		if err != nil {
			t.Fatal(err)
		}
		if a, b := fmt.Sprint(ComparedRun(part)), fmt.Sprint(ComparedRun(full)); a != b {
			t.Errorf("%s\nwant %s", a, b)
		}
		if a, b := fmt.Sprint(entryOf(ComparedRun(full)).run(id)), fmt.Sprint(ComparedRun(full)); a != b {
			t.Errorf("through the index: %s\nwant %s", a, b)
		}
	}
}
