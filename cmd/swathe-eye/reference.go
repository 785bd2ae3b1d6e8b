//go:build cgo && customenv

package main

import (
	"fmt"
	"image"
	"image/png"
	"math"
	"os"

	"swathe/track"
	"swathe/track/sight"
)

// reference reads the room's picture of the day when the camera was surveyed;
// nil if none was named.
func (l *looker) reference() (*sight.Plane, error) {
	if l.req.Reference == "" {
		return nil, nil
	}
	refuse := func(format string, a ...any) error {
		return failure{track.FailReply{Kind: track.NotReadable, File: l.req.Reference, Message: fmt.Sprintf(format, a...) +
			"; make the reference picture again with swathe check LAB --recording FILE --keep"}}
	}
	f, err := os.Open(l.req.Reference)
	if err != nil {
		return nil, refuse("it cannot be opened: %v", err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		return nil, refuse("it cannot be read as a PNG picture: %v", err)
	}
	g, ok := img.(*image.Gray)
	if !ok {
		return nil, refuse("it is not a grey picture as written by check")
	}
	if g.Rect.Dx() != l.set.Cam.Width || g.Rect.Dy() != l.set.Cam.Height {
		return nil, refuse("it has %d x %d px; %d x %d are needed", g.Rect.Dx(), g.Rect.Dy(), l.set.Cam.Width, l.set.Cam.Height)
	}
	return &sight.Plane{Pix: g.Pix, W: g.Rect.Dx(), H: g.Rect.Dy(), Stride: g.Stride}, nil
}

// keepReference writes a background as the room's picture of this day.
func keepReference(file string, bg *sight.Background) error {
	if math.IsInf(bg.Moved, 1) {
		return failure{track.FailReply{Kind: track.CameraMoved, File: file, Message: "the camera moved during this recording, so it cannot be the reference; use another recording"}}
	}
	g := &image.Gray{Pix: bg.Y.Pix, Stride: bg.Y.Stride, Rect: image.Rect(0, 0, bg.Y.W, bg.Y.H)}
	tmp := fmt.Sprintf("%s.%d", file, os.Getpid())
	f, err := os.Create(tmp)
	if err != nil {
		return err
	}
	if err = png.Encode(f, g); err == nil {
		err = f.Close()
	} else {
		f.Close()
	}
	if err == nil {
		err = os.Rename(tmp, file)
	}
	if err != nil {
		os.Remove(tmp)
		return fmt.Errorf("the picture of the room could not be saved: %w", err)
	}
	return nil
}
