package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"image/png"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"swathe/cmd/internal/lab"
)

// pointAt clicks a place of the board: a pixel of the picture, or a floor point.
func (b *tab) pointAt(u, v float64, plan bool) {
	b.t.Helper()
	where := fmt.Sprintf("[%g, %g]", u, v)
	if plan {
		where = fmt.Sprintf("swathe.board.ofFloor([%g, %g])", u, v)
	}
	var at [2]float64
	b.value(fmt.Sprintf(`(() => { scrollTo(0, 0); swathe.board.draw(); const r = swathe.board.canvas.getBoundingClientRect(), p = swathe.board.on(%s); return [Math.round(p[0] + r.left), Math.round(p[1] + r.top)]; })()`, where), &at)
	b.do(chromedp.MouseClickXY(at[0], at[1]))
}

type maple struct {
	Cameras map[string]struct {
		Height float64
		Marks  []struct{ Floor, Pixel []float64 }
		Tapes  []struct {
			Pixels [][2]float64
			Length float64
		}
	}
	Layouts map[string]struct {
		Room                [][2]float64
		Obstacles, Overhead map[string]struct {
			Outline [][2]float64
			Height  float64
		}
	}
}

func readMaple(t *testing.T) maple {
	t.Helper()
	text, err := os.ReadFile("../../testdata/maple/lab.yaml")
	if err != nil {
		t.Fatal(err)
	}
	v, ok := lab.SetupValue(text)
	if !ok {
		t.Fatal("maple's lab.yaml is no YAML")
	}
	raw, _ := json.Marshal(v)
	var m maple
	if err := json.Unmarshal(raw, &m); err != nil {
		t.Fatal(err)
	}
	return m
}

// TestPageEndToEnd goes the whole way of a tester from an empty folder and
// maple's recordings to a finished comparison and an exported picture, by
// pointing and typing alone.
func TestPageEndToEnd(t *testing.T) {
	if os.Getenv("SWATHE_EYE") == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	m := readMaple(t)
	dir := filepath.Join(t.TempDir(), "newlab")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	address := served(t, dir)
	b := browserTab(t, address, 1024, 800, false)

	// Recordings are dropped before there is any set-up.
	video, err := filepath.Abs("../../testdata/maple/recordings/cluttered/siskin_mapped_1.mp4")
	if err != nil {
		t.Fatal(err)
	}
	second := pathOf(t, "../../testdata/maple/truth/cluttered/siskin_mapped_2/trace.csv", "siskin_mapped_2.csv")
	files := []string{video, second}
	if os.Getenv("SWATHE_LONG") == "1" {
		files = nil
		for _, n := range []string{"siskin_mapped_1", "siskin_mapped_2", "siskin_mapping_1"} {
			f, _ := filepath.Abs("../../testdata/maple/recordings/cluttered/" + n + ".mp4")
			files = append(files, f)
		}
	}
	b.open(address, "#into")
	b.do(chromedp.SendKeys(chromedp.CSS("#into"), "cluttered"), chromedp.SetUploadFiles(chromedp.CSS("#pick"), files))
	b.until("every recording is listed", fmt.Sprintf(`document.querySelectorAll('#rows tr[data-id^="cluttered/"]').length === %d`, len(files)), 30*time.Second)
	b.shot("dropped")

	// The camera, its marks pointed at.
	b.click(`a[href="/setup"]`)
	b.see("#canvas")
	b.until("the frame is shown", `window.swathe && swathe.S.image`, 30*time.Second)
	worst := b.marks(m)
	t.Logf("marks placed by pointing: farthest from where they lie %.3f px (bound 0.5)", worst)
	if worst >= 0.5 {
		t.Errorf("a mark is %.3f px from where it was pointed at; the bound is 0.5", worst)
	}
	b.typed("height", "2.7")
	b.until("the camera is solved", `swathe.S.tried?.cameras?.ceiling?.camera`, 20*time.Second)
	b.shot("marks")
	b.room(m)
	b.robot()
	b.distance(m)

	b.until("nothing is wrong", `swathe.S.tried?.judged && swathe.S.tried.problems.length === 0`, 20*time.Second)
	b.click("#save")
	b.until("it is saved", `document.getElementById('say').textContent.includes('is saved')`, 10*time.Second)
	b.shot("saved")
	if _, err := lab.Open(dir); err != nil {
		t.Fatalf("the lab.yaml so written is refused: %v", err)
	}

	// Everything is measured by itself.
	b.click(`nav a[href="/"]`)
	b.see("#rows")
	b.value(`void (window.doings = new Set(), setInterval(() => document.querySelectorAll('.doing').forEach(p => doings.add(p.textContent.replace(/[0-9.]+ (s|min) left/, 'TIME left'))), 50))`, nil)
	time.Sleep(3 * time.Second)
	b.shot("measuring")
	b.until("all runs are measured", fmt.Sprintf(`document.querySelectorAll('#rows tr[data-state="measured"]').length === %d`, len(files)), 4*time.Minute)
	b.shot("measured")
	var doings []string
	b.value(`[...doings]`, &doings)
	t.Logf("what was being done, as the page told it: %q", doings)
	for _, want := range []string{"following the robot", "working out the uncertainty"} {
		if !strings.Contains(strings.Join(doings, "|"), want) {
			t.Errorf("the page did not tell of %s", want)
		}
	}
	for _, f := range files {
		if filepath.Ext(f) != ".mp4" {
			continue
		}
		name := strings.TrimSuffix(filepath.Base(f), ".mp4")
		rms := pathRMS(t, filepath.Join(dir, "results/cluttered", name, "trace.csv"), "../../testdata/maple/truth/cluttered/"+name+"/trace.csv")
		t.Logf("%s: path RMS %.2f mm with the set-up made by pointing (bound 5)", name, rms*1000)
		if rms > 0.005 {
			t.Errorf("%s: path RMS %.2f mm; the bound is 5", name, rms*1000)
		}
	}

	// The run's page: an event or the time line leads to its frame.
	b.click(`#rows a[href$="siskin_mapped_1"]`)
	b.see("#seek")
	b.until("the pictures are drawn", `[...document.querySelectorAll('.plan img, .pictures img')].every(i => i.complete && i.naturalWidth > 0)`, 60*time.Second)
	b.shot("run")

	// Side by side.
	b.click(`nav a[href="/"]`)
	b.see(`#rows input[name=run]`)
	b.click(`#rows input[value="cluttered/siskin_mapped_1"]`)
	b.click(`#rows input[value="cluttered/siskin_mapped_2"]`)
	b.click(`button[formaction="/side"]`)
	b.see("#choose #name")
	b.click("#choose button")
	b.see(".beside .player")
	b.until("both maps are drawn", `document.querySelectorAll('.beside .player').length === 2 && [...document.querySelectorAll('.beside .plan img')].every(i => i.complete && i.naturalWidth > 0)`, 60*time.Second)
	var figures int
	b.value(`document.querySelectorAll('main table tbody tr').length`, &figures)
	if figures < 10 {
		t.Errorf("the comparison shows %d rows of figures", figures)
	}
	b.shot("side")
	if made, _ := filepath.Glob(filepath.Join(dir, "comparisons/*/comparison.json")); len(made) != 1 {
		t.Errorf("%d comparisons were written", len(made))
	}

	// Export.
	b.click(`a[href="/export"]`)
	b.see("#export button")
	b.click(`#export input[value="cluttered/siskin_mapped_1"]`)
	b.do(chromedp.Focus(chromedp.CSS("#width")))
	b.value(`void document.getElementById('width').select()`, nil)
	b.do(chromedp.KeyEvent("900"))
	b.click("#export button")
	b.until("it is exported", `document.querySelectorAll('#files a').length >= 3`, 60*time.Second)
	b.shot("exported")
	var link string
	b.value(`[...document.querySelectorAll('#files a')].find(a => a.textContent.includes('passes.png')).href`, &link)
	resp, err := http.Get(link)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	img, err := png.Decode(resp.Body)
	if err != nil {
		t.Fatalf("the exported picture is no PNG: %v", err)
	}
	if s := img.Bounds().Size(); s.X != 900 || s.Y != 1200 {
		t.Errorf("the exported picture is %v, not 900 x 1200", s)
	}
	if os.Getenv("SWATHE_LONG") != "" {
		b.trial(address, "") // and on to the dossier
	}
}

// marks points at every mark of maple and types where it lies; it returns how
// far the worst is from its place in the picture, px.
func (b *tab) marks(m maple) float64 {
	b.t.Helper()
	worst := 0.0
	for i, k := range m.Cameras["ceiling"].Marks {
		b.pointAt(k.Pixel[0], k.Pixel[1], false)
		b.until(fmt.Sprintf("mark %d is there", i+1), fmt.Sprintf(`document.querySelector('%s')`, keyed(fmt.Sprintf("mark-%d-0", i))), 5*time.Second)
		// What remains is set in the loupe, eight times as large.
		var at [2]float64
		b.value(fmt.Sprintf(`(() => { const l = document.getElementById('loupe'); l.scrollIntoView({ block: 'center' }); const r = l.getBoundingClientRect(), p = swathe.board.loupeAt();
			return [Math.round(r.left + r.width / 2 + 8 * (%g - p[0])), Math.round(r.top + r.height / 2 + 8 * (%g - p[1]))]; })()`, k.Pixel[0], k.Pixel[1]), &at)
		b.do(chromedp.MouseClickXY(at[0], at[1]))
		b.typed(fmt.Sprintf("mark-%d-0", i), strconv.FormatFloat(k.Floor[0], 'f', -1, 64))
		b.typed(fmt.Sprintf("mark-%d-1", i), strconv.FormatFloat(k.Floor[1], 'f', -1, 64))
		var got [2]float64
		b.value(fmt.Sprintf(`swathe.S.doc.cameras.ceiling.marks[%d].pixel`, i), &got)
		worst = max(worst, math.Hypot(got[0]-k.Pixel[0], got[1]-k.Pixel[1]))
	}
	return worst
}

// room draws maple's room on the picture, with typed lengths and right angles,
// and its things by typed corners.
func (b *tab) room(m maple) {
	b.t.Helper()
	lay := m.Layouts["cluttered"]
	b.press("tab-room")
	b.typed("layouts-name", "cluttered")
	b.press("draw")
	b.typed("next-x", "0")
	b.typed("next-y", "0")
	b.press("next")
	for _, side := range []struct {
		length string
		x, y   float64
	}{{"3.2", 2.9, 0.1}, {"2.4", 3.1, 2}, {"3.2", 0.3, 2.3}} {
		b.typed("side", side.length)
		b.pointAt(side.x, side.y, true)
	}
	b.shot("drawing")
	b.press("done")
	var room [][2]float64
	b.value(`swathe.S.doc.layouts.cluttered.room`, &room)
	if len(room) != len(lay.Room) {
		b.t.Fatalf("the room drawn has %d corners", len(room))
	}
	for i := range room {
		if math.Hypot(room[i][0]-lay.Room[i][0], room[i][1]-lay.Room[i][1]) > 1e-6 {
			b.t.Errorf("corner %d of the room drawn is %v, not %v", i+1, room[i], lay.Room[i])
		}
	}
	b.press("tab-things")
	for _, g := range []string{"obstacles", "overhead"} {
		things := lay.Obstacles
		if g == "overhead" {
			things = lay.Overhead
		}
		for name, thing := range things {
			b.do(chromedp.SetValue(chromedp.CSS(keyed("new-group")), g))
			b.typed("new-name", name)
			b.typed("new-height", strconv.FormatFloat(thing.Height, 'f', -1, 64))
			b.press("draw-it")
			for _, p := range thing.Outline {
				b.typed("next-x", strconv.FormatFloat(p[0], 'f', -1, 64))
				b.typed("next-y", strconv.FormatFloat(p[1], 'f', -1, 64))
				b.press("next")
			}
			b.press("done")
		}
	}
	b.until("the drawing is judged", `swathe.S.tried?.text.includes('tabletop')`, 10*time.Second)
	b.shot("things")
}

func (b *tab) robot() {
	b.t.Helper()
	b.press("tab-robots")
	b.typed("robots-name", "siskin")
	b.typed("diameter", "0.32")
	b.typed("robot-height", "0.09")
	b.typed("tool-brush-width", "0.16")
	b.typed("tool-brush-ahead", "0.03")
	b.shot("robot")
}

// distance measures maple's tape by two clicks.
func (b *tab) distance(m maple) {
	b.t.Helper()
	tape := m.Cameras["ceiling"].Tapes[0]
	b.press("tab-distances")
	for _, p := range tape.Pixels {
		b.pointAt(p[0], p[1], false)
	}
	var text string
	b.value(`document.querySelector('#panel p').textContent`, &text)
	var got float64
	if _, err := fmt.Sscanf(text, "The distance is %f m.", &got); err != nil || math.Abs(got-tape.Length) > 0.02 {
		b.t.Errorf("the distance of %.2f m reads %q", tape.Length, text)
	}
	b.typed("tape-length", "2.4")
	b.press("tape-keep")
	b.until("the tape is judged", `document.querySelector('#panel table td.seen')?.textContent.includes('mm')`, 10*time.Second)
	b.shot("tape")
}

// pathOf makes a path measured elsewhere of a truth.
func pathOf(t *testing.T, truth, name string) string {
	t.Helper()
	rows := readCSV(t, truth)
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	out := filepath.Join(t.TempDir(), name)
	var b strings.Builder
	b.WriteString("t_s,x_m,y_m,heading_deg\n")
	for _, r := range rows[1:] {
		fmt.Fprintf(&b, "%s,%s,%s,%s\n", r[col["t_s"]], r[col["x_m"]], r[col["y_m"]], degrees(t, r[col["heading_rad"]]))
	}
	if err := os.WriteFile(out, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return out
}

func degrees(t *testing.T, rad string) string {
	t.Helper()
	v, err := strconv.ParseFloat(rad, 64)
	if err != nil {
		return ""
	}
	return strconv.FormatFloat(v*180/math.Pi, 'f', 3, 64)
}

func readCSV(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// pathRMS is the root mean square of the distance of a measured path from the
// truth, over what was seen, m.
func pathRMS(t *testing.T, measured, truth string) float64 {
	t.Helper()
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			return math.NaN()
		}
		return v
	}
	cols := func(rows [][]string) map[string]int {
		m := map[string]int{}
		for i, h := range rows[0] {
			m[h] = i
		}
		return m
	}
	got, want := readCSV(t, measured), readCSV(t, truth)
	g, w := cols(got), cols(want)
	sum, n, j := 0.0, 0, 1
	for _, r := range got[1:] {
		if r[g["state"]] != "seen" {
			continue
		}
		at := num(r[g["t_s"]])
		for j+1 < len(want)-1 && num(want[j+1][w["t_s"]]) <= at {
			j++
		}
		a, b := want[j], want[j+1]
		f := (at - num(a[w["t_s"]])) / (num(b[w["t_s"]]) - num(a[w["t_s"]]))
		if f < 0 || f > 1 {
			continue
		}
		x := num(a[w["x_m"]]) + f*(num(b[w["x_m"]])-num(a[w["x_m"]]))
		y := num(a[w["y_m"]]) + f*(num(b[w["y_m"]])-num(a[w["y_m"]]))
		d := math.Hypot(num(r[g["x_m"]])-x, num(r[g["y_m"]])-y)
		sum, n = sum+d*d, n+1
	}
	if n < 100 {
		t.Fatalf("only %d places can be compared", n)
	}
	return math.Sqrt(sum / float64(n))
}
