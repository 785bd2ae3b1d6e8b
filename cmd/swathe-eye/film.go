//go:build cgo && customenv

package main

import (
	"time"

	"swathe/track"
	"swathe/track/cv"
	"swathe/track/film"
)

// makeFilm paints what was measured onto a recording, and says how it goes.
func makeFilm(spec film.Spec) (track.FilmReply, error) {
	last := time.Now()
	total := 0
	files, look, err := cv.Film(spec, func(done, n int) {
		total = n
		if time.Since(last) > 200*time.Millisecond {
			last = time.Now()
			emit(track.FilmReply{Done: done, Total: n})
		}
	})
	return track.FilmReply{Done: total, Total: total, Files: files, Look: look}, err
}

// pace says when the frames of each file are shown.
func pace(files []string) error {
	out := []track.Pace{}
	for _, f := range files {
		p, err := cv.ReadPace(f)
		if err != nil {
			return err
		}
		out = append(out, p)
	}
	return emit(out)
}
