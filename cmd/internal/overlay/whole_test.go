package overlay

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"swathe/cmd/internal/disk"
	"swathe/track"
	"swathe/track/film"
)

// A film that is stopped midway leaves what stood at its place, and nothing
// beside it; a whole one takes the place, a folder of pictures with all in it.
func TestFilmWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	put := func(file, text string) {
		t.Helper()
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	maker := func(name string, fail error) func(context.Context, film.Spec, func(track.FilmReply)) ([]string, error) {
		return func(_ context.Context, s film.Spec, _ func(track.FilmReply)) ([]string, error) {
			file := filepath.Join(s.Out, name)
			put(file, "new")
			return []string{file}, fail
		}
	}
	holds := func(file, want string) {
		t.Helper()
		if got, err := os.ReadFile(file); err != nil || string(got) != want {
			t.Errorf("%s holds %q, %v; want %q", file, got, err, want)
		}
	}
	ctx, halt := context.Background(), errors.New("stopped")
	movie, folder := filepath.Join(dir, "a.mp4"), filepath.Join(dir, "a_film")
	put(movie, "old")
	// What a killed program left goes with the next film; what one that lives makes stays.
	dead, alive := filepath.Join(dir, making+"1"), filepath.Join(dir, making+"2")
	put(filepath.Join(dead, "a.mp4"), "half")
	put(filepath.Join(alive, "a.mp4"), "half")
	release, err := disk.Claim(alive)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := whole(ctx, film.Spec{Out: movie}, nil, maker("", halt), nil); !errors.Is(err, halt) {
		t.Errorf("a film stopped midway: %v", err)
	}
	holds(movie, "old")
	if _, err := os.Stat(dead); err == nil {
		t.Error("what a killed program left is still there")
	}
	holds(filepath.Join(alive, "a.mp4"), "half")
	release()
	files, _, err := whole(ctx, film.Spec{Out: movie}, nil, maker("", nil), nil)
	if err != nil || len(files) != 1 || files[0] != movie {
		t.Errorf("made %v, %v; want %s", files, err, movie)
	}
	holds(movie, "new")

	put(filepath.Join(folder, "000007.png"), "of a longer film")
	files, _, err = whole(ctx, film.Spec{Out: folder, Overlay: true}, nil, maker("000000.png", nil), nil)
	if err != nil || len(files) != 1 || files[0] != filepath.Join(folder, "000000.png") {
		t.Errorf("made %v, %v", files, err)
	}
	if _, err := os.Stat(filepath.Join(folder, "000007.png")); !errors.Is(err, os.ErrNotExist) {
		t.Error("a picture of a longer film was left among the new ones")
	}
	put(filepath.Join(folder, "notes.txt"), "mine")
	if _, _, err := whole(ctx, film.Spec{Out: folder, Overlay: true}, nil, maker("000000.png", nil), nil); err == nil {
		t.Error("a folder with somebody's notes was replaced")
	}
	holds(filepath.Join(folder, "notes.txt"), "mine")
	if list, _ := os.ReadDir(dir); len(list) != 2 {
		t.Errorf("left behind: %v", list)
	}
}
