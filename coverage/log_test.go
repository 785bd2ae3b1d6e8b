package coverage

import (
	"math"
	"testing"

	"swathe/geom"
)

// The log holds every pass once: counted up it gives the passes of the grid,
// and the first entry of a cell is its first sweep.
func TestLogAddsUpToTheGrid(t *testing.T) {
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 1.5}, {X: 0, Y: 1.5}}})
	if err != nil {
		t.Fatal(err)
	}
	robot := geom.Robot{Diameter: 0.3, Height: 0.1, Tools: []geom.Tool{{Width: 0.2, Ahead: 0.05}}}
	tr := &geom.Trace{Run: geom.Span{From: 0, To: 20}}
	for k := 0; k <= 200; k++ {
		a := float64(k) / 10
		tr.Samples = append(tr.Samples, geom.Sample{T: a, X: 1 + 0.5*math.Cos(a), Y: 0.75 + 0.4*math.Sin(a), Heading: a + math.Pi/2, State: geom.Seen, Source: geom.HeadingTexture})
	}
	opt := DefaultOptions()
	opt.Cell, opt.Log = 0.01, true
	res, err := Measure(tr, plan, robot, opt)
	if err != nil {
		t.Fatal(err)
	}
	g := res.Grid
	if len(g.Log) == 0 {
		t.Fatal("the log is empty")
	}
	passes := make([]uint16, len(g.Passes))
	last := float32(math.Inf(-1))
	for _, p := range g.Log {
		if p.T < last {
			t.Fatal("the log's times fall")
		}
		last = p.T
		if passes[p.Cell] == 0 && p.T != g.First[p.Cell] {
			t.Fatalf("cell %d: first in the log at %g s, in the grid at %g s", p.Cell, p.T, g.First[p.Cell])
		}
		passes[p.Cell]++
	}
	for k := range passes {
		if passes[k] != g.Passes[k] {
			t.Fatalf("cell %d: %d passes in the log, %d in the grid", k, passes[k], g.Passes[k])
		}
	}
	opt.Log = false
	if res, err = Measure(tr, plan, robot, opt); err != nil || res.Grid.Log != nil {
		t.Errorf("a log that nobody asked for (%v)", err)
	}
}
