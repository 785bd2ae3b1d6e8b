package report

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"swathe/coverage/compare"
)

// Schema is the version of run.json that this program writes. Schema 1 had other
// names for what is the same: see NAMES.md beside this file.
const Schema = 2

// RunFile is the name of the file that holds a Run.
const RunFile = "run.json"

// Run is the content of run.json.
type Run struct {
	Schema      int               `json:"schema"`
	Layout      string            `json:"layout"`
	Robot       string            `json:"robot"`
	Phase       string            `json:"phase"` // mapping, mapped or single
	Trial       int               `json:"trial"`
	Conditions  map[string]string `json:"conditions"` // as the tester gave them: sample, firmware, mode, charge, light, note
	Recording   RecordingInfo     `json:"recording"`
	ToolOffS    [][2]Float        `json:"tool_off_s"` // stretches of driving without cleaning, from the first frame
	Camera      CameraInfo        `json:"camera"`
	Trace       TraceInfo         `json:"trace"`
	Run         RunInfo           `json:"run"`
	Floor       FloorInfo         `json:"floor"`
	Tool        string            `json:"tool"` // the one that Coverage is for
	ToolWidthM  Float             `json:"tool_width_m"`
	ToolAheadM  Float             `json:"tool_ahead_m"`
	ToolLeftM   Float             `json:"tool_left_m"`
	Coverage    Block             `json:"coverage"`
	OtherTools  map[string]Block  `json:"other_tools"`
	Events      []Event           `json:"events"` // null until sought
	Ledger      *Ledger           `json:"ledger"` // null until sought, as are the next three
	Rows        *Rows             `json:"rows"`
	Docking     *Docking          `json:"docking"` // null too if the layout has no dock
	Active      *Active           `json:"active"`
	Missed      []Missed          `json:"missed"` // largest first
	MissedBy    []PlaceShare      `json:"missed_by"`
	Mark        string            `json:"mark,omitempty"` // the reservation that every page and picture of the run bears
	SliversM2   Float             `json:"slivers_m2"`     // missed floor in patches too small for Missed
	Edges       []Edge            `json:"edges"`
	Areas       []Area            `json:"areas"`
	TestObjects []TestObject      `json:"test_objects"` // null until sought
	Residue     []Residue         `json:"residue"`      // left on the layout's patches; null: the layout has none, or they were not looked at
	Uncertainty *Uncertainty      `json:"uncertainty"`  // null: not worked out
	Warnings    []string          `json:"warnings"`
	Thresholds  []Threshold       `json:"thresholds"` // that events and the ledger rest on
	Versions    map[string]string `json:"versions"`   // of the programs that made the result
	SetupSHA    string            `json:"setup_sha256"`
	LayoutParts compare.Layout    `json:"layout_parts"` // the layout as surveyed: what runs that are compared must share
}

// Threshold is a setting that events or the ledger rest on.
type Threshold struct {
	Name    string `json:"name"`
	Value   string `json:"value"` // as lab.yaml spells it
	Unit    string `json:"unit"`
	Meaning string `json:"meaning"`
}

// Name is the run's name as the folders spell it: <robot>_<phase>_<trial>.
func (r *Run) Name() string { return fmt.Sprintf("%s_%s_%d", r.Robot, r.Phase, r.Trial) }

// RecordingInfo says what was read.
type RecordingInfo struct {
	Files     []string `json:"files"`  // base names, in order
	SHA256    []string `json:"sha256"` // of each
	Frames    int      `json:"frames"` // rows of a path
	FramesBad int      `json:"frames_bad"`
	DurationS Float    `json:"duration_s"`
	FrameSize []int    `json:"frame_size"` // width, height in pixels; null of a path
}

// CameraInfo says how well the camera is known; all null of a path.
type CameraInfo struct {
	Solved      []string `json:"solved"`
	NotSolved   []string `json:"not_solved"`
	MarkRMSPx   Float    `json:"mark_rms_px"`
	MarkRMSM    Float    `json:"mark_rms_m"`
	LeaveOneOut Float    `json:"leave_one_out_m"`
	TapeErrorM  []Float  `json:"tape_error_m"`
	// The picture of the room on the day of the survey; nil: the set-up names none.
	Room *RoomPicture `json:"room_picture"`
}

// RoomPicture is the picture of the room that a recording was held against.
type RoomPicture struct {
	File   string `json:"file"` // as lab.yaml names it
	SHA256 string `json:"sha256"`
}

// TraceInfo is how the path is known, as shares of the whole recording.
type TraceInfo struct {
	SeenShare    Float `json:"seen_share"`
	BridgedShare Float `json:"bridged_share"`
	LostShare    Float `json:"lost_share"`
	CarriedShare Float `json:"carried_share"`
	SigmaM       Float `json:"sigma_m"` // root mean square of the standard uncertainty along one axis, where seen or bridged
}

// RunInfo is when and how far the robot drove.
type RunInfo struct {
	StartS       Float  `json:"start_s"` // from the first frame
	EndS         Float  `json:"end_s"`
	Started      string `json:"started"`
	Ended        string `json:"ended"`
	StartX       Float  `json:"start_x_m"`
	StartY       Float  `json:"start_y_m"`
	DurationS    Float  `json:"duration_s"`
	DistanceM    Float  `json:"distance_m"`
	JitterM      Float  `json:"jitter_m"` // by which the path's jitter made it longer, taken off distance_m
	MovingShare  Float  `json:"moving_share"`
	MeanSpeedMPS Float  `json:"mean_speed_mps"`
	Known
}

// FloorInfo is what there was to clean, m2.
type FloorInfo struct {
	OpenM2      Float `json:"open_m2"`
	ReachableM2 Float `json:"reachable_m2"`
	UnseenM2    Float `json:"unseen_m2"`
	BodyReachM2 Float `json:"body_reach_m2"`
	UnknownM2   Float `json:"unknown_m2"`
	CommonM2    Float `json:"common_m2"` // room less what stands on its floor: open floor whatever the robot's height
	Known
}

// Times are seconds from the run's start until a share was first reached, null
// if never; the names are per cent.
type Times struct {
	S50 Float `json:"50"`
	S80 Float `json:"80"`
	S90 Float `json:"90"`
	S95 Float `json:"95"`
	S99 Float `json:"99"`
}

// Passes are m2 of open floor by how often they were swept.
type Passes struct {
	P0 Float `json:"0"`
	P1 Float `json:"1"`
	P2 Float `json:"2"`
	P3 Float `json:"3"`
	P4 Float `json:"4+"`
}

// Shares are the two shares of a block under another assumption.
type Shares struct {
	CoveredShare   Float `json:"covered_share"`
	ReachableShare Float `json:"reachable_share"`
}

// Block is the coverage by one tool.
type Block struct {
	CellM            Float   `json:"cell_m"`
	CoveredM2        Float   `json:"covered_m2"`
	CoveredShare     Float   `json:"covered_share"`
	ReachableShare   Float   `json:"reachable_share"`
	ReachableM2      Float   `json:"reachable_m2"`
	SweptBeyondM2    Float   `json:"swept_beyond_reach_m2"` // covered floor that the tool cannot reach by the plan: a sign of a wrong survey
	SweptM2          Float   `json:"swept_m2"`
	MeanPasses       Float   `json:"mean_passes"`
	Redundancy       Float   `json:"redundancy"`
	PassesM2         Passes  `json:"passes_m2"`
	TimeToS          Times   `json:"time_to_s"`
	TimeToReachableS Times   `json:"time_to_reachable_s"`
	TimeToFullS      Float   `json:"time_to_full_s"`
	PlateauS         Float   `json:"plateau_s"`
	TailS            Float   `json:"tail_s"`
	RateM2PerMin     Float   `json:"rate_m2_per_min"`
	RasterShare      Float   `json:"raster_share"` // standard uncertainty of covered_share that the cells cause
	Wider            Shares  `json:"wider"`        // with the tool 5 mm wider (a setting)
	Narrower         Shares  `json:"narrower"`
	IfSwept          Shares  `json:"if_unknown_swept"`
	IfNot            Shares  `json:"if_unknown_not_swept"`
	Economy          Economy `json:"economy"`
	Known
}

// Economy holds the run against the laws of search theory.
type Economy struct {
	Effort         Float `json:"effort"` // swept / reachable floor
	Perfect        Float `json:"perfect_lanes_share"`
	Random         Float `json:"random_share"`
	Share          Float `json:"reachable_share"`
	LaneEfficiency Float `json:"lane_efficiency"` // 0: random, 1: perfect lanes; null where it is not known to a fifth of that
}

// Missed is a patch of reachable floor that was left out.
type Missed struct {
	AreaM2    Float  `json:"area_m2"`
	X         Float  `json:"x_m"`
	Y         Float  `json:"y_m"`
	Beside    string `json:"beside"`
	UnknownM2 Float  `json:"unknown_m2"`
}

// PlaceShare is the missed floor of one kind of place.
type PlaceShare struct {
	Place  string `json:"place"`
	AreaM2 Float  `json:"area_m2"`
	Share  Float  `json:"share"` // of all missed reachable floor
	OfM2   Float  `json:"of_m2"` // reachable floor there
}

// Band is a strip along an edge.
type Band struct {
	WidthM       Float `json:"width_m"`
	OpenM2       Float `json:"open_m2"`
	CoveredM2    Float `json:"covered_m2"`
	CoveredShare Float `json:"covered_share"`
}

// Edge is how the robot drove along the walls or one obstacle.
type Edge struct {
	Name          string `json:"name"`
	LengthM       Float  `json:"length_m"`
	FollowedM     Float  `json:"followed_m"`
	FollowedShare Float  `json:"followed_share"`
	ClearanceM    Float  `json:"clearance_m"`
	RightShare    Float  `json:"right_share"`
	Bands         []Band `json:"bands"`
}

// Area is one area of the layout.
type Area struct {
	Name           string `json:"name"`
	Kind           string `json:"kind"`
	OpenM2         Float  `json:"open_m2"`
	ReachableM2    Float  `json:"reachable_m2"`
	CoveredM2      Float  `json:"covered_m2"`
	CoveredShare   Float  `json:"covered_share"`
	ReachableShare Float  `json:"reachable_share"`
	MeanPasses     Float  `json:"mean_passes"`
	MeanSpeedMPS   Float  `json:"mean_speed_mps"`
	TimeS          Float  `json:"time_s"`
	EnteredM2      Float  `json:"entered_m2"`
	DepthM         Float  `json:"depth_m"`
	EnteredS       Float  `json:"entered_s"`
}

// Test object is what became of a small thing on the floor.
type TestObject struct {
	Name          string          `json:"name"`
	Outcome       *string         `json:"outcome"` // null with a reason
	Reason        string          `json:"reason,omitempty"`
	ClearanceM    Float           `json:"clearance_m"`
	ClearanceLo   Float           `json:"clearance_low_m"` // the ends of its 95 % interval
	ClearanceHi   Float           `json:"clearance_high_m"`
	MovedM        Float           `json:"moved_m"`
	FirstContactS Float           `json:"first_contact_s"`
	Contacts      []ObjectContact `json:"contacts"`     // in order; null if it could not be told
	ReactionM     Float           `json:"reaction_m"`   // distance at which the robot began to slow down or turn; null if it did not
	Reaction      string          `json:"reaction"`     // slows or turns; empty if it did neither
	FromX         Float           `json:"from_x_m"`     // where it lay
	FromY         Float           `json:"from_y_m"`     //
	ToX           Float           `json:"to_x_m"`       // where it lies in the end
	ToY           Float           `json:"to_y_m"`       //
	ByHandS       [][2]Float      `json:"by_hand_s"`    // when people laid, moved or took it
	UncleanedM2   Float           `json:"uncleaned_m2"` // reachable floor round it that was never swept
	RoundM2       Float           `json:"round_m2"`     // all reachable floor round it
}

// ObjectContact is one contact of robot and test object.
type ObjectContact struct {
	StartS   Float `json:"start_s"`
	EndS     Float `json:"end_s"`
	X        Float `json:"x_m"`
	Y        Float `json:"y_m"`
	SpeedMPS Float `json:"speed_mps"`
}

// ReadRun reads run.json of a result folder.
func ReadRun(dir string) (*Run, error) {
	file := filepath.Join(dir, RunFile)
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var r Run
	if err := json.Unmarshal(raw, &r); err != nil {
		return nil, fmt.Errorf("%s: %w: measure the recording again with --again", file, err)
	}
	if r.Schema != Schema {
		return nil, otherSchema(file, r.Schema)
	}
	return &r, nil
}

// otherSchema is the refusal of a file of another version.
func otherSchema(file string, schema int) error {
	return fmt.Errorf("%s has schema %d, this program reads schema %d; measure it again with swathe measure LAB --again", file, schema, Schema)
}
