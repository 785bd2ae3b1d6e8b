package main

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// TestPageNothingLost draws outlines by mouse and keys, leaves them, changes the
// tab and the page, undoes and does again: whatever was begun is still there.
func TestPageNothingLost(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "undo")
	pathLab(t, dir)
	address := served(t, dir)
	b := browserTab(t, address, 1280, 900, false)
	b.open(address+"setup", "#canvas")
	b.until("it is judged", `swathe.S.tried?.judged`, time.Minute)
	steps := func(want string) {
		t.Helper()
		b.until("the steps are "+want, fmt.Sprintf(`[...document.querySelectorAll('#steps li')].map(l => l.classList.contains('done') ? 'x' : '.').join('') === %q`, want), 20*time.Second)
	}
	steps(".xxxxx") // a lab of paths has no recording to look at
	b.until("nothing is to be done next", `document.getElementById('next').hidden`, 5*time.Second)
	b.shot("steps")
	b.click("#show-plan")
	points := func(n int) string {
		return fmt.Sprintf(`(swathe.S.drawing?.points.length ?? -1) === %d`, n)
	}

	// Begun by mouse, left for another tab and another page, found again, finished
	// with Enter.
	b.press("tab-things")
	b.typed("new-name", "box")
	b.typed("new-height", "0.3")
	b.press("draw-it")
	b.pointAt(1.0, 1.0, true)
	b.pointAt(1.4, 1.0, true)
	b.until("two corners", points(2), 5*time.Second)
	b.press("tab-robots")
	b.press("tab-things")
	b.until("it is still there", points(2), 5*time.Second)
	b.open(address+"help", ".help article")
	b.open(address+"setup", "#canvas")
	b.until("it is there after another page", points(2), 20*time.Second)
	b.until("it is judged", `swathe.S.tried?.judged`, time.Minute) // and with that all is in its place
	b.click("#show-plan")
	b.press("tab-things")
	b.pointAt(1.4, 1.3, true)
	b.until("three corners", points(3), 5*time.Second)

	// Back step by step, and forth again.
	b.do(chromedp.Focus(chromedp.CSS("#canvas")))
	b.keys(2, "z", chromedp.KeyModifiers(kb.ModifierCtrl))
	b.until("one corner", points(1), 5*time.Second)
	b.keys(2, "z", chromedp.KeyModifiers(kb.ModifierCtrl|kb.ModifierShift))
	b.until("three again", points(3), 5*time.Second)
	// Escape cancels; what was cancelled comes back.
	b.keys(1, kb.Escape)
	b.until("cancelled", points(-1), 5*time.Second)
	b.click("#undo")
	b.until("brought back", points(3), 5*time.Second)
	b.do(chromedp.Focus(chromedp.CSS("#canvas")))
	b.keys(1, kb.Enter)
	b.until("finished", `swathe.S.doc.layouts.cluttered.obstacles?.box?.outline.length === 3 && !swathe.S.drawing`, 5*time.Second)
	b.until("unsaved is told", `!document.getElementById('unsaved').hidden`, 5*time.Second)
	steps(".xxxx.")
	b.until("what is to be done next is drawn", `document.querySelector('#next:not([hidden]) svg')`, 5*time.Second)
	b.click("#undo")
	b.until("undone", `!swathe.S.doc.layouts.cluttered.obstacles?.box`, 5*time.Second)
	b.click("#redo")
	b.until("done again", `swathe.S.doc.layouts.cluttered.obstacles?.box`, 5*time.Second)

	// The same by keys alone: Enter sets a corner, a second time at one place finishes.
	b.press("tab-room")
	b.press("draw")
	b.do(chromedp.Focus(chromedp.CSS("#canvas")))
	b.value(`void (swathe.board.cross = null)`, nil)
	for _, way := range []string{kb.ArrowRight, kb.ArrowDown, kb.ArrowLeft} {
		b.keys(8, way, chromedp.KeyModifiers(kb.ModifierShift))
		b.keys(1, kb.Enter)
	}
	b.until("three by keys", points(3), 5*time.Second)
	b.shot("drawing")
	b.keys(1, kb.Enter)
	b.until("finished by keys", `swathe.S.doc.layouts.cluttered.room.length === 3 && !swathe.S.drawing`, 5*time.Second)
	b.click("#undo")
	b.keys(1, kb.Escape)
	b.until("left", points(-1), 5*time.Second)

	// What is wrong in a field stands beside it until it is mended.
	b.press("tab-robots")
	b.typed("diameter", "a lot")
	wrong := `document.getElementById('wrong-diameter')`
	b.until("it is told beside the field", wrong+`?.textContent.includes('is not a number')`, 5*time.Second)
	b.press("tab-room")
	b.press("tab-robots")
	b.until("it is still told", wrong, 5*time.Second)
	b.typed("diameter", "0.33")
	b.until("it is mended", `!`+wrong+` && swathe.S.doc.robots.siskin.diameter === 0.33`, 5*time.Second)

	// The cross stays in the view, and the view follows it.
	b.do(chromedp.Focus(chromedp.CSS("#canvas")))
	b.value(`void (swathe.board.cross = null)`, nil)
	b.keys(8, "+")
	b.keys(120, kb.ArrowRight, chromedp.KeyModifiers(kb.ModifierShift))
	var in bool
	b.value(`(c => c[0] >= 0 && c[0] <= swathe.board.width && swathe.board.middle[0] > 1)(swathe.board.cross)`, &in)
	if !in {
		t.Error("the cross leaves the view")
	}
	// Dragged, the plan moves and no corner is set.
	var before, after [2]float64
	b.value(`swathe.board.middle`, &before)
	b.value(`(() => { const c = swathe.board.canvas, r = c.getBoundingClientRect(), at = (k, x) => c.dispatchEvent(new PointerEvent(k, { bubbles: true, button: 0, pointerId: 1, clientX: r.left + x, clientY: r.top + 100 })); c.setPointerCapture = () => {}; at('pointerdown', 200); at('pointermove', 260); at('pointerup', 260); })()`, nil)
	b.value(`swathe.board.middle`, &after)
	if before == after {
		t.Error("dragging does not move the plan")
	}
}
