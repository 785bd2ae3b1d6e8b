package figure

import (
	"math"
	"testing"

	"gonum.org/v1/plot/vg/recorder"
)

// At 85 mm, the width of a column in print, nothing is under 7 points and the plan takes
// 60 % of the width or of the height; at 85 x 64 mm, where a headline of two lines takes
// more than its share, 56 % at least.
func TestPlanInAColumnOfPrint(t *testing.T) {
	for _, size := range [][2]int{{1004, 752}, {1004, 1004}, {1004, 1300}} {
		opt := DefaultOptions()
		opt.Width, opt.Height, opt.DPI, opt.Theme = size[0], size[1], 300, Print
		for _, p := range gallery(t, opt) {
			for _, l := range linesOf(t, p) {
				if l.size < 7-1e-9 {
					t.Errorf("%s at %v: %q is set in %.1f points", p.Name, size, l.words, l.size)
				}
			}
			s := newSheet(new(recorder.Canvas), p.opt)
			p.draw(s)
			if s.k == 0 || p.Name == "plate" || p.Name == "path-slices" {
				continue // no plan, or several
			}
			_, _, w, h := extent(corners(made().Plan.Room), 0)
			share := math.Max(w*s.k/s.w, h*s.k/s.h)
			t.Logf("%s at %v: %.2f", p.Name, size, share)
			if share < 0.595 {
				t.Errorf("%s at %v: the plan takes %.2f of the width and %.2f of the height", p.Name, size, w*s.k/s.w, h*s.k/s.h)
			}
		}
	}
}

// The words at a mark on a chart lie over no line, at any size and however steep the
// lines; where they have no room there is no mark.
func TestNoLabelOverACurve(t *testing.T) {
	shown := 0
	for _, size := range [][3]int{{1004, 752, 300}, {640, 480, 96}, {1600, 1200, 200}, {3000, 2000, 300}} {
		for _, bend := range []float64{0.2, 0.5, 1, 2, 5} {
			opt := DefaultOptions()
			opt.Width, opt.Height, opt.DPI = size[0], size[1], size[2]
			s := newSheet(new(recorder.Canvas), opt)
			c := chart{xLabel: "minutes", yLabel: "share", xMax: 20, yMax: 1, percent: true}
			for k := range 4 {
				l := series{k: s.measured()}
				for i := range 400 {
					x := float64(i) / 20
					l.xs, l.ys = append(l.xs, x), append(l.ys, (1-0.1*float64(k))*math.Pow(x/20, bend))
				}
				c.lines = append(c.lines, l)
			}
			c.marks = []chartMark{{x: c.lines[1].xs[300], y: c.lines[1].ys[300], label: "80 % after 15 min"}}
			var to func(x, y float64) pt
			p, err := newPicture("curve", "", opt, func(s *sheet) {
				to = c.draw(s, box{0, 0, s.w, s.h}.inset(s.margin()))
			})
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range linesOf(t, p) {
				if l.words != "80 % after 15 min" {
					continue
				}
				shown++
				for _, line := range c.lines {
					for i := range line.xs {
						if q := to(line.xs[i], line.ys[i]); q.x > l.x0 && q.x < l.x1 && q.y > l.y0 && q.y < l.y1 {
							t.Fatalf("%v, bend %g: a line runs under the words at %v", size, bend, q)
						}
					}
				}
				if at := to(c.marks[0].x, c.marks[0].y); math.Hypot(l.nearest(at).x-at.x, l.nearest(at).y-at.y) > 0.5*float64(size[0]) {
					t.Errorf("%v, bend %g: the words stand half a sheet away", size, bend)
				}
			}
		}
	}
	t.Logf("shown in %d of 20 charts", shown)
	if shown < 15 {
		t.Errorf("shown in %d of 20 charts", shown)
	}
}
