package coverage

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"swathe/geom"
)

// maxCells bounds the raster: beyond it a run would need gigabytes.
const maxCells = 64 << 20

// Measure returns the coverage figures of one run.
//
// trace: the path, with the run's bounds; only what lies within them counts.
// plan: the room. robot: its body and tools, the first of which is the headline
// tool. Errors: a setting out of range, a trace without samples, a robot
// without a tool, cells too small for the room. A run that swept nothing is no
// error.
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
	m := &measurer{trace: trace, plan: plan, robot: robot, opt: opt, room: roomOf(plan, robot.Height)}
	if n := m.cellCount(opt.Cell); n > maxCells {
		return nil, fmt.Errorf("cells of %g m would be %.0f million in this room, more than %d million; choose larger ones",
			opt.Cell, n/1e6, maxCells>>20)
	}
	m.pts = pathOf(trace, opt.ToolOff)
	if opt.CellAuto {
		m.chooseCell()
	}
	return m.measure(), nil
}

// measurer carries what the parts of one Measure share.
type measurer struct {
	trace *geom.Trace
	plan  *geom.Plan
	robot geom.Robot
	opt   Options
	room  room
	pts   []point

	grid     *Grid // flags of the headline tool
	openM2   float64
	where    reach // nil if the robot started where it cannot stand
	unknown  []bool
	warnings []string
}

// cellCount returns how many cells of a size the room takes.
func (m *measurer) cellCount(cell float64) float64 {
	lo, hi := m.room.walls.bounds()
	return math.Ceil((hi.X-lo.X)/cell) * math.Ceil((hi.Y-lo.Y)/cell)
}

func (m *measurer) measure() *Result {
	m.grid = m.room.openGrid(m.opt.Cell)
	m.openM2 = m.room.openArea()
	tool := m.robot.Tools[0]
	res := &Result{
		Tool:       tool.Name,
		OtherTools: map[string]Block{},
	}
	scale := unjittered(m.trace)
	res.Steps, res.Motion = m.steps(scale), motionOf(m.trace, m.pts, m.opt.MovingSpeed, scale)
	m.findReach()
	mask, reachM2 := m.reachOf(tool)
	body, bodyM2 := m.bodyReach()
	m.setMask(mask, FlagReachable)
	m.setMask(body, FlagBody)
	res.Floor = Floor{OpenM2: m.openM2, ReachableM2: reachM2, BodyReachM2: bodyM2, UnseenM2: m.unseen()}

	s := newSweeper(m.grid, m.robot.Radius())
	if m.opt.Log {
		m.grid.Log = []PassAt{}
		s.log = &m.grid.Log
	}
	s.run(m.pts, tool, nil, res.Steps)
	s.log = nil
	slices.SortStableFunc(m.grid.Log, func(a, b PassAt) int { return cmp.Compare(a.T, b.T) })
	m.grid.Passes, m.grid.First = s.split()
	m.unknown = m.maybe(mask, tool)
	res.Coverage = m.block(s, tool, nil, mask, reachM2)
	res.Floor.UnknownM2 = m.markUnknown()

	for _, t := range m.robot.Tools[1:] {
		res.OtherTools[t.Name] = m.toolBlock(s, t, nil)
	}
	if len(m.robot.SideBrushes) > 0 {
		res.OtherTools[WithSideBrushes] = m.toolBlock(s, tool, m.robot.SideBrushes)
	}
	res.Curve = m.curve(res.Steps, mask, reachM2)
	m.missed(res, tool)
	res.Edges = m.edges()
	res.Areas = m.areas()
	if m.opt.Dwell {
		m.grid.Dwell = m.dwell()
	}
	res.Grid = m.grid
	res.Warnings = m.warnings
	return res
}

// steps returns one Step an interval of the trace, with its known distance;
// scale: what the length of each interval is multiplied by.
func (m *measurer) steps(scale []float64) []Step {
	out := make([]Step, len(m.trace.Samples)-1)
	for k, p := range m.pts {
		if !p.gap {
			out[p.step].Known = true
			out[p.step].DistanceM += scale[p.step] * (p.s - m.pts[k-1].s)
		}
	}
	return out
}

// findReach finds where the robot can go from where it started.
func (m *measurer) findReach() {
	if len(m.pts) == 0 {
		m.warnings = append(m.warnings, "The robot's position is unknown throughout the run, so no floor counts as swept.")
		return
	}
	p := m.pts[0]
	start := geom.Pose{X: p.x, Y: p.y, Heading: p.h}
	ok := false
	if m.robot.Round() {
		var d *discReach
		if d, ok = newDiscReach(m.grid, m.room, m.robot.Radius(), geom.Point2{X: p.x, Y: p.y}, m.opt.StartSlack); ok {
			m.where = d
		}
	} else {
		var d *polyReach
		if d, ok = newPolyReach(m.room, m.robot.Outline, m.opt.Cell, m.opt.Headings, start, m.opt.StartSlack); ok {
			m.where = d
		}
	}
	if !ok {
		m.warnings = append(m.warnings, fmt.Sprintf(
			"Check the plan's outlines, the robot's size and the camera's marks: at the start of the run (%.2f m, %.2f m) the robot does not fit within %.0f mm of where it was seen, so its reachable floor is unknown.",
			p.x, p.y, m.opt.StartSlack*1000))
	}
}

// reachOf returns what a tool can touch; nil and NaN if that is not known.
func (m *measurer) reachOf(t geom.Tool, side ...geom.SideBrush) ([]bool, float64) {
	if m.where == nil {
		return nil, math.NaN()
	}
	mask, area := m.where.line(t, side...)
	return m.ownCells(mask), area
}

func (m *measurer) bodyReach() ([]bool, float64) {
	if m.where == nil {
		return nil, math.NaN()
	}
	mask, area := m.where.body()
	return m.ownCells(mask), area
}

// ownCells carries a mask over from the cells on which the reach was found.
func (m *measurer) ownCells(mask []bool) []bool {
	p, coarse := m.where.(*polyReach)
	if !coarse || p.g.Cell == m.grid.Cell {
		return mask
	}
	out := make([]bool, len(m.grid.Flags))
	for k, f := range m.grid.Flags {
		if f&FlagOpen != 0 {
			if q := p.g.Index(m.grid.Centre(k)); q >= 0 {
				out[k] = mask[q]
			}
		}
	}
	return out
}

func (m *measurer) setMask(mask []bool, flag uint8) {
	for k, in := range mask {
		if in {
			m.grid.Flags[k] |= flag
		}
	}
}

// unseen marks and measures the open floor that the camera cannot see.
func (m *measurer) unseen() float64 {
	if m.opt.Unseen == nil {
		return math.NaN()
	}
	n := 0
	for k, f := range m.grid.Flags {
		if f&FlagOpen != 0 && m.opt.Unseen(m.grid.Centre(k)) {
			m.grid.Flags[k] |= FlagUnseen
			n++
		}
	}
	return float64(n) * m.grid.Cell * m.grid.Cell
}

// toolBlock sweeps another tool and returns its figures.
func (m *measurer) toolBlock(s *sweeper, t geom.Tool, side []geom.SideBrush) Block {
	mask, reachM2 := m.reachOf(t, side...)
	s.reset()
	s.first = make([]float32, len(s.cells)) // what it had is the grid's
	s.run(m.pts, t, side, nil)
	return m.block(s, t, side, mask, reachM2)
}

// block turns what a sweeper did into figures.
func (m *measurer) block(s *sweeper, t geom.Tool, side []geom.SideBrush, mask []bool, reachM2 float64) Block {
	a := s.size * s.size
	b := Block{CellM: s.size, ReachableM2: reachM2}
	size, sizeIn := 0, 0
	for i := range s.cells {
		if c := s.cells[i]; c.open() != 0 && c.passes() > 0 {
			size++
			if mask != nil && mask[i] {
				sizeIn++
			}
		}
	}
	// Of the open floor, and of what of it is within reach. In a hall they hold
	// millions: what grows by doubling would leave as much again to be collected.
	times, within := make([]float32, 0, size), make([]float32, 0, sizeIn)
	covered, swept, maybe := 0, 0, 0
	for i := range s.cells {
		c := s.cells[i]
		if c.open() == 0 {
			continue
		}
		if c.passes() > 0 {
			covered++
			swept += int(c.passes())
			times = append(times, s.first[i])
			if mask != nil && mask[i] {
				within = append(within, s.first[i])
			}
			b.PassesM2[min(int(c.passes()), 4)] += a
		} else if m.unknown != nil && m.unknown[i] && mask != nil && mask[i] {
			maybe++
		}
	}
	// The open floor is exact and the covered floor counted in cells, so a room
	// swept whole could come out a fraction of a cell's row too large.
	b.CoveredM2, b.SweptM2 = math.Min(float64(covered)*a, m.openM2), float64(swept)*a
	b.PassesM2[0] = m.openM2 - b.CoveredM2
	b.CoveredShare = ratio(b.CoveredM2, m.openM2)
	// A share of the reachable floor counts that floor alone; what was swept
	// beyond it is no credit but a sign of a wrong survey.
	inReach := math.Min(float64(len(within))*a, reachM2)
	b.ReachableShare, b.SweptBeyondM2 = ratio(inReach, reachM2), math.NaN()
	if mask != nil {
		b.SweptBeyondM2 = float64(covered-len(within)) * a
	}
	b.MeanPasses = ratio(b.SweptM2, b.CoveredM2)
	b.Redundancy = b.MeanPasses - 1
	dur := m.trace.Run.To - m.trace.Run.From
	b.RateM2PerMin = ratio(b.CoveredM2, dur/60)
	slices.Sort(times)
	slices.Sort(within)
	for i, lv := range Levels {
		b.TimeTo[i] = m.timeTo(times, float64(lv)/100*m.openM2/a)
		b.TimeToReachable[i] = m.timeTo(within, float64(lv)/100*reachM2/a)
	}
	b.TimeToFullS = b.TimeToReachable[4]
	b.PlateauS, b.TailS = math.NaN(), math.NaN()
	if covered > 0 {
		b.PlateauS = m.timeTo(times, 0.99*float64(covered))
		b.TailS = dur - b.PlateauS
	}
	b.Economy = economyOf(b.SweptM2, reachM2, b.ReachableShare)
	b.IfNot = Shares{b.CoveredShare, b.ReachableShare}
	b.IfSwept = Shares{math.NaN(), math.NaN()}
	if mask != nil {
		more := float64(maybe) * a // all of it within reach
		b.IfSwept = Shares{ratio(math.Min(b.CoveredM2+more, m.openM2), m.openM2), ratio(math.Min(inReach+more, reachM2), reachM2)}
	}
	m.doubt(&b, s, t, side)
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
