package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// resultsOnly makes a lab of n results without recordings, in two layouts, of
// three robots.
func resultsOnly(tb testing.TB, dir string, n int) {
	tb.Helper()
	events := strings.TrimSuffix(strings.Repeat(`{"kind":"pause","start_s":10,"end_s":16,"x_m":1,"y_m":1,"size":6,"unit":"s","sentence":"It stood still for a while, as it does."},`, 40), ",")
	for i := range n {
		layout, robot := []string{"hall", "den"}[i%2], []string{"rowan", "linden", "siskin"}[i%3]
		at := filepath.Join(dir, "results", layout, fmt.Sprintf("%s_single_%d", robot, i+1))
		if err := os.MkdirAll(at, 0o755); err != nil {
			tb.Fatal(err)
		}
		doc := fmt.Sprintf(`{"schema":2,"layout":%q,"robot":%q,"phase":"single","trial":%d,"tool":"brush","conditions":{"firmware":"1.%d"},"run":{"duration_s":%d,"distance_m":%d},"coverage":{"reachable_share":%.4f},"events":[%s]}`,
			layout, robot, i+1, i%4, 600+i%97, 100+i%53, 0.5+0.4*float64((i*7919)%1000)/1000, events)
		if err := os.WriteFile(filepath.Join(at, "run.json"), []byte(doc), 0o644); err != nil {
			tb.Fatal(err)
		}
	}
}

// column returns the text of the cells of a column that are built.
func (b *tab) column(title string) []string {
	b.t.Helper()
	var out []string
	b.value(fmt.Sprintf(`(() => { const i = [...document.querySelectorAll('#head th')].findIndex(h => h.textContent.replace(/ [▲▼]$/, '') === %q); return [...document.querySelectorAll('#rows tr')].map(r => r.cells[i].textContent); })()`, title), &out)
	return out
}

// TestPageRuns sorts, filters and chooses in a list of 400 runs, by mouse and by
// keys; what is chosen goes along though its row is not built.
func TestPageRuns(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "many")
	resultsOnly(t, dir, 400)
	address := served(t, dir)
	b := browserTab(t, address, 1280, 900, false)
	b.open(address, "#rows tr")
	b.until("the list is whole", `document.getElementById('count').textContent === '400 runs'`, 20*time.Second)
	var built int
	b.value(`document.querySelectorAll('#rows tr').length`, &built)
	if built >= 400 {
		t.Errorf("all %d rows are built at once", built)
	}
	// Every column sorts, both ways.
	b.click(`.pick summary`)
	b.value(`void document.querySelectorAll('#columns input:not(:checked)').forEach(i => i.click())`, nil)
	var columns []string
	b.value(`[...document.querySelectorAll('[data-sort]')].map(e => e.dataset.sort)`, &columns)
	if len(columns) < 12 {
		t.Errorf("only the columns %v", columns)
	}
	for _, c := range columns {
		for range 2 {
			b.value(fmt.Sprintf(`void document.querySelector('[data-sort=%q]').click()`, c), nil)
			var wrong string
			b.value(fmt.Sprintf(`(() => { const th = document.querySelector('[data-sort=%q]').closest('th'), i = [...th.parentElement.children].indexOf(th), way = th.getAttribute('aria-sort');
				const v = [...document.querySelectorAll('#rows tr')].map(r => r.cells[i].textContent).filter(Boolean).map(s => /^[\d.:]+( %%)?$/.test(s) ? parseFloat(s.replace(/(\d+):(\d+)/, (_, m, s) => 60 * m + Number(s))) : s);
				const cmp = new Intl.Collator('en', { numeric: true }).compare;
				for (let k = 1; k < v.length; k++) { const d = typeof v[k] === 'number' ? v[k] - v[k - 1] : cmp(v[k], v[k - 1]); if (way === 'ascending' ? d < 0 : d > 0) return way + ': ' + v[k - 1] + ' before ' + v[k]; }
				return way ? '' : 'not marked'; })()`, c), &wrong)
			if wrong != "" {
				t.Errorf("column %s: %s", c, wrong)
			}
		}
	}
	// By keys: the head of a column is a button; a filter is a list.
	b.value(`void document.querySelector('.pick').removeAttribute('open')`, nil)
	b.do(chromedp.Focus(chromedp.CSS(`[data-sort="share"]`)))
	b.keys(1, kb.Enter)
	if first := b.column("Share of reachable floor")[0]; !strings.HasPrefix(first, "89.") && !strings.HasPrefix(first, "90.") && !strings.HasPrefix(first, "50.") {
		t.Errorf("sorted by share, the first is %s", first)
	}
	b.do(chromedp.SetValue(chromedp.CSS(`[data-filter="robot"]`), "linden"))
	b.value(`void document.querySelector('[data-filter="robot"]').dispatchEvent(new Event('change'))`, nil)
	b.until("one robot's are left", `document.getElementById('count').textContent === '133 of 400 runs'`, 5*time.Second)
	for _, r := range b.column("Robot") {
		if r != "linden" {
			t.Fatalf("filtered by robot, there is %s", r)
		}
	}
	b.shot("filtered")
	// Chosen, then hidden by a filter: it still goes along.
	b.click(`#rows input[name=run]`)
	var id string
	b.value(`document.querySelector('#rows input[name=run]:checked').value`, &id)
	b.do(chromedp.SendKeys(chromedp.CSS("#filter"), "den/siskin"))
	b.value(`(() => { const s = document.querySelector('[data-filter="robot"]'); s.value = ''; s.dispatchEvent(new Event('change')); })()`, nil)
	b.until("others are shown", `document.getElementById('count').textContent.includes('1 selected') && !document.querySelector('#rows input:checked')`, 5*time.Second)
	b.click(`#rows input[name=run]`)
	b.click(`button[formaction="/side"]`)
	b.see("#choose #name")
	var runs []string
	b.value(`new URLSearchParams(location.search).getAll('run')`, &runs)
	if len(runs) != 2 || runs[0] != id && runs[1] != id {
		t.Errorf("%v go along; %s was chosen", runs, id)
	}
	// What was set stays set.
	b.open(address, "#rows tr")
	b.until("the filter is as it was", `document.getElementById('filter').value === 'den/siskin' && document.querySelector('#table th[aria-sort]').textContent.startsWith('Share')`, 5*time.Second)
}

// TestPageLiveAgain ends the program under an open page and starts it anew: the
// page says so, and catches up with what has happened meanwhile.
func TestPageLiveAgain(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "lost")
	resultsOnly(t, dir, 3)
	address, stop := serving(t, dir)
	b := browserTab(t, address, 1024, 700, false)
	b.cut.Store(true)
	b.open(address, "#rows tr")
	b.until("the list is there", `document.querySelectorAll('#rows tr').length === 3`, 20*time.Second)
	b2 := browserTab(t, address, 390, 700, true)
	b2.cut.Store(true)
	b2.open(address+"help", ".help article")
	stop()
	for i, b := range []*tab{b, b2} {
		b.until("the loss is told", `!document.getElementById('lost').hidden && document.getElementById('lost').textContent.includes('connection')`, 20*time.Second)
		b.shot(fmt.Sprintf("lost-%d", i))
	}
	resultsOnly(t, dir, 5)
	_, stop = serving(t, dir, "--listen", strings.Trim(strings.TrimPrefix(address, "http://"), "/"))
	defer func() { stop() }()
	b.until("it has caught up", `document.getElementById('lost').hidden && document.querySelectorAll('#rows tr').length === 5`, 30*time.Second)
	b2.until("so has the other", `document.getElementById('lost').hidden`, 30*time.Second)
}

// TestPageBin renames and removes runs in one browser while another looks on,
// brings one back, and empties the bin.
func TestPageBin(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "bin")
	pathLab(t, dir)
	if code := run(context.Background(), []string{"measure", dir}, io.Discard, io.Discard); code != exitOK {
		t.Fatalf("not measured: %d", code)
	}
	// The same recording under another name.
	data, err := os.ReadFile(filepath.Join(dir, "recordings/cluttered/siskin_mapped_1.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "recordings/cluttered/siskin_mapped_9.csv"), data, 0o644); err != nil {
		t.Fatal(err)
	}
	address := served(t, dir)
	b, other := browserTab(t, address, 1024, 800, false), browserTab(t, address, 390, 800, true)
	// A page whose stream opens late, as on a slow line, has missed what happened since it
	// was made.
	if _, err := chromedp.Call(b.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `const Stream = EventSource;
		window.EventSource = class {
			static CLOSED = 2;
			constructor(url) { setTimeout(() => { if (this.left) return; this.stream = new Stream(url); this.stream.onmessage = e => this.onmessage(e); this.stream.onerror = e => this.onerror(e); }, 1500); }
			get readyState() { return this.stream?.readyState ?? 0; }
			close() { this.left = true; this.stream?.close(); }
		};`}); err != nil {
		t.Fatal(err)
	}
	b.open(address, "#rows tr")
	other.open(address, "#rows tr")
	state := func(b *tab, id, state string) {
		t.Helper()
		b.until(id+" is "+state, fmt.Sprintf(`(document.querySelector('#rows tr[data-id="cluttered/%s"]')?.dataset.state ?? 'gone') === %q`, id, state), time.Minute)
	}
	state(b, "siskin_mapped_9", "measured")
	b.until("the copy is told", `document.querySelector('#rows tr[data-id="cluttered/siskin_mapped_9"]').textContent.includes('The same recording as cluttered/siskin_mapped_1')`, 20*time.Second)
	b.shot("same")
	act := func(id, press string) {
		t.Helper()
		b.click(fmt.Sprintf(`#rows tr[data-id="cluttered/%s"] button[data-do="change"]`, id))
		b.see("#change[open]")
		if press == "" {
			b.keys(1, kb.Escape)
		} else {
			b.click(press)
		}
		b.until("the question is closed", `!document.getElementById('change').open`, 5*time.Second)
	}
	act("siskin_mapped_9", "")
	b.shot("asked")
	state(b, "siskin_mapped_9", "measured")
	act("siskin_mapped_9", "#c-all")
	state(b, "siskin_mapped_9", "gone")
	state(other, "siskin_mapped_9", "gone")
	if left, _ := filepath.Glob(filepath.Join(dir, "r*/cluttered/siskin_mapped_9*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if moved, _ := filepath.Glob(filepath.Join(dir, "bin/*/r*/cluttered/siskin_mapped_9*")); len(moved) != 2 {
		t.Errorf("in the bin: %v", moved)
	}

	// A result alone: it is not measured anew until that is asked for.
	act("siskin_mapped_1", "#c-result")
	state(b, "siskin_mapped_1", "stopped")

	// Another name, from the dialog by keys; taken names are refused.
	rename := func(trial string) {
		t.Helper()
		b.click(`#rows tr[data-id="cluttered/siskin_mapped_2"] button[data-do="change"]`)
		b.see("#change[open]")
		b.value(`(() => { const i = document.getElementById('c-trial'); i.focus(); i.select(); })()`, nil)
		b.do(chromedp.KeyEvent(trial))
		b.keys(1, kb.Enter)
	}
	rename("1")
	b.until("a taken name is refused", `document.getElementById('say').textContent.includes('There is a cluttered/siskin_mapped_1 already')`, 5*time.Second)
	rename("7")
	state(b, "siskin_mapped_7", "measured")
	state(other, "siskin_mapped_2", "gone")
	other.shot("list-390")

	// Back from the bin.
	b.click(`main a[href="/bin"]`)
	b.see("#bin")
	b.shot("bin")
	var rows []string
	b.value(`[...document.querySelectorAll('#bin tbody tr')].map(r => r.cells[0].textContent + ': ' + r.cells[1].textContent)`, &rows)
	if strings.Join(rows, "; ") != "cluttered/siskin_mapped_2: result; cluttered/siskin_mapped_1: result; cluttered/siskin_mapped_9: recording and result" {
		t.Errorf("the bin holds %v", rows)
	}
	b.click(`#bin tr:nth-child(3) button`)
	b.until("it has left the bin", `document.querySelectorAll('#bin tbody tr').length === 2`, 5*time.Second)
	state(other, "siskin_mapped_9", "measured")
	back, err := os.ReadFile(filepath.Join(dir, "recordings/cluttered/siskin_mapped_9.csv"))
	if err != nil || string(back) != string(data) {
		t.Errorf("what came back is not what was removed: %v", err)
	}
	b.click("#empty")
	b.see("#sure[open]")
	b.shot("sure")
	b.keys(1, kb.Escape)
	b.until("nothing was emptied", `!document.getElementById('sure').open && document.querySelectorAll('#bin tbody tr').length === 2`, 5*time.Second)
	b.click("#empty")
	b.click(`#sure button[value="ok"]`)
	b.until("the bin is empty", `document.querySelector('main')?.textContent.includes('The bin is empty')`, 10*time.Second)
	if left, _ := filepath.Glob(filepath.Join(dir, "bin/*")); len(left) > 0 {
		t.Errorf("in the bin there is %v", left)
	}

	// Stop on what is done is ignored.
	if status, text := ask(t, address, "POST", "runs/cluttered/siskin_mapped_7/stop", ""); status != http.StatusAccepted {
		t.Errorf("stop: %d %s", status, text)
	}
	time.Sleep(400 * time.Millisecond)
	var list struct {
		Rows []struct{ ID, State string }
	}
	_, text := ask(t, address, "GET", "rows", "")
	if err := json.Unmarshal([]byte(text), &list); err != nil {
		t.Fatal(err)
	}
	for _, r := range list.Rows {
		if r.ID == "cluttered/siskin_mapped_7" && r.State != "measured" {
			t.Errorf("after Stop on a finished run it is %s", r.State)
		}
	}
}
