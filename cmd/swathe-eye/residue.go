//go:build cgo && customenv

package main

import (
	"errors"
	"fmt"
	"slices"

	"swathe/geom"
	"swathe/track"
	"swathe/track/cv"
	"swathe/track/residue"
)

// left measures what was left on the floor from pictures before and after.
func left(req track.ResidueRequest) (track.ResidueReply, error) {
	reply, err := leftOf(req)
	var no *residue.Mismatch
	if errors.As(err, &no) {
		reply.Refused, err = no.Message, nil
	}
	return reply, err
}

func leftOf(req track.ResidueRequest) (reply track.ResidueReply, err error) {
	job := residue.Job{Room: req.Room, Covered: req.Covered, Patches: req.Patches, Sigma: req.Sigma, Shots: req.Shots}
	before, err := cv.ReadStill(req.Before)
	if err != nil {
		return reply, err
	}
	job.Before = before[0]
	if req.Clean != nil {
		clean, err := cv.ReadStill(*req.Clean)
		if err != nil {
			return reply, err
		}
		job.Clean = clean[0]
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
	if req.Later == nil {
		reply.Patches, err = measured(job, before, req.After)
		return reply, err
	}
	for _, l := range req.Later {
		job.Patches = nil
		for _, p := range req.Patches {
			if slices.Contains(l.Patches, p.Name) {
				job.Patches = append(job.Patches, p)
			}
		}
		s := req.After
		s.T = &l.T
		found, err := measured(job, before, s)
		one := track.LaterReply{Patches: found}
		var no *residue.Mismatch
		if errors.As(err, &no) {
			one.Refused = no.Message
		} else if err != nil {
			return reply, err
		}
		reply.Later = append(reply.Later, one)
	}
	return reply, nil
}

// measured measures with the picture after: of a recording its median over a
// second, and how far thirds of that second scatter.
func measured(job residue.Job, before []*residue.Picture, s track.Still) (map[string]*residue.Figures, error) {
	after, err := cv.ReadStill(s)
	if err != nil {
		return nil, err
	}
	job.After = after[0]
	found, err := residue.Measure(job)
	if err != nil || len(after) == 1 && len(before) == 1 {
		return found, err
	}
	job.Shots = false
	var parts []map[string]*residue.Figures
	for k := 1; k < max(len(before), len(after)); k++ {
		job.Before, job.After = before[min(k, len(before)-1)], after[min(k, len(after)-1)]
		part, err := residue.Measure(job)
		if err != nil {
			return found, nil // the whole second holds; its thirds tell nothing
		}
		parts = append(parts, part)
	}
	residue.Repeated(found, parts)
	return found, nil
}
