package track

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"
)

// Measure turns a job's recordings into a trace: it starts the eye, links what
// it saw and smooths the path. The error is a *Failure where the recording
// cannot be measured, ctx's where that was cancelled.
func Measure(ctx context.Context, eyePath string, job Job, opt Options, progress func(Progress)) (*Result, error) {
	if err := opt.Validate(); err != nil {
		return nil, err
	}
	if job.Camera == nil || job.Plan == nil || len(job.Files) == 0 {
		return nil, errors.New("a job needs recordings, a camera and a plan")
	}
	hashes, stalled := make(chan []string, 1), error(nil)
	go func() { // while the eye looks: both read the same file
		var h []string
		for _, f := range job.Files {
			s, err := HashFile(f)
			if errors.Is(err, ErrStalled) {
				stalled = &Failure{Kind: NotReadable, T: math.NaN(), Message: err.Error()}
			}
			h = append(h, s)
		}
		hashes <- h
	}()
	r, err := watch(ctx, eyePath, job, opt, progress)
	sums := <-hashes
	if stalled != nil {
		return nil, stalled
	}
	if err != nil {
		return nil, err
	}
	rec := r.rec
	rec.Files, rec.SHA256 = job.Files, sums
	tr, more, err := Link(r.sightings, job, rec.Duration, opt)
	if err != nil {
		var f *Failure
		if errors.As(err, &f) && f.File == "" {
			f.File = strings.Join(job.Files, ", ")
		}
		return nil, err
	}
	warnings := append(r.warnings, more...)
	if rec.FramesBad > 0 {
		warnings = append(warnings, fmt.Sprintf("%d of %d frames could not be decoded completely and were left out", rec.FramesBad, rec.Frames))
	}
	return &Result{Trace: tr, Recording: rec, Warnings: warnings, Stages: r.stages, TestObjects: r.objects}, nil
}

// Unset is a time that was not given.
var Unset = math.NaN()
