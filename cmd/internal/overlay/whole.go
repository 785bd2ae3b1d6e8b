package overlay

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"

	"swathe/cmd/internal/disk"
	"swathe/track"
	"swathe/track/film"
)

// whole makes the film beside its place and moves it there when it is complete:
// one that is stopped midway leaves nothing, and what stood there stays until
// then. A folder of pictures is replaced, so that none of a longer film is left.
// logs are the passes of each pane, which the maker finds in files there.
func whole(ctx context.Context, s film.Spec, logs [][]film.Pass, make func(context.Context, film.Spec, func(track.FilmReply)) ([]string, error), told func(track.FilmReply)) (files []string, last track.FilmReply, err error) {
	goal, folder := s.Out, s.Overlay && !s.Still
	if err := os.MkdirAll(filepath.Dir(goal), 0o755); err != nil {
		return nil, last, err
	}
	if folder {
		if err := onlyPictures(goal); err != nil {
			return nil, last, err
		}
	}
	hear := func(r track.FilmReply) {
		last = r
		if told != nil {
			told(r)
		}
	}
	err = replaced(goal, folder, func(at string) error {
		s.Out = at
		for i, log := range logs {
			s.Panes[i].Log = filepath.Join(filepath.Dir(at), fmt.Sprintf(".passes-%d", i))
			if err := film.WriteLog(s.Panes[i].Log, log); err != nil {
				return err
			}
		}
		files, err = make(ctx, s, hear)
		return err
	})
	if err != nil {
		return nil, last, err
	}
	for i, f := range files {
		rel, err := filepath.Rel(s.Out, f)
		if err != nil {
			return nil, last, err
		}
		files[i] = filepath.Join(goal, rel)
	}
	return files, last, nil
}

// replaced has fill make a file, or a folder, beside its place and moves it there
// when it is complete; until then what stood there stays.
func replaced(goal string, folder bool, fill func(at string) error) error {
	abandoned(filepath.Dir(goal))
	beside, err := os.MkdirTemp(filepath.Dir(goal), making)
	if err != nil {
		return fmt.Errorf("%s can't be written: %w", goal, err)
	}
	defer os.RemoveAll(beside)
	if release, err := disk.Claim(beside); err == nil {
		defer release()
	}
	at := filepath.Join(beside, filepath.Base(goal))
	if err := fill(at); err != nil {
		return err
	}
	if folder { // nothing is moved onto a folder that holds something
		if err := os.RemoveAll(goal); err != nil {
			return err
		}
	}
	return os.Rename(at, goal)
}

// making begins the name of a folder in which something is being made.
const making = ".swathe-making-"

// abandoned removes what programs left that were killed while they made something in
// dir: nobody holds its lock.
func abandoned(dir string) {
	list, _ := filepath.Glob(filepath.Join(dir, making+"*"))
	for _, f := range list {
		if release, err := disk.Claim(f); err == nil {
			os.RemoveAll(f)
			release()
		}
	}
}

// picture is the name of one of a film's pictures.
var picture = regexp.MustCompile(`^\d{6}\.png$`)

// onlyPictures refuses a folder that holds anything but pictures of a film, for it
// is going to be replaced.
func onlyPictures(dir string) error {
	list, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("the film's pictures can't be written there: %w", err)
	}
	for _, e := range list {
		if e.IsDir() || !picture.MatchString(e.Name()) {
			return fmt.Errorf("%s contains %s, which is not a film's picture, so nothing was replaced. Move it away, or choose another folder with --out", dir, e.Name())
		}
	}
	return nil
}
