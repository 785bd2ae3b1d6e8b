//go:build cgo && customenv

package main

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"

	"swathe/track"
	"swathe/track/sight"
)

// reference reads the room's picture of the day when the camera was surveyed;
// nil if there is none, or it is of another size.
func (l *looker) reference() *sight.Plane {
	if l.req.Reference == "" {
		return nil
	}
	f, err := os.Open(l.req.Reference)
	if err != nil {
		return nil
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		return nil
	}
	g, ok := img.(*image.Gray)
	if !ok || g.Rect.Dx() != l.set.Cam.Width || g.Rect.Dy() != l.set.Cam.Height {
		return nil
	}
	return &sight.Plane{Pix: g.Pix, W: g.Rect.Dx(), H: g.Rect.Dy(), Stride: g.Stride}
}

// keepReference writes the background as the reference if there is none yet:
// the first recording after a survey shows where the camera was then.
func (l *looker) keepReference(bg *sight.Background) error {
	if l.req.Reference == "" || math.IsInf(bg.Moved, 1) {
		return nil
	}
	if _, err := os.Stat(l.req.Reference); err == nil {
		return nil
	}
	g := &image.Gray{Pix: bg.Y.Pix, Stride: bg.Y.Stride, Rect: image.Rect(0, 0, bg.Y.W, bg.Y.H)}
	var b bytes.Buffer
	if err := png.Encode(&b, g); err != nil {
		return err
	}
	err := os.MkdirAll(filepath.Dir(l.req.Reference), 0o755)
	if err == nil {
		tmp := fmt.Sprintf("%s.%d", l.req.Reference, os.Getpid())
		if err = os.WriteFile(tmp, b.Bytes(), 0o644); err == nil {
			err = os.Rename(tmp, l.req.Reference)
		}
	}
	if err != nil {
		return l.out.Encode(track.Reply{Warning: "the picture of the room by which a later move of the camera would show could not be kept: " + err.Error()})
	}
	return nil
}
