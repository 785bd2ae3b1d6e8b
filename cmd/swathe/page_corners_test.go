package main

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/track/scene"
)

// drawnBoard is a chessboard that lies on the floor: its first inner corner, the
// direction of its rows, and what it is made of.
type drawnBoard struct {
	x, y, along, square float64
	columns, rows       int
}

// corner returns where inner corner (i, j) lies; rows follow each other to the
// left of their direction.
func (d drawnBoard) corner(i, j int) geom.Point2 {
	s, c := math.Sincos(d.along)
	a, b := d.square*float64(i), d.square*float64(j)
	return geom.Point2{X: d.x + a*c - b*s, Y: d.y + a*s + b*c}
}

// grey is what the floor shows at a point: the board's squares, its white rim or
// plain floor.
func (d drawnBoard) grey(p geom.Point2) float64 {
	s, c := math.Sincos(d.along)
	dx, dy := p.X-d.x, p.Y-d.y
	a, b := (dx*c+dy*s)/d.square+1, (-dx*s+dy*c)/d.square+1 // in squares, from the outer corner
	n, m := float64(d.columns+1), float64(d.rows+1)
	switch {
	case a < -1 || b < -1 || a > n+1 || b > m+1:
		return 110
	case a < 0 || b < 0 || a > n || b > m || (int(a)+int(b))%2 == 1:
		return 235
	}
	return 25
}

// film records the board as the camera sees it, pixels averaged over their area.
func (d drawnBoard) film(t *testing.T, cam *geom.Camera, file string) {
	t.Helper()
	const fine = 5
	bgr := make([]byte, 3*cam.Width*cam.Height)
	for v := range cam.Height {
		for u := range cam.Width {
			sum, n := 0.0, 0
			p, ok := cam.Floor(geom.Point2{X: float64(u), Y: float64(v)}, 0)
			step := fine
			if !ok || d.grey(p) == 110 && p.Dist(d.corner(d.columns/2, d.rows/2)) > d.square*float64(d.columns+d.rows) {
				step = 1 // far from the board one look is enough
			}
			for i := range step {
				for j := range step {
					o := func(k int) float64 { return (float64(k)+0.5)/float64(step) - 0.5 }
					if q, ok := cam.Floor(geom.Point2{X: float64(u) + o(i), Y: float64(v) + o(j)}, 0); ok {
						sum, n = sum+d.grey(q), n+1
					}
				}
			}
			for k := range 3 {
				if n > 0 {
					bgr[3*(v*cam.Width+u)+k] = byte(math.Round(sum / float64(n)))
				}
			}
		}
	}
	w, err := scene.EyeEncoder{Path: os.Getenv("SWATHE_EYE"), Args: []string{"--crf", "10"}}.Open(file, cam.Width, cam.Height, 5)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 10 {
		if err := w.WriteFrame(bgr, float64(i)/5); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
}

// TestPageCorners sets a camera up with nothing but a chessboard on the floor:
// its corners are found in the frame that is shown, catch the pointer, and become
// marks at the places that were drawn.
func TestPageCorners(t *testing.T) {
	if os.Getenv("SWATHE_EYE") == "" {
		t.Skip("SWATHE_EYE does not name the eye; cmd/test.sh sets it")
	}
	l, err := lab.Open("../../testdata/maple")
	if err != nil {
		t.Fatal(err)
	}
	s, err := l.Solve("ceiling", nil)
	if err != nil {
		t.Fatal(err)
	}
	d := drawnBoard{x: 1.1, y: 0.6, along: 20 * math.Pi / 180, square: 0.1, columns: 9, rows: 6}
	dir := filepath.Join(t.TempDir(), "squares")
	d.film(t, s.Camera, filepath.Join(dir, "recordings/hall/board.mp4"))
	address := served(t, dir)
	b := browserTab(t, address, 1280, 900, false)
	b.open(address+"setup", "#canvas")
	b.until("the frame is shown", `window.swathe && swathe.S.image`, 30*time.Second)
	b.click("#panel details summary")
	b.typed("chess-columns", "9")
	b.typed("chess-rows", "7")
	b.press("chess-find")
	b.until("it is said that no such board is there", `document.getElementById('say').textContent.includes('No board was found')`, 30*time.Second)
	b.typed("chess-rows", "6")
	b.typed("chess-square", "0.1")
	b.press("chess-find")
	shown := `(await import('/assets/corners.js')).shown()`
	b.until("the corners are found", `document.querySelector('`+keyed("chess-take")+`')`, 30*time.Second)
	want, ok := s.Camera.Project(geom.Point3{X: d.x, Y: d.y})
	if !ok {
		t.Fatal("the board is not in sight")
	}
	var at [2]float64
	for i := 0; ; i++ {
		b.value(`(async () => `+shown+`[0])()`, &at)
		if math.Hypot(at[0]-want.X, at[1]-want.Y) < 2 {
			break
		}
		if i == 4 {
			t.Fatalf("no corner that can be ringed is the first one at %.1f, %.1f; the last was %v", want.X, want.Y, at)
		}
		b.press("chess-turn")
	}
	b.shot("corners")

	// A click near a corner goes to it.
	var to [2]float64
	b.value(fmt.Sprintf(`(() => { scrollTo(0, 0); const r = swathe.board.canvas.getBoundingClientRect(), p = swathe.board.on([%g, %g]); return [Math.round(p[0] + r.left) + 4, Math.round(p[1] + r.top) - 3]; })()`, at[0], at[1]), &to)
	b.do(chromedp.MouseClickXY(to[0], to[1]))
	var pixel [2]float64
	b.value(`swathe.S.doc.cameras.ceiling.marks[0].pixel`, &pixel)
	if pixel != at {
		t.Errorf("a click beside the corner at %v set a mark at %v", at, pixel)
	}
	b.click("#undo")

	b.typed("chess-x", "1.1")
	b.typed("chess-y", "0.6")
	b.typed("chess-along", "20")
	b.press("chess-take")
	b.typed("height", "2.7")
	b.until("the camera is solved", `swathe.S.tried?.cameras?.ceiling?.camera`, 20*time.Second)
	b.shot("corner-marks")
	var marks []struct{ Floor, Pixel [2]float64 }
	b.value(`swathe.S.doc.cameras.ceiling.marks`, &marks)
	if len(marks) != 54 {
		t.Fatalf("%d marks were made of 54 corners", len(marks))
	}
	// A button that is pressed right after typing does what it says.
	b.value(`document.querySelector('`+keyed("height")+`').select()`, nil)
	b.do(chromedp.KeyEvent("2.71"))
	b.press("mark-53-less")
	b.until("both are done", `swathe.S.doc.cameras.ceiling.height === 2.71 && swathe.S.doc.cameras.ceiling.marks.length === 53`, 5*time.Second)

	off, worst, lies := 0.0, 0.0, 0.0
	for k, m := range marks {
		c := d.corner(k%9, k/9)
		lies = math.Max(lies, c.Dist(geom.Point2{X: m.Floor[0], Y: m.Floor[1]}))
		p, _ := s.Camera.Project(geom.Point3{X: c.X, Y: c.Y})
		e := math.Hypot(p.X-m.Pixel[0], p.Y-m.Pixel[1])
		off, worst = off+e*e/54, math.Max(worst, e)
	}
	t.Logf("54 corners found by themselves: off by %.3f px RMS (bound 0.15), %.3f px at most (bound 0.5); their places by %.2f mm at most (bound 0.1)", math.Sqrt(off), worst, 1000*lies)
	if math.Sqrt(off) > 0.15 || worst > 0.5 || lies > 1e-4 {
		t.Error("the corners are not where they were drawn")
	}
}
