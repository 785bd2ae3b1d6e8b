package doubt

import (
	"math"
	"math/rand"

	"swathe/geom"
)

// on says which inputs a draw draws.
type on map[string]bool

// flat draws from within a tolerance (half-width), or within another where none
// was given.
func flat(rng *rand.Rand, tol, otherwise float64) float64 {
	if tol == 0 {
		tol = otherwise
	}
	return tol * (2*rng.Float64() - 1)
}

// drawBody returns the robot with its body drawn as much wider or narrower, and
// its height off by dh.
func drawBody(r geom.Robot, o Options, rng *rand.Rand) (robot geom.Robot, dh float64) {
	wider, dh := flat(rng, r.DiameterTol, o.DiameterTol), flat(rng, r.HeightTol, o.HeightTol)
	if r.Round() {
		r.Diameter = math.Max(0, r.Diameter+wider)
		return r, dh
	}
	k := math.Max(0, 1+wider/(2*r.Radius()))
	out := make([]geom.Point2, len(r.Outline))
	for i, p := range r.Outline {
		out[i] = p.Scale(k)
	}
	r.Outline = out
	return r, dh
}

// drawTool returns the robot with its tools and side brushes drawn.
func drawTool(r geom.Robot, o Options, rng *rand.Rand) geom.Robot {
	tools := append([]geom.Tool(nil), r.Tools...)
	for i := range tools {
		t := &tools[i]
		t.Width = math.Max(0, t.Width+flat(rng, t.WidthTol, o.WidthTol))
		t.Ahead += flat(rng, t.OffsetTol, o.OffsetTol)
		t.Left += flat(rng, t.OffsetTol, o.OffsetTol)
	}
	r.Tools = tools
	brushes := append([]geom.SideBrush(nil), r.SideBrushes...)
	for i := range brushes {
		brushes[i].Reach = math.Max(0, brushes[i].Reach+flat(rng, 0, o.WidthTol))
	}
	r.SideBrushes = brushes
	return r
}

// drawPlan returns the plan with every corner of room, obstacles and overhead
// pieces drawn. Corners at the same place move together, so that pieces that
// meet there still do.
func drawPlan(p *geom.Plan, sigma float64, rng *rand.Rand) *geom.Plan {
	moved := map[geom.Point2]geom.Point2{}
	return movePlan(p, func(c geom.Point2) geom.Point2 {
		q, ok := moved[c]
		if !ok {
			q = geom.Point2{X: c.X + sigma*rng.NormFloat64(), Y: c.Y + sigma*rng.NormFloat64()}
			moved[c] = q
		}
		return q
	})
}

// movePlan returns the plan with every corner of room, obstacles and overhead
// pieces moved, and without what only places need.
func movePlan(p *geom.Plan, move func(geom.Point2) geom.Point2) *geom.Plan {
	ring := func(corners []geom.Point2) []geom.Point2 {
		out := make([]geom.Point2, len(corners))
		for i, c := range corners {
			out[i] = move(c)
		}
		return out
	}
	pieces := func(in []geom.Piece) []geom.Piece {
		out := append([]geom.Piece(nil), in...)
		for i := range out {
			out[i].Outline = geom.Ring(ring(geom.RingCorners(out[i].Outline)))
		}
		return out
	}
	q := *p
	q.Room = geom.Ring(ring(geom.RingCorners(p.Room)))
	q.Obstacles, q.Overhead = pieces(p.Obstacles), pieces(p.Overhead)
	q.Areas, q.TestObjects, q.Dock = nil, nil, nil
	return &q
}

// field is how far a drawn camera moves what the solved one sees, on a lattice
// over the room.
type field struct {
	low    geom.Point2
	step   geom.Point2
	d      [lattice][lattice]geom.Point2
	turned [lattice - 1][lattice - 1]float64 // rad, by mesh
}

// lattice: a camera's error changes over the room as its lens does, slowly.
const lattice = 13

// newField: drawn is the camera as it may be, nil to leave it as it was solved,
// dh by how much the robot's top may be higher than it is told to be.
func newField(sol *geom.Solution, drawn *geom.Camera, plan *geom.Plan, height, dh float64) *field {
	if drawn == nil {
		drawn = sol.Camera
	}
	low, high := plan.Bounds()
	f := &field{low: low, step: high.Sub(low).Scale(1 / float64(lattice-1))}
	for i := range f.d {
		for j := range f.d[i] {
			p := geom.Point3{X: low.X + float64(i)*f.step.X, Y: low.Y + float64(j)*f.step.Y, Z: height}
			px, ok := sol.Camera.Project(p)
			if !ok {
				continue // the camera shows nothing there, so nothing was seen there
			}
			if q, ok := drawn.Floor(px, height+dh); ok {
				f.d[i][j] = q.Sub(geom.Point2{X: p.X, Y: p.Y})
			}
		}
	}
	for i := range f.turned {
		for j := range f.turned[i] {
			a, b, c := f.d[i][j], f.d[i+1][j], f.d[i][j+1]
			f.turned[i][j] = ((b.Y-a.Y)/f.step.X - (c.X-a.X)/f.step.Y) / 2
		}
	}
	return f
}

// at returns the shift, m, and the turn, rad, at a point of the floor.
func (f *field) at(x, y float64) (geom.Point2, float64) {
	u := math.Min(lattice-1.001, math.Max(0, (x-f.low.X)/f.step.X))
	v := math.Min(lattice-1.001, math.Max(0, (y-f.low.Y)/f.step.Y))
	i, j := int(u), int(v)
	u, v = u-float64(i), v-float64(j)
	a, b, c, d := f.d[i][j], f.d[i+1][j], f.d[i][j+1], f.d[i+1][j+1]
	w00, w10, w01, w11 := (1-u)*(1-v), u*(1-v), (1-u)*v, u*v
	return geom.Point2{X: w00*a.X + w10*b.X + w01*c.X + w11*d.X, Y: w00*a.Y + w10*b.Y + w01*c.Y + w11*d.Y}, f.turned[i][j]
}

// drawTrace returns the path with camera and path drawn (nil: not drawn), and by
// how much longer its bridged gaps became, m.
func drawTrace(t *geom.Trace, f *field, e *pathError, rng *rand.Rand) (*geom.Trace, float64) {
	out := *t
	out.Samples = append([]geom.Sample(nil), t.Samples...)
	if f != nil {
		for i := range out.Samples {
			s := &out.Samples[i]
			if !math.IsNaN(s.X) {
				d, turn := f.at(s.X, s.Y)
				s.X, s.Y, s.Heading = s.X+d.X, s.Y+d.Y, s.Heading+turn
			}
		}
	}
	if e == nil {
		return &out, 0
	}
	return &out, e.draw(out.Samples, rng)
}

// skew returns the angle by which the drawn runs are turned against the cells:
// the one that keeps every wall and side farthest from running with them.
//
// Walls and lanes mostly run along x and y. On cells much coarser than an
// error of some millimetres, a straight border that runs with the cells is wrong
// by the same part of a cell all along it, in the undrawn run as in none of the
// drawn ones; where it runs askew that evens out within a few cells. A border
// along a diagonal, or along one cell over and two up, runs with them too, only
// on a lattice finer by the length h of that step, and evens out once it is a
// step off: what is left of its error falls with h^2 and the angle from it.
func skew(p *geom.Plan) float64 {
	var dirs []float64
	add := func(corners []geom.Point2) {
		for i, c := range corners {
			d := corners[(i+1)%len(corners)].Sub(c)
			dirs = append(dirs, math.Atan2(d.Y, d.X))
		}
	}
	add(geom.RingCorners(p.Room))
	for _, o := range p.Obstacles {
		add(geom.RingCorners(o.Outline))
	}
	best, angle := -1.0, 0.0
	for a := 0.02; a < math.Pi/2; a += 0.00371 {
		least := math.Inf(1)
		for _, d := range dirs {
			for i := 0; i <= 8; i++ {
				for j := 0; j <= 8; j++ {
					if i+j == 0 {
						continue
					}
					// Directions count modulo a quarter turn.
					off := math.Abs(math.Remainder(a+d-math.Atan2(float64(i), float64(j)), math.Pi/2))
					least = math.Min(least, off*float64(i*i+j*j))
				}
			}
		}
		if least > best {
			best, angle = least, a
		}
	}
	return angle
}

// turnPlan and turnTrace turn a plan and a path about the origin; none of the
// figures depends on where on the floor they are.
func turnPlan(p *geom.Plan, a float64) *geom.Plan {
	sin, cos := math.Sincos(a)
	return movePlan(p, func(c geom.Point2) geom.Point2 { return geom.Point2{X: cos*c.X - sin*c.Y, Y: sin*c.X + cos*c.Y} })
}

func turnTrace(t *geom.Trace, a float64) *geom.Trace {
	sin, cos := math.Sincos(a)
	out := *t
	out.Samples = append([]geom.Sample(nil), t.Samples...)
	for i := range out.Samples {
		s := &out.Samples[i]
		s.X, s.Y, s.Heading = cos*s.X-sin*s.Y, sin*s.X+cos*s.Y, s.Heading+a
	}
	return &out
}
