package report

import (
	"fmt"
	"os"
	"path/filepath"

	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/coverage/conduct"
)

// Schema is the version of run.json that this program writes. Schema 1 had other
// names for what is the same: see NAMES.md beside this file.
const Schema = 2

// RunFile is the name of the file that holds a Run.
const RunFile = "run.json"

// Run is the content of run.json.
type Run struct {
	Schema      int                   `json:"schema"`
	Layout      string                `json:"layout"`
	Robot       string                `json:"robot"`
	Phase       string                `json:"phase"` // mapping, mapped or single
	Trial       int                   `json:"trial"`
	Conditions  map[string]string     `json:"conditions"` // as the tester gave them: sample, firmware, mode, charge, light, note
	Recording   RecordingInfo         `json:"recording"`
	ToolOffS    [][2]float64          `json:"tool_off_s"` // stretches of driving without cleaning, from the first frame
	Camera      CameraInfo            `json:"camera"`
	Trace       TraceInfo             `json:"trace"`
	Run         RunInfo               `json:"run"`
	Floor       FloorInfo             `json:"floor"`
	Tool        string                `json:"tool"` // the one that Coverage is for
	ToolWidthM  float64               `json:"tool_width_m"`
	ToolAheadM  float64               `json:"tool_ahead_m"`
	ToolLeftM   float64               `json:"tool_left_m"`
	Coverage    Block                 `json:"coverage"`
	OtherTools  map[string]Block      `json:"other_tools"`
	Events      []Event               `json:"events"` // null until sought
	Ledger      *conduct.Ledger       `json:"ledger"` // null until sought, as are the next three
	Rows        *Rows                 `json:"rows"`
	Docking     *conduct.Docking      `json:"docking"` // null too if the layout has no dock
	Active      *conduct.Active       `json:"active"`
	Missed      []coverage.Patch      `json:"missed"` // largest first
	MissedBy    []coverage.PlaceShare `json:"missed_by"`
	Mark        string                `json:"mark,omitempty"` // the reservation that every page and picture of the run bears
	SliversM2   float64               `json:"slivers_m2"`     // missed floor in patches too small for Missed
	Edges       []coverage.Edge       `json:"edges"`
	Areas       []coverage.Area       `json:"areas"`
	TestObjects []TestObject          `json:"test_objects"` // null until sought
	Residue     []Residue             `json:"residue"`      // left on the layout's patches; null: the layout has none, or they were not looked at
	Uncertainty *Uncertainty          `json:"uncertainty"`  // null: not worked out
	Warnings    []string              `json:"warnings"`
	Thresholds  []Threshold           `json:"thresholds"` // that events and the ledger rest on
	Versions    map[string]string     `json:"versions"`   // of the programs that made the result
	SetupSHA    string                `json:"setup_sha256"`
	LayoutParts compare.Layout        `json:"layout_parts"` // the layout as surveyed: what runs that are compared must share
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
	DurationS float64  `json:"duration_s"`
	FrameSize []int    `json:"frame_size"` // width, height in pixels; null of a path
	// Seconds from the start that were looked at a second time, with the robot's colours known.
	LookedAgainS float64 `json:"looked_again_s,omitempty"`
}

// CameraInfo says how well the camera is known; all null of a path.
type CameraInfo struct {
	Solved      []string  `json:"solved"`
	NotSolved   []string  `json:"not_solved"`
	MarkRMSPx   float64   `json:"mark_rms_px"`
	MarkRMSM    float64   `json:"mark_rms_m"`
	LeaveOneOut float64   `json:"leave_one_out_m"`
	TapeErrorM  []float64 `json:"tape_error_m"`
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
	SeenShare    float64 `json:"seen_share"`
	BridgedShare float64 `json:"bridged_share"`
	LostShare    float64 `json:"lost_share"`
	CarriedShare float64 `json:"carried_share"`
	SigmaM       float64 `json:"sigma_m"` // root mean square of the standard uncertainty along one axis, where seen or bridged
}

// RunInfo is when and how far the robot drove.
type RunInfo struct {
	StartS  float64 `json:"start_s"` // from the first frame
	EndS    float64 `json:"end_s"`
	Started string  `json:"started"`
	Ended   string  `json:"ended"`
	coverage.Motion
	Known
}

// FloorInfo is what there was to clean, m2.
type FloorInfo struct {
	coverage.Floor
	CommonM2 float64 `json:"common_m2"` // room less what stands on its floor: open floor whatever the robot's height
	Known
}

// Block is the coverage by one tool.
type Block struct {
	coverage.Block
	Known
}

// TestObject is what became of a small thing on the floor.
type TestObject struct {
	Name          string                  `json:"name"`
	Outcome       *string                 `json:"outcome"` // null with a reason
	Reason        string                  `json:"reason,omitempty"`
	ClearanceM    float64                 `json:"clearance_m"`
	ClearanceLo   float64                 `json:"clearance_low_m"` // the ends of its 95 % interval
	ClearanceHi   float64                 `json:"clearance_high_m"`
	MovedM        float64                 `json:"moved_m"`
	FirstContactS float64                 `json:"first_contact_s"`
	Contacts      []conduct.ObjectContact `json:"contacts"`     // in order; null if it could not be told
	ReactionM     float64                 `json:"reaction_m"`   // distance at which the robot began to slow down or turn; null if it did not
	Reaction      string                  `json:"reaction"`     // slows or turns; empty if it did neither
	FromX         float64                 `json:"from_x_m"`     // where it lay
	FromY         float64                 `json:"from_y_m"`     //
	ToX           float64                 `json:"to_x_m"`       // where it lies in the end
	ToY           float64                 `json:"to_y_m"`       //
	ByHandS       [][2]float64            `json:"by_hand_s"`    // when people laid, moved or took it
	UncleanedM2   float64                 `json:"uncleaned_m2"` // reachable floor round it that was never swept
	RoundM2       float64                 `json:"round_m2"`     // all reachable floor round it
}

// ReadRun reads run.json of a result folder.
func ReadRun(dir string) (*Run, error) {
	file := filepath.Join(dir, RunFile)
	raw, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	var r Run
	if err := Unmarshal(raw, &r); err != nil {
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
