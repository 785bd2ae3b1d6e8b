package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"swathe/cmd/internal/lab"
)

// keys presses keys one after the other, with Shift, Alt or Ctrl held.
func (b *tab) keys(n int, key string, held ...chromedp.KeyOption) {
	b.t.Helper()
	for range n {
		b.do(chromedp.KeyEvent(key, held...))
	}
}

// tabTo goes on with the tabulator until the element with that selector has the
// focus. Every stop on the way must show that it has it.
func (b *tab) tabTo(selector string, held ...chromedp.KeyOption) {
	b.t.Helper()
	var seen []string
	for range 150 {
		b.keys(1, kb.Tab, held...)
		var at struct {
			There, Ring bool
			What        string
		}
		b.value(fmt.Sprintf(`(() => { const e = document.activeElement, ring = x => x && getComputedStyle(x).outlineStyle !== 'none' && parseFloat(getComputedStyle(x).outlineWidth) >= 2;
			return { There: e.matches(%q), Ring: e === document.body || ring(e) || ring(e.parentElement), What: e.dataset.key || e.id || e.tagName + ' ' + e.textContent.trim().slice(0, 30) }; })()`, selector), &at)
		if !at.Ring {
			b.t.Errorf("%s has the focus and does not show it", at.What)
		}
		if at.There {
			return
		}
		seen = append(seen, at.What)
	}
	b.shot("failed")
	b.t.Fatalf("the tabulator never comes to %s; it goes through %s", selector, strings.Join(seen, ", "))
}

// write types text where the focus is, instead of what stands there.
func (b *tab) write(text string) {
	b.t.Helper()
	b.value(`void document.activeElement.select?.()`, nil)
	b.do(chromedp.KeyEvent(text))
}

// TestPageKeysAlone sets a lab up without a mouse: marks with the arrow keys in
// the picture and by typing, the room, an obstacle, a step taken back, saved.
func TestPageKeysAlone(t *testing.T) {
	if os.Getenv("SWATHE_EYE") == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	m := readMaple(t)
	dir := filepath.Join(t.TempDir(), "keys")
	data, err := os.ReadFile("../../testdata/odd/recordings/cluttered/siskin_mapped_1.mp4")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "recordings/cluttered"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "recordings/cluttered/siskin_mapped_1.mp4"), data, 0o644); err != nil {
		t.Fatal(err)
	}
	address := served(t, dir)
	b := browserTab(t, address, 1280, 900, false)
	b.open(address+"setup", "#canvas")
	b.until("the frame is shown", `window.swathe && swathe.S.image`, 30*time.Second)

	// Two marks by the cross in the picture, the rest by typing.
	marks := m.Cameras["ceiling"].Marks
	b.tabTo("#canvas")
	worst := 0.0
	for i, k := range marks[:2] {
		b.keys(1, kb.ArrowRight) // there is a cross from now on
		var d [2]float64
		b.value(fmt.Sprintf(`(() => { const p = swathe.board.on([%g, %g]), c = swathe.board.cross; return [p[0] - c[0], p[1] - c[1]]; })()`, k.Pixel[0], k.Pixel[1]), &d)
		for axis, name := range [][2]string{{kb.ArrowLeft, kb.ArrowRight}, {kb.ArrowUp, kb.ArrowDown}} {
			way, key := d[axis], name[1]
			if way < 0 {
				way, key = -way, name[0]
			}
			tens := math.Floor(way / 10)
			ones := math.Floor(way - 10*tens)
			b.keys(int(tens), key, chromedp.KeyModifiers(kb.ModifierShift))
			b.keys(int(ones), key)
			b.keys(int(math.Round(10*(way-10*tens-ones))), key, chromedp.KeyModifiers(kb.ModifierAlt))
		}
		b.keys(1, kb.Enter)
		b.until("the place is asked for", fmt.Sprintf(`document.activeElement.dataset.key === 'mark-%d-0'`, i), 5*time.Second)
		b.write(fmt.Sprint(k.Floor[0]))
		b.keys(1, kb.Tab)
		b.write(fmt.Sprint(k.Floor[1]))
		b.keys(1, kb.Enter)
		b.until("the picture has the focus again", `document.activeElement.id === 'canvas'`, 5*time.Second)
		var got [2]float64
		b.value(fmt.Sprintf(`swathe.S.doc.cameras.ceiling.marks[%d].pixel`, i), &got)
		worst = math.Max(worst, math.Hypot(got[0]-k.Pixel[0], got[1]-k.Pixel[1]))
	}
	t.Logf("marks placed with the arrow keys: farthest from where they lie %.3f px (bound 0.5)", worst)
	if worst >= 0.5 {
		t.Errorf("a mark placed by keys is %.3f px from where it lies; the bound is 0.5", worst)
	}
	b.tabTo(keyed("height"))
	b.write("2.7")
	b.keys(1, kb.Tab)
	for _, k := range marks[2:] {
		b.tabTo(keyed("mark-more"))
		b.keys(1, kb.Enter)
		for _, text := range []string{fmt.Sprint(k.Floor[0]), fmt.Sprint(k.Floor[1]), "", fmt.Sprint(k.Pixel[0]), fmt.Sprint(k.Pixel[1])} {
			if text != "" {
				b.write(text)
			}
			b.keys(1, kb.Tab)
		}
	}
	b.until("the camera is solved", `swathe.S.tried?.cameras?.ceiling?.camera && swathe.S.doc.cameras.ceiling.marks.length === `+fmt.Sprint(len(marks)), 20*time.Second)
	// The loupe moves the mark that was set last by a tenth of a pixel.
	b.tabTo("#loupe", chromedp.KeyModifiers(kb.ModifierShift))
	b.keys(2, kb.ArrowRight)
	b.keys(2, kb.ArrowLeft)
	b.shot("keys-marks")

	// The room.
	b.tabTo(keyed("tab-marks"))
	b.keys(1, kb.ArrowRight)
	b.tabTo(keyed("layouts-name"))
	b.write("cluttered")
	b.keys(1, kb.Tab)
	b.outline("draw", m.Layouts["cluttered"].Room)

	// What stands in it; and one thing too many, taken back.
	b.tabTo(keyed("tab-room"), chromedp.KeyModifiers(kb.ModifierShift))
	b.keys(1, kb.ArrowRight)
	thing := func(name string, overhead bool, height float64, points [][2]float64) {
		b.tabTo(keyed("new-group"))
		if overhead {
			b.keys(1, "o") // from obstacle to the next that begins so
		}
		b.tabTo(keyed("new-name"))
		b.write(name)
		b.keys(1, kb.Tab)
		b.write(fmt.Sprint(height))
		b.outline("draw-it", points)
	}
	cabinet := m.Layouts["cluttered"].Obstacles["cabinet"]
	thing("cabinet", false, cabinet.Height, cabinet.Outline)
	b.tabTo(keyed("tab-things"), chromedp.KeyModifiers(kb.ModifierShift))
	top := m.Layouts["cluttered"].Overhead["tabletop"]
	thing("tabletop", true, top.Height, top.Outline)
	b.tabTo(keyed("tab-things"), chromedp.KeyModifiers(kb.ModifierShift))
	thing("mistake", false, 0.2, [][2]float64{{1, 1}, {1.2, 1}, {1.2, 1.2}})
	b.until("it is there", `swathe.S.doc.layouts.cluttered.obstacles?.mistake`, 5*time.Second)
	b.keys(1, "z", chromedp.KeyModifiers(kb.ModifierCtrl))
	b.until("it is taken back", `!swathe.S.doc.layouts.cluttered.obstacles.mistake && swathe.S.doc.layouts.cluttered.obstacles.cabinet && swathe.S.doc.layouts.cluttered.overhead.tabletop`, 5*time.Second)
	b.shot("keys-things")

	// The robot.
	b.tabTo(keyed("tab-things"), chromedp.KeyModifiers(kb.ModifierShift))
	b.keys(1, kb.ArrowRight)
	b.tabTo(keyed("robots-name"))
	b.write("siskin")
	b.keys(1, kb.Tab)
	for _, f := range [][2]string{{"diameter", "0.32"}, {"robot-height", "0.09"}, {"tool-brush-width", "0.16"}, {"tool-brush-ahead", "0.03"}} {
		b.tabTo(keyed(f[0]))
		b.write(f[1])
	}
	b.keys(1, kb.Tab)
	b.until("nothing is wrong", `swathe.S.tried?.judged && swathe.S.tried.problems.length === 0`, 20*time.Second)
	b.until("that is spoken", `document.getElementById('verdict').textContent.includes('no problems found')`, 5*time.Second)
	b.tabTo("#save")
	b.keys(1, kb.Enter)
	b.until("it is saved", `document.getElementById('say').textContent.includes('is saved')`, 10*time.Second)
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatalf("the lab.yaml so written is refused: %v", err)
	}
	s, err := l.Solve("ceiling", nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("set up by keys alone: %d marks that fit to %.2f px", len(marks), s.MarkRMSPx)
}

// outline presses the button that begins an outline, types its corners and ends it.
func (b *tab) outline(begin string, points [][2]float64) {
	b.t.Helper()
	b.tabTo(keyed(begin))
	b.keys(1, kb.Enter)
	b.tabTo(keyed("next-x"))
	for _, p := range points {
		b.write(fmt.Sprint(p[0]))
		b.keys(1, kb.Tab)
		b.write(fmt.Sprint(p[1]))
		b.keys(1, kb.Enter)
		b.until("the next corner is asked for", `document.activeElement.dataset.key === 'next-x' && document.activeElement.value === ''`, 5*time.Second)
	}
	b.tabTo(keyed("done"), chromedp.KeyModifiers(kb.ModifierShift))
	b.keys(1, kb.Enter)
}

// spoken lists what a screen reader would stumble over: things to use or look at
// that have no name in the tree that it is given, and a page that tells nothing
// of what happens.
func (b *tab) spoken() (faults []string, named int) {
	b.t.Helper()
	tree, err := chromedp.Call(b.ctx, accessibility.GetFullAXTree, accessibility.GetFullAXTreeParams{})
	if err != nil {
		b.t.Fatal(err)
	}
	use := map[string]bool{"button": true, "link": true, "textbox": true, "searchbox": true, "combobox": true, "checkbox": true, "radio": true, "spinbutton": true,
		"slider": true, "tab": true, "tabpanel": true, "image": true, "application": true, "Canvas": true, "progressbar": true, "dialog": true, "region": true, "group": false, "Video": true, "DisclosureTriangle": true}
	text := func(v *accessibility.Value) string {
		if v == nil {
			return ""
		}
		return strings.Trim(string(v.Value), `"`)
	}
	for _, n := range tree.Nodes {
		if n.Ignored || !use[text(n.Role)] {
			continue
		}
		if strings.TrimSpace(text(n.Name)) == "" {
			faults = append(faults, fmt.Sprintf("a %s without a name", text(n.Role)))
		} else {
			named++
		}
	}
	var more []string
	b.value(`(() => { const out = [];
		if (!document.querySelector('#say[role=status]')) out.push('nothing tells what happens');
		if (document.querySelector('[tabindex]:not([tabindex="0"]):not([tabindex="-1"])')) out.push('an order of the keys of its own');
		if (!document.querySelector('main') || !document.querySelector('nav[aria-label]')) out.push('no landmarks');
		if (document.documentElement.lang !== 'en') out.push('no language');
		return out; })()`, &more)
	return append(faults, more...), named
}
