package overlay

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/labtest"
	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/track/film"
	"swathe/track/paint"
)

// A robot that drives 2 m straight on, with a narrow brush at its centre and a
// wide pad behind it and to the left.
const twoTools = `layouts:
  hall:
    room: [[0, 0], [3, 0], [3, 2], [0, 2]]
robots:
  linden:
    diameter: 0.34
    height: 0.095
    tools:
      brush: {width: 0.10}
      pad: {width: 0.24, ahead: -0.10, left: 0.05}
settings: {draws: 20, budget_draws: 10}
`

// What a film of a chosen tool paints is the rectangle that this tool swept,
// projected through the camera: closed form, within 2 px at every edge.
func TestFilmOfATool(t *testing.T) {
	dir := t.TempDir()
	var path strings.Builder
	path.WriteString("t_s,x_m,y_m\n")
	for i := 0; i <= 200; i++ {
		fmt.Fprintf(&path, "%.2f,%.4f,1\n", float64(i)/20, 0.5+0.01*float64(i))
	}
	for name, text := range map[string]string{"lab.yaml": twoTools, "recordings/hall/linden_single_1.csv": path.String()} {
		labtest.Put(t, dir, name, text)
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	items, err := work.List(l, nil)
	if err != nil {
		t.Fatal(err)
	}
	work.All(ctx, l, items, work.Options{Jobs: 1}, work.Watcher{})
	cam, _ := testCamera(t)
	for _, c := range []struct {
		tool, title    string
		x0, x1, y0, y1 float64 // m
	}{
		{"", "linden, run\u00a01, hall", 0.5, 2.5, 0.95, 1.05},
		{"brush", "linden, run\u00a01, hall", 0.5, 2.5, 0.95, 1.05},
		{"pad", "linden, run\u00a01, hall, pad", 0.4, 2.4, 0.93, 1.17},
	} {
		k, err := work.LoadTool(ctx, l, "hall/linden_single_1", c.tool, work.Eye{}, Adjust)
		if err != nil {
			t.Fatal(err)
		}
		k.Camera = cam
		one := take{k: k, run: items[0].Run, rate: 20, end: 10}
		p, _ := one.pane(DefaultFilmOptions(), 20)
		if p.Title != c.title {
			t.Errorf("tool %q: the film is called %q, want %q", c.tool, p.Title, c.title)
		}
		p.Path = nil // else the floor under the robot is left free
		w, h := cam.Width, cam.Height
		canvas := paint.New(w, h, make([]uint8, w*h*3))
		film.NewPainter(p, one.passes(), w, h, "").Paint(canvas, 1e6)
		lo, hi := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
		n := 0
		for i := range w * h {
			if canvas.Pix[3*i] == 0 {
				continue
			}
			n++
			x, y := float64(i%w), float64(i/w)
			lo.X, lo.Y, hi.X, hi.Y = math.Min(lo.X, x), math.Min(lo.Y, y), math.Max(hi.X, x), math.Max(hi.Y, y)
		}
		// The camera looks straight down with the plan's x to the right, so that
		// the rectangle is one in the picture too.
		a, _ := cam.Project(geom.Point3{X: c.x0, Y: c.y1})
		b, _ := cam.Project(geom.Point3{X: c.x1, Y: c.y0})
		worst := math.Max(math.Max(math.Abs(lo.X-a.X), math.Abs(lo.Y-a.Y)), math.Max(math.Abs(hi.X-b.X), math.Abs(hi.Y-b.Y)))
		share := float64(n) / ((b.X - a.X) * (b.Y - a.Y))
		t.Logf("tool %q: edges at most %.2f px off, %.3f of the area", c.tool, worst, share)
		if worst > 2 || share < 0.9 || share > 1.2 {
			t.Errorf("tool %q: painted %v..%v, want %v..%v within 2 px; %.3f of the area", c.tool, lo, hi, a, b, share)
		}
	}
	if _, err := work.LoadTool(ctx, l, "hall/linden_single_1", "pat", work.Eye{}, nil); err == nil || !strings.Contains(err.Error(), `has no tool "pat"`) {
		t.Errorf("an unknown tool: %v", err)
	}
}
