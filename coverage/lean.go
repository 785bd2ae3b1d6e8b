package coverage

import (
	"errors"
	"math"
	"slices"

	"swathe/geom"
)

// Lean is the part of a Result that Repeat gives: figures alone, no places.
type Lean struct {
	Floor      Floor // open and reachable floor; the rest NaN
	Motion     Motion
	Coverage   Block
	OtherTools map[string]Block
	// Times are, by tool (the headline tool under its own name), the moments at
	// which each covered cell was first swept, s from the run's start, in order.
	Times map[string][]float32
}

// Repeat measures many slightly different runs of one room, as a Monte Carlo
// does: only the figures, on cells of its own size, and the floor within reach
// is worked out anew only when plan or robot are others than the time before.
// Not for use by two goroutines at once.
type Repeat struct {
	opt    Options
	others bool
	plan   *geom.Plan
	robot  *geom.Robot
	m      *measurer
	s      *sweeper
	masks  map[string]reachMask
}

type reachMask struct {
	mask []bool
	m2   float64
}

// NewRepeat returns a Repeat. opt: as for Measure; what only serves places or
// doubts is not done. others: the other tools and the side brushes as well.
func NewRepeat(opt Options, others bool) (*Repeat, error) {
	opt.Raster, opt.WidthStep, opt.Dwell, opt.CellAuto, opt.Unseen = false, 0, false, false, nil
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	return &Repeat{opt: opt, others: others}, nil
}

// Measure returns the figures of one run. plan and robot are told apart from
// the ones of the time before by their addresses: they must not be changed in
// place. Errors as Measure's.
func (r *Repeat) Measure(trace *geom.Trace, plan *geom.Plan, robot *geom.Robot) (*Lean, error) {
	if trace == nil || len(trace.Samples) == 0 {
		return nil, errors.New("the path has no samples: nothing to measure")
	}
	if len(robot.Tools) == 0 {
		return nil, errors.New("the robot has no tool: give it at least one under tools")
	}
	pts := pathOf(trace, r.opt.ToolOff)
	if plan != r.plan || robot != r.robot {
		r.prepare(trace, plan, *robot, pts)
		r.plan, r.robot = plan, robot
	}
	m := r.m
	m.trace, m.pts = trace, pts
	out := &Lean{
		Floor:      Floor{OpenM2: m.openM2, ReachableM2: r.masks[robot.Tools[0].Name].m2, BodyReachM2: math.NaN(), UnseenM2: math.NaN(), UnknownM2: math.NaN()},
		Motion:     motionOf(trace, pts, r.opt.MovingSpeed),
		OtherTools: map[string]Block{}, Times: map[string][]float32{},
	}
	for i, t := range robot.Tools {
		if i > 0 && !r.others {
			break
		}
		b, times := r.sweep(t.Name, t, nil)
		out.Times[t.Name] = times
		if i == 0 {
			out.Coverage = b
		} else {
			out.OtherTools[t.Name] = b
		}
	}
	if r.others && len(robot.SideBrushes) > 0 {
		b, times := r.sweep(WithSideBrushes, robot.Tools[0], robot.SideBrushes)
		out.OtherTools[WithSideBrushes], out.Times[WithSideBrushes] = b, times
	}
	return out, nil
}

func (r *Repeat) sweep(name string, t geom.Tool, side []geom.SideBrush) (Block, []float32) {
	r.s.reset()
	r.s.run(r.m.pts, t, side, nil)
	b := r.m.block(r.s, t, side, r.masks[name].mask, r.masks[name].m2)
	var times []float32
	from := float32(r.m.trace.Run.From)
	for k := range r.s.cells {
		if r.s.swept(k) {
			times = append(times, r.s.first[k]-from)
		}
	}
	slices.Sort(times)
	return b, times
}

func (r *Repeat) prepare(trace *geom.Trace, plan *geom.Plan, robot geom.Robot, pts []point) {
	m := &measurer{trace: trace, plan: plan, robot: robot, opt: r.opt, room: roomOf(plan, robot.Height), pts: pts}
	m.grid = m.room.openGrid(r.opt.Cell)
	m.openM2 = m.room.openArea()
	m.findReach()
	r.m, r.s, r.masks = m, newSweeper(m.grid, robot.Radius()), map[string]reachMask{}
	add := func(name string, t geom.Tool, side ...geom.SideBrush) {
		mask, m2 := m.reachOf(t, side...)
		r.masks[name] = reachMask{mask, m2}
	}
	for i, t := range robot.Tools {
		if i == 0 || r.others {
			add(t.Name, t)
		}
	}
	if r.others && len(robot.SideBrushes) > 0 {
		add(WithSideBrushes, robot.Tools[0], robot.SideBrushes...)
	}
}
