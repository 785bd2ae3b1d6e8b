package main

import (
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

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

// looked is a page, what tells that it is there, and what is opened on it one after
// the other: a script each, judged after it.
type looked struct {
	path, until string
	open        []string
}

func tabs(names ...string) (out []string) {
	for _, n := range names {
		out = append(out, fmt.Sprintf(`void document.getElementById('tab-%s').click()`, n))
	}
	return out
}

// everyPage is all of the local page, and what it writes for others.
var everyPage = []looked{
	{"", `document.querySelectorAll('#rows tr').length === 3`, []string{
		`void (document.querySelector('.pick').open = true)`,
		`void (document.querySelector('.pick').open = false, document.querySelector('button[data-do=change]').click())`,
		`void (document.getElementById('change').close(), document.getElementById('naming').showModal())`}},
	{"setup", `window.swathe && swathe.S.tried?.judged`, append(tabs("room", "things", "robots", "distances"), `void document.getElementById('text').click()`)},
	{"runs/cluttered/siskin_mapped_1", `[...document.querySelectorAll('.plan img')].every(i => i.complete && i.naturalWidth > 0)`, []string{`document.querySelectorAll('details').forEach(d => { d.open = true; })`}},
	{"side?run=cluttered/siskin_mapped_1&run=cluttered/siskin_mapping_1", `document.querySelector('#judged details')`, []string{`void (document.querySelector('#judged details').open = true)`}},
	{"side?name=looks", `document.querySelectorAll('.player').length === 3 && [...document.querySelectorAll('.plan img')].every(i => i.complete && i.naturalWidth > 0)`, []string{
		`(async () => { document.getElementById('agreement').click(); for (let i = 0; i < 300 && document.getElementById('joint-shown').hidden; i++) await new Promise(r => setTimeout(r, 100)); })()`}},
	{"export?run=cluttered/siskin_mapped_1", `document.querySelectorAll('#previews img').length > 2`, []string{
		`(async () => { document.getElementById('page').click(); document.querySelector('.go').click(); for (let i = 0; i < 300 && document.getElementById('done').hidden && !document.querySelector('dialog[open]'); i++) await new Promise(r => setTimeout(r, 100)); })()`}},
	{"exports/print/cluttered_siskin_mapped_1_page.html", `document.querySelector('main')`, nil},
	{"comparisons/looks/index.html", `document.querySelector('main')`, nil},
	{"dossiers/siskin", `document.querySelector('main')`, nil},
	{"bin", `document.querySelector('main p')`, nil},
	{"plan", `document.querySelector('main')`, nil},
	{"bench", `document.querySelector('main')`, []string{`document.querySelectorAll('details').forEach(d => { d.open = true; })`}},
	{"robots", `document.querySelector('a[href="/dossiers/siskin"]')`, nil},
	{"help/figures", `document.querySelector('.help article')`, nil},
	{"runs/cluttered/nothing_mapped_1", `document.querySelector('.wrong')`, nil},
}

// TestPageLooks opens every page, and all that opens on it, dark on a telephone's 390
// pixels, with SWATHE_LONG also light, wide and at 200 %, and looks for what a reader would stumble
// over: by our own eyes, by axe-core and in the tree that a screen reader is given. It
// holds the script's lens against geom's.
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
		scale float64
		dark  bool
	}
	looks := []screen{{390, 1, true}}
	if os.Getenv("SWATHE_LONG") != "" {
		// 640 pixels of twice the size are 1280 at 200 %.
		looks = append(looks, screen{1280, 1, true}, screen{1280, 1, false}, screen{390, 1, false}, screen{640, 2, false})
	}
	for _, look := range looks {
		b := browserTab(t, address, look.width, 900, look.dark)
		if _, err := chromedp.Call(b.ctx, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: look.width, Height: 900, DeviceScaleFactor: look.scale}); err != nil {
			t.Fatal(err)
		}
		for _, p := range everyPage {
			alone := strings.HasSuffix(p.path, ".html") || strings.HasPrefix(p.path, "dossiers")
			if alone {
				b.alone(address + p.path)
			} else {
				b.open(address+p.path, "h1")
			}
			b.until(p.path+" is there", p.until, time.Minute)
			for i := range len(p.open) + 1 {
				if i > 0 {
					b.value(p.open[i-1], nil)
				}
				at := fmt.Sprintf("/%s (%d) at %d px, %g times, dark %v", p.path, i, look.width, look.scale, look.dark)
				var faults []string
				b.value(faultsScript, &faults)
				for _, f := range append(faults, b.axe(axe)...) {
					t.Errorf("%s: %s", at, f)
				}
				if unnamed, named := b.spoken(); !alone {
					for _, f := range unnamed {
						t.Errorf("%s: %s", at, f)
					}
					if named < 4 { // as many as a question has
						t.Errorf("%s: only %d things with a name", at, named)
					}
				}
				b.shot(fmt.Sprintf("look-%d-%v-%s-%d", look.width, look.dark, strings.NewReplacer("/", "-", "?", "-", "=", "-", "&", "-").Replace(p.path), i))
			}
			if p.path == "setup" && look.dark {
				b.lens(dir)
			}
		}
	}
}

// alone shows a page that is written for others, and that swathe serve lets run no
// script, as one who has the file sees it.
func (b *tab) alone(address string) {
	b.t.Helper()
	resp, err := http.Get(address)
	if err != nil {
		b.t.Fatal(err)
	}
	defer resp.Body.Close()
	text, err := io.ReadAll(resp.Body)
	if err != nil || resp.StatusCode != http.StatusOK {
		b.t.Fatalf("%s: %d %v", address, resp.StatusCode, err)
	}
	b.do(chromedp.Navigate("about:blank"))
	tree, err := chromedp.Call(b.ctx, page.GetFrameTree, cdp.Empty{})
	if err != nil {
		b.t.Fatal(err)
	}
	if _, err := chromedp.Call(b.ctx, page.SetDocumentContent, page.SetDocumentContentParams{FrameID: tree.FrameTree.Frame.ID, HTML: string(text)}); err != nil {
		b.t.Fatal(err)
	}
	b.see("h1")
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
