package main

import (
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"swathe/report"
)

// ask sends a change as the page's script does and returns status and answer.
func ask(t *testing.T, address, method, path, body string) (int, string) {
	t.Helper()
	req, err := http.NewRequest(method, address+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Origin", strings.TrimSuffix(address, "/"))
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	text, _ := io.ReadAll(resp.Body)
	return resp.StatusCode, string(text)
}

// TestPageChanges guards what the page changes besides the set-up's first
// writing: the run's bounds and what was carried, the name of a recording from a
// camera, and a lab.yaml with comments that somebody else may change meanwhile.
func TestPageChanges(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "changes")
	pathLab(t, dir)
	recordings := filepath.Join(dir, "recordings/cluttered")
	for _, n := range []string{"siskin_mapped_1.csv", "siskin_mapping_1.csv"} {
		if err := os.Remove(filepath.Join(recordings, n)); err != nil {
			t.Fatal(err)
		}
	}
	address := served(t, dir)
	when := func(what string, ok func() bool) {
		t.Helper()
		for end := time.Now().Add(time.Minute); !ok(); time.Sleep(50 * time.Millisecond) {
			if time.Now().After(end) {
				_, rows := ask(t, address, "GET", "rows", "")
				t.Fatalf("never: %s\n%s", what, rows)
			}
		}
	}
	result := filepath.Join(dir, "results/cluttered/siskin_mapped_2")
	read := func() *report.Run { r, _ := report.ReadRun(result); return r }
	when("the path is measured", func() bool { return read() != nil })
	before := read()

	status, text := ask(t, address, "PUT", "runs/cluttered/siskin_mapped_2/notes", `{"start_s": null, "end_s": 90, "carried": [[40, 45]]}`)
	if status != http.StatusAccepted {
		t.Fatalf("the notes: %d %s", status, text)
	}
	when("it is measured with the notes", func() bool {
		r := read()
		return r != nil && r.Run.EndS < 90.1 && r.Trace.CarriedShare > 0
	})
	after := read()
	t.Logf("end %.1f s -> %.1f s, carried share %.3f -> %.3f", before.Run.EndS, after.Run.EndS, before.Trace.CarriedShare, after.Trace.CarriedShare)
	if share := after.Trace.CarriedShare; share < 0.05 || share > 0.07 { // 5 s of 85 s
		t.Errorf("the carried share is %.3f; 5 s of some 85 s are 0.059", share)
	}
	if status, _ := ask(t, address, "PUT", "runs/cluttered/siskin_mapped_2/notes", `{"start_s": 50, "end_s": 20, "carried": []}`); status != http.StatusUnprocessableEntity {
		t.Errorf("an end before the start was taken: %d", status)
	}

	// A recording under a camera's own name is asked about.
	data, err := os.ReadFile(filepath.Join(recordings, "siskin_mapped_2.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(recordings, "C0042.csv"), data, 0o644); err != nil {
		t.Fatal(err)
	}
	when("it is asked about", func() bool {
		_, rows := ask(t, address, "GET", "rows", "")
		return strings.Contains(rows, `"state":"needs a name"`) && strings.Contains(rows, `"file":"C0042.csv"`)
	})
	if status, text := ask(t, address, "POST", "name/cluttered/C0042.csv", `{"robot": "siskin", "phase": "mapped", "trial": 7}`); status != http.StatusOK {
		t.Fatalf("the name: %d %s", status, text)
	}
	when("it is measured under its name", func() bool {
		_, err := report.ReadRun(filepath.Join(dir, "results/cluttered/siskin_mapped_7"))
		return err == nil
	})

	// The set-up keeps its comments, and a change by somebody else is noticed.
	setup := filepath.Join(dir, "lab.yaml")
	old, err := os.ReadFile(setup)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(setup, append([]byte("# surveyed on a Monday\n"), old...), 0o644); err != nil {
		t.Fatal(err)
	}
	var s struct {
		SHA string         `json:"sha256"`
		Doc map[string]any `json:"doc"`
	}
	_, text = ask(t, address, "GET", "setup/doc", "")
	if err := json.Unmarshal([]byte(text), &s); err != nil {
		t.Fatal(err)
	}
	save := func(sha string, height any) (int, string) {
		s.Doc["cameras"].(map[string]any)["ceiling"].(map[string]any)["height"] = height
		body, _ := json.Marshal(map[string]any{"doc": s.Doc, "sha256": sha})
		return ask(t, address, "PUT", "setup/doc", string(body))
	}
	if status, text := save("something else", 2.71); status != http.StatusConflict {
		t.Errorf("a set-up changed meanwhile was written over: %d %s", status, text)
	}
	if status, text := save(s.SHA, -1); status != http.StatusOK || !strings.Contains(text, "height") || !strings.Contains(text, `"saved":false`) {
		t.Errorf("a negative height: %d %s", status, text)
	}
	if now, _ := os.ReadFile(setup); !strings.Contains(string(now), "height: 2.7\n") {
		t.Error("what was refused was written")
	}
	if status, text := save(s.SHA, 2.71); status != http.StatusOK || !strings.Contains(text, `"saved":true`) {
		t.Errorf("the set-up was not saved: %d %s", status, text)
	}
	if now, _ := os.ReadFile(setup); !strings.HasPrefix(string(now), "# surveyed on a Monday\n") || !strings.Contains(string(now), "height: 2.71\n") {
		t.Errorf("the saved set-up reads:\n%s", now)
	}
}
