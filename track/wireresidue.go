package track

import (
	"context"
	"errors"

	"swathe/geom"
	"swathe/track/residue"
)

// Still names a picture: a file, or a time of a recording, of which the median
// over a second is taken.
type Still struct {
	File string   `json:"file"`
	T    *float64 `json:"t"` // s; nil: File is a picture
	// More are further parts of the recording, Gaps the seconds between them; nil:
	// a frame's time.
	More []string   `json:"more,omitempty"`
	Gaps []*float64 `json:"gaps,omitempty"`
}

// LaterStill is a further time of the same recording, at which some of the patches
// show.
type LaterStill struct {
	T       float64  `json:"t"`
	Patches []string `json:"patches"`
}

// ResidueRequest asks the eye what was left on the floor. One of Camera and Marks
// is set.
type ResidueRequest struct {
	Before  Still           `json:"before"`
	After   Still           `json:"after"`
	Clean   *Still          `json:"clean"` // nil: none was taken
	Camera  *geom.Camera    `json:"camera"`
	Sigma   float64         `json:"sigma"` // m, of the camera's marks
	Marks   *residue.Marks  `json:"marks"`
	Room    []geom.Point2   `json:"room"`
	Covered [][]geom.Point2 `json:"covered"`
	Patches []residue.Patch `json:"patches"`
	Shots   bool            `json:"shots"` // the pictures as well
	// Later asks for a series: After, a recording, at each of these times.
	Later []LaterStill `json:"later,omitempty"`
}

// ResidueReply is the eye's answer.
type ResidueReply struct {
	Patches  map[string]*residue.Figures `json:"patches"`
	Residual *float64                    `json:"residual"`          // m, of the marks of a picture taken by hand; nil: the lab's camera
	Refused  string                      `json:"refused,omitempty"` // why the pictures cannot be measured; Patches is empty
	Later    []LaterReply                `json:"later,omitempty"`
}

// LaterReply is the answer to a LaterStill.
type LaterReply struct {
	Patches map[string]*residue.Figures `json:"patches"`
	Refused string                      `json:"refused,omitempty"`
}

// MeasureResidue asks the eye what was left on the floor.
func MeasureResidue(ctx context.Context, eye string, q ResidueRequest) (*ResidueReply, error) {
	if (q.Camera == nil) == (q.Marks == nil) {
		return nil, errors.New("measuring pictures needs either a camera or marks")
	}
	return answer[ResidueReply](ctx, eye, "residue", "pictures", q)
}
