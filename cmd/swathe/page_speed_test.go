package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"swathe/track"
)

// filmed makes a lab with one finished run whose result stands beside a
// recording, without the time that looking at it would take: the result is that
// of the true path. The page is told to leave the recording unmeasured.
func filmed(t *testing.T, dir, recording, kind string, seconds float64) {
	t.Helper()
	const run1 = "siskin_mapped_1"
	pathLab(t, dir)
	recordings := filepath.Join(dir, "recordings/cluttered")
	for _, n := range []string{"siskin_mapped_2", "siskin_mapping_1"} {
		if err := os.Remove(filepath.Join(recordings, n+".csv")); err != nil {
			t.Fatal(err)
		}
	}
	if code := run(context.Background(), []string{"measure", dir}, io.Discard, io.Discard); code != exitOK {
		t.Fatalf("the path was not measured: %d", code)
	}
	if err := os.Remove(filepath.Join(recordings, run1+".csv")); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(recording)
	if err != nil {
		t.Fatal(err)
	}
	write := func(file string, data []byte) {
		if err := os.WriteFile(filepath.Join(dir, file), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("recordings/cluttered/"+run1+kind, data)
	write("results/.queue.json", []byte(`{"held": ["cluttered/`+run1+`"]}`))
	edit := func(file string, change func(m map[string]any)) {
		raw, err := os.ReadFile(filepath.Join(dir, file))
		if err != nil {
			t.Fatal(err)
		}
		var m map[string]any
		if err := json.Unmarshal(raw, &m); err != nil {
			t.Fatal(err)
		}
		change(m)
		raw, _ = json.Marshal(m)
		write(file, raw)
	}
	edit("results/cluttered/"+run1+"/made.json", func(m map[string]any) { m["files"] = []string{"recordings/cluttered/" + run1 + kind} })
	edit("results/cluttered/"+run1+"/run.json", func(m map[string]any) {
		m["recording"].(map[string]any)["duration_s"] = seconds
		m["run"].(map[string]any)["start_s"], m["run"].(map[string]any)["end_s"] = 0, seconds
	})
}

// watchScript notes, for every press of the mouse, how long it is until the
// frame of the time then asked for is on the screen, ms.
const watchScript = `(() => {
  window.shown = [];
  const video = document.querySelector('video'), still = document.querySelector('.still');
  addEventListener('pointerdown', () => {
    const from = performance.now();
    let over = false, first;
    still.addEventListener('load', () => { first ??= performance.now() - from; }, { once: true });
    const done = how => requestAnimationFrame(() => { if (over) return; over = true; shown.push({ ms: performance.now() - from, first: first ?? performance.now() - from, how, t: Number(document.getElementById('seek').value) }); });
    const right = t => Math.abs(t - Number(document.getElementById('seek').value)) < 0.08;
    const look = () => {
      if (over) return;
      if (!still.hidden && still.complete && still.dataset.t && right(Number(still.dataset.t)) && performance.now() - from > 1) done('still');
      setTimeout(look, 4);
    };
    setTimeout(look, 8);
    const frame = (_, m) => { if (over) return; if (!video.hidden && right(m.mediaTime)) done('video'); else video.requestVideoFrameCallback(frame); };
    video.requestVideoFrameCallback?.(frame);
  }, true);
})()`

// clicks presses the mouse on the time line at places spread over it and returns
// how long each took until its frame was on the screen, s.
func (b *tab) clicks(n int) []float64 {
	b.t.Helper()
	b.value(watchScript, nil)
	for i := range n {
		var at [2]float64
		// Spread as by the golden ratio: far from one to the next, never twice at one.
		b.value(fmt.Sprintf(`(() => { const e = document.getElementById('seek'); e.scrollIntoView({ block: 'center' }); const r = e.getBoundingClientRect(); return [r.left + 10 + (r.width - 20) * %g, r.top + r.height / 2]; })()`, math.Mod(0.31+0.618034*float64(i), 1)), &at)
		b.do(chromedp.MouseClickXY(at[0], at[1]))
		b.until(fmt.Sprintf("the frame of click %d is shown", i+1), fmt.Sprintf(`shown.length > %d`, i), 30*time.Second)
		time.Sleep(300 * time.Millisecond) // a reader looks at it
	}
	var got []struct {
		MS    float64 `json:"ms"`
		First float64 `json:"first"` // of any picture, such as the key frame before it
		How   string  `json:"how"`
		T     float64 `json:"t"`
	}
	b.value(`shown`, &got)
	out := []float64{}
	for _, g := range got {
		b.t.Logf("  at %5.1f s: %4.0f ms, by the %s; a picture near it after %4.0f ms", g.T, g.MS, g.How, g.First)
		out = append(out, g.MS/1000)
	}
	slices.Sort(out)
	return out
}

// TestPageClickToFrame says how long it takes from a click on the time line to
// the frame on the screen: of a recording that the browser plays, and of the
// stills of one that it cannot. The figures are told, not held to: they depend on
// what else the machine does (bound of the page: 0.3 s).
// SWATHE_CLICKS names a recording of one's own to be tried instead.
func TestPageClickToFrame(t *testing.T) {
	if os.Getenv("SWATHE_LONG") == "" && os.Getenv("SWATHE_CLICKS") == "" {
		t.Skip("it tells times and holds none: SWATHE_LONG=1")
	}
	if os.Getenv("SWATHE_EYE") == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	// The second is shown as stills: the browser cannot play it.
	list := []string{"../../testdata/maple/recordings/cluttered/siskin_mapped_1.mp4", "../../testdata/odd/recordings/cluttered/siskin_mapped_4.avi"}
	if own := os.Getenv("SWATHE_CLICKS"); own != "" {
		list = []string{own}
	}
	for _, file := range list {
		t.Run(filepath.Base(file), func(t *testing.T) {
			eye, err := track.FindEye()
			if err != nil {
				t.Fatal(err)
			}
			seconds, err := serveEye(track.NewWarm(func() (string, error) { return eye, nil })).Length(context.Background(), file)
			if err != nil {
				t.Fatal(err)
			}
			dir := filepath.Join(t.TempDir(), "filmed")
			filmed(t, dir, file, filepath.Ext(file), seconds)
			address := served(t, dir)
			b := browserTab(t, address, 1280, 900, false)
			b.open(address+"runs/cluttered/siskin_mapped_1", "#seek")
			b.until("the first frame is there", `(v => v.readyState >= 2 || !document.querySelector('.still').hidden && document.querySelector('.still').complete)(document.querySelector('video'))`, 30*time.Second)
			time.Sleep(time.Second) // the page's pictures are being drawn
			took := b.clicks(12)
			t.Logf("%s: from click to frame %.0f ms in the middle, %.0f ms at most of %d (bound 300)", filepath.Base(file), 1000*took[len(took)/2], 1000*took[len(took)-1], len(took))
		})
	}
}

// TestPageFirstPicture says how long the list of a lab with 1,000 runs takes to
// show its first picture in the browser (first contentful paint) and its first
// rows, on the first visit and again. Told, not held to (bounds of the page: 0.5 s
// with 1,000 runs; with SWATHE_LONG=1 also 10,000, 1.5 s).
func TestPageFirstPicture(t *testing.T) {
	list := map[int]int{1000: 500}
	if os.Getenv("SWATHE_LONG") == "1" {
		list[10000] = 1500
	}
	for n, bound := range list {
		dir := filepath.Join(t.TempDir(), "many")
		resultsOnly(t, dir, n)
		address := served(t, dir)
		b := browserTab(t, address, 1280, 900, false)
		for _, visit := range []string{"first", "second"} {
			b.open(address, "#rows tr")
			b.until("the list is whole", fmt.Sprintf(`document.getElementById('count').textContent === '%d runs'`, n), 20*time.Second)
			b.until("it is painted", `performance.getEntriesByName('first-contentful-paint').length && performance.getEntriesByName('rows').length`, 20*time.Second)
			var ms struct{ Answer, Paint, Rows, Load float64 }
			b.value(`(() => { const n = performance.getEntriesByType('navigation')[0]; return { Answer: n.responseEnd, Paint: performance.getEntriesByName('first-contentful-paint')[0].startTime, Rows: performance.getEntriesByName('rows')[0].startTime, Load: n.loadEventEnd }; })()`, &ms)
			t.Logf("%s visit to %d runs: answered after %.0f ms, first picture after %.0f ms, first rows after %.0f ms (bound %d), loaded after %.0f ms", visit, n, ms.Answer, ms.Paint, ms.Rows, bound, ms.Load)
		}
	}
}
