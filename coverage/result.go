package coverage

import "swathe/geom"

// Result is everything that one run's path says about the floor. Field names
// follow run.json; lengths m, areas m2, times s from the first frame of the
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
	OpenM2      float64 // the room less what stands in it
	ReachableM2 float64 // what the headline tool's line can touch
	BodyReachM2 float64 // what the body can stand over
	UnseenM2    float64 // open floor that the camera cannot see; NaN if nobody said
	UnknownM2   float64 // reachable, not known to be swept: unseen, or the robot was lost near it
}

// Levels are the percentages of Block.TimeTo and TimeToReachable.
var Levels = [5]int{50, 80, 90, 95, 99}

// Block is the coverage by one tool.
type Block struct {
	CellM          float64    // side of a cell
	CoveredM2      float64    // open floor swept at least once
	CoveredShare   float64    // of the open floor
	ReachableM2    float64    // what this tool's line can touch
	ReachableShare float64    // covered reachable floor / reachable
	SweptBeyondM2  float64    // open floor covered that the line cannot reach by the plan: a sign of a wrong survey; NaN if the reach is not known
	SweptM2        float64    // area x passes
	MeanPasses     float64    // swept / covered
	Redundancy     float64    // mean passes - 1
	PassesM2       [5]float64 // open floor passed 0, 1, 2, 3, 4 or more times

	TimeTo          [5]float64 // s from the run's start until the covered share reached Levels[i] %
	TimeToReachable [5]float64 // the same of the reachable share
	TimeToFullS     float64    // until 99 % of the reachable floor
	PlateauS        float64    // until 99 % of what the run covered in the end
	TailS           float64    // from the plateau to the run's end
	RateM2PerMin    float64    // covered / run's duration

	RasterShare float64 // standard uncertainty of CoveredShare that the cells cause; NaN if not sought
	Wider       Shares  // with the tool WidthStep wider
	Narrower    Shares  // with it WidthStep narrower
	IfSwept     Shares  // had all unknown floor been swept
	IfNot       Shares  // had none of it been: the headline shares
	Economy     Economy
}

// Shares are the two shares of a Block.
type Shares struct{ CoveredShare, ReachableShare float64 }

// Economy says how well travel was turned into coverage, against the two laws
// of search theory: with effort c = swept / reachable floor, perfect lanes cover
// min(1, c) and random search 1 - exp(-c) (see RandomSearch).
type Economy struct {
	Effort         float64 // c
	Perfect        float64 // min(1, c)
	Random         float64 // 1 - exp(-c)
	Share          float64 // reachable share that the run got
	LaneEfficiency float64 // (Share - Random) / (Perfect - Random): 0 random, 1 perfect; NaN if the laws are too close to tell
}

// Patch is a connected piece of missed floor.
type Patch struct {
	AreaM2    float64
	X, Y      float64         // floor, m; a point of the patch, its centroid where that lies in it
	Polygon   [][]geom.Point2 // outer ring counter-clockwise, then holes clockwise; not closed
	Beside    string          // "wall", "corner", an obstacle's name, "under NAME", "open floor"
	UnknownM2 float64         // of AreaM2, floor that may have been swept unseen
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
	Place  string
	AreaM2 float64 // missed reachable floor there
	Share  float64 // of all missed reachable floor; NaN if none was missed
	OfM2   float64 // reachable floor there, missed or not
}

// Band is a strip along an edge.
type Band struct {
	WidthM       float64
	OpenM2       float64 // open floor within WidthM of the edge
	CoveredM2    float64
	CoveredShare float64
}

// Edge is a wall or obstacle and how the robot drove along it.
type Edge struct {
	Name          string  // "wall", or the obstacle's name
	LengthM       float64 // of its boundary that adjoins open floor
	Bands         []Band
	FollowedM     float64 // length followed close and parallel
	FollowedShare float64 // of LengthM
	ClearanceM    float64 // median distance of the body from it while following; NaN if never
	RightShare    float64 // of the followed length, with the edge at the robot's right; NaN if never
}

// Area is an area of the plan.
type Area struct {
	Name, Kind     string
	OpenM2         float64
	ReachableM2    float64
	CoveredM2      float64
	CoveredShare   float64
	ReachableShare float64
	MeanPasses     float64
	MeanSpeed      float64 // m/s with the centre in it; NaN if never
	TimeS          float64 // s with the centre in it
	// Of an off_limits area; zero means it kept out, NaN for other kinds.
	EnteredM2 float64 // of the area, floor that the body stood over
	DepthM    float64 // how far the body reached in
	EnteredS  float64 // s with any part of the body in it
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
	DurationS      float64 // of the run
	KnownS         float64 // of it, with the place known and not carried
	DistanceM      float64 // travelled while known, less JitterM
	JitterM        float64 // m that the path's jitter from look to look adds to its length, taken off
	MovingShare    float64 // of KnownS, faster than Options.MovingSpeed
	MeanSpeedMPS   float64 // distance / KnownS while moving
	StartX, StartY float64 // floor, m, where the run started
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
