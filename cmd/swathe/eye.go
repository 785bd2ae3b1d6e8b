package main

import (
	"context"

	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/track"
)

// newEye returns the eye, found when it is first needed: a lab of paths needs
// none.
func newEye() work.Eye {
	return work.Eye{
		Measure: func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
			path, err := track.FindEye()
			if err != nil {
				return nil, err
			}
			return track.Measure(ctx, path, job, track.DefaultOptions(), tell)
		},
		Board: func(ctx context.Context, spec geom.CameraSpec) (*track.BoardReply, error) {
			path, err := track.FindEye()
			if err != nil {
				return nil, err
			}
			return track.SolveBoard(ctx, path, spec)
		},
		Residue: func(ctx context.Context, q track.ResidueRequest) (*track.ResidueReply, error) {
			path, err := track.FindEye()
			if err != nil {
				return nil, err
			}
			return track.MeasureResidue(ctx, path, q)
		},
	}
}
