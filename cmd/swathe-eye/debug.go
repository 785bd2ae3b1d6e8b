//go:build cgo && customenv

package main

import (
	"fmt"
	"path/filepath"

	"swathe/track/cv"
	"swathe/track/sight"
)

// debug writes the pictures of a look's stages if it is the one that was asked
// for: the first at or after each of the times.
func (l *looker) debug(w *sight.Watcher, pic *sight.Picture, s sight.Sighting) error {
	d := l.req.Debug
	if d == nil || len(d.At) == 0 || s.T < d.At[0] {
		return nil
	}
	for len(d.At) > 0 && s.T >= d.At[0] {
		d.At = d.At[1:]
	}
	for _, p := range w.Debug(pic, s) {
		file := filepath.Join(d.Dir, fmt.Sprintf("%08.2fs_%s.png", s.T, p.Stage))
		if err := cv.WritePNG(file, p.W, p.H, p.BGR); err != nil {
			return fmt.Errorf("no more pictures of the stages: %w", err)
		}
	}
	return nil
}
