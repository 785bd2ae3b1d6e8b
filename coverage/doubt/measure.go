package doubt

import (
	"errors"
	"fmt"
	"math"
	"sync"

	"swathe/coverage"
	"swathe/geom"
)

// Input is a measured run. Nothing of it is changed.
type Input struct {
	Trace    *geom.Trace
	Plan     *geom.Plan
	Robot    geom.Robot
	Camera   *geom.Solution // nil: the path was measured elsewhere
	Coverage coverage.Options
	Result   *coverage.Result // the figures as published
	Sample   string           // which specimen of the robot drove; empty: not told
}

// Measure returns how well the figures of a run are known. Errors: a setting
// out of range, or a run that cannot be measured at all.
func Measure(in Input, opt Options) (*Result, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	if in.Trace == nil || len(in.Trace.Samples) < 2 || in.Plan == nil || in.Result == nil {
		return nil, errors.New("the uncertainty of a run needs its path, its plan and its figures")
	}
	opt.Cell = math.Max(opt.Cell, in.Coverage.Cell)
	if !in.Robot.Round() {
		opt.Cell = math.Max(opt.Cell, polyCell)
	}
	lo, hi := in.Plan.Bounds()
	opt.Cell = math.Max(opt.Cell, math.Sqrt((hi.X-lo.X)*(hi.Y-lo.Y)/mostCells))
	in.Coverage.Cell = opt.Cell
	d := &drawer{in: in, opt: opt, skew: skew(in.Plan), trace: thin(in.Trace, opt.PathTime/4), dur: in.Trace.Run.To - in.Trace.Run.From, look: lookOf(in.Trace), keys: keysOf(in)}
	d.path = newPathError(d.trace, opt, in.Result.Motion.MeanSpeedMPS, in.Camera, in.Robot.Height)
	d.start, d.end = endsOf(in.Trace)
	if err := d.undrawn(); err != nil {
		return nil, err
	}
	out := &Result{Draws: opt.Draws, Seed: opt.Seed, Level: opt.Level, Blocks: map[string]map[string]Figure{}}
	all := on{InputCamera: in.Camera != nil, InputPath: true, InputTool: true, InputRobot: true, InputOutlines: true, InputRaster: true, InputClock: true}
	cols, err := d.run(all, opt.Draws, true)
	if err != nil {
		return nil, err
	}
	out.Floor, out.Run = cols.floor.figures(opt.Level), cols.run.figures(opt.Level)
	for name, c := range cols.blocks {
		out.Blocks[name] = c.figures(opt.Level)
	}
	if opt.BudgetDraws == 0 {
		return out, nil
	}
	for _, input := range Inputs {
		if !all[input] {
			continue
		}
		cols, err := d.run(on{input: true}, opt.BudgetDraws, false)
		if err != nil {
			return nil, err
		}
		b := Budget{Input: input, Words: d.words(input), U: map[string]float64{}, Bias: map[string]float64{}, Number: opt.BudgetDraws}
		parts := []columns{cols.floor, cols.run, cols.blocks[in.Result.Tool]}
		for _, c := range parts {
			for name, f := range c.figures(opt.Level) {
				b.U[name], b.Bias[name] = f.U, f.Bias
			}
		}
		out.Budget = append(out.Budget, b)
		if key := d.keys[input]; key != "" {
			out.Common = append(out.Common, causeOf(input, key, parts, d.different(on{input: true}, opt.BudgetDraws)))
		}
	}
	return out, nil
}

// jitterShare is the standard uncertainty of the distance's correction for
// jitter, as a share of it. The correction takes the errors of neighbouring looks
// for independent. Were each to follow from the one before (an autoregression of
// any correlation r), the same second differences would come with 3/(3 - r) times
// the travel: with up to half as much again. A quarter is half of that range.
const jitterShare = 0.25

func or(tol, otherwise float64) float64 {
	if tol == 0 {
		return otherwise
	}
	return tol
}

// mostCells is how many cells a drawn run has at the most: 39 m2 at the usual 12.5 mm.
// In a hall the cells are larger, as time and memory of the draws go with their
// number; its figures' uncertainty is that of the same run at the same cells, so
// their size shifts no interval, and the raster's own share is drawn with the rest.
const mostCells = 250_000

// polyCell is the finest cell on which a robot that is not round is placed: its
// placements are sought at every heading.
const polyCell = 0.02

// lookOf returns the usual time between two samples, s.
func lookOf(t *geom.Trace) float64 {
	n := len(t.Samples)
	return (t.Samples[n-1].T - t.Samples[0].T) / float64(n-1)
}

// drawer draws one run.
type drawer struct {
	in          Input
	opt         Options
	skew        float64     // by which all is turned before it is measured
	trace       *geom.Trace // thinned
	path        *pathError
	start, end  endOf
	turnedTrace *geom.Trace
	turnedPlan  *geom.Plan
	dur         float64
	look        float64
	zero        *coverage.Lean
	blocks      map[string]*block
	own         map[string][]float64 // undrawn times by tool
	keys        map[string]string    // of the inputs that other runs share
}

func (d *drawer) undrawn() error {
	r, err := coverage.NewRepeat(d.in.Coverage, true)
	if err != nil {
		return err
	}
	d.turnedTrace, d.turnedPlan = turnTrace(d.trace, d.skew), turnPlan(d.in.Plan, d.skew)
	d.zero, err = r.Measure(d.turnedTrace, d.turnedPlan, &d.in.Robot)
	if err != nil {
		return err
	}
	d.blocks = map[string]*block{}
	add := func(name string, pub, zero coverage.Block) {
		d.blocks[name] = newBlock(pub, zero, d.zero.Curves[name], d.dur, d.zero.Floor.OpenM2)
	}
	add(d.in.Result.Tool, d.in.Result.Coverage, d.zero.Coverage)
	for name, pub := range d.in.Result.OtherTools {
		if z, ok := d.zero.OtherTools[name]; ok {
			add(name, pub, z)
		}
	}
	d.own = map[string][]float64{}
	for name, b := range d.blocks {
		d.own[name] = b.times(nil, nil, d.zero.Curves[name], d.zero.Floor.OpenM2)
	}
	return nil
}

type drawn struct {
	floor, run columns
	blocks     map[string]columns
}

// run draws n times and returns the possible truths.
func (d *drawer) run(what on, n int, others bool) (*drawn, error) {
	out := &drawn{blocks: map[string]columns{}}
	columnsOf := func(l values, more ...float64) columns {
		return columns{l.names, append(l.v, more...), make([][]float64, n)}
	}
	out.floor, out.run = columnsOf(floorValues(d.in.Result.Floor)), columnsOf(runValues(d.in.Result.Motion))
	for _, name := range sortedNames(d.blocks) {
		if others || name == d.in.Result.Tool {
			pub := d.blocks[name].pub
			l := blockValues(pub)
			l.names = append(l.names, timeNames...)
			out.blocks[name] = columnsOf(l, append(pub.TimeTo[:], pub.TimeToReachable[:]...)...)
		}
	}
	setups := 1
	if setUp(what) {
		setups = d.different(what, n)
	}
	var group sync.WaitGroup
	errs := make([]error, d.opt.Workers)
	for w := range d.opt.Workers {
		group.Add(1)
		go func() {
			defer group.Done()
			errs[w] = d.work(what, n, setups, w, others, out)
		}()
	}
	group.Wait()
	return out, errors.Join(errs...)
}

// setUp tells whether room or robot are drawn.
func setUp(what on) bool { return what[InputTool] || what[InputOutlines] || what[InputRobot] }

// different returns how many of n draws differ in what is drawn: where a robot
// that is not round would have to be placed anew, there are only so many.
func (d *drawer) different(what on, n int) int {
	if setUp(what) && !d.in.Robot.Round() {
		return min(n, d.opt.Setups)
	}
	return n
}

// work does the draws of one worker: those of every setup whose number falls to
// it, so that what a setup needs is prepared once.
func (d *drawer) work(what on, n, setups, worker int, others bool, out *drawn) error {
	r, err := coverage.NewRepeat(d.in.Coverage, others)
	if err != nil {
		return err
	}
	for k := range setups {
		if setups > 1 && k%d.opt.Workers != worker {
			continue
		}
		plan, robot, dh := d.turnedPlan, d.in.Robot, 0.0
		if what[InputOutlines] {
			plan = turnPlan(drawPlan(d.in.Plan, d.opt.OutlineSigma, d.source(InputOutlines, k)), d.skew)
		}
		if what[InputTool] {
			robot = drawTool(robot, d.opt, d.source(InputTool, k))
		}
		if what[InputRobot] {
			robot, dh = drawBody(robot, d.opt, d.source(InputRobot, k))
		}
		for i := k; i < n; i += setups {
			if setups == 1 && i%d.opt.Workers != worker {
				continue
			}
			if err := d.one(what, i, r, setup{plan, &robot, dh}, out); err != nil {
				return err
			}
		}
	}
	return nil
}

// setup is a drawn room and a drawn robot, dh higher than it is told to be.
type setup struct {
	plan  *geom.Plan
	robot *geom.Robot
	dh    float64
}

// one is draw number i.
func (d *drawer) one(what on, i int, r *coverage.Repeat, s setup, out *drawn) error {
	trace, lean := d.turnedTrace, d.zero
	var f *field
	if sol := d.in.Camera; sol != nil && (what[InputCamera] || what[InputRobot]) {
		var cam *geom.Camera
		if what[InputCamera] {
			cam = sol.Perturbed(d.source(InputCamera, i))
		}
		f = newField(sol, cam, d.in.Plan, d.in.Robot.Height, s.dh)
	}
	own := d.source(InputPath, i)
	var path *pathError
	if what[InputPath] {
		path = d.path
	}
	longer := 0.0
	if f != nil || path != nil {
		trace, longer = drawTrace(d.trace, f, path, own)
		trace = turnTrace(trace, d.skew)
	}
	if trace != d.turnedTrace || what[InputOutlines] || what[InputTool] || what[InputRobot] {
		var err error
		if lean, err = r.Measure(trace, s.plan, s.robot); err != nil {
			return err
		}
	}
	res := d.in.Result
	z, y := 0.0, 0.0
	if what[InputRaster] {
		rng := d.source(InputRaster, i)
		z, y = rng.NormFloat64(), rng.NormFloat64()
	}
	start, end := 0.0, 0.0
	if what[InputClock] {
		edges := d.source(InputClock, i)
		start, end = -d.start.draw(d.look, edges), d.end.draw(d.look, edges)
	}
	out.floor.v[i] = truth(floorValues(res.Floor), floorValues(d.zero.Floor), floorValues(lean.Floor))
	run := truth(runValues(res.Motion), runValues(d.zero.Motion), runValues(lean.Motion))
	run[0] += end - start
	run[1] += longer // the gaps' bends are no travel, see pathError
	if what[InputClock] {
		run[1] += d.start.way + d.end.way
	}
	if j := res.Motion.JitterM; what[InputPath] && j > 0 && res.Motion.DistanceM > 0 {
		more := jitterShare * j * own.NormFloat64()
		run[3] *= 1 + more/res.Motion.DistanceM
		run[1] += more
	}
	out.run.v[i] = run
	for name, cols := range out.blocks {
		b := d.blocks[name]
		drawnB := lean.Coverage
		if name != res.Tool {
			drawnB = lean.OtherTools[name]
		}
		pub := blockValues(b.pub)
		v := truth(pub, b.zero, blockValues(drawnB))
		b.plateau(v, lean.Curves[name].Open)
		b.addRaster(v, pub, z, y)
		v[len(v)-1] *= d.dur / (d.dur + end - start) // the rate
		v[len(v)-3] -= start                         // the plateau
		v[len(v)-2] += end                           // the tail
		at := len(v)
		if lean == d.zero {
			v = append(v, d.own[name]...)
		} else {
			v = b.times(v, &drawnB, lean.Curves[name], lean.Floor.OpenM2)
		}
		for k := at; k < len(v); k++ {
			v[k] = math.Max(0, v[k]-start)
		}
		cols.v[i] = v
	}
	return nil
}

// words says what was drawn for an input.
func (d *drawer) words(input string) string {
	mm := func(m float64) string { return fmt.Sprintf("%.3g mm", m*1000) }
	switch input {
	case InputCamera:
		return "the camera, from the covariance of its solution"
	case InputPath:
		w := fmt.Sprintf("position and heading along the path, errors correlated over %.3g s", d.opt.PathTime)
		if j := d.in.Result.Motion.JitterM; j > 0 {
			w += fmt.Sprintf("; jitter makes the path %.2g m longer; this is subtracted, with a quarter of it as uncertainty", j)
		}
		return w
	case InputTool:
		t := d.in.Robot.Tools[0]
		w, o := mm(t.WidthTol)+" (given)", mm(t.OffsetTol)+" (given)"
		if t.WidthTol == 0 {
			w = mm(d.opt.WidthTol) + " (no tolerance given)"
		}
		if t.OffsetTol == 0 {
			o = mm(d.opt.OffsetTol) + " (none given)"
		}
		return fmt.Sprintf("the cleaning line's width within %s, its place within %s", w, o)
	case InputRobot:
		r := d.in.Robot
		w := "the robot's width within " + mm(or(r.DiameterTol, d.opt.DiameterTol))
		if d.in.Camera != nil {
			w += ", its height within " + mm(or(r.HeightTol, d.opt.HeightTol))
		}
		return w
	case InputOutlines:
		return fmt.Sprintf("each corner of room and obstacles, %s along each axis", mm(d.opt.OutlineSigma))
	case InputRaster:
		return fmt.Sprintf("cells of %s", mm(d.in.Result.Coverage.CellM))
	}
	w := fmt.Sprintf("start and end of the run, within %.3g s", d.look)
	if way := d.start.way + d.end.way; way > 0 {
		w += fmt.Sprintf("; %s driven before the first move and after the last one", mm(way))
	}
	return w
}
