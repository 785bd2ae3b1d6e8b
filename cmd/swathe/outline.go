package main

import (
	"context"
	"fmt"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/overlay"
	"swathe/cmd/internal/work"
	"swathe/track"
)

// framesOfEye fetches pictures by the eye, found when it is first needed.
func framesOfEye(ctx context.Context, q track.FrameRequest) ([]track.FramePicture, error) {
	eye, err := track.FindEye()
	if err != nil {
		return nil, err
	}
	return track.Frames(ctx, eye, q)
}

// writeOutlines writes the pictures that show whether the results sit. What
// cannot be drawn is told and is no failure of the measurement.
func writeOutlines(c *call, l *lab.Lab, outcomes []work.Outcome) {
	for _, o := range outcomes {
		if o.Result == "" || c.ctx.Err() != nil {
			continue
		}
		n, err := writeOutline(c.ctx, l, o.Run)
		if err != nil {
			c.say("  %s: no outlines: %v", o.Run, err)
			continue
		}
		c.print("%s: %d frames with the fitted outline in %s/%s", o.Run, n, o.Result, overlay.OutlineFolder)
	}
}

func writeOutline(ctx context.Context, l *lab.Lab, run string) (int, error) {
	k, err := work.Load(ctx, l, run, newEye(), nil)
	if err != nil {
		return 0, fmt.Errorf("its result can't be read: %w", err)
	}
	return overlay.WriteOutlines(ctx, l, k, framesOfEye, overlay.DefaultOutlineOptions())
}
