package track

import (
	"context"
	"errors"

	"swathe/geom"
	"swathe/track/preflight"
)

// JudgeRequest asks the eye to judge a recording before it is measured.
type JudgeRequest struct {
	Files     []string    `json:"files"` // the parts of the run, of which the first is judged
	Camera    geom.Camera `json:"camera"`
	Plan      geom.Plan   `json:"plan"`
	Robot     geom.Robot  `json:"robot"`
	Reference string      `json:"reference"` // PNG of the room on the day of the survey; empty: none
	Keep      string      `json:"keep"`      // write the room that is seen into this PNG; empty: do not
}

// JudgeReply is the eye's judgement.
type JudgeReply struct {
	Width    int                `json:"width"`
	Height   int                `json:"height"`
	FPS      float64            `json:"fps"`        // 0: the container does not tell
	Duration float64            `json:"duration_s"` // of the file judged; 0: the container does not tell
	Codec    string             `json:"codec"`
	Finding  *preflight.Finding `json:"finding"`
	Fail     *FailReply         `json:"fail,omitempty"` // why it could not be judged
}

// JudgeRecording asks the eye to judge a recording by some frames of it. The
// error is a *Failure where the recording cannot be judged.
func JudgeRecording(ctx context.Context, eye string, q JudgeRequest) (*JudgeReply, error) {
	if q.Camera.Width == 0 || len(q.Files) == 0 {
		return nil, errors.New("judging a recording needs a file and a camera")
	}
	r, err := answer[JudgeReply](ctx, eye, "judge", "recording", q)
	if err != nil {
		return nil, err
	}
	if r.Fail != nil {
		return nil, r.Fail.failure()
	}
	return r, nil
}
