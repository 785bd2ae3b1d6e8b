package track

import (
	"math"

	"swathe/geom"
	"swathe/track/sight"
)

// EyeMemory names the variable of the environment that holds swathe-eye to so many
// megabytes.
const EyeMemory = "SWATHE_EYE_MEMORY"

// Request is what the eye is asked, as JSON on its standard input.
type Request struct {
	Files     []string    `json:"files"`
	Gaps      []*float64  `json:"gaps"` // s; nil: one frame's time
	Start     *float64    `json:"start"`
	End       *float64    `json:"end"`
	Camera    geom.Camera `json:"camera"`
	Plan      geom.Plan   `json:"plan"`
	Robot     geom.Robot  `json:"robot"`
	Reference string      `json:"reference,omitempty"` // PNG, see Job.Reference
	Threads   int         `json:"threads"`
	Rate      float64     `json:"rate"`            // looks a second at least
	Halve     int         `json:"halve,omitempty"` // how often the pictures are halved beyond what their width asks for
	Debug     *Debug      `json:"debug,omitempty"`

	Unfinished string  `json:"unfinished,omitempty"` // see Job.Unfinished
	KeepEvery  float64 `json:"keep_every,omitempty"` // s of work between what is kept there; 0: as the eye thinks best
}

// Reply is one line of the eye's answer; one of its fields is set.
type Reply struct {
	Doing      string             `json:"doing,omitempty"` // a sign of life: what is done next
	Open       *OpenReply         `json:"open,omitempty"`
	Resumed    *float64           `json:"resumed,omitempty"` // it goes on behind this time of a part, s; what was said before was handed on
	Sighting   *sight.Sighting    `json:"s,omitempty"`
	Turns      []sight.Turn       `json:"turns,omitempty"`       // at the end, in pieces
	Standing   *geom.Point2       `json:"standing,omitempty"`    // never seen before the background, but in it
	TestObject *sight.ObjectSight `json:"test_object,omitempty"` // at the end, one by one
	Warning    string             `json:"warning,omitempty"`
	Again      bool               `json:"again,omitempty"` // what was said since Open does not hold: it comes anew
	Fail       *FailReply         `json:"fail,omitempty"`
	End        *EndReply          `json:"end,omitempty"`
}

// OpenReply is said once the recordings are open.
type OpenReply struct {
	Width, Height int
	Duration      float64 // s, of all parts, as their containers state it; 0 if unknown
	FPS           float64
	Noise         float64 // grey levels
	Healed        int     // places where the robot had become floor
}

// EndReply is said at the end.
type EndReply struct {
	Frames, Bad int
	Duration    float64 // s, to the last frame's end
	LookedAgain float64 // s, see Recording
	Stages      []Stage
}

// FailReply says why nothing more follows.
type FailReply struct {
	Kind    Kind
	File    string
	T       *float64
	Message string
}

func (f *FailReply) failure() *Failure {
	out := &Failure{Kind: f.Kind, File: f.File, T: math.NaN(), Message: f.Message}
	if f.T != nil {
		out.T = *f.T
	}
	return out
}
