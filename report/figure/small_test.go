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
			least := 0.595
			if size[1] < 900 {
				least = 0.56
			}
			if share < least {
				t.Errorf("%s at %v: the plan takes %.2f of the width and %.2f of the height", p.Name, size, w*s.k/s.w, h*s.k/s.h)
			}
		}
	}
}
