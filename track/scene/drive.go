package scene

import (
	"math"
	"sort"

	"swathe/geom"
)

// lane is a stretch of a row on which the robot can drive.
type lane struct {
	row  int
	a, b geom.Point2
}

// lanes returns the free stretches of rows at the given heading and spacing;
// the outermost rows keep inset more than need be from the room's sides.
func (p *Pilot) lanes(heading, spacing, inset float64) []lane {
	s, c := math.Sincos(heading)
	along, across := geom.Point2{X: c, Y: s}, geom.Point2{X: -s, Y: c}
	lo, hi := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, q := range p.g.room {
		u, v := q.X*c+q.Y*s, -q.X*s+q.Y*c
		lo = geom.Point2{X: min(lo.X, u), Y: min(lo.Y, v)}
		hi = geom.Point2{X: max(hi.X, u), Y: max(hi.Y, v)}
	}
	need := p.need()
	first, last := lo.Y+need+inset, hi.Y-need-inset
	n := max(1, int(math.Ceil((last-first)/spacing-1e-9)))
	var out []lane
	for k := 0; k <= n; k++ {
		v := first + (last-first)*float64(k)/float64(n)
		at := func(u float64) geom.Point2 { return along.Scale(u).Add(across.Scale(v)) }
		const step = 0.01
		start := math.NaN()
		for u := lo.X; u <= hi.X+step; u += step {
			free := u <= hi.X && p.g.Clear(at(u)) >= need-1e-6
			if free && math.IsNaN(start) {
				start = u
			}
			if !free && !math.IsNaN(start) {
				if u-step-start > 0.05 {
					out = append(out, lane{k, at(start), at(u - step)})
				}
				start = math.NaN()
			}
		}
	}
	return out
}

// Rows cleans the floor in parallel lanes at the given heading, the nearest
// next lane first, until all are done or the time until is over. The outermost
// rows leave inset to the edges, which were cleaned before.
func (p *Pilot) Rows(heading, spacing, inset, until float64) {
	left := p.lanes(heading, spacing, inset)
	row := -1
	for len(left) > 0 && p.t < until {
		here := geom.Point2{X: p.pose.X, Y: p.pose.Y}
		sort.Slice(left, func(i, j int) bool { return p.price(left[i], row, here) < p.price(left[j], row, here) })
		l := left[0]
		left = left[1:]
		if l.b.Dist(here) < l.a.Dist(here) {
			l.a, l.b = l.b, l.a
		}
		if !p.Goto(l.a) {
			continue
		}
		began := p.t
		p.Follow([]geom.Point2{l.b})
		p.rows = append(p.rows, LaneTruth{began, p.t, l.a, l.b})
		row = l.row
	}
}

// price orders lanes: the neighbouring row beats a near one farther off.
func (p *Pilot) price(l lane, row int, here geom.Point2) float64 {
	d := min(l.a.Dist(here), l.b.Dist(here))
	if row >= 0 {
		if k := math.Abs(float64(l.row - row)); k != 1 {
			d += 0.25 * max(k, 1)
		}
	}
	return d
}

// Bounce drives straight until something is in the way, backs off, turns by a
// random angle and goes on, until the given time.
func (p *Pilot) Bounce(until float64) {
	for p.t < until {
		s, c := math.Sincos(p.pose.Heading)
		d := 0.0
		for p.g.Clear(geom.Point2{X: p.pose.X + (d+0.01)*c, Y: p.pose.Y + (d+0.01)*s}) >= p.need() && d < 20 {
			d += 0.01
		}
		if d > 0.02 {
			p.Follow([]geom.Point2{{X: p.pose.X + d*c, Y: p.pose.Y + d*s}})
			p.Pause(0.2)
			if d > 0.2 {
				p.Straight(-0.05)
			}
		}
		turn := geom.Radians(60 + 120*p.r.Float())
		if p.r.Float() < 0.5 {
			turn = -turn
		}
		p.Turn(turn)
	}
}

// Leave drives out of the dock by d, m.
func (p *Pilot) Undock(d float64) { p.Straight(d) }

// Dock drives to the front of the plan's dock, turns its back to it and backs
// in; false if the layout has no dock or no way leads there.
func (p *Pilot) Dock() bool {
	if p.plan.Dock == nil {
		return false
	}
	d := *p.plan.Dock
	front := d.At(geom.Point2{X: 0.4})
	if !p.Goto(front) {
		return false
	}
	p.Face(d.Heading)
	p.Pause(0.6)
	speed := p.opt.Speed
	p.opt.Speed = 0.12
	p.Straight(-geom.Point2{X: p.pose.X, Y: p.pose.Y}.Dist(geom.Point2{X: d.X, Y: d.Y}))
	p.opt.Speed = speed
	return true
}

// RunOptions describe a whole run.
type RunOptions struct {
	Pilot   PilotOptions
	Rest    float64 // s at rest before it starts
	Stand   float64 // s at rest after it ended
	Spacing float64 // m between lanes
	Limit   float64 // s, time of day by which it gives up its lanes
}

// DefaultRunOptions returns lanes that overlap a little for the robot's first
// tool, 5 s of rest at either end and no limit worth the name.
func DefaultRunOptions(robot geom.Robot) RunOptions {
	spacing := 0.8 * robot.Reach()
	if len(robot.Tools) > 0 {
		spacing = 0.92 * robot.Tools[0].Width
	}
	return RunOptions{Pilot: DefaultPilotOptions(), Rest: 5, Stand: 5, Spacing: spacing, Limit: 3600}
}

// start is where a run begins: in the dock, or beside the lower left corner.
func start(plan *geom.Plan, robot geom.Robot) geom.Pose {
	if plan.Dock != nil {
		return *plan.Dock
	}
	g := NewGround(plan, robot.Height)
	k := g.nearestFree(g.lo, robot.Reach()+0.1)
	q := g.node(max(k, 0)%g.nx, max(k, 0)/g.nx)
	return geom.Pose{X: q.X, Y: q.Y, Heading: math.Pi / 2}
}

func (o RunOptions) pilot(plan *geom.Plan, robot geom.Robot) *Pilot {
	p := NewPilot(plan, robot, start(plan, robot), o.Pilot)
	p.Pause(o.Rest)
	if plan.Dock != nil {
		p.Undock(0.4)
	}
	return p
}

// MappingRun is a robot's first run in a room: along the walls, some way by
// chance, a look round on the spot, then lanes across what it has driven
// already, then home.
func MappingRun(plan *geom.Plan, robot geom.Robot, o RunOptions) Drive {
	p := o.pilot(plan, robot)
	p.Edges()
	p.Bounce(min(p.t+15, o.Limit))
	p.Pause(1.5)
	p.Turn(2 * 2 * math.Pi)
	p.Pause(1)
	p.Rows(math.Pi/2, o.Spacing*1.05, o.Spacing, o.Limit)
	p.Bounce(min(p.t+10, o.Limit))
	p.Dock()
	p.Pause(o.Stand)
	return p.Drive()
}

// MappedRun is a run in a room that the robot knows: along the edges, then
// lanes, then home.
func MappedRun(plan *geom.Plan, robot geom.Robot, o RunOptions) Drive {
	p := o.pilot(plan, robot)
	p.Edges()
	p.Rows(0, o.Spacing, o.Spacing, o.Limit)
	p.Dock()
	p.Pause(o.Stand)
	return p.Drive()
}
