package main

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"swathe/cmd/internal/export"
	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/overlay"
	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/track"
	"swathe/track/film"
)

// filmOptions are export's options for moving pictures.
type filmOptions struct {
	film, clips, beside, poster bool
	layers                      []string
	layerFormat                 string
	size, span, tool            string
	cover                       []string
	overlay.FilmOptions
}

func (o *filmOptions) addFlags(fs *pflag.FlagSet) {
	o.FilmOptions = overlay.DefaultFilmOptions()
	fs.BoolVar(&o.film, "film", false, "a film of each run with cleaned floor, path, clock, share and events (H.264)")
	fs.BoolVar(&o.beside, "beside", false, "one film of two runs side by side, each from its own start")
	fs.BoolVar(&o.clips, "clips", false, "a short film and a still for each event")
	fs.BoolVar(&o.poster, "poster", false, "the last frame as a picture, and its description")
	fs.StringSliceVar(&o.layers, "layer", nil, "transparent films of one thing each, `KIND[,KIND...]`: passes, path, clock, share, events, title, legend, or all")
	fs.StringVar(&o.layerFormat, "layer-format", "png", "`FORMAT` of layers: png or prores (QuickTime), webm")
	fs.Float64Var(&o.Speed, "speed", o.Speed, "`N` seconds of the run in one second of film")
	fs.Float64Var(&o.FPS, "fps", 0, "`N` frames a second, such as 25, 29.97 or 50; 0: as recorded")
	fs.StringVar(&o.Aspect, "crop", "", "crop to the `ASPECT` 16:9 or 9:16 (1080x1920), instead of as recorded")
	fs.StringVar(&o.size, "film-size", "", "width and height in pixels, `WxH`, instead of as recorded")
	fs.StringVar(&o.span, "span", "", "show only the seconds `FROM,TO` of the run, such as 30,90")
	fs.Float64Var(&o.Handles, "handles", 0, "add `SECONDS` of the recording before and after")
	fs.Float64Var(&o.Tail, "tail", o.Tail, "draw `SECONDS` of path behind the robot")
	fs.BoolVar(&o.FilmOptions.Overlay, "alone", false, "write only the overlay, as transparent PNG files")
	fs.BoolVar(&o.Blur, "blur", false, "make people unrecognisable")
	fs.StringArrayVar(&o.cover, "cover", nil, "cover the polygon `X,Y,X,Y,...`, pixels of the recording, for good; may be repeated")
}

func (o *filmOptions) wanted() bool {
	return o.film || o.clips || o.beside || o.poster || len(o.layers) > 0
}

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
	for _, text := range o.cover {
		p, err := polygon(text)
		if err != nil {
			return usageError{err}
		}
		o.Cover = append(o.Cover, p)
	}
	if slices.Contains(o.layers, "all") {
		o.layers = film.Layers()
	}
	for _, l := range o.layers {
		if !slices.Contains(film.Layers(), l) {
			return usage("there is no layer %q.%s Give some of %s, or all", l, lab.DidYouMean(l, film.Layers()), strings.Join(film.Layers(), ", "))
		}
	}
	if len(o.layers) > 0 && (o.size != "" || o.Aspect != "" || o.Speed != 1 || o.FPS != 0) {
		return usage("a layer has the size and rate of its recording: leave out --film-size, --crop, --speed and --fps, or make the films with a second command")
	}
	if o.Kind = o.layerFormat; o.Kind == "webm" {
		o.Kind = "vp9"
	}
	if film.AlphaKinds()[o.Kind] == "" {
		return usage("a layer can't be written as %q: give prores, png or webm", o.layerFormat)
	}
	if err := o.FilmOptions.Validate(); err != nil {
		return usageError{err}
	}
	return nil
}

// polygon reads X,Y,X,Y,... of three corners or more.
func polygon(text string) (p []geom.Point2, err error) {
	var v []float64
	for _, f := range strings.Split(text, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(f), 64)
		if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
			return nil, fmt.Errorf("--cover is %q; it should be pixels X,Y,X,Y,... of three corners or more, such as 10,10,200,10,200,150", text)
		}
		v = append(v, x)
	}
	if len(v) < 6 || len(v)%2 != 0 {
		return nil, fmt.Errorf("--cover is %q; it should be pixels X,Y,X,Y,... of three corners or more, such as 10,10,200,10,200,150", text)
	}
	for i := 0; i < len(v); i += 2 {
		p = append(p, geom.Point2{X: v[i], Y: v[i+1]})
	}
	return p, nil
}

// studio is swathe-eye as the maker of films, found when it is first needed.
func studio(l *lab.Lab) overlay.Studio {
	return overlay.Studio{
		Lab: l,
		Make: func(ctx context.Context, spec film.Spec, told func(track.FilmReply)) ([]string, error) {
			eye, err := track.FindEye()
			if err != nil {
				return nil, err
			}
			return track.MakeFilm(ctx, eye, spec, told)
		},
		Pace: func(ctx context.Context, files []string) ([]track.Pace, error) {
			eye, err := track.FindEye()
			if err != nil {
				return nil, err
			}
			return track.Paces(ctx, eye, files)
		},
	}
}

// within refuses a span that a run does not have.
func (o *filmOptions) within(runs []*work.Kept) error {
	if o.span == "" {
		return nil
	}
	for _, k := range runs {
		r := k.Figure.Trace.Run
		if length := r.To - r.From; o.From < 0 || o.From >= length || o.To > length+0.05 {
			return usage("--span %s does not lie in %s, which lasts %.1f s. Give two numbers from 0 to that; --handles adds what lies before and after the run", o.span, k.ID, length)
		}
	}
	return nil
}

// write makes the films of the runs that ids name. Where one can't be made the others
// are made all the same, and the error is errSomeFailed.
func (o *filmOptions) write(c *call, l *lab.Lab, ids []string, out string) (*export.Outcome, error) {
	w := &filmWriter{c: c, out: out, makers: studio(l), done: &export.Outcome{Files: []export.File{}, Notes: []string{}}}
	if o.beside && len(ids) != 2 {
		return w.done, usage("--beside shows two runs; %d were named", len(ids))
	}
	var runs []*work.Kept
	for _, id := range ids {
		k, err := work.LoadTool(c.ctx, l, id, o.tool, newEye(), overlay.Adjust)
		if err != nil {
			return w.done, err
		}
		runs = append(runs, k)
	}
	if err := o.within(runs); err != nil {
		return w.done, err
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return w.done, fmt.Errorf("the export folder can't be made: %w. Choose another with --out", err)
	}
	for _, k := range runs {
		if err := w.ofRun(k, o); err != nil {
			return w.done, err
		}
	}
	if o.beside {
		name := runs[0].FileName() + "_beside_" + runs[1].FileName()
		if err := w.try(name, w.one(runs, name, runs[0].Figure.Title()+" beside "+runs[1].Figure.Title(), o.FilmOptions)); err != nil {
			return w.done, err
		}
	}
	return w.done, w.failed
}

// filmWriter makes films into a folder and keeps account of them.
type filmWriter struct {
	c      *call
	out    string
	makers overlay.Studio
	done   *export.Outcome
	failed error // errSomeFailed once a film could not be made
}

// try goes on after what fails, but not after the call was stopped.
func (w *filmWriter) try(what string, err error) error {
	if err == nil || w.c.ctx.Err() != nil {
		return err
	}
	w.failed = errSomeFailed
	w.note(fmt.Sprintf("%s: not made: %v", what, err))
	return nil
}

// note tells of something and keeps it.
func (w *filmWriter) note(what string) {
	w.done.Notes = append(w.done.Notes, what)
	w.c.say("%s", what)
}

// ofRun makes all that is of one run.
func (w *filmWriter) ofRun(k *work.Kept, o *filmOptions) error {
	base, title := k.FileName(), k.Figure.Title()
	if o.film {
		if err := w.try(base, w.one([]*work.Kept{k}, base+"_film", title+": the recording with the cleaned floor painted onto it", o.FilmOptions)); err != nil {
			return err
		}
	}
	for _, layer := range o.layers {
		one := o.FilmOptions
		one.Layer = layer
		name := base + "_layer_" + layer
		if err := w.try(name, w.one([]*work.Kept{k}, name, title+": "+layer+" alone, see-through", one)); err != nil {
			return err
		}
	}
	if o.poster {
		picture := filepath.Join(w.out, base+"_poster.png")
		shows, err := w.makers.Poster(w.c.ctx, k, picture, o.FilmOptions)
		if e := w.try(base+"_poster", err); e != nil {
			return e
		}
		if err == nil {
			w.told(picture, shows)
			w.told(filepath.Join(w.out, base+"_poster.txt"), "")
		}
	}
	if o.clips {
		if k.Run.Events != nil && len(k.Run.Events) == 0 {
			w.c.say("%s has no events, so no clips were made.", k.ID)
		}
		return w.try(base, w.makers.Clips(w.c.ctx, k, w.out, o.FilmOptions, func(m *overlay.Made, file, shows string) {
			w.told(file, shows)
			w.beside(m)
		}))
	}
	return nil
}

// one makes one film.
func (w *filmWriter) one(runs []*work.Kept, name, shows string, o overlay.FilmOptions) error {
	b := newFilmBar(w.c, name)
	defer b.close()
	if o.Layer != "" {
		name += film.AlphaKinds()[o.Kind]
	} else if !o.Overlay {
		name += ".mp4"
	}
	made, err := w.makers.Film(w.c.ctx, runs, filepath.Join(w.out, name), o, b.told)
	if err != nil {
		return err
	}
	b.close()
	if o.Overlay && o.Layer == "" {
		w.told(filepath.Dir(made.Files[0]), fmt.Sprintf("%s: %d pictures", shows, len(made.Files)))
	} else {
		w.told(made.Files[0], shows)
	}
	w.beside(made)
	return nil
}

// beside tells of what lies beside a film, and what its maker noted.
func (w *filmWriter) beside(m *overlay.Made) {
	if m == nil {
		return
	}
	w.told(m.Sidecar, "")
	for _, n := range m.Notes {
		w.note(n)
	}
}

// told keeps account of a file and prints its name, from the folder of the export.
func (w *filmWriter) told(file, shows string) {
	rel := file
	if abs, err := filepath.Abs(w.out); err == nil {
		if f, err := filepath.Abs(file); err == nil {
			if r, err := filepath.Rel(abs, f); err == nil {
				rel = r
			}
		}
	}
	w.done.Files = append(w.done.Files, export.File{Name: rel, Shows: shows})
	w.c.print("%s", filepath.Join(w.out, rel))
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
