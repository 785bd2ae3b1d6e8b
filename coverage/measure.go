package coverage

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"swathe/geom"
)

// Measure returns the coverage figures of one run.
//
// trace: the path, with the run's bounds; only what lies within them counts.
// plan: the room. robot: its body and tools, the first of which is the headline
// tool. Errors: a setting out of range, a trace without samples, a robot
// without a tool. A run that swept nothing is no error.
func Measure(trace *geom.Trace, plan *geom.Plan, robot geom.Robot, opt Options) (*Result, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	if trace == nil || len(trace.Samples) == 0 {
		return nil, errors.New("the path has no samples: nothing to measure")
	}
	if plan == nil || len(plan.Room) < 3 {
		return nil, errors.New("the plan has no room: its outline needs three corners or more")
	}
	if len(robot.Tools) == 0 {
		return nil, fmt.Errorf("the robot %q has no tool: give it at least one under tools", robot.Name)
	}
	m := &measurer{trace: trace, robot: robot, opt: opt, room: roomOf(plan, robot.Height)}
	m.pts = pathOf(trace, opt.ToolOff)
	return m.measure()
}

// measurer carries what the parts of one Measure share.
type measurer struct {
	trace *geom.Trace
	robot geom.Robot
	opt   Options
	room  room
	pts   []point
	grid  *Grid // flags of the headline tool
}

func (m *measurer) measure() (*Result, error) {
	m.grid = m.room.openGrid(m.opt.Cell)
	tool := m.robot.Tools[0]
	res := &Result{
		Tool:       tool.Name,
		OtherTools: map[string]Block{},
		Missed:     []Patch{},
		Steps:      make([]Step, len(m.trace.Samples)-1),
		Motion:     motionOf(m.trace, m.pts, m.opt.MovingSpeed),
	}
	a := m.opt.Cell * m.opt.Cell
	res.Floor = Floor{
		OpenM2:      float64(m.grid.count(FlagOpen)) * a,
		ReachableM2: math.NaN(), BodyReachM2: math.NaN(), UnseenM2: math.NaN(), UnknownM2: math.NaN(),
	}
	for k, p := range m.pts {
		if k > 0 && !p.gap {
			res.Steps[p.step].Known = true
			res.Steps[p.step].DistanceM += p.s - m.pts[k-1].s
		}
	}
	s := newSweeper(m.grid, m.robot.Radius())
	s.run(m.pts, tool, nil, res.Steps)
	m.grid.Passes, m.grid.First = s.split()
	res.Coverage = m.block(s, res.Floor.OpenM2, res.Floor.ReachableM2)
	res.Grid = m.grid
	return res, nil
}

// split copies passes and first times of the open cells out of the sweeper.
func (s *sweeper) split() ([]uint16, []float32) {
	passes, first := make([]uint16, len(s.cells)), make([]float32, len(s.cells))
	for i := range s.cells {
		c := &s.cells[i]
		if c.passes > 0 && c.flags&FlagOpen != 0 {
			passes[i], first[i] = c.passes, c.first
		} else {
			first[i] = float32(math.NaN())
		}
	}
	return passes, first
}

// block turns what a sweeper did into figures.
func (m *measurer) block(s *sweeper, openM2, reachM2 float64) Block {
	a := s.size * s.size
	b := Block{CellM: s.size, ReachableM2: reachM2}
	var times []float32
	covered, swept := 0, 0
	for i := range s.cells {
		c := &s.cells[i]
		if c.flags&FlagOpen == 0 {
			continue
		}
		b.PassesM2[min(int(c.passes), 4)] += a
		if c.passes > 0 {
			covered++
			swept += int(c.passes)
			times = append(times, c.first)
		}
	}
	b.CoveredM2, b.SweptM2 = float64(covered)*a, float64(swept)*a
	b.CoveredShare = ratio(b.CoveredM2, openM2)
	b.ReachableShare = ratio(b.CoveredM2, reachM2)
	b.MeanPasses = ratio(b.SweptM2, b.CoveredM2)
	b.Redundancy = b.MeanPasses - 1
	dur := m.trace.Run.To - m.trace.Run.From
	b.RateM2PerMin = ratio(b.CoveredM2, dur/60)
	slices.Sort(times)
	for i, lv := range Levels {
		b.TimeTo[i] = m.timeTo(times, float64(lv)/100*openM2/a)
		b.TimeToReachable[i] = m.timeTo(times, float64(lv)/100*reachM2/a)
	}
	b.TimeToFullS = b.TimeToReachable[4]
	b.PlateauS, b.TailS = math.NaN(), math.NaN()
	if covered > 0 {
		b.PlateauS = m.timeTo(times, 0.99*float64(covered))
		b.TailS = dur - b.PlateauS
	}
	nan := Shares{math.NaN(), math.NaN()}
	b.RasterShare, b.Wider, b.Narrower = math.NaN(), nan, nan
	b.IfNot = Shares{b.CoveredShare, b.ReachableShare}
	b.IfSwept = nan
	return b
}

// timeTo returns the time from the run's start at which the number of covered
// cells first reached want; NaN if it never did.
func (m *measurer) timeTo(times []float32, want float64) float64 {
	// A whole number of cells must not be missed for a rounding error.
	k := int(math.Ceil(want - 1e-6))
	if math.IsNaN(want) || k > len(times) || len(times) == 0 {
		return math.NaN()
	}
	return float64(times[max(k, 1)-1]) - m.trace.Run.From
}

// ratio returns a/b, NaN if b is 0.
func ratio(a, b float64) float64 {
	if b == 0 {
		return math.NaN()
	}
	return a / b
}
