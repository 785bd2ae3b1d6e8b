package main

import (
	"fmt"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/geom"
)

// pathLab is a lab of maple's true paths, which need no eye.
func pathLab(t *testing.T, dir string) {
	t.Helper()
	text, err := os.ReadFile("../../testdata/maple/lab.yaml")
	if err != nil {
		t.Fatal(err)
	}
	// Coarser cells and fewer draws than a tester would want: this is about looks.
	text = append(text, "settings: {cell: 0.01, draws: 20, budget_draws: 10}\n"...)
	if err := os.MkdirAll(filepath.Join(dir, "recordings/cluttered"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, n := range []string{"siskin_mapped_1", "siskin_mapped_2", "siskin_mapping_1"} {
		data, err := os.ReadFile(pathOf(t, "../../testdata/maple/truth/cluttered/"+n+"/trace.csv", n+".csv"))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "recordings/cluttered", n+".csv"), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// faultsScript lists what a reader would stumble over: text without contrast
// (relative luminance and ratio of WCAG 2.2), things to press or fill in without
// a name, pictures without words, and a page wider than its window.
const faultsScript = `(() => {
  const out = [];
  const lum = c => { const l = c.map(v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; }); return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]; };
  const rgb = s => { const m = s.match(/[\d.]+/g).map(Number); return m.length > 3 && m[3] === 0 ? null : m.slice(0, 3); };
  const ground = e => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor); if (c) return c; } return [255, 255, 255]; };
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  let texts = 0;
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement, text = walk.currentNode.textContent.trim();
    if (!text || !e.getClientRects().length || getComputedStyle(e).clipPath !== 'none') continue;
    texts++;
    const a = lum(rgb(getComputedStyle(e).color)), b = lum(ground(e)), ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
    if (ratio < 4.5) out.push('contrast ' + ratio.toFixed(1) + ': ' + text.slice(0, 40));
  }
  if (texts < 10) out.push('only ' + texts + ' pieces of text');
  for (const e of document.querySelectorAll('button, input, select, a, [role=application]')) {
    const named = e.getAttribute('aria-label') || e.getAttribute('aria-labelledby') || e.textContent.trim() || e.querySelector('img')?.alt || e.labels?.[0]?.textContent.trim();
    if (!named) out.push('no name: ' + e.outerHTML.slice(0, 80));
  }
  for (const i of document.images) if (!i.hasAttribute('alt')) out.push('no words for ' + i.src);
  if (document.documentElement.scrollWidth > innerWidth) out.push('wider than its window by ' + (document.documentElement.scrollWidth - innerWidth));
  if (document.querySelectorAll('h1').length !== 1) out.push('not one main heading');
  return out;
})()`

// TestPageLooks opens every page at three widths, light and dark, and looks for
// what a reader would stumble over; and holds the script's lens against geom's.
func TestPageLooks(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "paths")
	pathLab(t, dir)
	address := served(t, dir)
	end := time.Now().Add(2 * time.Minute)
	for done := 0; done < 3; {
		found, _ := filepath.Glob(filepath.Join(dir, "results/cluttered/siskin_*/run.json"))
		if done = len(found); time.Now().After(end) {
			t.Fatal("the paths are not measured")
		}
		time.Sleep(100 * time.Millisecond)
	}
	req, _ := http.NewRequest("POST", address+"side", strings.NewReader(`{"name":"looks","runs":["cluttered/siskin_mapped_1","cluttered/siskin_mapped_2","cluttered/siskin_mapping_1"]}`))
	req.Header.Set("Origin", strings.TrimSuffix(address, "/"))
	if resp, err := http.DefaultClient.Do(req); err != nil || resp.StatusCode != http.StatusCreated {
		t.Fatalf("the comparison: %v %v", resp, err)
	}
	axe := axeScript(t)
	type screen struct {
		width int64
		dark  bool
	}
	looks := []screen{{1600, true}, {360, false}}
	if os.Getenv("SWATHE_LONG") != "" {
		looks = append(looks, screen{1024, false})
	}
	for _, look := range looks {
		b := browserTab(t, address, look.width, 900, look.dark)
		for _, p := range []struct{ path, until string }{
			{"", `document.querySelectorAll('#rows tr').length === 3`},
			{"setup", `window.swathe && swathe.S.tried?.judged`},
			{"runs/cluttered/siskin_mapped_1", `[...document.querySelectorAll('.plan img')].every(i => i.complete && i.naturalWidth > 0)`},
			{"side", `document.querySelector('#choose')`},
			{"side?name=looks", `document.querySelectorAll('.player').length === 3 && [...document.querySelectorAll('.plan img')].every(i => i.complete && i.naturalWidth > 0)`},
			{"export?run=cluttered/siskin_mapped_1", `document.querySelectorAll('#previews img').length > 2`},
			{"bin", `document.querySelector('main p')`},
			{"plan", `document.querySelector('main')`},
			{"bench", `document.querySelector('main')`},
			{"robots", `document.querySelector('a[href="/dossiers/siskin"]')`},
			{"help/figures", `document.querySelector('.help article')`},
		} {
			b.open(address+p.path, "main h1")
			b.until(p.path+" is there", p.until, time.Minute)
			var faults []string
			b.value(faultsScript, &faults)
			for _, f := range faults {
				t.Errorf("/%s at %d px, dark %v: %s", p.path, look.width, look.dark, f)
			}
			if look.width != 1600 {
				for _, f := range b.axe(axe) {
					t.Errorf("/%s at %d px: %s", p.path, look.width, f)
				}
			}
			unnamed, named := b.spoken()
			for _, f := range unnamed {
				t.Errorf("/%s: %s", p.path, f)
			}
			if named < 5 {
				t.Errorf("/%s: only %d things with a name", p.path, named)
			}
			b.shot(fmt.Sprintf("look-%d-%s", look.width, strings.NewReplacer("/", "-", "?", "-", "=", "-").Replace(p.path)))
			if p.path == "setup" && look.dark {
				b.lens(dir)
			}
		}
		// The keys alone lead along the time line.
		if look.width == 1024 {
			b.open(address+"runs/cluttered/siskin_mapped_1", "#seek")
			var moved bool
			b.value(`(() => { const s = document.getElementById('seek'), before = document.querySelector('.readout').textContent; s.focus(); s.value = 60; s.dispatchEvent(new Event('input')); return document.querySelector('.readout').textContent !== before && document.getElementById('at').textContent.startsWith('1:00'); })()`, &moved)
			if !moved {
				t.Error("the time line does not move the plan")
			}
		}
	}
}

// lens holds the projection of the page's script against geom's, over the room
// and some heights.
func (b *tab) lens(dir string) {
	b.t.Helper()
	l, err := lab.Open(dir)
	if err != nil {
		b.t.Fatal(err)
	}
	s, err := l.Solve("ceiling", nil)
	if err != nil {
		b.t.Fatal(err)
	}
	worstPx, worstM := 0.0, 0.0
	for i := range 60 {
		p := geom.Point3{X: math.Mod(float64(i)*0.37, 3.2), Y: math.Mod(float64(i)*0.53, 2.4), Z: float64(i%3) * 0.2}
		want, ok := s.Camera.Project(p)
		if !ok {
			continue
		}
		var got struct{ Px, Floor [2]float64 }
		b.value(fmt.Sprintf(`import('/assets/lens.js').then(m => { const c = swathe.S.tried.cameras.ceiling.camera, px = m.project(c, %g, %g, %g); return { Px: px, Floor: m.floor(c, px[0], px[1], %g) }; })`, p.X, p.Y, p.Z, p.Z), &got)
		worstPx = max(worstPx, math.Hypot(got.Px[0]-want.X, got.Px[1]-want.Y))
		worstM = max(worstM, math.Hypot(got.Floor[0]-p.X, got.Floor[1]-p.Y))
	}
	b.t.Logf("the script's lens: within %.1e px of geom's (bound 1e-6), there and back within %.1e m (bound 1e-6)", worstPx, worstM)
	if worstPx > 1e-6 || worstM > 1e-6 {
		b.t.Errorf("the script's lens is %.2g px off geom's, there and back %.2g m", worstPx, worstM)
	}
}
