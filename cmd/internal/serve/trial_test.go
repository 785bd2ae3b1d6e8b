package serve

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"swathe/cmd/internal/labtest"
	"swathe/report/page"
)

// TestTrialPages goes the way of a tester with a plan: what is due stands on the
// page, a recording with the camera's own name is said to be a due run by one
// request, and a reading of the bench is entered, refused, replaced and listed.
func TestTrialPages(t *testing.T) {
	dir := t.TempDir()
	labtest.Put(t, dir, "lab.yaml", `layouts:
  den:
    room: [[0, 0], [3, 0], [3, 2], [0, 2]]
robots:
  wren:
    diameter: 0.3
    height: 0.1
    tools: {brush: {width: 0.2}}
settings: {cell: 0.02, draws: 20, budget_draws: 10}
`)
	d, err := New(context.Background(), dir, Options{Jobs: 1, Settle: 50 * time.Millisecond, Poll: 20 * time.Millisecond}, Eye{}, func(string, ...any) {})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	h, root, err := page.New(dir, d, page.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	defer root.Close()
	srv := httptest.NewServer(h)
	defer srv.Close()
	call := func(method, path, body string) (int, string) {
		t.Helper()
		r, err := http.NewRequest(method, srv.URL+path, bytes.NewBufferString(body))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Origin", srv.URL)
		r.Header.Set("Content-Type", "application/json")
		a, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		raw, _ := io.ReadAll(a.Body)
		return a.StatusCode, string(raw)
	}
	holds := func(path string, want ...string) string {
		t.Helper()
		code, text := call("GET", path, "")
		for _, w := range want {
			if code != http.StatusOK || !strings.Contains(text, w) {
				t.Fatalf("%s (%d) lacks %q:\n%s", path, code, w, text)
			}
		}
		return text
	}
	holds("/plan", "no plan yet", `id="new-plan"`)
	ask := func(method, path, body string, want int, said string) {
		t.Helper()
		if code, text := call(method, path, body); code != want || !strings.Contains(text, said) {
			t.Errorf("%s %s %s: %d %s, want %d and %q", method, path, body, code, text, want, said)
		}
	}
	ask("POST", "/plan", `{"trials": 0, "phases": "single"}`, http.StatusUnprocessableEntity, "from 1 to 1000")
	ask("POST", "/plan", `{"trials": 3, "phases": "single"}`, http.StatusCreated, "written")
	holds("/plan", "3 due")
	ask("POST", "/plan", `{"trials": 3, "phases": "single"}`, http.StatusConflict, "do not change a plan")
	labtest.Put(t, dir, "plan.yaml", "robots: [wren]\nlayouts: [den]\nphases: [single]\ntrials: 2\nseed: 7\nfigure: covered_share\n")
	if text := holds("/plan", "2 due", "den/wren_single_1", "wren_single_2"); strings.Contains(text, "is this run") {
		t.Error("a recording answers an entry although there is none")
	}
	var path strings.Builder
	path.WriteString("t_s,x_m,y_m\n")
	for i := range 60 {
		fmt.Fprintf(&path, "%.1f,%.3f,1.000\n", 0.1*float64(i), 0.4+0.03*float64(i))
	}
	labtest.Put(t, dir, "recordings/den/C0042.csv", path.String())
	until := time.Now().Add(20 * time.Second)
	for {
		if _, text := call("GET", "/plan", ""); strings.Contains(text, "C0042.csv is this run") {
			break
		}
		if time.Now().After(until) {
			t.Fatal("the recording without a name is offered to no entry")
		}
		time.Sleep(20 * time.Millisecond)
	}
	if code, text := call("POST", "/name/den/C0042.csv", `{"robot": "wren", "phase": "single", "trial": 2}`); code != http.StatusOK {
		t.Fatalf("naming: %d %s", code, text)
	}
	for until = time.Now().Add(30 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		_, text := call("GET", "/plan", "")
		if strings.Contains(text, `href="/runs/den/wren_single_2"`) && strings.Contains(text, "1 due") {
			break
		}
		if time.Now().After(until) {
			t.Fatalf("the named recording is not measured:\n%s", text)
		}
	}

	// What holds for a day is inherited by its runs, which may say otherwise; slips are
	// refused and nothing is written.
	const run = "/runs/den/wren_single_2"
	ask("PUT", "/days/2026-03-02", `{"operator": "M. Reed", "temperature": "215"}`, http.StatusUnprocessableEntity, "from -20 to 60")
	ask("PUT", "/days/2026-03-02", `{"operater": "M. Reed"}`, http.StatusUnprocessableEntity, "operator")
	ask("PUT", "/days/yesterday", `{"operator": "M. Reed"}`, http.StatusUnprocessableEntity, "not a day")
	ask("PUT", "/days/2026-03-02", `{"operator": "M. Reed", "temperature": "21.5", "light": "blinds shut"}`, http.StatusOK, "2026-03-02")
	ask("PUT", "/days/2026-03-02", `{"light": ""}`, http.StatusOK, "2026-03-02")
	if text := holds("/plan?day=2026-03-02", `value="M. Reed"`, `value="21.5"`); strings.Contains(text, "blinds shut") {
		t.Error("what was taken out of a day is still there")
	}
	ask("PUT", run+"/conditions", `{"outcome": "finished"}`, http.StatusUnprocessableEntity, "outcome")
	ask("PUT", run+"/conditions", `{"date": "2026-03-02 10:15", "firmware": "1.4", "outcome": "complete"}`, http.StatusAccepted, "wren_single_2")
	for until = time.Now().Add(20 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		_, text := call("GET", "/results/den/wren_single_2/run.json", "")
		if strings.Contains(text, `"operator": "M. Reed"`) && strings.Contains(text, `"firmware": "1.4"`) {
			break
		}
		if time.Now().After(until) {
			t.Fatalf("the result does not have the conditions:\n%.2000s", text)
		}
	}
	holds(run, `value="M. Reed"`, "Time at work")
	holds("/robots", "den, single runs", "operator M. Reed", `href="/dossiers/wren"`)
	holds("/dossiers/wren", "Dossier: wren", "operator M. Reed", "claim conformity with no standard")
	if code, _ := call("GET", "/dossiers/heron", ""); code != http.StatusNotFound {
		t.Errorf("the dossier of no robot: %d", code)
	}

	holds("/bench", "No reading has been entered yet", `value="mass_picked_up"`)
	reading := `{"robot": "wren", "quantity": "mass_picked_up", "value": %, "unit": "g", "trial": 1, "surface": "carpet", "replace": #}`
	enter := func(value, replace string, want int, said string) {
		t.Helper()
		code, text := call("POST", "/bench", strings.NewReplacer("%", value, "#", replace).Replace(reading))
		if code != want || !strings.Contains(text, said) {
			t.Errorf("reading %s: %d %s, want %d and %q", value, code, text, want, said)
		}
	}
	enter(`"41.3"`, "false", http.StatusCreated, "is entered")
	enter(`"41.3"`, "false", http.StatusCreated, "there already")
	enter(`"14.3"`, "false", http.StatusUnprocessableEntity, "41.3")
	enter(`"14.3"`, "true", http.StatusCreated, "kept aside")
	enter(`"many"`, "false", http.StatusUnprocessableEntity, "many")
	enter(`"14.3", "price": 3`, "false", http.StatusBadRequest, "price")
	holds("/bench", "14.3", "trial 1, carpet")
}
