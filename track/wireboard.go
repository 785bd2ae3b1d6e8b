package track

import "swathe/geom"

// BoardRequest asks the eye for the lens that pictures of a printed chessboard
// show, as JSON on its standard input.
type BoardRequest struct {
	Pictures []string       `json:"pictures"`
	Columns  int            `json:"columns"` // inner corners along a row
	Rows     int            `json:"rows"`    // inner corners along a column
	Square   float64        `json:"square"`  // m, side of a square
	Width    int            `json:"width"`   // px, of the camera's recordings
	Height   int            `json:"height"`
	Model    geom.LensModel `json:"model"` // of the lens that is sought
}

// BoardPicture is what came of one picture.
type BoardPicture struct {
	File  string   `json:"file"`
	Found bool     `json:"found"`
	Why   string   `json:"why,omitempty"` // of a picture that was not used
	RMS   *float64 `json:"rms_px"`        // px, of its corners about where the lens puts them; null if not used
}

// BoardReply is the eye's answer.
type BoardReply struct {
	Fail     string         `json:"fail,omitempty"` // why no lens was found, a whole sentence; nothing else is set but Pictures
	Lens     geom.Lens      `json:"lens"`
	RMS      float64        `json:"rms_px"` // px, over all corners used: distance, not per axis
	Sigma    []*float64     `json:"sigma"`  // standard uncertainty of fx, fy, cx, cy (px), then of the distortion's five terms; null where the method gives none
	Square   bool           `json:"square"` // fx and fy are one number: the picture's pixels are square
	Used     int            `json:"used"`   // pictures that the lens was found from
	Reach    float64        `json:"reach"`  // farthest corner used from the centre of the picture, in half diagonals
	Pictures []BoardPicture `json:"pictures"`
	Warnings []string       `json:"warnings,omitempty"`
}

// CornersRequest asks the eye for the inner corners of a chessboard in one frame
// of a run, as JSON on its standard input.
type CornersRequest struct {
	Files   []string `json:"files"`
	T       float64  `json:"t"`       // s in the run; the frame nearest to it is taken
	Columns int      `json:"columns"` // inner corners along a row
	Rows    int      `json:"rows"`
}

// CornersReply is the eye's answer.
type CornersReply struct {
	// Corners are [column, row] in pixels, row by row of the board from one of its
	// outer corners; empty if no board was found.
	Corners [][2]float64 `json:"corners"`
	Fail    string       `json:"fail,omitempty"` // why there are none
}
