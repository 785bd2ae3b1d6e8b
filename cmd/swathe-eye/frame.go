//go:build cgo && customenv

package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"swathe/track"
	"swathe/track/cv"
)

// frame fetches frames of a run as encoded pictures, each behind a line that
// tells its length. One that cannot be had is told in its line; the others
// follow all the same. It goes on to the next request until there is none, with
// the recording still open if that is about the same.
func frame([]string) error {
	in := json.NewDecoder(bufio.NewReader(os.Stdin))
	w := bufio.NewWriterSize(os.Stdout, 1<<16)
	out := json.NewEncoder(w)
	var open *cv.Album
	var opened string
	defer func() {
		if open != nil {
			open.Close()
		}
	}()
	for {
		var req track.FrameRequest
		if err := in.Decode(&req); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return fmt.Errorf("the request cannot be read: %w", err)
		}
		if err := req.Validate(); err != nil {
			return err
		}
		if now := state(req); open == nil || now != opened {
			if open != nil {
				open.Close()
				open = nil
			}
			a, err := cv.OpenAlbum(req.Files, req.Gaps)
			if err != nil {
				return err
			}
			open, opened = a, now
		}
		for _, s := range req.Shots {
			data, head, err := open.Shoot(s)
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
		if err := w.Flush(); err != nil {
			return err
		}
	}
}

// state tells the recordings of one request from those of another, and from
// themselves before they were replaced.
func state(q track.FrameRequest) string {
	s, _ := json.Marshal([]any{q.Files, q.Gaps})
	for _, f := range q.Files {
		if st, err := os.Stat(f); err == nil {
			s = fmt.Appendf(s, " %d %d", st.Size(), st.ModTime().UnixNano())
		}
	}
	return string(s)
}
