package coverage

import (
	"errors"
	"math"
	"sort"

	"swathe/geom"
)

// Lean is the part of a Result that Repeat gives: figures alone, no places, and
// of the times only the plateau, to a part of Curves.
type Lean struct {
	Floor      Floor  // open and reachable floor; the rest NaN
	Motion     Motion // its distance as the path has it, jitter and all
	Coverage   Block
	OtherTools map[string]Block
	// Curves are by tool, the headline tool under its own name.
	Curves map[string]Curves
}

// Curves are how many cells had been swept by the end of each of CurveBins equal
// parts of the run: of the open floor, and of what of it is within reach.
type Curves struct{ Open, Reach []int32 }

// CurveBins is the number of parts of a curve of Lean.
const CurveBins = 2048

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
	pts    []point
	masks  map[string]reachMask
}

type reachMask struct {
	mask []bool
	m2   float64
}

// NewRepeat returns a Repeat. opt: as for Measure; what only serves places or
// doubts is not done. others: the other tools and the side brushes as well.
func NewRepeat(opt Options, others bool) (*Repeat, error) {
	opt.WidthStep, opt.Dwell, opt.CellAuto, opt.Unseen = 0, false, false, nil
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
	r.pts = pathInto(r.pts, trace, r.opt.ToolOff)
	pts := r.pts
	if plan != r.plan || robot != r.robot {
		r.prepare(trace, plan, *robot, pts)
		r.plan, r.robot = plan, robot
	}
	m := r.m
	m.trace, m.pts = trace, pts
	out := &Lean{
		Floor:      Floor{OpenM2: m.openM2, ReachableM2: r.masks[robot.Tools[0].Name].m2, BodyReachM2: math.NaN(), UnseenM2: math.NaN(), UnknownM2: math.NaN()},
		Motion:     motionOf(trace, pts, r.opt.MovingSpeed, nil),
		OtherTools: map[string]Block{}, Curves: map[string]Curves{},
	}
	for i, t := range robot.Tools {
		if i > 0 && !r.others {
			break
		}
		b, curve := r.sweep(t.Name, t, nil)
		out.Curves[t.Name] = curve
		if i == 0 {
			out.Coverage = b
		} else {
			out.OtherTools[t.Name] = b
		}
	}
	if r.others && len(robot.SideBrushes) > 0 {
		out.OtherTools[WithSideBrushes], out.Curves[WithSideBrushes] = r.sweep(WithSideBrushes, robot.Tools[0], robot.SideBrushes)
	}
	return out, nil
}

// sweep returns a tool's figures. Measure's own way to them sorts the times of
// all cells, which here would take as long as all the rest.
func (r *Repeat) sweep(name string, t geom.Tool, side []geom.SideBrush) (Block, Curves) {
	s, m := r.s, r.m
	s.reset()
	s.run(m.pts, t, side, nil)
	curve, within := make([]int32, CurveBins), make([]int32, CurveBins)
	mask := r.masks[name].mask
	from, dur := m.trace.Run.From, m.trace.Run.To-m.trace.Run.From
	a := s.size * s.size
	b := Block{CellM: s.size, ReachableM2: r.masks[name].m2}
	covered, swept := 0, 0
	for i := range s.cells {
		c := s.cells[i]
		if c.open() == 0 || c.passes() == 0 {
			continue
		}
		covered++
		swept += int(c.passes())
		b.PassesM2[min(int(c.passes()), 4)] += a
		k := min(max(int((float64(s.first[i])-from)/dur*CurveBins), 0), CurveBins-1)
		curve[k]++
		if mask != nil && mask[i] {
			within[k]++
		}
	}
	for k := 1; k < CurveBins; k++ {
		curve[k] += curve[k-1]
		within[k] += within[k-1]
	}
	in := float64(within[CurveBins-1]) * a
	b.CoveredM2, b.SweptM2 = math.Min(float64(covered)*a, m.openM2), float64(swept)*a
	b.PassesM2[0] = m.openM2 - b.CoveredM2
	b.CoveredShare, b.ReachableShare = ratio(b.CoveredM2, m.openM2), ratio(math.Min(in, b.ReachableM2), b.ReachableM2)
	b.SweptBeyondM2 = float64(covered)*a - in
	if mask == nil {
		b.SweptBeyondM2 = math.NaN()
	}
	b.MeanPasses = ratio(b.SweptM2, b.CoveredM2)
	b.Redundancy = b.MeanPasses - 1
	b.Economy = economyOf(b.SweptM2, b.ReachableM2, b.ReachableShare)
	b.RateM2PerMin = ratio(b.CoveredM2, dur/60)
	b.PlateauS, b.TailS = math.NaN(), math.NaN()
	if covered > 0 {
		want := 0.99 * float64(covered)
		k := sort.Search(CurveBins, func(k int) bool { return float64(curve[k]) >= want })
		before := 0.0
		if k > 0 {
			before = float64(curve[k-1])
		}
		b.PlateauS = dur * (float64(k) + (want-before)/(float64(curve[k])-before)) / CurveBins
		b.TailS = dur - b.PlateauS
	}
	return b, Curves{curve, within}
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

// Grid returns what the headline tool did in the run measured last, as Measure
// gives it but without FlagBody, FlagUnknown and FlagUnseen. With others only
// the tool swept last is known: make the Repeat without them. nil before the
// first run.
func (r *Repeat) Grid() *Grid {
	if r.m == nil || r.others {
		return nil
	}
	g := *r.m.grid
	g.Flags = append([]uint8(nil), g.Flags...)
	for k, in := range r.masks[r.m.robot.Tools[0].Name].mask {
		if in {
			g.Flags[k] |= FlagReachable
		}
	}
	g.Passes, g.First = r.s.split()
	return &g
}
