//go:build cgo && customenv

package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"os"

	"swathe/geom"
	"swathe/track"
	"swathe/track/cv"
	"swathe/track/residue"
)

// left measures what was left on the floor from pictures before and after.
func left([]string) error {
	var req track.ResidueRequest
	if err := json.NewDecoder(bufio.NewReader(os.Stdin)).Decode(&req); err != nil {
		return fmt.Errorf("the request cannot be read: %w", err)
	}
	reply, err := leftOf(req)
	var no *residue.Mismatch
	if errors.As(err, &no) {
		reply.Refused = no.Message
	} else if err != nil {
		return err
	}
	return emit(reply)
}

func leftOf(req track.ResidueRequest) (reply track.ResidueReply, err error) {
	job := residue.Job{Room: req.Room, Covered: req.Covered, Patches: req.Patches, Sigma: req.Sigma, Shots: req.Shots}
	if job.Before, err = cv.ReadStill(req.Before); err != nil {
		return reply, err
	}
	if job.After, err = cv.ReadStill(req.After); err != nil {
		return reply, err
	}
	if req.Clean != nil {
		if job.Clean, err = cv.ReadStill(*req.Clean); err != nil {
			return reply, err
		}
	}
	w, h := job.Before.W, job.Before.H
	switch {
	case req.Marks != nil:
		plane, residual, err := req.Marks.Solve(w, h)
		if err != nil {
			return reply, &residue.Mismatch{Message: err.Error()}
		}
		job.Ground, job.Residual, reply.Residual = plane, residual, &residual
	case req.Camera != nil:
		if w != req.Camera.Width || h != req.Camera.Height {
			return reply, &residue.Mismatch{Message: fmt.Sprintf("the before picture has %d x %d pixels, the layout's camera %d x %d. Give a picture from that camera, or --marks for another one", w, h, req.Camera.Width, req.Camera.Height)}
		}
		c := req.Camera
		job.Ground = residue.CameraGround{Cam: geom.NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre)}
	default:
		return reply, errors.New("neither a camera nor marks are given")
	}
	reply.Patches, err = residue.Measure(job)
	return reply, err
}
