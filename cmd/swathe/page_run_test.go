package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

// TestPageRun goes from a missed patch to its place, is refused a time that the
// recording does not have, corrects the run's end, and is told on top that the result
// no longer fits.
func TestPageRun(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "correct")
	pathLab(t, dir)
	if code := run(context.Background(), []string{"measure", dir}, io.Discard, io.Discard); code != exitOK {
		t.Fatalf("not measured: %d", code)
	}
	address := served(t, dir, "--jobs", "0") // nobody measures again
	const page = "runs/cluttered/siskin_mapped_1"
	b := browserTab(t, address, 1280, 900, false)
	b.open(address+page, "#event-list button")
	b.until("its map is there", `document.querySelector('.plan img').naturalWidth > 0`, time.Minute)
	var stale bool
	if b.value(`Boolean(document.querySelector('main > .wrong'))`, &stale); stale {
		t.Error("a result that fits is said not to")
	}

	// A missed patch leads to its place.
	b.click("#missed-list")
	b.value(`void (document.getElementById('missed-list').closest('details').open = true)`, nil)
	b.click("#missed-list li:first-child button")
	var off float64
	b.value(`(() => { const run = JSON.parse(document.querySelector('.player').dataset.player), v = run.plan, m = run.missed[0], r = document.querySelector('.plan .ring'); return Math.hypot((r.getAttribute('cx') - v.x0) / v.k - m.x_m, (v.y0 - r.getAttribute('cy')) / v.k - m.y_m); })()`, &off)
	if !(off < 0.01) {
		t.Errorf("the ring is %.3f m beside the missed patch", off)
	}
	b.shot("missed")

	// Its end: first one that the recording does not have.
	notes := filepath.Join(dir, "recordings/cluttered/siskin_mapped_1.yaml")
	end := func(text string) {
		t.Helper()
		b.value(`(() => { const e = document.getElementById('note-end'); e.focus(); e.select(); })()`, nil)
		b.do(chromedp.KeyEvent(text))
		b.click("#notes .actions button")
	}
	end("9999")
	b.until("that is refused at once", `/The recording is [0-9.]+ s long; 9999 s lies behind its end/.test(document.getElementById('say').textContent) && document.activeElement.id === 'note-end'`, 5*time.Second)
	if _, err := os.Stat(notes); err == nil {
		t.Error("what was refused was written")
	}
	end("90")
	b.until("it goes to the runs", `location.pathname === '/' && document.querySelector('#rows tr')`, 10*time.Second)
	if text, _ := os.ReadFile(notes); !bytes.Contains(text, []byte("end_s: 90")) {
		t.Errorf("the notes read %q", text)
	}
	b.open(address+page, "h1")
	b.until("the result is said to be out of date, above its figures", `(w => w && w.textContent.includes('out of date') && w.compareDocumentPosition(document.querySelector('.lead')) & Node.DOCUMENT_POSITION_FOLLOWING)(document.querySelector('main > .wrong'))`, 10*time.Second)
	b.shot("stale")
}

// TestPageBoard holds the drawing board to its manners: the wheel enlarges what is
// under the pointer, Save and what Check says stay in view, and nothing moves aside
// when the page gets longer than its window.
func TestPageBoard(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "board")
	pathLab(t, dir)
	address := served(t, dir)
	b := browserTab(t, address, 1280, 900, false)
	b.open(address+"setup", "#canvas")
	b.until("it is judged", `swathe.S.tried?.judged`, time.Minute)
	b.click("#show-plan")
	const x, y = 400, 300 // of the window: a wheel tells whole pixels
	at := func() (p [2]float64) {
		b.value(fmt.Sprintf(`(r => swathe.board.at([%d - r.left, %d - r.top]))(swathe.board.canvas.getBoundingClientRect())`, x, y), &p)
		return
	}
	b.value(`scrollTo(0, 0)`, nil)
	before := at()
	for range 6 {
		if _, err := chromedp.Call(b.ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseWheel, X: x, Y: y, DeltaX: 0.01, DeltaY: -100}); err != nil {
			t.Fatal(err)
		}
	}
	b.until("it is enlarged", `swathe.board.zoom > 3`, 5*time.Second)
	if after := at(); math.Hypot(after[0]-before[0], after[1]-before[1]) > 0.001 {
		t.Errorf("enlarged, the pointer is over %v, not %v", after, before)
	}
	for _, tab := range []string{"marks", "room", "things", "robots", "distances"} {
		b.press("tab-" + tab)
		for _, to := range []string{"0", "document.documentElement.scrollHeight"} {
			var out []string
			b.value(`(scrollTo(0, `+to+`), [...document.querySelectorAll('#save, #text')].map(e => e.getBoundingClientRect()).filter(r => r.top < 0 || r.bottom > innerHeight).map(r => r.top + ' to ' + r.bottom))`, &out)
			if len(out) > 0 {
				t.Errorf("on %s, scrolled to %s, Save is at %v of 900", tab, to, out)
			}
		}
	}
	// The furniture stands up, the dock and the tapes are drawn: more lines than without.
	b.click("#show-picture")
	var drawn []string
	b.value(`(async () => { const { S } = await import('/assets/draft.js'), b = swathe.board, seen = new Set(), words = b.words; b.words = (t, p) => { seen.add(t); words.call(b, t, p); }; S.doc.layouts.cluttered.dock = { at: [0.3, 0.3], heading: 90 }; b.draw(); delete b.words; return [...seen]; })()`, &drawn)
	for _, want := range []string{"cabinet", "stool", "tabletop", "dock", "2.4 m"} {
		if !strings.Contains(strings.Join(drawn, "|"), want) {
			t.Errorf("%s is not drawn: %v", want, drawn)
		}
	}
	width := func() (w float64) {
		b.value(`document.querySelector('main').getBoundingClientRect().width`, &w)
		return
	}
	long := width()
	b.value(`void (document.querySelector('main').style.cssText = 'height: 10px; overflow: hidden')`, nil)
	if short := width(); short != long {
		t.Errorf("with a scroll bar the page is %g wide, without %g", long, short)
	}
	b.shot("board")
}
