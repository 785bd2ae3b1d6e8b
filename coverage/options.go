package coverage

import (
	"fmt"
	"math"

	"swathe/geom"
)

// Options are the settings of Measure. For each a 0 is a value, never "the
// default": start from DefaultOptions.
type Options struct {
	Cell     float64 // m, side of a cell
	CellAuto bool    // choose the cell for AutoShare instead, starting from Cell

	// AutoShare is how far the covered area may be off, as a share of it (twice
	// its standard uncertainty), that CellAuto aims at; MinCell is the finest cell that it tries, m.
	AutoShare, MinCell float64

	ToolOff   []geom.Span // driving without cleaning, s from the first frame
	WidthStep float64     // m, how much wider and narrower Block.Wider and Narrower are; 0 leaves them NaN
	Raster    bool        // estimate Block.RasterShare
	Dwell     bool        // fill Grid.Dwell
	Log       bool        // fill Grid.Log

	CurveStep   float64 // s between points of the curve
	MovingSpeed float64 // m/s above which the robot counts as moving

	StartSlack float64 // m within which a free placement is sought if the start is not free
	Headings   int     // over a turn, at which a body that is not round is placed

	MinPatch float64 // m2, smallest missed patch that is listed
	Neck     float64 // m, missed floor that hangs together by less is cut into patches there; 0 never cuts
	Beside   float64 // m beyond what the tool cannot reach: floor this near to a wall or obstacle lies beside it

	Bands          []float64 // m, widths of the bands along edges
	FollowDistance float64   // m, body's distance from an edge that counts as close: nearer, and parallel, it drives along the edge
	FollowAngle    float64   // rad, between travel and edge that counts as parallel

	// LostSpeed is how fast the robot may have driven while it was lost, m/s;
	// NaN: as fast as it was ever seen to (95 % of the time).
	LostSpeed float64
	// Unseen tells whether the camera cannot see a floor point; nil: not known,
	// and Floor.UnseenM2 is NaN.
	Unseen func(geom.Point2) bool
}

// What is along an edge, here and in the time budget. A robot that follows an
// edge holds the distance it is set to: 40 mm in the recordings of
// testdata/maple, within a millimetre of it. It steers to some 5 mm, the edge is
// surveyed to 5 mm and the path known to as much; twice what these three make
// together is 17 mm more, so 60 mm with rounding. Narrower, and its following is
// cut by chance (at 30 mm none of maple's counted); wider, and the lanes of
// ordinary rows begin to count, the first of which runs 100 mm or more from the
// wall there. The angle only keeps out what crosses towards the edge: over its
// own length of 0.3 m a robot at 15 degrees would close in by 80 mm, more than
// the distance allows.
const (
	followDistance = 0.06 // m, body's
	followAngle    = 15 * math.Pi / 180
)

// DefaultOptions returns the settings that the figures are published with.
func DefaultOptions() Options {
	return Options{
		Cell:           0.005, // 0.05 % of a 3 m lane at worst
		AutoShare:      0.001,
		MinCell:        0.001,
		WidthStep:      0.005,
		Raster:         true,
		CurveStep:      1,
		MovingSpeed:    0.02,
		StartSlack:     0.05,
		Headings:       72,
		MinPatch:       0.0025, // a square of 50 mm
		Neck:           0.04,
		Beside:         0.10,
		Bands:          []float64{0.025, 0.05, 0.1},
		FollowDistance: followDistance,
		FollowAngle:    followAngle,
		LostSpeed:      math.NaN(),
	}
}

// Validate returns an error that names the setting and says what it may be.
func (o Options) Validate() error {
	type rule struct {
		name    string
		v       float64
		ok      bool
		allowed string
	}
	rules := []rule{
		{"Cell", o.Cell, o.Cell >= 0.0005 && o.Cell <= 0.2, "0.0005 to 0.2 m"},
		{"AutoShare", o.AutoShare, !o.CellAuto || o.AutoShare > 0 && o.AutoShare < 1, "more than 0 and less than 1"},
		{"MinCell", o.MinCell, !o.CellAuto || o.MinCell >= 0.0005 && o.MinCell <= o.Cell, "0.0005 m to Cell"},
		{"WidthStep", o.WidthStep, o.WidthStep >= 0 && o.WidthStep <= 0.1, "0 to 0.1 m"},
		{"CurveStep", o.CurveStep, o.CurveStep > 0, "more than 0 s"},
		{"MovingSpeed", o.MovingSpeed, o.MovingSpeed >= 0, "0 m/s or more"},
		{"StartSlack", o.StartSlack, o.StartSlack >= 0, "0 m or more"},
		{"Headings", float64(o.Headings), o.Headings >= 8 && o.Headings <= 720, "8 to 720"},
		{"MinPatch", o.MinPatch, o.MinPatch >= 0, "0 m2 or more"},
		{"Neck", o.Neck, o.Neck >= 0 && o.Neck <= 1, "0 to 1 m"},
		{"Beside", o.Beside, o.Beside >= 0, "0 m or more"},
		{"FollowDistance", o.FollowDistance, o.FollowDistance >= 0, "0 m or more"},
		{"FollowAngle", o.FollowAngle, o.FollowAngle >= 0 && o.FollowAngle < math.Pi/2, "0 to less than pi/2 rad"},
		{"LostSpeed", o.LostSpeed, math.IsNaN(o.LostSpeed) || o.LostSpeed >= 0, "0 m/s or more, or NaN for the run's own"},
	}
	for _, b := range o.Bands {
		rules = append(rules, rule{"Bands", b, b > 0 && b < 1, "more than 0 and less than 1 m each"})
	}
	for _, r := range rules {
		if !r.ok {
			return fmt.Errorf("coverage setting %s is %g: it must be %s", r.name, r.v, r.allowed)
		}
	}
	for _, s := range o.ToolOff {
		if !(s.From <= s.To) {
			return fmt.Errorf("coverage setting ToolOff has a stretch from %g to %g s: it must end after it starts", s.From, s.To)
		}
	}
	return nil
}
