package coverage

import "swathe/geom"

// Result is everything that one run's path says about the floor. The tags are the
// names in run.json, which package report writes in the order of the fields; lengths m, areas m2, times s from the first frame of the
// recording unless a comment says "from the run's start". NaN: not measured.
type Result struct {
	Floor      Floor
	Tool       string           // name of the headline tool
	Coverage   Block            // of the headline tool
	OtherTools map[string]Block // the other tools by name, and WithSideBrushes if the robot has any
	Missed     []Patch          // reachable floor left out, largest first; empty, not nil, if nothing was
	MissedBy   []PlaceShare     // the same floor by what it lies beside; sums to all of it
	Slivers    float64          // m2 of missed floor in patches smaller than Options.MinPatch, not in Missed
	Edges      []Edge           // the walls first, then each obstacle
	Areas      []Area           // one an area of the plan, in its order
	Curve      []CurvePoint     // every Options.CurveStep, and at the run's end
	Motion     Motion
	Steps      []Step // Steps[i] belongs to Samples[i] -> Samples[i+1]; len = len(Samples)-1
	Grid       *Grid  // for pictures and for the analyses that follow
	Warnings   []string
}

// WithSideBrushes is the key in OtherTools of the first tool together with the
// robot's side brushes.
const WithSideBrushes = "with_side_brushes"

// Floor is what there was to clean, m2.
type Floor struct {
	OpenM2      float64 `json:"open_m2"`       // the room less what stands in it
	ReachableM2 float64 `json:"reachable_m2"`  // what the headline tool's line can touch
	UnseenM2    float64 `json:"unseen_m2"`     // open floor that the camera cannot see; NaN if nobody said
	BodyReachM2 float64 `json:"body_reach_m2"` // what the body can stand over
	UnknownM2   float64 `json:"unknown_m2"`    // reachable, not known to be swept: unseen, or the robot was lost near it
}

// Levels are the percentages of Times.
var Levels = [5]int{50, 80, 90, 95, 99}

// Times are seconds from the run's start until a share first reached Levels[i] %;
// NaN if it never did.
type Times [5]float64

// Passes are m2 of open floor passed 0, 1, 2, 3, 4 or more times.
type Passes [5]float64

// Block is the coverage by one tool.
type Block struct {
	CellM          float64 `json:"cell_m"`                // side of a cell
	CoveredM2      float64 `json:"covered_m2"`            // open floor swept at least once
	CoveredShare   float64 `json:"covered_share"`         // of the open floor
	ReachableShare float64 `json:"reachable_share"`       // covered reachable floor / reachable
	ReachableM2    float64 `json:"reachable_m2"`          // what this tool's line can touch
	SweptBeyondM2  float64 `json:"swept_beyond_reach_m2"` // open floor covered that the line cannot reach by the plan: a sign of a wrong survey; NaN if the reach is not known
	SweptM2        float64 `json:"swept_m2"`              // area x passes
	MeanPasses     float64 `json:"mean_passes"`           // swept / covered
	Redundancy     float64 `json:"redundancy"`            // mean passes - 1
	PassesM2       Passes  `json:"passes_m2"`

	TimeTo          Times   `json:"time_to_s"`           // of the covered share
	TimeToReachable Times   `json:"time_to_reachable_s"` // of the reachable share
	TimeToFullS     float64 `json:"time_to_full_s"`      // until 99 % of the reachable floor
	PlateauS        float64 `json:"plateau_s"`           // until 99 % of what the run covered in the end
	TailS           float64 `json:"tail_s"`              // from the plateau to the run's end
	RateM2PerMin    float64 `json:"rate_m2_per_min"`     // covered / run's duration

	RasterShare float64 `json:"raster_share"`         // standard uncertainty of CoveredShare that the cells cause; NaN if not sought
	Wider       Shares  `json:"wider"`                // with the tool WidthStep wider
	Narrower    Shares  `json:"narrower"`             // with it WidthStep narrower
	IfSwept     Shares  `json:"if_unknown_swept"`     // had all unknown floor been swept
	IfNot       Shares  `json:"if_unknown_not_swept"` // had none of it been: the headline shares
	Economy     Economy `json:"economy"`
}

// Shares are the two shares of a Block.
type Shares struct {
	CoveredShare   float64 `json:"covered_share"`
	ReachableShare float64 `json:"reachable_share"`
}

// Economy says how well travel was turned into coverage, against the two laws
// of search theory: with effort c = swept / reachable floor, perfect lanes cover
// min(1, c) and random search 1 - exp(-c) (see RandomSearch).
type Economy struct {
	Effort         float64 `json:"effort"`              // c
	Perfect        float64 `json:"perfect_lanes_share"` // min(1, c)
	Random         float64 `json:"random_share"`        // 1 - exp(-c)
	Share          float64 `json:"reachable_share"`     // reachable share that the run got
	LaneEfficiency float64 `json:"lane_efficiency"`     // (Share - Random) / (Perfect - Random): 0 random, 1 perfect; NaN if the laws are too close to tell
}

// Patch is a connected piece of missed floor.
type Patch struct {
	AreaM2    float64         `json:"area_m2"`
	X         float64         `json:"x_m"` // floor; a point of the patch, its centroid where that lies in it
	Y         float64         `json:"y_m"`
	Polygon   [][]geom.Point2 `json:"-"`          // outer ring counter-clockwise, then holes clockwise; not closed
	Beside    string          `json:"beside"`     // "wall", "corner", an obstacle's name, "under NAME", "open floor"
	UnknownM2 float64         `json:"unknown_m2"` // of AreaM2, floor that may have been swept unseen
}

// Places of MissedBy.
const (
	PlaceCorner   = "corner"
	PlaceWall     = "wall"
	PlaceObstacle = "obstacle"
	PlaceOverhead = "overhead"
	PlaceOpen     = "open floor"
)

// PlaceShare is the missed floor of one kind of place.
type PlaceShare struct {
	Place  string  `json:"place"`
	AreaM2 float64 `json:"area_m2"` // missed reachable floor there
	Share  float64 `json:"share"`   // of all missed reachable floor; NaN if none was missed
	OfM2   float64 `json:"of_m2"`   // reachable floor there, missed or not
}

// Band is a strip along an edge.
type Band struct {
	WidthM       float64 `json:"width_m"`
	OpenM2       float64 `json:"open_m2"` // open floor within WidthM of the edge
	CoveredM2    float64 `json:"covered_m2"`
	CoveredShare float64 `json:"covered_share"`
}

// Edge is a wall or obstacle and how the robot drove along it.
type Edge struct {
	Name          string  `json:"name"`           // "wall", or the obstacle's name
	LengthM       float64 `json:"length_m"`       // of its boundary that adjoins open floor
	FollowedM     float64 `json:"followed_m"`     // length followed close and parallel
	FollowedShare float64 `json:"followed_share"` // of LengthM
	ClearanceM    float64 `json:"clearance_m"`    // median distance of the body from it while following; NaN if never
	RightShare    float64 `json:"right_share"`    // of the followed length, with the edge at the robot's right; NaN if never
	Bands         []Band  `json:"bands"`
}

// Area is an area of the plan.
type Area struct {
	Name           string  `json:"name"`
	Kind           string  `json:"kind"`
	OpenM2         float64 `json:"open_m2"`
	ReachableM2    float64 `json:"reachable_m2"`
	CoveredM2      float64 `json:"covered_m2"`
	CoveredShare   float64 `json:"covered_share"`
	ReachableShare float64 `json:"reachable_share"`
	MeanPasses     float64 `json:"mean_passes"`
	MeanSpeedMPS   float64 `json:"mean_speed_mps"` // with the centre in it; NaN if never
	TimeS          float64 `json:"time_s"`         // with the centre in it
	// Of an off_limits area; zero means it kept out, NaN for other kinds.
	EnteredM2 float64 `json:"entered_m2"` // of the area, floor that the body stood over
	DepthM    float64 `json:"depth_m"`    // how far the body reached in
	EnteredS  float64 `json:"entered_s"`  // with any part of the body in it
}

// CurvePoint is one moment of the coverage curve.
type CurvePoint struct {
	T              float64 // s from the first frame
	CoveredShare   float64
	ReachableShare float64
	SweptM2        float64
	DistanceM      float64
	NewM2PerMin    float64 // new floor since the point before, per minute
	Effort         float64 // c = swept / reachable
	Perfect        float64 // min(1, c)
	Random         float64 // 1 - exp(-c)
}

// Step is what one interval of the trace swept (headline tool, open floor).
type Step struct {
	Known     bool    // the robot was seen or bridged at both ends and within the run
	DistanceM float64 // within the run
	NewM2     float64 // swept for the first time
	PassM2    float64 // area whose new pass began here; NewM2 is part of it
	SweptM2   float64 // area under the line, new pass or not, touched cells counted once a crossing
}

// Motion is how the run moved.
type Motion struct {
	StartX       float64 `json:"start_x_m"` // floor, where the run started
	StartY       float64 `json:"start_y_m"`
	DurationS    float64 `json:"duration_s"`     // of the run
	KnownS       float64 `json:"-"`              // of it, with the place known and not carried
	DistanceM    float64 `json:"distance_m"`     // travelled while known, less JitterM
	JitterM      float64 `json:"jitter_m"`       // that the path's jitter from look to look adds to its length, taken off
	MovingShare  float64 `json:"moving_share"`   // of KnownS, faster than Options.MovingSpeed
	MeanSpeedMPS float64 `json:"mean_speed_mps"` // distance / KnownS while moving
}

// Cell flags of Grid.Flags.
const (
	FlagOpen      uint8 = 1 << iota // open floor
	FlagReachable                   // the headline tool's line can touch it
	FlagBody                        // the body can stand over it
	FlagUnknown                     // reachable, may have been swept unseen
	FlagUnseen                      // the camera cannot see it
)

// Grid is the raster of the headline tool. Cell (i, j) is the half-open square
// [X0+i*Cell, X0+(i+1)*Cell) x [Y0+j*Cell, Y0+(j+1)*Cell), row j of Nx cells
// starting at index j*Nx; row 0 is the lowest.
type Grid struct {
	X0, Y0, Cell float64 // floor, m
	Nx, Ny       int
	Flags        []uint8
	Passes       []uint16  // 0 where never swept or not open floor
	First        []float32 // s from the first frame, of the first sweep; NaN if none
	Dwell        []float32 // s that the body stood over the cell; nil unless Options.Dwell
	Log          []PassAt  // every pass of open floor, in rising time; nil unless Options.Log
}

// PassAt is the beginning of one pass of one cell.
type PassAt struct {
	Cell int32
	T    float32 // s from the first frame
}

// Index returns the index of the cell that holds the floor point, -1 if outside.
func (g *Grid) Index(p geom.Point2) int {
	i, j := g.cellOf(p)
	if i < 0 || j < 0 || i >= g.Nx || j >= g.Ny {
		return -1
	}
	return j*g.Nx + i
}

// Centre returns the centre of cell k, floor, m.
func (g *Grid) Centre(k int) geom.Point2 {
	return geom.Point2{X: g.X0 + (float64(k%g.Nx)+0.5)*g.Cell, Y: g.Y0 + (float64(k/g.Nx)+0.5)*g.Cell}
}
