package track

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

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
	var last FilmReply
	err := ask(ctx, eye, spec, func(out io.Reader) error {
		for in := json.NewDecoder(out); ; {
			if err := in.Decode(&last); err == io.EOF {
				return nil
			} else if err != nil {
				return fmt.Errorf("swathe-eye's reply about the film cannot be read: %w", err)
			}
			if told != nil {
				told(last)
			}
		}
	}, "film")
	if err != nil {
		return nil, err
	}
	if len(last.Files) == 0 {
		return nil, errors.New("swathe-eye stopped before the film was complete")
	}
	return last.Files, nil
}
