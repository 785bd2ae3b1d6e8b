//go:build cgo && customenv

package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"os"

	"swathe/track"
	"swathe/track/cv"
)

// frame fetches frames of a run as encoded pictures, each behind a line that
// tells its length. One that cannot be had is told in its line; the others
// follow all the same.
func frame([]string) error {
	var req track.FrameRequest
	if err := json.NewDecoder(bufio.NewReader(os.Stdin)).Decode(&req); err != nil {
		return fmt.Errorf("the request cannot be read: %w", err)
	}
	if err := req.Validate(); err != nil {
		return err
	}
	a, err := cv.OpenAlbum(req.Files, req.Gaps)
	if err != nil {
		return err
	}
	defer a.Close()
	w := bufio.NewWriterSize(os.Stdout, 1<<16)
	out := json.NewEncoder(w)
	for _, s := range req.Shots {
		data, head, err := a.Shoot(s)
		if err != nil {
			data, head = nil, track.FrameHead{T: s.T, Fail: err.Error()}
		}
		if err := out.Encode(head); err != nil {
			return err
		}
		if _, err := w.Write(data); err != nil {
			return err
		}
	}
	return w.Flush()
}
