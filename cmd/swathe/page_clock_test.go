package main

import (
	"context"
	"io"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestPageRunClock moves a run's clock by keys and by the rows of its events: what
// was swept grows on the plan with it, and shrinks when it goes back.
func TestPageRunClock(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "clock")
	pathLab(t, dir)
	if code := run(context.Background(), []string{"measure", dir}, io.Discard, io.Discard); code != exitOK {
		t.Fatalf("not measured: %d", code)
	}
	address := served(t, dir)
	b := browserTab(t, address, 1280, 900, false)
	b.open(address+"runs/cluttered/siskin_mapped_1", "#event-list button")
	b.until("its map is there", `document.querySelector('.plan img').naturalWidth > 0`, time.Minute)
	at := func() (t float64) { b.value(`Number(document.getElementById('seek').value)`, &t); return }
	swept := func() (n int) {
		b.value(`(c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data.filter((v, i) => i % 4 === 3 && v > 0).length)(document.querySelector('canvas.swept'))`, &n)
		return
	}
	start, none := at(), swept()
	for _, k := range []struct {
		name, key string
		by        float64
		shift     bool
	}{{"right", kb.ArrowRight, 1, false}, {"Shift and right", kb.ArrowRight, 10, true}, {"left", kb.ArrowLeft, -1, false}, {"Shift and left", kb.ArrowLeft, -10, true}, {"full stop", ".", 0.04, false}, {"comma", ",", -0.04, false}} {
		before := at()
		if k.shift {
			b.keys(1, k.key, chromedp.KeyModifiers(kb.ModifierShift))
		} else {
			b.keys(1, k.key)
		}
		// A path has no frames: 25 a second are taken.
		if got := at() - before; got*k.by <= 0 || got/k.by > 1.6 || got/k.by < 0.6 {
			t.Errorf("%s moves the clock by %.3f s, want %g", k.name, got, k.by)
		}
	}
	if d := at() - start; d > 0.05 || d < -0.05 {
		t.Errorf("there and back again the clock is %.3f s off", d)
	}
	b.keys(6, kb.ArrowRight, chromedp.KeyModifiers(kb.ModifierShift))
	some := swept()
	b.do(chromedp.Click("#event-list li:last-child button"))
	b.until("the last event's time", `Number(document.getElementById('seek').value) > 150`, 5*time.Second)
	most := swept()
	b.shot("clock")
	b.value(`void (s => { s.value = 0; s.dispatchEvent(new Event('input')); })(document.getElementById('seek'))`, nil)
	b.until("the beginning", `Number(document.getElementById('seek').value) < 1`, 5*time.Second)
	again := swept()
	t.Logf("pixels swept: %d at the start, %d a minute later, %d at the last event, %d back at the beginning", none, some, most, again)
	if none > some/20 || some <= 0 || float64(most) < 1.5*float64(some) || again > none {
		t.Error("what was swept does not go with the clock")
	}
	// The bounds by keys and by mouse: the field, the clock and the handle agree.
	b.do(chromedp.Focus(chromedp.CSS("#bounds .note-end")))
	b.keys(1, kb.ArrowLeft, chromedp.KeyModifiers(kb.ModifierShift))
	b.until("the end is earlier", `Math.abs(Number(document.getElementById('note-end').value) - (JSON.parse(document.querySelector('.player').dataset.player).end_s - 10)) < 0.02`, 5*time.Second)
	b.value(`(() => { const h = document.querySelector('#bounds .note-start'), r = document.getElementById('bounds').getBoundingClientRect(), at = (k, x) => h.dispatchEvent(new PointerEvent(k, { bubbles: true, button: 0, pointerId: 1, clientX: r.left + x * r.width, clientY: r.top + 5 })); h.setPointerCapture = () => {}; at('pointerdown', 0.02); at('pointermove', 0.25); at('pointerup', 0.25); at('pointermove', 0.9); })()`, nil)
	b.until("the start is a quarter on", `(v => Math.abs(v - Number(document.getElementById('seek').max) / 4) < 0.5 && Math.abs(v - Number(document.getElementById('seek').value)) < 0.05)(Number(document.getElementById('note-start').value))`, 5*time.Second)
	b.shot("bounds")
	b.do(chromedp.Focus(chromedp.CSS("#seek")))
	b.keys(1, " ")
	b.until("it plays", `document.getElementById('play').getAttribute('aria-pressed') === 'true'`, 5*time.Second)
	b.until("the clock goes on", `Number(document.getElementById('seek').value) > 1`, 20*time.Second)
	b.keys(1, " ")
	b.until("it stands", `document.getElementById('play').getAttribute('aria-pressed') === 'false'`, 5*time.Second)
}
