package track

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"swathe/geom"
	"swathe/track/paint"
)

// FrameRequest asks the eye for frames of a run, as JSON on its standard input.
// The answer is, for each shot in turn, one line of JSON (a FrameHead) and then
// as many bytes of picture as that says. The eye then waits for another request
// until its standard input ends, and keeps the recording open meanwhile.
type FrameRequest struct {
	Files []string   `json:"files"`
	Gaps  []*float64 `json:"gaps"` // s between the parts; nil: one frame's time
	Shots []Shot     `json:"shots"`
}

// Shot is one picture that is wanted.
type Shot struct {
	T       float64     `json:"t"`       // s in the run; the frame nearest to it is taken
	Crop    *[4]int     `json:"crop"`    // x, y, width, height, px of the frame; nil: all of it
	Width   int         `json:"width"`   // px, to which it is made smaller or larger; 0: as it is
	Format  string      `json:"format"`  // png or jpeg
	Quality int         `json:"quality"` // of jpeg, 1..100; 0: 90
	Lines   []FrameLine `json:"lines"`   // drawn onto the frame before it is cropped
	Rough   bool        `json:"rough"`   // quicker and a little coarser: for looking at, not for measuring
	Key     bool        `json:"key"`     // the last key frame at or before T instead: at once, however far T is from it
}

// FrameLine is a line drawn onto a frame.
type FrameLine struct {
	Points []geom.Point2 `json:"points"` // px of the frame
	Closed bool          `json:"closed"`
	Width  float64       `json:"width"` // px
	Colour paint.Colour  `json:"colour"`
}

// FrameHead goes before each picture.
type FrameHead struct {
	T      float64 `json:"t"` // s in the run of the frame that was taken
	Width  int     `json:"width"`
	Height int     `json:"height"`
	Bytes  int     `json:"bytes"`
	Fail   string  `json:"fail,omitempty"` // why there is no picture; Bytes is 0
}

// FramePicture is an encoded picture.
type FramePicture struct {
	FrameHead
	Data []byte
}

// Validate says what is wrong with a request, nil if nothing is.
func (q FrameRequest) Validate() error {
	if len(q.Files) == 0 {
		return errors.New("no recording is named")
	}
	for _, s := range q.Shots {
		switch {
		case math.IsNaN(s.T) || math.IsInf(s.T, 0):
			return fmt.Errorf("%g is not a time", s.T)
		case s.Format != "png" && s.Format != "jpeg":
			return fmt.Errorf("pictures are written as png or jpeg, not %q", s.Format)
		case s.Width < 0 || s.Width > 16384:
			return fmt.Errorf("a picture %d px wide cannot be made", s.Width)
		case s.Quality < 0 || s.Quality > 100:
			return fmt.Errorf("invalid quality %d; give 1 to 100", s.Quality)
		case s.Crop != nil && (s.Crop[2] < 1 || s.Crop[3] < 1):
			return fmt.Errorf("a part of %d x %d px cannot be cut out", s.Crop[2], s.Crop[3])
		}
	}
	return nil
}

// Frames fetches frames of a run. Shots in rising order of time are fastest.
func Frames(ctx context.Context, eye string, q FrameRequest) ([]FramePicture, error) {
	if err := q.Validate(); err != nil {
		return nil, err
	}
	var pics []FramePicture
	err := ask(ctx, eye, q, func(out io.Reader) (err error) {
		pics, err = readFrames(bufio.NewReader(out), len(q.Shots))
		return err
	}, "frame")
	return pics, err
}

// mostPicture bounds one encoded picture, bytes: more is an answer gone wrong.
const mostPicture = 1 << 30

// readFrames takes an answer of the eye apart into n pictures.
func readFrames(r *bufio.Reader, n int) ([]FramePicture, error) {
	var out []FramePicture
	for range n {
		line, err := r.ReadBytes('\n')
		if err != nil {
			return nil, fmt.Errorf("swathe-eye sent %d of %d pictures", len(out), n)
		}
		var p FramePicture
		if err := json.Unmarshal(line, &p.FrameHead); err != nil {
			return nil, fmt.Errorf("swathe-eye's reply about a picture cannot be read: %w", err)
		}
		if p.Bytes < 0 || p.Bytes > mostPicture {
			return nil, errors.New("invalid reply from swathe-eye about a picture")
		}
		// Memory grows with what comes, not with what was promised.
		var data bytes.Buffer
		if _, err := io.CopyN(&data, r, int64(p.Bytes)); err != nil {
			return nil, fmt.Errorf("picture %d of %d is not whole: %w", len(out)+1, n, err)
		}
		p.Data = data.Bytes()
		out = append(out, p)
	}
	return out, nil
}
