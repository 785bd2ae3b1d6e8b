package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// drop drags files from outside the browser onto the page, as the desktop does.
func (b *tab) drop(files ...string) {
	b.t.Helper()
	for i, f := range files {
		files[i], _ = filepath.Abs(f)
	}
	data := &input.DragData{Items: []*input.DragDataItem{}, Files: files, DragOperationsMask: 1}
	for _, kind := range []input.DispatchDragEventType{input.DispatchDragEventTypeDragEnter, input.DispatchDragEventTypeDragOver, input.DispatchDragEventTypeDrop} {
		if _, err := chromedp.Call(b.ctx, input.DispatchDragEvent, input.DispatchDragEventParams{Type: kind, X: 400, Y: 400, Data: data}); err != nil {
			b.t.Fatal(err)
		}
	}
}

// TestPageDrop drops recordings and what is none onto the page. What can't be
// taken is named with its reason, and the rest arrives all the same.
func TestPageDrop(t *testing.T) {
	dir, from := filepath.Join(t.TempDir(), "dropped"), t.TempDir()
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) string {
		file := filepath.Join(from, name)
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return file
	}
	good := write("rowan_single_1.mkv", strings.Repeat("as good as a recording. ", 50_000))
	second := write("rowan_single_2.mp4", "another")
	note, empty := write("note.txt", "not a recording"), write("rowan_single_3.mp4", "")
	folder := filepath.Join(from, "a folder")
	if err := os.Mkdir(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	address := served(t, dir)
	b := browserTab(t, address, 1024, 800, false)
	b.open(address, "#into")

	b.drop(good)
	b.until("the layout is asked for", `document.getElementById('say').textContent.includes('First name the layout') && document.activeElement.id === 'into'`, 5*time.Second)
	b.do(chromedp.KeyEvent("hall"))
	b.drop(note, good, empty, folder, second)
	b.until("the good ones are there", `document.querySelectorAll('#rows tr[data-id^="hall/rowan_single"]').length === 2`, 20*time.Second)
	b.drop(good)
	refusals := `[...document.querySelectorAll('#arriving li')].filter(l => l.querySelector('[role=alert]')).map(l => l.textContent)`
	b.until("four are refused", refusals+`.length === 4`, 20*time.Second)
	var said []string
	b.value(refusals, &said)
	for _, want := range [][2]string{{"note.txt", "not of a type that can be measured"}, {"rowan_single_3.mp4", "empty"}, {"a folder", "This is a folder"}, {"rowan_single_1.mkv", "is there already"}} {
		found := false
		for _, s := range said {
			found = found || strings.HasPrefix(s, want[0]+" ") && strings.Contains(s, want[1])
		}
		if !found {
			t.Errorf("%s is not refused as one that is %q: %q", want[0], want[1], said)
		}
	}
	b.shot("refused")
	if data, err := os.ReadFile(filepath.Join(dir, "recordings/hall/rowan_single_1.mkv")); err != nil || len(data) != 24*50_000 {
		t.Errorf("the recording that was dropped has %d bytes: %v", len(data), err)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "recordings/hall/*")); len(left) != 2 {
		t.Errorf("the folder of the layout holds %v", left)
	}
}

// TestPageStills shows recordings that the browser cannot play as stills from
// the eye: on the time line, by keys and while the clock runs.
func TestPageStills(t *testing.T) {
	if os.Getenv("SWATHE_EYE") == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	for _, file := range []string{"siskin_mapped_4.avi", "siskin_mapped_6.mp4"} { // MPEG-4 part 2; H.265 with 10 bits
		t.Run(file, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "stills")
			filmed(t, dir, "../../testdata/odd/recordings/cluttered/"+file, filepath.Ext(file), 8)
			address := served(t, dir)
			b := browserTab(t, address, 1024, 800, false)
			b.open(address+"runs/cluttered/siskin_mapped_1", "#seek")
			still := `document.querySelector('.still')`
			b.until("a still is shown", still+`.complete && `+still+`.naturalWidth === 800 && !`+still+`.hidden && document.querySelector('video').hidden`, 20*time.Second)

			// A second on by the keys: 25 steps of the time line.
			b.value(`(() => { const s = document.getElementById('seek'); s.value = 2; s.dispatchEvent(new Event('input')); s.focus(); })()`, nil)
			at := func(t float64) string { return fmt.Sprintf(`Math.abs(%s.dataset.t - %g) < 0.02`, still, t) }
			b.until("the frame at 2 s", at(2), 20*time.Second)
			before := b.pixels()
			for range 25 {
				b.do(chromedp.KeyEvent(kb.ArrowRight))
			}
			b.until("the frame at 3 s", at(3)+` && document.getElementById('at').textContent.startsWith('0:03')`, 20*time.Second)
			if b.pixels() == before {
				t.Error("the still at 3 s is that at 2 s")
			}

			// The clock: stills follow it as they come, and stop with it.
			b.value(`void (window.stills = new Set(), new MutationObserver(() => stills.add(`+still+`.dataset.t)).observe(`+still+`, { attributes: true }))`, nil)
			b.do(chromedp.SetValue(chromedp.CSS("#rate"), "1"))
			b.click("#play")
			b.until("the clock has gone on", `document.getElementById('seek').value > 5`, 20*time.Second)
			b.click("#play")
			var t0 float64
			b.value(`Number(document.getElementById('seek').value)`, &t0)
			b.until("the still is that of the clock", at(t0), 20*time.Second)
			var shown int
			b.value(`stills.size`, &shown)
			t.Logf("%d stills in %.1f s of the clock", shown, t0-3)
			if shown < 4 {
				t.Errorf("only %d stills were shown", shown)
			}
		})
	}
}

// pixels is a digest of the still that is shown.
func (b *tab) pixels() string {
	b.t.Helper()
	var digest string
	b.value(`(async () => { const img = document.querySelector('.still'), c = document.createElement('canvas'); c.width = 80; c.height = 45; const g = c.getContext('2d'); g.drawImage(img, 0, 0, 80, 45);
		return [...new Uint8Array(await crypto.subtle.digest('SHA-256', g.getImageData(0, 0, 80, 45).data))].join(); })()`, &digest)
	return digest
}
