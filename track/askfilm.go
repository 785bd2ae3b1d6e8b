package track

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os/exec"
	"time"

	"swathe/track/film"
)

// FilmReply is one line of the eye's answer while it makes a film.
type FilmReply struct {
	Done  int      `json:"done"` // frames
	Total int      `json:"total"`
	Files []string `json:"files,omitempty"` // at the end: what was written
	Look  string   `json:"look,omitempty"`  // at the end, of a blurred film: why somebody must look at it before it is published
}

// MakeFilm has the eye make a film; told may be nil. Cancelling ctx ends the
// eye, and what it wrote so far is no film.
func MakeFilm(ctx context.Context, eye string, spec film.Spec, told func(FilmReply)) ([]string, error) {
	if err := spec.Validate(); err != nil {
		return nil, err
	}
	in, err := json.Marshal(spec)
	if err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, eye, "film")
	cmd.WaitDelay = 2 * time.Second
	cmd.Stdin = bytes.NewReader(in)
	var complaint tail
	cmd.Stderr = &complaint
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	var last FilmReply
	sc := bufio.NewScanner(out)
	sc.Buffer(nil, 1<<24)
	for sc.Scan() {
		if err := json.Unmarshal(sc.Bytes(), &last); err != nil {
			complaint.Write([]byte(fmt.Sprintf("its reply cannot be read: %v", err)))
			break
		}
		if told != nil {
			told(last)
		}
	}
	if err := cmd.Wait(); err != nil {
		if ctx.Err() != nil {
			return nil, context.Cause(ctx)
		}
		return nil, errors.New(oneLine(complaint.String()))
	}
	if len(last.Files) == 0 {
		return nil, errors.New("swathe-eye stopped before the film was complete")
	}
	return last.Files, nil
}
