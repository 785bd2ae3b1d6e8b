package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	holding "github.com/chromedp/cdproto/fetch"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// measuredPaths is pathLab with its results, and beside them one result of a room
// that none of them can be compared with.
func measuredPaths(t *testing.T, dir string) string {
	t.Helper()
	pathLab(t, dir)
	if code := run(context.Background(), []string{"measure", dir}, io.Discard, io.Discard); code != exitOK {
		t.Fatalf("not measured: %d", code)
	}
	resultsOnly(t, dir, 1)
	return served(t, dir)
}

// late holds a file of the page back until what is returned is called.
func (b *tab) late(file string) (now func()) {
	b.t.Helper()
	go1 := make(chan struct{})
	if err := chromedp.Listen(b.ctx, func(ev any) {
		if e, ok := ev.(*holding.EventRequestPaused); ok {
			go func() {
				<-go1
				_, _ = chromedp.Call(b.ctx, holding.ContinueRequest, holding.ContinueRequestParams{RequestID: e.RequestID})
			}()
		}
	}); err != nil {
		b.t.Fatal(err)
	}
	if _, err := chromedp.Call(b.ctx, holding.Enable, holding.EnableParams{Patterns: []*holding.RequestPattern{{URLPattern: "*" + file}}}); err != nil {
		b.t.Fatal(err)
	}
	return func() { close(go1) }
}

// TestPageBeside lays runs side by side: what cannot be compared is told before
// anything is made, one place is shown on all plans, by mouse and by keys, and all
// runs on one plan at a click.
func TestPageBeside(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "beside")
	address := measuredPaths(t, dir)
	b := browserTab(t, address, 1280, 900, false)

	// Pressed before its script is there, Compare is kept and then done.
	b.open(address+"help", "main h1")
	now := b.late("/assets/side.js")
	b.value(`void (location.href = '/side?run=cluttered/siskin_mapped_1&run=cluttered/siskin_mapped_2')`, nil)
	b.until("the form is there", `document.readyState === 'interactive' && document.getElementById('compare')`, 10*time.Second)
	b.value(`void document.getElementById('compare').click()`, nil)
	if made, _ := filepath.Glob(filepath.Join(dir, "comparisons/*")); len(made) > 0 {
		t.Fatal("the page's script is not held back")
	}
	now()
	b.see(".beside .player")

	// Nothing, one, two of two rooms, two of one.
	b.open(address+"side", "#choose")
	verdict := func(want string, able bool) {
		t.Helper()
		b.until("it is judged: "+want, fmt.Sprintf(`document.getElementById('judged').textContent.includes(%q) && document.getElementById('compare').disabled === %v`, want, !able), 10*time.Second)
	}
	verdict("Choose two to six runs", false)
	b.click(`input[value="cluttered/siskin_mapped_1"]`)
	verdict("Choose at least one more", false)
	b.click(`input[value="hall/rowan_single_1"]`)
	verdict("hall/rowan_single_1 is left out: it is of layout hall", false)
	b.shot("refused")
	b.click(`input[value="cluttered/siskin_mapped_2"]`)
	verdict("2 runs can be compared", true)
	var notes string
	if b.value(`document.querySelector('#judged ul').textContent`, &notes); strings.Contains(notes, "does not list what it shares") || !strings.Contains(notes, "two runs") {
		t.Errorf("what the comparison can't tell: %s", notes)
	}
	b.click(`input[value="hall/rowan_single_1"]`)
	b.click(`input[value="cluttered/siskin_mapping_1"]`)
	verdict("3 runs can be compared", true)
	b.shot("chosen")
	if made, _ := filepath.Glob(filepath.Join(dir, "comparisons/*")); len(made) != 1 {
		t.Errorf("choosing made %v", made)
	}
	b.click("#compare")
	b.until("three are beside each other", `document.querySelectorAll('.beside .player').length === 3 && [...document.querySelectorAll('.plan img')].every(i => i.complete && i.naturalWidth > 0)`, time.Minute)

	// One scale: a metre is as long on every plan.
	var scales []float64
	b.value(`[...document.querySelectorAll('.player')].map(p => JSON.parse(p.dataset.player).plan.k)`, &scales)
	if len(scales) != 3 || slices.Max(scales) != slices.Min(scales) {
		t.Errorf("pixels a metre: %v", scales)
	}

	// The place under the pointer of one plan, m, as every plan shows it.
	places := func() (out [][2]float64) {
		t.Helper()
		b.value(`[...document.querySelectorAll('.player')].map(p => { const v = JSON.parse(p.dataset.player).plan, c = p.querySelector('.plan .cross'); if (c.style.display === 'none') return null; const m = c.transform.baseVal[0].matrix; return [(m.e - v.x0) / v.k, (v.y0 - m.f) / v.k]; }).filter(Boolean)`, &out)
		return
	}
	var at [2]float64
	b.value(`(() => { const p = document.querySelectorAll('.player')[1], v = JSON.parse(p.dataset.player).plan, s = p.querySelector('.plan svg'); s.scrollIntoView({ block: 'center' }); const q = new DOMPoint(v.x0 + v.k * 1.2, v.y0 - v.k * 0.9).matrixTransform(s.getScreenCTM()); return [q.x, q.y]; })()`, &at)
	b.do(chromedp.MouseEvent("mouseMoved", at[0], at[1]))
	b.until("the cross is on all plans", `[...document.querySelectorAll('.plan .cross')].filter(c => c.style.display !== 'none').length === 3`, 5*time.Second)
	for i, p := range places() {
		if math.Hypot(p[0]-1.2, p[1]-0.9) > 0.01 {
			t.Errorf("plan %d shows the place 1.2, 0.9 at %.3f, %.3f", i+1, p[0], p[1])
		}
	}
	b.shot("cross")
	b.do(chromedp.MouseEvent("mouseMoved", 5, 5))
	b.until("the cross is gone", `[...document.querySelectorAll('.plan .cross')].every(c => c.style.display === 'none')`, 5*time.Second)
	b.do(chromedp.Focus(chromedp.CSS(".player:nth-child(3) .plan")))
	b.keys(1, kb.ArrowRight)
	from := places()
	b.keys(2, kb.ArrowUp)
	to := places()
	var clock float64
	b.value(`Number(document.getElementById('seek').value)`, &clock)
	if len(from) != 3 || len(to) != 3 || clock != 0 {
		t.Fatalf("by keys: %v, %v, the clock at %g s", from, to, clock)
	}
	for i := range to {
		if math.Abs(to[i][1]-from[i][1]-0.1) > 0.005 || math.Abs(to[i][0]-from[i][0]) > 0.005 {
			t.Errorf("plan %d: two steps up lead from %v to %v", i+1, from[i], to[i])
		}
	}
	b.keys(1, kb.Escape)
	if left := places(); len(left) > 0 {
		t.Errorf("after Escape the cross is at %v", left)
	}

	// All runs on one plan.
	img := `(i => i.complete && i.naturalWidth > 800 && i.alt || "")(document.querySelector('#joint-shown:not([hidden]) img'))`
	for _, k := range []struct{ press, alt string }{{"#agreement", "In how many of the 3 runs"}, {"#difference", "only one of cluttered/siskin_mapping_1 and cluttered/siskin_mapped_1"}} {
		b.click(k.press)
		b.until(k.press+" is drawn", fmt.Sprintf(`document.querySelector('#joint-shown:not([hidden])') && %s.includes(%q)`, img, k.alt), time.Minute)
		b.shot("joint" + k.press)
	}
	b.do(chromedp.SetValue(chromedp.CSS("#diff-b"), "cluttered/siskin_mapping_1"))
	b.value(`void document.getElementById('diff-b').dispatchEvent(new Event('change'))`, nil)
	b.until("the same run twice is refused", `document.getElementById('joint-why').textContent.includes('two different runs')`, 5*time.Second)
}

// TestPageExports looks before it writes: what would be drawn is shown and nothing
// is written; then all of it comes as one zip, and a run's files as they are.
func TestPageExports(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "exports")
	address := measuredPaths(t, dir)
	b := browserTab(t, address, 1280, 900, false)
	b.open(address+"export?run=cluttered/siskin_mapped_1&run=cluttered/siskin_mapped_2", "#export")
	b.until("three pictures of each are shown", `document.querySelectorAll('#previews figure').length === 6`, 10*time.Second)
	for _, k := range []string{"agreement", "difference"} {
		b.click(`input[name=picture][value="` + k + `"]`)
	}
	b.click(`input[name=picture][value="test_objects"]`) // maple has none
	drawn := `[...document.querySelectorAll('#previews img')].every(i => i.complete && i.naturalWidth > 0)`
	b.value(`void document.querySelectorAll('#previews img').forEach(i => { i.loading = 'eager'; })`, nil)
	b.until("those of both are shown first, and why one can't be", `document.querySelectorAll('#previews figure').length === 9 && document.querySelector('#previews .why')?.textContent.includes('test objects')`, time.Minute)
	b.value(`void document.querySelectorAll('#previews img').forEach(i => { i.loading = 'eager'; })`, nil)
	b.until("they are drawn", drawn, time.Minute)
	b.shot("previews")
	if _, err := os.Stat(filepath.Join(dir, "exports")); err == nil {
		t.Error("looking wrote something")
	}
	b.click(`#tables`)
	b.click(`#export .go`)
	b.until("it is exported", `document.querySelectorAll('#files a').length > 8`, time.Minute)
	b.shot("exported")
	get := func(at string) []byte {
		t.Helper()
		resp, err := http.Get(at)
		if err != nil {
			t.Fatal(err)
		}
		defer resp.Body.Close()
		raw, err := io.ReadAll(resp.Body)
		if err != nil || resp.StatusCode != http.StatusOK {
			t.Fatalf("%s: %d %v", at, resp.StatusCode, err)
		}
		return raw
	}
	whole := func(link, folder string) {
		t.Helper()
		var at string
		b.value(`document.querySelector('`+link+`').href`, &at)
		raw := get(at)
		z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
		if err != nil {
			t.Fatal(err)
		}
		files, _ := filepath.Glob(filepath.Join(dir, folder, "*"))
		if len(z.File) != len(files) || len(files) < 5 {
			t.Errorf("the zip holds %d files, %s %d", len(z.File), folder, len(files))
		}
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			got, _ := io.ReadAll(r)
			if want, err := os.ReadFile(filepath.Join(dir, folder, filepath.Base(f.Name))); err != nil || !bytes.Equal(got, want) {
				t.Errorf("%s in the zip is not the one in the lab: %v", f.Name, err)
			}
		}
	}
	whole("#zip", "exports/print")
	b.open(address+"runs/cluttered/siskin_mapped_1", `.files a[href$="run.json"]`)
	whole(`a[href^="/zip/results/"]`, "results/cluttered/siskin_mapped_1")
	for _, f := range []string{"run.json", "trace.csv"} {
		var at string
		b.value(`document.querySelector('.files a[href$="`+f+`"]').href`, &at)
		if want, err := os.ReadFile(filepath.Join(dir, "results/cluttered/siskin_mapped_1", f)); err != nil || !bytes.Equal(get(at), want) {
			t.Errorf("%s as downloaded is not the lab's: %v", f, err)
		}
	}
}

// filmable is a lab whose one result says that it was measured from its recording,
// with the path that it was drawn from.
func filmable(t *testing.T, dir string) {
	t.Helper()
	filmed(t, dir, "../../testdata/maple/recordings/cluttered/siskin_mapped_1.mp4", ".mp4", 189)
	file := filepath.Join(dir, "results/cluttered/siskin_mapped_1/run.json")
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var m map[string]any
	if err := json.Unmarshal(raw, &m); err != nil {
		t.Fatal(err)
	}
	m["recording"].(map[string]any)["frame_size"] = []int{1280, 720}
	raw, _ = json.Marshal(m)
	if err := os.WriteFile(file, raw, 0o644); err != nil {
		t.Fatal(err)
	}
}

// TestPageFilms makes a film from the page: a frame of it is shown before, how far it
// is while it is made, and cancelling leaves no half of one.
func TestPageFilms(t *testing.T) {
	if os.Getenv("SWATHE_EYE") == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	dir := filepath.Join(t.TempDir(), "films")
	filmable(t, dir)
	address := served(t, dir)
	b := browserTab(t, address, 1280, 900, false)

	// What is swept grows in perspective over the recording, and a place under the
	// pointer there is the same on the plan.
	b.open(address+"runs/cluttered/siskin_mapped_1", "#seek")
	b.until("the recording is there", `document.querySelector('video').readyState >= 1 && document.querySelector('.plan img').naturalWidth > 0`, time.Minute)
	veil := func(at float64) (n int) {
		t.Helper()
		b.value(fmt.Sprintf(`(() => { const s = document.getElementById('seek'); s.value = %g; s.dispatchEvent(new Event('input')); const c = document.querySelector('canvas.veil'); return c.getContext('2d').getImageData(0, 0, c.width, c.height).data.filter((v, i) => i %% 4 === 3 && v > 0).length; })()`, at), &n)
		return
	}
	start, minute, end := veil(5), veil(60), veil(180)
	t.Logf("pixels of the recording under the veil: %d at 5 s, %d at 60 s, %d at 180 s", start, minute, end)
	if start > minute/20 || minute <= 0 || float64(end) < 1.5*float64(minute) {
		t.Error("what was swept does not grow over the recording")
	}
	var at [2]float64
	b.value(`(() => { const s = document.querySelector('.screen .onto'); s.scrollIntoView({ block: 'center' }); const r = s.getBoundingClientRect(); return [r.left + 0.4 * r.width, r.top + 0.5 * r.height]; })()`, &at)
	b.do(chromedp.MouseEvent("mouseMoved", at[0], at[1]))
	b.until("the place is shown on the plan", `[...document.querySelectorAll('.cross')].filter(c => c.style.display !== 'none').length === 2`, 5*time.Second)
	var off [2]float64
	b.value(fmt.Sprintf(`(async () => { const { floor } = await import('/assets/lens.js'), run = JSON.parse(document.querySelector('.player').dataset.player), v = run.plan;
		const q = new DOMPoint(%g, %g).matrixTransform(document.querySelector('.screen .onto').getScreenCTM().inverse()), f = floor(run.camera, q.x, q.y), m = document.querySelector('.plan .cross').transform.baseVal[0].matrix;
		return [(m.e - v.x0) / v.k - f[0], (v.y0 - m.f) / v.k - f[1]]; })()`, at[0], at[1]), &off)
	if math.Hypot(off[0], off[1]) > 0.01 {
		t.Errorf("the cross on the plan is %v m off the place in the recording", off)
	}
	b.shot("veil")

	b.open(address+"export?run=cluttered/siskin_mapped_1", "#export")
	b.value(`void document.querySelectorAll('input[name=picture]:checked').forEach(i => i.click())`, nil)
	b.click("#f-each")
	b.until("a frame of the film is shown", `(i => i?.alt.startsWith('From the middle of the film') && i.complete && i.naturalWidth > 300)(document.querySelector('#previews img'))`, time.Minute)
	b.shot("film-preview")
	if _, err := os.Stat(filepath.Join(dir, "exports")); err == nil {
		t.Error("looking wrote something")
	}
	b.value(`void (window.bars = [], new MutationObserver(() => { const v = document.querySelector('#doing progress')?.getAttribute('value'); if (v && bars.at(-1) !== Number(v)) bars.push(Number(v)); }).observe(document.getElementById('doing'), { subtree: true, childList: true, attributes: true }))`, nil)
	b.do(chromedp.SetValue(chromedp.CSS("#f-speed"), "1"))
	b.click("#export .go")
	b.until("it is told how far it is", `window.bars.length > 1`, time.Minute)
	b.shot("filming")
	b.click("#stop")
	b.until("it is cancelled", `document.getElementById('say').textContent.includes('cancelled')`, 10*time.Second)
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(100 * time.Millisecond) {
		left, _ := filepath.Glob(filepath.Join(dir, "exports/print/*"))
		hidden, _ := filepath.Glob(filepath.Join(dir, "exports/print/.*"))
		if len(left)+len(hidden) == 0 {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("cancelled, it leaves %v", append(left, hidden...))
		}
	}
	b.do(chromedp.SetValue(chromedp.CSS("#f-speed"), "64"))
	b.value(`void (window.bars.length = 0)`, nil)
	b.click("#export .go")
	b.see("dialog[open]")
	b.click(`dialog button[value="replace"]`)
	b.until("it is made", `[...document.querySelectorAll('#files a')].some(a => a.textContent.endsWith('_film.mp4'))`, 2*time.Minute)
	var bars []float64
	b.value(`window.bars`, &bars)
	if !slices.IsSorted(bars) || len(bars) < 2 {
		t.Errorf("how far it is: %v", bars)
	}
	var film string
	b.value(`[...document.querySelectorAll('#files a')].find(a => a.textContent.endsWith('_film.mp4')).href`, &film)
	resp, err := http.Get(film)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	head := make([]byte, 12)
	if _, err := io.ReadFull(resp.Body, head); err != nil || !strings.HasPrefix(string(head[4:]), "ftyp") {
		t.Errorf("the film begins %q: %v", head, err)
	}
	t.Logf("told %d times how far the film is", len(bars))
}
