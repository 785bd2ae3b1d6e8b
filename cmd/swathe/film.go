package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/export"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/overlay"
	"swathe/cmd/internal/work"
	"swathe/track"
	"swathe/track/film"
)

// filmOptions are export's options for moving pictures.
type filmOptions struct {
	film, clips, beside bool
	size, span, tool    string
	overlay.FilmOptions
}

func (o *filmOptions) addFlags(fs *pflag.FlagSet) {
	o.FilmOptions = overlay.DefaultFilmOptions()
	fs.BoolVar(&o.film, "film", false, "a film of each run with cleaned floor, path, clock, share and events (H.264)")
	fs.BoolVar(&o.beside, "beside", false, "one film of two runs side by side, each from its own start")
	fs.BoolVar(&o.clips, "clips", false, "a short film and a still for each event")
	fs.Float64Var(&o.Speed, "speed", o.Speed, "`N` seconds of the run in one second of film")
	fs.Float64Var(&o.FPS, "fps", 0, "`N` frames a second, such as 25, 29.97 or 50; 0: as recorded")
	fs.StringVar(&o.Aspect, "crop", "", "crop to the `ASPECT` 16:9 or 9:16, instead of as recorded")
	fs.StringVar(&o.size, "film-size", "", "width and height in pixels, `WxH`, instead of as recorded")
	fs.StringVar(&o.span, "span", "", "show only the seconds `FROM,TO` of the run, such as 30,90")
	fs.Float64Var(&o.Tail, "tail", o.Tail, "draw `SECONDS` of path behind the robot")
	fs.BoolVar(&o.FilmOptions.Overlay, "alone", false, "write only the overlay, as transparent PNG files")
	fs.BoolVar(&o.Blur, "blur", false, "make people and everything else that moves unrecognisable")
}

func (o *filmOptions) wanted() bool { return o.film || o.clips || o.beside }

// read reads what is written as words.
func (o *filmOptions) read() error {
	if o.size != "" {
		w, h, err := parseSize(o.size)
		if err != nil {
			return usageError{err}
		}
		if w < 32 || h < 32 || w%2 != 0 || h%2 != 0 {
			return usage("a film of %d x %d px can't be made: give even numbers, 32 or more", w, h)
		}
		o.Width, o.Height = w, h
	}
	if o.span != "" {
		if n, err := fmt.Sscanf(strings.ReplaceAll(o.span, ",", " "), "%g %g", &o.From, &o.To); n != 2 || err != nil {
			return usage("--span is %q; it should be two numbers of seconds, such as 30,90", o.span)
		}
	}
	if err := o.FilmOptions.Validate(); err != nil {
		return usageError{err}
	}
	return nil
}

// makeFilm is track.MakeFilm with the eye, found when it is first needed.
func makeFilm(ctx context.Context, spec film.Spec, told func(track.FilmReply)) ([]string, error) {
	eye, err := track.FindEye()
	if err != nil {
		return nil, err
	}
	return track.MakeFilm(ctx, eye, spec, told)
}

// within refuses a span that a run does not have.
func (o *filmOptions) within(runs []*work.Kept) error {
	if o.span == "" {
		return nil
	}
	for _, k := range runs {
		r := k.Figure.Trace.Run
		if length := r.To - r.From; o.From < 0 || o.From >= length || o.To > length+0.05 {
			return usage("--span %s does not lie in %s, which lasts %.1f s. Give two numbers from 0 to that", o.span, k.ID, length)
		}
	}
	return nil
}

// write makes the films of the runs that ids name. Where one can't be made the others
// are made all the same, and the error is errSomeFailed.
func (o *filmOptions) write(c *call, l *lab.Lab, ids []string, out string) ([]export.File, error) {
	if o.beside && len(ids) != 2 {
		return nil, usage("--beside shows two runs; %d were named", len(ids))
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return nil, fmt.Errorf("the export folder can't be made: %w. Choose another with --out", err)
	}
	var runs []*work.Kept
	for _, id := range ids {
		k, err := work.LoadTool(c.ctx, l, id, o.tool, newEye(), overlay.Adjust)
		if err != nil {
			return nil, err
		}
		runs = append(runs, k)
	}
	if err := o.within(runs); err != nil {
		return nil, err
	}
	var failed error
	// try goes on after what fails, but not after the call was stopped.
	try := func(what string, err error) error {
		if err == nil || c.ctx.Err() != nil {
			return err
		}
		failed = errSomeFailed
		c.say("%s: not made: %v", what, err)
		return nil
	}
	var files []export.File
	told := func(file, shows string) {
		rel, err := filepath.Rel(out, file)
		if abs, e := filepath.Abs(out); e == nil {
			rel, err = filepath.Rel(abs, file)
			if !filepath.IsAbs(file) {
				rel, err = filepath.Rel(out, file)
			}
		}
		if err != nil {
			rel = file
		}
		files = append(files, export.File{Name: rel, Shows: shows})
		c.print("%s", filepath.Join(out, rel))
	}
	one := func(runs []*work.Kept, name, shows string) error {
		b := newFilmBar(c, name)
		defer b.close()
		if !o.FilmOptions.Overlay {
			name += ".mp4"
		}
		made, err := overlay.Film(c.ctx, l, runs, filepath.Join(out, name), makeFilm, o.FilmOptions, b.told)
		if err != nil {
			return err
		}
		b.close()
		if o.FilmOptions.Overlay {
			told(filepath.Dir(made[0]), fmt.Sprintf("%s: %d pictures", shows, len(made)))
			return nil
		}
		told(made[0], shows)
		return nil
	}
	for _, k := range runs {
		base := k.FileName()
		if o.film {
			if err := one([]*work.Kept{k}, base+"_film", k.Figure.Title()+": the recording with the cleaned floor painted onto it"); try(base, err) != nil {
				return files, err
			}
		}
		if o.clips {
			if k.Run.Events != nil && len(k.Run.Events) == 0 {
				c.say("%s has no events, so no clips were made.", k.ID)
			}
			if err := overlay.Clips(c.ctx, l, k, out, makeFilm, o.FilmOptions, told); try(base, err) != nil {
				return files, err
			}
		}
	}
	if o.beside {
		name := runs[0].FileName() + "_beside_" + runs[1].FileName()
		if err := one(runs, name, runs[0].Figure.Title()+" beside "+runs[1].Figure.Title()); try(name, err) != nil {
			return files, err
		}
	}
	return files, failed
}

// filmBar shows on standard error how a film grows: a line for each tenth.
type filmBar struct {
	c     *call
	name  string
	tenth int
	done  bool
}

func newFilmBar(c *call, name string) *filmBar { return &filmBar{c: c, name: name} }

func (b *filmBar) told(r track.FilmReply) {
	if r.Total == 0 || b.done {
		return
	}
	if t := 10 * r.Done / r.Total; t > b.tenth && t < 10 {
		b.tenth = t
		b.c.say("%s: %d %%", b.name, 10*t)
	}
}

func (b *filmBar) close() { b.done = true }
