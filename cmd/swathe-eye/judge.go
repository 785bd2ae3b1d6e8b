//go:build cgo && customenv

package main

import (
	"errors"
	"time"

	"swathe/geom"
	"swathe/track"
	"swathe/track/cv"
	"swathe/track/preflight"
	"swathe/track/sight"
)

// judgeFrames is how many frames a recording is judged by, and judgeSpan how
// much of it is decoded, s, where it cannot be leapt through; judgePatience is
// for how long frames are read, which large ones on a slow machine may need.
const (
	judgeFrames   = 20
	judgeSpan     = 60
	judgePatience = 12 * time.Second
)

// judgeTime is when it answers with what it has: half a minute is promised, some
// of which starting and writing take.
const judgeTime = 25 * time.Second

// judge judges a recording before it is measured, by some of its frames.
func judge(req track.JudgeRequest) (*track.JudgeReply, error) {
	r, err := judged(req)
	var f failure
	if errors.As(err, &f) {
		return &track.JudgeReply{Fail: &f.FailReply}, nil
	}
	return r, err
}

func judged(req track.JudgeRequest) (*track.JudgeReply, error) {
	l := &looker{req: track.Request{Files: req.Files[:min(1, len(req.Files))], Camera: req.Camera, Plan: req.Plan, Robot: req.Robot,
		Reference: req.Reference, Threads: 2}}
	if len(l.req.Files) == 0 {
		return nil, errors.New("no recording is named")
	}
	until := time.Now().Add(judgeTime)
	if err := l.open(); err != nil {
		return nil, err
	}
	p := l.parts[0]
	l.until = time.Now().Add(judgePatience)
	pics := l.sampleKeys(p, judgeFrames)
	if len(pics) < judgeFrames/2 && time.Now().Before(l.until) || len(pics) < 3 {
		var err error
		if pics, err = l.sampleFirst(p, judgeFrames); err != nil {
			return nil, err
		}
	}
	cam := geom.NewCamera(req.Camera.Width, req.Camera.Height, req.Camera.Lens, req.Camera.R, req.Camera.Centre)
	l.set = sight.NewSetup(cam, &req.Plan, req.Robot, l.halved)
	reference, err := l.reference()
	if err != nil {
		return nil, err
	}
	if req.Keep != "" { // a picture for later must be a whole one
		until = time.Time{}
	}
	f, err := preflight.Judge(l.set, &req.Plan, pics, reference, until)
	if err != nil {
		return nil, failure{track.FailReply{Kind: track.NotReadable, File: p.file, Message: err.Error()}}
	}
	if req.Keep != "" {
		if err := keepReference(req.Keep, f.Room); err != nil {
			return nil, err
		}
	}
	length := p.info.Length()
	if length != length {
		length = 0
	}
	return &track.JudgeReply{Width: p.info.Width, Height: p.info.Height, FPS: p.info.FPS, Duration: length, Codec: p.info.Codec, Finding: f}, nil
}

// sampleFirst takes n frames spread over what is decoded in judgeSpan.
func (l *looker) sampleFirst(p part, n int) (out []*sight.Picture, err error) {
	r, err := cv.Open(p.file, 2)
	if err != nil {
		return nil, failure{track.FailReply{Kind: track.NotReadable, File: p.file, Message: err.Error()}}
	}
	defer r.Close()
	span := p.info.Length()
	if !(span < judgeSpan) {
		span = judgeSpan
	}
	next := 0.0
	for len(out) < n && (time.Now().Before(l.until) || len(out) < 3) {
		f, err := r.Next()
		if err != nil || f == nil {
			break
		}
		if !f.Bad && f.T >= next {
			if pic, err := f.Picture(l.halved); err == nil {
				out = append(out, pic.Clone())
				next = float64(len(out)) * span / float64(n)
			}
		}
		f.Free()
	}
	return out, nil
}
