package coverage

import (
	"math"
	"testing"

	"swathe/geom"
)

// straight, arcs and their like: paths drawn as a robot would drive them.

// pen draws a trace.
type pen struct {
	t    float64
	pose geom.Pose
	dt   float64 // s between samples
	ss   []geom.Sample
}

func newPen(x, y, heading float64) *pen {
	p := &pen{pose: geom.Pose{X: x, Y: y, Heading: heading}, dt: 1.0 / 30}
	p.mark()
	return p
}

func (p *pen) mark() {
	p.ss = append(p.ss, geom.Sample{T: p.t, X: p.pose.X, Y: p.pose.Y, Heading: p.pose.Heading})
}

// drive goes length metres at v m/s, turning by turn radians on the way.
func (p *pen) drive(length, v, turn float64) *pen {
	n := max(1, int(math.Round(math.Abs(length)/v/p.dt)))
	start := p.pose
	for i := 1; i <= n; i++ {
		u := float64(i) / float64(n)
		a := turn * u
		var bx, by float64
		if turn == 0 {
			bx = length * u
		} else {
			r := length / turn
			bx, by = r*math.Sin(a), r*(1-math.Cos(a))
		}
		q := start.At(geom.Point2{X: bx, Y: by})
		p.pose = geom.Pose{X: q.X, Y: q.Y, Heading: start.Heading + a}
		p.t += math.Abs(length) / v / float64(n)
		p.mark()
	}
	return p
}

// spin turns on the spot at w rad/s.
func (p *pen) spin(turn, w float64) *pen {
	n := max(1, int(math.Round(math.Abs(turn)/w/p.dt)))
	h := p.pose.Heading
	for i := 1; i <= n; i++ {
		p.pose.Heading = h + turn*float64(i)/float64(n)
		p.t += math.Abs(turn) / w / float64(n)
		p.mark()
	}
	return p
}

// wait stands still.
func (p *pen) wait(s float64) *pen {
	n := max(1, int(math.Round(s/p.dt)))
	for i := 0; i < n; i++ {
		p.t += s / float64(n)
		p.mark()
	}
	return p
}

func (p *pen) trace() *geom.Trace { return traceOf(p.ss) }

func traceOf(ss []geom.Sample) *geom.Trace {
	return &geom.Trace{
		Samples: ss, Run: geom.Span{From: ss[0].T, To: ss[len(ss)-1].T},
		Started: geom.StartedAtRest, Ended: geom.EndedStood, Length: ss[len(ss)-1].T,
	}
}

// rect returns the closed ring of a rectangle.
func rect(x0, y0, x1, y1 float64) [][2]float64 {
	return [][2]float64{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}, {x0, y0}}
}

func piece(name string, pts [][2]float64) geom.Piece {
	p := geom.Piece{Name: name, Height: 0.4}
	for _, c := range pts {
		p.Outline = append(p.Outline, c)
	}
	return p
}

func planOf(room [][2]float64, obstacles ...geom.Piece) *geom.Plan {
	p := &geom.Plan{Name: "test", Obstacles: obstacles}
	for _, c := range room {
		p.Room = append(p.Room, c)
	}
	return p
}

func bar(width, ahead, left float64) geom.Robot {
	return geom.Robot{Name: "test", Diameter: 0.3, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: width, Ahead: ahead, Left: left}}}
}

func measure(t *testing.T, tr *geom.Trace, plan *geom.Plan, robot geom.Robot, opt Options) *Result {
	t.Helper()
	res, err := Measure(tr, plan, robot, opt)
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// swept returns the figures of the first tool (or of the side brushes with it)
// on open floor that is just large enough, without all that Measure adds.
func swept(t testing.TB, tr *geom.Trace, robot geom.Robot, cell float64, side ...geom.SideBrush) Block {
	t.Helper()
	lo, hi := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, s := range tr.Samples {
		if s.Placed() {
			lo = geom.Point2{X: math.Min(lo.X, s.X), Y: math.Min(lo.Y, s.Y)}
			hi = geom.Point2{X: math.Max(hi.X, s.X), Y: math.Max(hi.Y, s.Y)}
		}
	}
	// The corner is at an odd place, so that no path lies on cells' borders or
	// centres, where rounding would decide.
	plan := planOf(rect(lo.X-0.5013, lo.Y-0.5017, hi.X+0.5, hi.Y+0.5))
	return sweptIn(t, tr, plan, robot, cell, side...)
}

func sweptIn(t testing.TB, tr *geom.Trace, plan *geom.Plan, robot geom.Robot, cell float64, side ...geom.SideBrush) Block {
	t.Helper()
	opt := DefaultOptions()
	opt.Cell, opt.Raster, opt.WidthStep = cell, false, 0
	m := &measurer{trace: tr, plan: plan, robot: robot, opt: opt, room: roomOf(plan, robot.Height), pts: pathOf(tr, nil)}
	m.grid, m.openM2 = m.room.openGrid(cell), m.room.openArea()
	s := newSweeper(m.grid, robot.Radius())
	s.run(m.pts, robot.Tools[0], side, nil)
	return m.block(s, robot.Tools[0], side, nil, math.NaN())
}

// within fails unless |got - want| <= tol; it always says what came out.
func within(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	t.Logf("%s: got %.6f, want %.6f, off by %.2g, allowed %.2g", what, got, want, got-want, tol)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6f, want %.6f within %.2g", what, got, want, tol)
	}
}
