package conduct

import (
	"math"
	"math/rand"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// pen draws a path as a robot would drive it, with what it meant to do noted.
type pen struct {
	t    float64
	pose geom.Pose
	ss   []geom.Sample
	rng  *rand.Rand
	dt   float64

	turned float64 // degrees turned on the spot so far, whichever the sense
}

// newPen starts at a pose; noise of 1 mm and 1 degree is added by trace.
func newPen(x, y, headingDeg float64, seed int64) *pen {
	p := &pen{pose: geom.Pose{X: x, Y: y, Heading: geom.Radians(headingDeg)}, rng: rand.New(rand.NewSource(seed)), dt: 1.0 / 30}
	p.mark(geom.Seen)
	return p
}

func (p *pen) mark(s geom.State) {
	p.ss = append(p.ss, geom.Sample{T: p.t, X: p.pose.X, Y: p.pose.Y, Heading: p.pose.Heading, Sigma: 0.001, State: s, Source: geom.HeadingTexture})
}

// forT runs a motion over s seconds, u from 0 to 1.
func (p *pen) forT(s float64, move func(u float64)) {
	n := max(1, int(math.Round(s/p.dt)))
	for i := 1; i <= n; i++ {
		move(float64(i) / float64(n))
		p.t += s / float64(n)
		p.mark(geom.Seen)
	}
}

// drive goes length metres (back if negative) at v m/s, turning by turnDeg on
// the way.
func (p *pen) drive(length, v, turnDeg float64) *pen {
	turn := geom.Radians(turnDeg)
	start := p.pose
	if length == 0 {
		return p
	}
	p.forT(math.Abs(length)/v, func(u float64) {
		a := turn * u
		bx, by := length*u, 0.0
		if turn != 0 {
			rad := length / turn
			bx, by = rad*math.Sin(a), rad*(1-math.Cos(a))
		}
		q := start.At(geom.Point2{X: bx, Y: by})
		p.pose = geom.Pose{X: q.X, Y: q.Y, Heading: start.Heading + a}
	})
	return p
}

// turn turns on the spot at 90 degrees a second.
func (p *pen) turn(deg float64) *pen {
	h := p.pose.Heading
	if deg == 0 {
		return p
	}
	p.turned += math.Abs(deg)
	p.forT(math.Abs(deg)/90, func(u float64) { p.pose.Heading = h + u*geom.Radians(deg) })
	return p
}

func (p *pen) wait(s float64) *pen {
	p.forT(s, func(float64) {})
	return p
}

// to turns towards a point and drives there.
func (p *pen) to(x, y, v float64) *pen {
	dx, dy := x-p.pose.X, y-p.pose.Y
	d := math.Hypot(dx, dy)
	if d < 1e-6 {
		return p
	}
	p.turn(geom.Degrees(geom.WrapAngle(math.Atan2(dy, dx) - p.pose.Heading)))
	return p.drive(d, v, 0)
}

// unseen marks the samples from a time on in a state.
func (p *pen) unseen(from float64, s geom.State) {
	for i := range p.ss {
		if p.ss[i].T >= from {
			p.ss[i].State = s
			if s == geom.Lost || s == geom.Carried {
				p.ss[i].X, p.ss[i].Y = math.NaN(), math.NaN()
			}
		}
	}
}

// trace returns the path with noise.
func (p *pen) trace() *geom.Trace {
	ss := append([]geom.Sample(nil), p.ss...)
	for i := range ss {
		ss[i].X += 0.001 * p.rng.NormFloat64()
		ss[i].Y += 0.001 * p.rng.NormFloat64()
		ss[i].Heading += geom.Radians(1) * p.rng.NormFloat64()
	}
	return &geom.Trace{Samples: ss, Run: geom.Span{From: ss[0].T, To: ss[len(ss)-1].T}, Started: geom.StartedAtRest, Ended: geom.EndedStood, Length: ss[len(ss)-1].T}
}

// quiet returns the path without noise.
func (p *pen) quiet() *geom.Trace {
	ss := append([]geom.Sample(nil), p.ss...)
	return &geom.Trace{Samples: ss, Run: geom.Span{From: ss[0].T, To: ss[len(ss)-1].T}, Started: geom.StartedAtRest, Ended: geom.EndedStood, Length: ss[len(ss)-1].T}
}

func corners(x0, y0, x1, y1 float64) []geom.Point2 {
	return []geom.Point2{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func ring(name string, height float64, pts []geom.Point2) geom.Piece {
	p := geom.Piece{Name: name, Height: height}
	for _, q := range append(pts, pts[0]) {
		p.Outline = append(p.Outline, [2]float64{q.X, q.Y})
	}
	return p
}

func newPlan(t testing.TB, w, h float64, dock *geom.Pose, obstacles ...geom.Piece) *geom.Plan {
	t.Helper()
	p, err := geom.NewPlan(geom.PlanSpec{Name: "test", Room: corners(0, 0, w, h), Obstacles: obstacles, Dock: dock})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var wren = geom.Robot{Name: "wren", Diameter: 0.34, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.18}}}

// find measures and looks.
func find(t testing.TB, tr *geom.Trace, plan *geom.Plan, robot geom.Robot) (*Result, *coverage.Result) {
	t.Helper()
	opt := coverage.DefaultOptions()
	opt.Cell, opt.Raster, opt.WidthStep = 0.01, false, 0
	cov, err := coverage.Measure(tr, plan, robot, opt)
	if err != nil {
		t.Fatal(err)
	}
	res, err := Find(tr, plan, robot, cov, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return res, cov
}

// of returns the events of a kind.
func of(res *Result, kind string) []Event {
	var out []Event
	for _, e := range res.Events {
		if e.Kind == kind {
			out = append(out, e)
		}
	}
	return out
}

// one returns the only event of a kind, and fails if there is another number.
func one(t *testing.T, res *Result, kind string) Event {
	t.Helper()
	es := of(res, kind)
	if len(es) != 1 {
		for _, e := range res.Events {
			t.Logf("%s %.2f-%.2f: %s", e.Kind, e.Start, e.End, e)
		}
		t.Fatalf("%d events of kind %s, want 1", len(es), kind)
	}
	return es[0]
}

// within fails unless |got - want| <= tol; it always says what came out.
func within(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	t.Logf("%s: got %.4f, want %.4f, off by %.2g, allowed %.2g", what, got, want, got-want, tol)
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.4f, want %.4f within %.2g", what, got, want, tol)
	}
}

// rows drives lanes along x from (x0, y0), n of them, spacing apart.
func (p *pen) rows(n int, length, spacing, v float64) *pen {
	for i := 0; i < n; i++ {
		p.drive(length, v, 0)
		if i == n-1 {
			break
		}
		side := 90.0
		if i%2 == 1 {
			side = -90
		}
		p.turn(side).drive(spacing, v, 0).turn(side)
	}
	return p
}

// rowsOnly looks for rows without measuring the floor, which takes longer.
func rowsOnly(t testing.TB, tr *geom.Trace, plan *geom.Plan) Rows {
	t.Helper()
	cov := &coverage.Result{Steps: make([]coverage.Step, len(tr.Samples)-1)}
	for i := range cov.Steps {
		a, b := tr.Samples[i], tr.Samples[i+1]
		cov.Steps[i] = coverage.Step{Known: true, DistanceM: math.Hypot(b.X-a.X, b.Y-a.Y)}
	}
	return newRun(tr, plan, wren, cov, DefaultOptions()).rows()
}
