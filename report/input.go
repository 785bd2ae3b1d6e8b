package report

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"math"
	"path/filepath"

	"swathe/coverage"
	"swathe/coverage/compare"
	"swathe/coverage/conduct"
	"swathe/coverage/doubt"
	"swathe/geom"
	"swathe/report/figure"
	"swathe/report/words"
	"swathe/track"
)

// RunInput is all that a result folder is made of. WriteRun changes none of it.
type RunInput struct {
	Layout      string
	Robot       geom.Robot
	Phase       string
	Trial       int
	Conditions  map[string]string
	Plan        *geom.Plan
	Camera      *geom.Solution // nil: the path was measured elsewhere
	Room        RoomPicture    // empty: the set-up names none
	Recording   track.Recording
	ToolOff     []geom.Span // driving without cleaning, s from the first frame
	Trace       *geom.Trace
	Coverage    *coverage.Result
	Doubt       *doubt.Result   // nil: not worked out
	Conduct     *conduct.Result // what the robot did; nil: not sought
	Events      []Event         // besides those of Conduct; nil: not sought; empty: sought, none happened
	TestObjects []TestObject    // the same
	Residue     []Residue       // left on the layout's patches; nil: not looked at
	Warnings    []string
	Mark        string            // what every page and picture of the run says of it; empty: nothing
	Thresholds  []Threshold       // that events rest on
	Setup       []byte            // the set-up of the day, kept as setup.yaml
	Versions    map[string]string // of programs and analysis
}

// check returns what is missing.
func (in RunInput) check() error {
	switch {
	case in.Trace == nil || len(in.Trace.Samples) == 0:
		return errors.New("a result needs a path with samples")
	case in.Coverage == nil || in.Coverage.Grid == nil:
		return errors.New("a result needs the coverage figures with their raster")
	case in.Plan == nil:
		return errors.New("a result needs the room's plan")
	case in.Robot.Name == "" || in.Layout == "":
		return errors.New("a result needs the names of its robot and layout")
	}
	return nil
}

// FigureRun returns what the pictures are drawn from.
func (in RunInput) FigureRun() figure.Run {
	r := figure.Run{
		Layout: in.Layout, Robot: in.Robot.Name, Phase: in.Phase, Trial: in.Trial,
		Plan: in.Plan, Body: in.Robot, Trace: in.Trace, Cover: in.Coverage, Mark: in.Mark,
	}
	if in.Doubt != nil {
		r.ShareSigma = in.Doubt.Blocks[in.Coverage.Tool]["reachable_share"].U
	}
	return r
}

// NewRun returns the content of run.json.
func NewRun(in RunInput) (*Run, error) {
	if err := in.check(); err != nil {
		return nil, err
	}
	c := in.Coverage
	r := &Run{
		Schema: Schema, Layout: in.Layout, Robot: in.Robot.Name, Phase: in.Phase, Trial: in.Trial,
		Conditions: orEmpty(in.Conditions),
		Recording:  recordingInfo(in.Recording),
		ToolOffS:   [][2]float64{},
		Camera:     cameraInfo(in.Camera, in.Room),
		Trace:      traceInfo(in.Trace),
		Run:        RunInfo{StartS: in.Trace.Run.From, EndS: in.Trace.Run.To, Started: in.Trace.Started, Ended: in.Trace.Ended, Motion: c.Motion},
		Floor:      FloorInfo{Floor: c.Floor, CommonM2: coverage.CommonFloor(in.Plan)},
		Tool:       c.Tool, Coverage: Block{Block: c.Coverage}, OtherTools: map[string]Block{},
		Events: in.Events, TestObjects: in.TestObjects, Residue: in.Residue, Missed: append([]coverage.Patch{}, c.Missed...), MissedBy: append([]coverage.PlaceShare{}, c.MissedBy...), Edges: append([]coverage.Edge{}, c.Edges...), Areas: append([]coverage.Area{}, c.Areas...),
		Mark: in.Mark, SliversM2: c.Slivers, Warnings: append(append([]string{}, in.Warnings...), c.Warnings...),
		Versions: orEmpty(in.Versions), LayoutParts: compare.LayoutOf(in.Plan), Thresholds: append([]Threshold{}, in.Thresholds...),
	}
	for _, s := range in.ToolOff {
		r.ToolOffS = append(r.ToolOffS, [2]float64{s.From, s.To})
	}
	r.addConduct(in.Conduct)
	if in.Conduct != nil {
		r.addContacts()
	}
	for i, e := range r.Events {
		r.Events[i].Sentence = e.Text(in.Plan, words.Metre)
	}
	if len(in.Setup) > 0 {
		sum := sha256.Sum256(in.Setup)
		r.SetupSHA = hex.EncodeToString(sum[:])
	}
	r.ToolWidthM, r.ToolAheadM, r.ToolLeftM = NaN, NaN, NaN
	for _, t := range in.Robot.Tools {
		if t.Name == c.Tool {
			r.ToolWidthM, r.ToolAheadM, r.ToolLeftM = t.Width, t.Ahead, t.Left
		}
	}
	for name, b := range c.OtherTools {
		r.OtherTools[name] = Block{Block: b}
	}
	if in.Doubt != nil {
		r.addDoubt(in.Doubt)
	} else {
		r.Coverage.settleLanes() // nobody knows how well they are known
	}
	return r, nil
}

func orEmpty(m map[string]string) map[string]string {
	if m == nil {
		return map[string]string{}
	}
	return m
}

func recordingInfo(r track.Recording) RecordingInfo {
	out := RecordingInfo{Files: []string{}, SHA256: []string{}, Frames: r.Frames, FramesBad: r.FramesBad, DurationS: r.Duration, LookedAgainS: r.LookedAgain}
	for _, f := range r.Files {
		out.Files = append(out.Files, filepath.Base(f))
	}
	out.SHA256 = append(out.SHA256, r.SHA256...)
	if r.Width > 0 && r.Height > 0 {
		out.FrameSize = []int{r.Width, r.Height}
	}
	return out
}

func cameraInfo(s *geom.Solution, room RoomPicture) CameraInfo {
	if s == nil {
		return CameraInfo{MarkRMSPx: NaN, MarkRMSM: NaN, LeaveOneOut: NaN}
	}
	out := CameraInfo{
		Solved: append([]string{}, s.Solved...), NotSolved: append([]string{}, s.NotSolved...),
		MarkRMSPx: s.MarkRMSPx, MarkRMSM: s.MarkRMSM, LeaveOneOut: s.LeaveOneOutM,
		TapeErrorM: s.TapeErrors,
	}
	if room.File != "" {
		out.Room = &room
	}
	return out
}

// traceInfo sums up how the path is known over the whole recording.
func traceInfo(t *geom.Trace) TraceInfo {
	by, all := t.Times()
	share := func(s geom.State) float64 {
		if all == 0 {
			return NaN
		}
		return by[s] / all
	}
	out := TraceInfo{SeenShare: share(geom.Seen), BridgedShare: share(geom.Bridged), LostShare: share(geom.Lost), CarriedShare: share(geom.Carried), SigmaM: NaN}
	var sum2, n float64
	for _, s := range t.Samples {
		if (s.State == geom.Seen || s.State == geom.Bridged) && t.Run.Contains(s.T) && !math.IsNaN(s.Sigma) {
			sum2, n = sum2+s.Sigma*s.Sigma, n+1
		}
	}
	if n > 0 {
		out.SigmaM = math.Sqrt(sum2 / n)
	}
	return out
}
