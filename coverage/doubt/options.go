// Package doubt says how well a run's figures are known: it draws what is not
// known exactly, measures the run again with each draw, and turns the scatter
// into a standard uncertainty and a 95 % interval of every figure, with a
// budget that says which input contributes how much. The method is the Monte
// Carlo of JCGM 101:2008.
//
// What is drawn, each independently of the others:
//
//   - camera: a camera from the covariance of its solution. A point that the
//     solved camera puts at p lies, by the drawn one, elsewhere; the whole path
//     is moved by that field, taken at the height of the robot's top.
//   - path: an error of each moment's position, normal with the path's own
//     standard uncertainty along each axis, and of its heading likewise. The
//     errors of neighbouring moments are alike: a first-order autoregression
//     with a correlation time (Options.PathTime), drawn at knots a quarter of it
//     apart with one standard uncertainty each, joined by straight lines, and
//     going on with the travel, at the run's own pace as fast as time. So it adds
//     no travel that the path's own smoothing would have taken out, and none
//     where the robot stands. What of a sample's sigma is the camera's is left
//     out, for the camera is drawn. What travel the path's own
//     jitter from look to look adds is taken off the distance as measured
//     (coverage.Motion.JitterM), and known to a quarter of itself.
//   - path, in a bridged gap: one bend of the whole gap an axis, as wide as sigma
//     says. What a bend adds to the distance is left out: sigma there is how far
//     the robot can have strayed at its usual speed, not how far it does.
//   - tool: width and place of each cleaning line, rectangular within the
//     tolerance that the tester gave, or a default one.
//   - robot: its diameter (an outline: all of it, in proportion) and its height,
//     rectangular likewise. The diameter moves what can be reached, the height
//     the path, as a top that is higher than it is told to be shows farther from
//     the point below the camera.
//   - outlines: each corner of room and obstacles, normal on both axes; corners
//     at the same place move together.
//   - raster: the covered area's uncertainty by its cells, as Measure found it.
//   - clock: start and end of the run. Where it was seen to rest beyond, a run
//     begins earlier and ends later than measured, by a look and what a move needs to stand
//     clear of noise (endOf.draw), and the way from the place of rest is part of
//     the distance; elsewhere rectangular within one look either way.
//
// What several runs have in common does not average out between them. So each
// input is drawn from a source of its own, and the source of an input that
// other runs share (the robot's tools, the survey, the camera) depends on what
// that input is and on nothing else: runs that share it have it drawn alike, and
// Result.Common keeps what each of its draws changed.
//
// # What is done with a draw
//
// The measured path already holds one dose of error; a draw adds a second. So a
// draw is not a possible truth but a possible error: the drawn figure less the
// undrawn one (on the same, coarser cells) is how much such errors change the
// figure, and the truth is taken to be the measured figure less that change.
// For a figure that errors change in proportion this is JCGM 101's own
// distribution; for one that they always change to the same side (noise never
// shortens a path) it also takes that bias to the right side. Times to a level
// are found in the same way along the whole curve: the level's crossing by twice
// the undrawn curve less the drawn one.
//
// An interval is what the draws say. Where they say that the figure as measured
// is too large or too small on average, it does not lie in the middle of its
// interval, and Figure.Bias says by how much; nothing is stretched to hold it.
//
// # How many draws
//
// JCGM 101:2008 advises 10^4/(1-p) draws or more (7.2), 200,000 for an interval
// of 95 %. 200 serve while working: they settle the ends of an interval to a
// tenth of its half-width (the standard error of a normal's 2.5 % quantile,
// sqrt(p(1-p)/M)/f); 2,000, for print, to a thirtieth.
package doubt

import (
	"fmt"

	"swathe/coverage"
)

// Options are the settings of Measure. For each a 0 is a value.
type Options struct {
	Draws       int     // of everything together
	BudgetDraws int     // of each input alone
	Setups      int     // different draws of tool and outlines among Draws, for a robot that is not round; a round one's are all different
	Seed        int64   // the same seed gives the same figures
	Cell        float64 // m, side of the cells of the drawn runs; no finer than the published figures'
	Level       float64 // of confidence

	PathTime     float64 // s, correlation time of the path's errors
	PathSigma    float64 // m, where a path measured elsewhere states none
	HeadingSigma float64 // rad, where the path states none
	WidthTol     float64 // m, half-width, where the tester gave none
	OffsetTol    float64 // m, the same of the tool's place
	DiameterTol  float64 // m, the same of the robot's width
	HeightTol    float64 // m, the same of its height
	OutlineSigma float64 // m, one axis of a surveyed corner
	Workers      int     // goroutines
}

// DefaultOptions: a household ruler reads to 1 mm at either end of a brush;
// where on the underside a brush sits is known to some 3 mm; across a round body, and
// over its top, the ruler reads to 2 mm; a corner is taped to 5 mm; smoothing makes the path's errors alike for a second or two.
func DefaultOptions() Options {
	return Options{
		Draws: 200, BudgetDraws: 50, Setups: 16, Seed: 1, Cell: 0.0125, Level: 0.95,
		PathTime: 2, PathSigma: 0.005, HeadingSigma: 0.02,
		WidthTol: 0.002, OffsetTol: 0.003, DiameterTol: 0.002, HeightTol: 0.002, OutlineSigma: 0.005, Workers: 2,
	}
}

// Validate returns an error that names the setting and says what it may be.
func (o Options) Validate() error {
	for _, r := range []struct {
		name    string
		v       float64
		ok      bool
		allowed string
	}{
		{"Draws", float64(o.Draws), o.Draws >= 20 && o.Draws <= 1000000, "20 to 1,000,000"},
		{"BudgetDraws", float64(o.BudgetDraws), o.BudgetDraws == 0 || o.BudgetDraws >= 10 && o.BudgetDraws <= 1000000, "10 or more, or 0 for no budget"},
		{"Setups", float64(o.Setups), o.Setups >= 2, "2 or more"},
		{"Cell", o.Cell, o.Cell >= 0.001 && o.Cell <= 0.05, "0.001 to 0.05 m"},
		{"Level", o.Level, o.Level > 0.5 && o.Level < 1, "more than 0.5 and less than 1"},
		{"PathTime", o.PathTime, o.PathTime > 0, "more than 0 s"},
		{"PathSigma", o.PathSigma, o.PathSigma >= 0 && o.PathSigma < 1, "0 to less than 1 m"},
		{"HeadingSigma", o.HeadingSigma, o.HeadingSigma >= 0 && o.HeadingSigma < 1, "0 to less than 1 rad"},
		{"WidthTol", o.WidthTol, o.WidthTol >= 0 && o.WidthTol < 0.1, "0 to less than 0.1 m"},
		{"OffsetTol", o.OffsetTol, o.OffsetTol >= 0 && o.OffsetTol < 0.1, "0 to less than 0.1 m"},
		{"DiameterTol", o.DiameterTol, o.DiameterTol >= 0 && o.DiameterTol < 0.1, "0 to less than 0.1 m"},
		{"HeightTol", o.HeightTol, o.HeightTol >= 0 && o.HeightTol < 0.1, "0 to less than 0.1 m"},
		{"OutlineSigma", o.OutlineSigma, o.OutlineSigma >= 0 && o.OutlineSigma < 0.1, "0 to less than 0.1 m"},
		{"Workers", float64(o.Workers), o.Workers >= 1, "1 or more"},
	} {
		if !r.ok {
			return fmt.Errorf("uncertainty setting %s is %g: it must be %s", r.name, r.v, r.allowed)
		}
	}
	return nil
}

// Inputs that are drawn, in the order of the budget.
const (
	InputCamera   = "camera"
	InputPath     = "path"
	InputTool     = "tool"
	InputRobot    = "robot"
	InputOutlines = "outlines"
	InputRaster   = "raster"
	InputClock    = "clock"
)

// Inputs lists them in that order.
var Inputs = []string{InputCamera, InputPath, InputTool, InputRobot, InputOutlines, InputRaster, InputClock}

// OwnInputs are a run's own: no other run shares them.
var OwnInputs = []string{InputPath, InputRaster, InputClock}

// Figure is how well one figure is known. NaN: not known; an end that is NaN
// beside one that is a number is open ("perhaps never").
//
// Bias is by how much the draws say that the figure as measured is too large, on
// average: it lies so far above the mean of its possible truths. NaN where a
// draw has no value.
type Figure struct{ U, Lo, Hi, Bias float64 }

// Budget is what one input alone contributes.
type Budget struct {
	Input  string
	Words  string             // what was drawn, in words
	U      map[string]float64 // standard uncertainty by figure, of the headline tool, the run and the floor
	Bias   map[string]float64 // the same of Figure.Bias
	Number int                // of draws
}

// Result is how well the figures of one run are known, by the names that
// run.json gives them; a time to a level is "time_to_s.90".
type Result struct {
	Draws  int
	Seed   int64
	Level  float64
	Floor  map[string]Figure
	Run    map[string]Figure
	Blocks map[string]map[string]Figure // by tool, as coverage.Result names them
	Budget []Budget
	Common []Cause // of the budget's draws, those that other runs share
}

// Headline returns the figures of the headline tool.
func (r *Result) Headline(c *coverage.Result) map[string]Figure { return r.Blocks[c.Tool] }
