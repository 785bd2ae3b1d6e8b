package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"testing"
	"time"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/track/scene"
)

// mostPresses bounds how often the mouse is pressed to set the demonstration lab up.
const mostPresses = 90

// noFilm writes no recording.
type noFilm struct{}

var errNoFilm = errors.New("no recording is written")

func (noFilm) Open(string, int, int, float64) (scene.FrameWriter, error) { return nil, errNoFilm }

// hand is a tester with a mouse, and a keyboard for numbers and names; what is done
// is counted.
type hand struct {
	*tab
	presses, fields int
}

func (h *hand) click(sel string) { h.t.Helper(); h.presses++; h.tab.click(sel) }
func (h *hand) press(key string) { h.t.Helper(); h.click(keyed(key)) }
func (h *hand) point(u, v float64) {
	h.t.Helper()
	h.presses++
	h.pointAt(u, v, false)
}

// wheel turns the wheel over a pixel of the picture, n notches in or out; each counts.
func (h *hand) wheel(p geom.Point2, n int) {
	h.t.Helper()
	for range max(n, -n) {
		h.presses++
		var at [2]float64
		h.value(fmt.Sprintf(`(() => { scrollTo(0, 0); swathe.board.draw(); const r = swathe.board.canvas.getBoundingClientRect(), p = swathe.board.on([%g, %g]); return [p[0] + r.left, p[1] + r.top]; })()`, p.X, p.Y), &at)
		if _, err := chromedp.Call(h.ctx, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: input.DispatchMouseEventTypeMouseWheel, X: at[0], Y: at[1], DeltaX: 0.01, DeltaY: float64(-100 * n)}); err != nil {
			h.t.Fatal(err)
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// choose takes an entry of a list: opened and pressed.
func (h *hand) choose(sel, value string) {
	h.t.Helper()
	h.presses += 2
	h.value(fmt.Sprintf(`(() => { const e = document.querySelector(%q); e.value = %q; e.dispatchEvent(new Event('change')); })()`, sel, value), nil)
}

// types fills fields in from the one that has the focus on, with the tabulator
// between them.
func (h *hand) types(texts ...string) {
	h.t.Helper()
	for i, text := range texts {
		if i > 0 {
			h.keys(1, kb.Tab)
		}
		if text != "" {
			h.fields++
			h.write(text)
		}
	}
}

// outlined draws an outline by its corners, typed one after the other. The last of the
// ring is its first.
func outlined[R ~[]P, P ~[2]float64](h *hand, ring R) {
	h.t.Helper()
	h.until("the first corner is asked for", `document.activeElement.dataset.key === 'next-x'`, 5*time.Second)
	for _, p := range ring[:len(ring)-1] {
		h.types(plain(p[0]), plain(p[1]))
		h.keys(1, kb.Enter)
		h.until("the next corner is asked for", `document.activeElement.dataset.key === 'next-x' && document.activeElement.value === ''`, 5*time.Second)
	}
	h.press("done")
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// TestPageByMouse sets the demonstration lab up from an empty folder, by mouse, with
// numbers and names typed, and counts: the mouse is pressed less than ninety times. What
// is saved says what the lab's own lab.yaml says.
func TestPageByMouse(t *testing.T) {
	if os.Getenv("SWATHE_EYE") == "" || os.Getenv("SWATHE_LONG") == "" {
		t.Skip("20 s: SWATHE_LONG=1 runs it, with SWATHE_EYE naming the eye. TestPageEndToEnd presses the same, of another room")
	}
	// The lab's description alone: its recordings take minutes to draw, and where is
	// pressed depends on numbers. A recording of the same size stands for each.
	made := filepath.Join(t.TempDir(), "made")
	if err := scene.MakeDemo(context.Background(), made, noFilm{}, nil); !errors.Is(err, errNoFilm) {
		t.Fatal(err)
	}
	video, err := os.ReadFile("../../testdata/odd/recordings/cluttered/siskin_mapped_1.mp4")
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]string{}
	for _, name := range []string{"empty/rowan_mapping_1", "empty/rowan_mapped_1", "cluttered/wagtail_mapping_1", "cluttered/wagtail_mapped_1"} {
		file := filepath.Join(made, name+".mp4")
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, video, 0o644); err != nil {
			t.Fatal(err)
		}
		files[path.Dir(name)] = append(files[path.Dir(name)], file)
	}
	want, err := lab.Open(made)
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "new")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	address := served(t, dir)
	b := &hand{tab: browserTab(t, address, 1600, 1000, false)}

	b.open(address, "#into")
	for _, layout := range []string{"empty", "cluttered"} {
		b.click("#into")
		b.value(`void document.getElementById('into').select()`, nil)
		b.types(layout)
		b.presses++ // all of them are dropped at once
		b.drop(slices.Clone(files[layout])...)
		b.until("they have arrived", fmt.Sprintf(`document.querySelectorAll('#rows tr[data-id^="%s/"]').length === %d && !document.querySelector('#arriving li')`, layout, len(files[layout])), time.Minute)
	}
	b.click(`nav a[href="/setup"]`)
	b.see("#canvas")
	b.until("the frame is shown", `window.swathe && swathe.S.image`, 30*time.Second)
	b.until("what to do next is drawn", `document.querySelector('#next svg') && document.querySelector('#next figcaption').textContent.includes('Click each mark')`, 5*time.Second)
	b.shot("first-steps")

	// Marks: pressed in the picture, set in the loupe, their place typed.
	spec := want.Cameras["ceiling"].Spec
	for i, m := range spec.Marks {
		// A press beside a mark takes hold of that: what lies close is enlarged before.
		near := math.Inf(1)
		for _, o := range spec.Marks[:i] {
			near = math.Min(near, o.Pixel.Dist(m.Pixel))
		}
		var scale float64
		b.value(`swathe.board.scale`, &scale)
		notches := int(math.Max(0, math.Ceil(math.Log(10/(near*scale))/math.Log(1.25))))
		b.wheel(m.Pixel, notches)
		b.point(m.Pixel.X, m.Pixel.Y)
		b.until("its place is asked for", fmt.Sprintf(`document.activeElement.dataset.key === 'mark-%d-0'`, i), 5*time.Second)
		place := []string{plain(m.Floor.X), plain(m.Floor.Y)}
		if m.Floor.Z != 0 {
			place = append(place, plain(m.Floor.Z))
		}
		b.types(place...)
		b.keys(1, kb.Enter)
		var at [2]float64
		b.value(fmt.Sprintf(`(() => { const l = document.getElementById('loupe'); l.scrollIntoView({ block: 'center' }); const r = l.getBoundingClientRect(), p = swathe.board.loupeAt();
			return [Math.round(r.left + r.width / 2 + 8 * (%g - p[0])), Math.round(r.top + r.height / 2 + 8 * (%g - p[1]))]; })()`, m.Pixel.X, m.Pixel.Y), &at)
		b.presses++
		b.do(chromedp.MouseClickXY(at[0], at[1]))
		b.wheel(m.Pixel, -notches)
	}
	b.press("height")
	b.types(plain(spec.LensHeight))
	b.keys(1, kb.Tab)
	b.until("the camera is solved", `swathe.S.tried?.cameras?.ceiling?.camera`, 20*time.Second)
	b.shot("marks")

	// Both layouts, each with its room, its dock and what stands in it.
	for i, layout := range []string{"empty", "cluttered"} {
		plan := want.Layouts[layout].Plan
		b.press("tab-room")
		if i > 0 {
			b.choose(keyed("layouts-choose"), "\n")
		}
		b.press("layouts-name")
		b.types(layout)
		b.keys(1, kb.Tab)
		b.until("the layout is there", `document.querySelector('`+keyed("draw")+`')`, 5*time.Second)
		b.press("draw")
		outlined(b, plan.Room)
		b.press("dock-0")
		b.types(plain(plan.Dock.X), plain(plan.Dock.Y))
		b.keys(1, kb.Tab)
		if i == 0 {
			continue // nothing stands in it
		}
		b.press("tab-things")
		for _, g := range []struct {
			group  string
			pieces []geom.Piece
		}{{"obstacles", plan.Obstacles}, {"overhead", plan.Overhead}} {
			for _, p := range g.pieces {
				if g.group != "obstacles" {
					b.choose(keyed("new-group"), g.group)
				}
				b.press("new-name")
				b.types(p.Name, plain(p.Height))
				b.keys(1, kb.Enter)
				outlined(b, p.Outline)
			}
		}
	}
	b.shot("rooms")

	b.press("tab-robots")
	for i, name := range want.RobotNames {
		r := want.Robots[name].Robot
		if i > 0 {
			b.choose(keyed("robots-choose"), "\n")
		}
		b.press("robots-name")
		b.types(name)
		b.keys(1, kb.Tab)
		b.until("its sizes are asked for", `document.querySelector('`+keyed("diameter")+`')`, 5*time.Second)
		b.press("diameter")
		b.types(plain(r.Diameter), plain(r.Height), "", plain(r.Tools[0].Width), plain(r.Tools[0].Ahead)) // its tool is called brush by itself
		b.keys(1, kb.Tab)
		for _, tool := range r.Tools[1:] {
			b.press("tool-more")
			b.until("another tool is asked for", `document.querySelector('`+keyed("tool-pad-width")+`')`, 5*time.Second)
			if tool.Name != "pad" {
				t.Fatalf("the second tool is called %s", tool.Name)
			}
			b.types(plain(tool.Width), plain(tool.Ahead))
			b.keys(1, kb.Tab)
		}
	}
	b.shot("robots")

	tape := spec.Tapes[0]
	b.press("tab-distances")
	for _, p := range []geom.Point2{tape.From, tape.To} {
		b.point(p.X, p.Y)
	}
	b.until("its length is asked for", `document.activeElement.dataset.key === 'tape-length'`, 5*time.Second)
	b.types(plain(tape.Length))
	b.keys(1, kb.Enter)
	b.until("nothing is wrong", `swathe.S.tried?.judged && swathe.S.tried.problems.length === 0 && swathe.S.tried.text.includes('tapes')`, 20*time.Second)
	b.click("#save")
	b.until("it is saved", `document.getElementById('say').textContent.includes('is saved')`, 10*time.Second)
	b.until("nothing is left to do", `document.getElementById('next').hidden && document.querySelectorAll('#steps li.done').length === 6`, 10*time.Second)
	b.shot("saved")
	t.Logf("the demonstration lab was set up with %d presses of the mouse (bound %d) and %d fields typed", b.presses, mostPresses, b.fields)
	if b.presses >= mostPresses {
		t.Errorf("the mouse was pressed %d times", b.presses)
	}

	got, err := lab.Open(dir)
	if err != nil {
		t.Fatalf("the lab.yaml so written is refused: %v", err)
	}
	for name, l := range want.Layouts {
		g := got.Layouts[name]
		if g == nil || fmt.Sprintf("%v %v %v", g.Plan.Room, g.Plan.Obstacles, g.Plan.Overhead) != fmt.Sprintf("%v %v %v", l.Plan.Room, l.Plan.Obstacles, l.Plan.Overhead) || *g.Plan.Dock != *l.Plan.Dock {
			t.Errorf("layout %s is not that of the demonstration lab", name)
		}
	}
	if !slices.Equal(got.RobotNames, want.RobotNames) {
		t.Errorf("robots %v", got.RobotNames)
	}
	for name, r := range want.Robots {
		if g := got.Robots[name]; g == nil || fmt.Sprintf("%+v", g.Robot) != fmt.Sprintf("%+v", r.Robot) {
			t.Errorf("robot %s is not that of the demonstration lab", name)
		}
	}
	a, err1 := want.Solve("ceiling", nil)
	c, err2 := got.Solve("ceiling", nil)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	worst := 0.0
	for i := range 9 {
		p := geom.Point3{X: 1.3 * float64(i%3), Y: 0.95 * float64(i/3)}
		u, _ := a.Camera.Project(p)
		v, _ := c.Camera.Project(p)
		worst = math.Max(worst, math.Hypot(u.X-v.X, u.Y-v.Y))
	}
	t.Logf("over the floor the two cameras are %.2f px apart at most (bound 0.5)", worst)
	if worst > 0.5 {
		t.Error("the camera is another one")
	}
}
