// Package track turns a recording into a path on the floor. It is pure Go: the
// pixels are looked at by a separate program, the eye (cmd/swathe-eye), which
// streams Sightings; this package starts and limits it, links what it saw and
// smooths the path. Nothing here changes its arguments.
package track

import (
	"fmt"

	"swathe/geom"
	"swathe/track/sight"
)

// Job is one run to be measured from one or more recordings.
type Job struct {
	Files  []string     // recordings in order, each a part of the run
	Gaps   []float64    // s between part i and part i+1; NaN: one frame's time
	Start  float64      // s, ignore what lies before; NaN: from the first frame
	End    float64      // s, ignore what lies after; NaN: to the last
	Camera *geom.Camera // as solved
	// CameraSigma is the standard uncertainty (m, one axis) that the camera's
	// solution leaves at a point; nil: none, as for a camera that is exact.
	CameraSigma func(geom.Point3) float64
	// Reference is a picture of the room as the camera showed it when its marks
	// were surveyed, a PNG that JudgeRequest.Keep wrote and the recording is held
	// against; empty: none.
	Reference string
	Plan      *geom.Plan
	Robot     geom.Robot
	// Unfinished is a folder, made and removed as needed, in which is kept how far
	// the eye is: a job that was stopped goes on from there. Empty: it begins anew.
	Unfinished string
}

// Progress is told while a job runs.
type Progress struct {
	Share float64 // 0..1 of the recording
	T     float64 // s, time in the recording
	Speed float64 // recording seconds per second of work
	X, Y  float64 // floor, m, where the robot is at T, before linking; NaN where it was not seen
	Doing string  // what is being done, in words; empty while the recording is watched
}

// Recording says what was read.
type Recording struct {
	Files         []string
	SHA256        []string // of each file, lower-case hex
	Frames        int      // frames in the recording
	FramesBad     int      // frames that could not be decoded
	Duration      float64  // s
	LookedAgain   float64  // s, from its start, that were looked at twice; 0: none
	Width, Height int      // pixels
}

// Result is what a job gives.
type Result struct {
	Trace       *geom.Trace
	Recording   Recording
	Warnings    []string            // sentences for the tester, each with a time where it has one
	Stages      []Stage             // where the time went
	TestObjects []sight.ObjectSight // of the plan's test objects, in its order; nil if it has none
}

// Stage is the time that one stage of the work took, s.
type Stage struct {
	Name    string
	Seconds float64
}

// Kind classes a Failure.
type Kind string

// What can keep a recording from being measured.
const (
	NotReadable   Kind = "not readable"       // empty, not a video, no frame decodes
	WrongSize     Kind = "wrong size"         // frames are not what the camera's entry says
	NoRobot       Kind = "no robot"           // nothing of the robot's size was seen
	TooLittleSeen Kind = "too little seen"    // for less of the recording than the lab asks for
	NeverMoved    Kind = "never moved"        // it was seen, and stood still throughout
	CameraMoved   Kind = "camera moved"       // by more than can be corrected
	EyeMissing    Kind = "swathe-eye missing" // swathe-eye was not found
	EyeCrashed    Kind = "swathe-eye crashed" // it died or ran into a limit
	ProgramFailed Kind = "program failed"     // swathe itself, not swathe-eye
	PathUnusable  Kind = "path not usable"    // a .csv path that cannot be read
)

// Failure is a recording that could not be measured: a result with a reason.
type Failure struct {
	Kind    Kind
	File    string  // the recording
	T       float64 // s in the recording where it went wrong; NaN if it has no time
	Message string  // what is wrong and how to mend it, whole sentences
	Report  string  // for the program's maintainers, of a crash; empty: none
}

// Error gives file and message.
func (f *Failure) Error() string { return fmt.Sprintf("%s: %s", f.File, f.Message) }
