package work

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/lab"
	"swathe/track"
)

// RecordingJudgement is what some frames of a recording say before it is measured.
type RecordingJudgement struct {
	File   string  `json:"file"`
	Layout string  `json:"layout"`
	Robot  string  `json:"robot"`
	Camera string  `json:"camera"`
	Kept   *string `json:"room_picture_kept"` // of the survey's day, as lab.yaml now names it; null: none was taken
	*track.JudgeReply
}

// keep judges a recording and makes the room that it shows the picture of the
// survey's day.
func (j *RecordingJudgement) keep(ctx context.Context, l *lab.Lab, q track.JudgeRequest, ask Judger) (err error) {
	file, name := l.NewRoomPicture(j.Camera)
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return fmt.Errorf("the picture of the room can't be saved: %w", err)
	}
	setup := filepath.Join(l.Dir, lab.SetupFile)
	text, err := os.ReadFile(setup)
	if err != nil {
		return err
	}
	if text, err = lab.NameRoomPicture(text, j.Camera, name); err != nil {
		return err
	}
	q.Keep = file
	if j.JudgeReply, err = ask(ctx, q); err != nil {
		return err
	}
	j.Kept = &name
	return disk.WriteWhole(setup, text)
}

// Judger puts a question about a recording to the eye.
type Judger func(context.Context, track.JudgeRequest) (*track.JudgeReply, error)

// ToJudge is a recording to be judged.
type ToJudge struct {
	Name string // one of the lab's, as List takes it, or any file
	// Of a file elsewhere; empty: the only one of the lab.
	Layout, Robot string
	// Keep makes the room that the recording shows the picture of the survey's day,
	// which lab.yaml then names; the lab must be locked.
	Keep bool
}

// JudgeOne judges a recording. ask puts the question to the eye.
func JudgeOne(ctx context.Context, l *lab.Lab, to ToJudge, eye Eye, ask Judger) (*RecordingJudgement, error) {
	name, out := to.Name, RecordingJudgement{Layout: to.Layout, Robot: to.Robot}
	var files []string
	// A lab without recordings may still be asked about a file elsewhere.
	items, listErr := List(l, []string{name})
	switch {
	case listErr == nil && len(items) > 1:
		return nil, fmt.Errorf("%q matches %d recordings; name one to judge", name, len(items))
	case listErr == nil && items[0].Refusal == nil:
		r := items[0].Run
		if r.IsPath() {
			return nil, fmt.Errorf("%s is a path, not a recording: there is no picture to judge", l.Rel(r.Files[0]))
		}
		files = r.Files
		out.Layout, out.Robot, out.Camera = r.Layout, r.Robot, l.CameraOf(r)
	default:
		abs, err := filepath.Abs(name)
		if err == nil {
			_, err = os.Stat(abs)
		}
		if err != nil {
			return nil, fmt.Errorf("there is no recording %q in this lab, and no such file. Name a file, or a run as <layout>/<robot>_<phase>_<trial>", name)
		}
		files = []string{abs}
		if out.Layout, err = only(out.Layout, l.LayoutNames, "layout", "--layout"); err != nil {
			return nil, err
		}
		if out.Robot, err = only(out.Robot, l.RobotNames, "robot", "--robot"); err != nil {
			return nil, err
		}
		out.Camera = l.Layouts[out.Layout].Camera
	}
	out.File = l.Rel(files[0])
	if out.Camera == "" {
		return nil, fmt.Errorf("layout %s has no camera, so its recordings cannot be judged", out.Layout)
	}
	sol, err := l.Solve(out.Camera, eye.Solver(ctx))
	if err != nil {
		return nil, err
	}
	q := track.JudgeRequest{Files: files, Camera: *sol.Camera, Plan: *l.Layouts[out.Layout].Plan, Robot: l.Robots[out.Robot].Robot}
	if to.Keep {
		return &out, out.keep(ctx, l, q, ask)
	}
	room, err := l.RoomPicture(out.Camera)
	if err != nil {
		return nil, err
	}
	if room != nil {
		q.Reference = room.File
	}
	out.JudgeReply, err = ask(ctx, q)
	return &out, err
}

// only returns the name that was given, or the only one there is.
func only(given string, names []string, what, option string) (string, error) {
	if given == "" && len(names) == 1 {
		return names[0], nil
	}
	for _, n := range names {
		if n == given {
			return given, nil
		}
	}
	if given == "" {
		return "", fmt.Errorf("the file is not under recordings/, so name its %s: %s, one of %s", what, option, strings.Join(names, ", "))
	}
	return "", fmt.Errorf("there is no %s %q in %s.%s", what, given, lab.SetupFile, lab.DidYouMean(given, names))
}
