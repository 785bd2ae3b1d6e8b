package serve

import (
	"context"
	"fmt"
	"io"
	"math"
	"net/http"
	"os"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/export"
	"swathe/cmd/internal/overlay"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/report"
	"swathe/report/figure"
	"swathe/report/page"
	"swathe/report/words"
	"swathe/track"
)

// PictureKinds lists the pictures that Export knows.
func (d *Desk) PictureKinds() []string { return export.Kinds() }

// everyRun reads the figures of all results.
func (d *Desk) everyRun() ([]*report.Run, error) {
	ids, err := report.ResultIDs(d.results())
	var out []*report.Run
	for _, id := range ids {
		r, err := report.ReadRun(filepath.Join(d.results(), filepath.FromSlash(id)))
		if err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, err
}

// mostJoint is how many runs a picture is drawn of before it is exported.
const mostJoint = 24

// Joint draws a picture of several runs, the first that Export would.
func (d *Desk) Joint(ctx context.Context, w io.Writer, kind string, runs []string, o figure.Options) error {
	if len(runs) > mostJoint {
		return page.Refuse(http.StatusBadRequest, "A preview is drawn of up to %d runs; these are %d. Export them to see it.", mostJoint, len(runs))
	}
	var kept []*work.Kept
	for _, run := range runs {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		k, err := d.load(run)
		if err != nil {
			return err
		}
		kept = append(kept, k)
	}
	select {
	case sweeping <- struct{}{}:
		defer func() { <-sweeping }()
	case <-ctx.Done():
		return ctx.Err()
	}
	p, err := export.DrawFirst(kind, kept, d.everyRun, o)
	if err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	return p.Write(w, "png")
}

// One frame of a film, and one export, is made at a time.
var filming, exporting = make(chan struct{}, 1), make(chan struct{}, 1)

// filmStill draws a frame from the middle of the film of a run.
func (d *Desk) filmStill(ctx context.Context, w io.Writer, run string, o figure.Options) error {
	select {
	case filming <- struct{}{}:
		defer func() { <-filming }()
	case <-ctx.Done():
		return ctx.Err()
	}
	k, err := work.Load(ctx, d.reader(), run, d.eye.Eye, overlay.Adjust)
	if err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	dir, err := os.MkdirTemp("", "swathe-still-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	f := overlay.DefaultFilmOptions()
	f.Unit, f.From, f.To = o.Unit, k.Run.Run.DurationS/2, math.Inf(1)
	file := filepath.Join(dir, "still.png")
	if err := d.eye.Studio(d.reader()).Still(ctx, k, file, f); err != nil {
		return page.Refuse(http.StatusConflict, "%v.", err)
	}
	in, err := os.Open(file)
	if err != nil {
		return err
	}
	defer in.Close()
	_, err = io.Copy(w, in)
	return err
}

// Export writes pictures, tables and films into exports/<name>.
func (d *Desk) Export(ctx context.Context, a page.ExportAsk, told func(page.Progress)) (*page.Exported, error) {
	req, films, err := requestOf(a)
	if err != nil {
		return nil, page.Refuse(http.StatusBadRequest, "%v.", err)
	}
	select {
	case exporting <- struct{}{}:
	default:
		told(page.Progress{What: "waiting for another export to end"})
		select {
		case exporting <- struct{}{}:
			told(page.Progress{What: "waiting for another export to end", Share: 1})
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
	defer func() { <-exporting }()
	load := func(adjust func(*coverage.Options)) (runs []*work.Kept, err error) {
		for _, r := range a.Runs {
			if _, err := d.resultDir(r); err != nil {
				return nil, err
			}
			// Read anew: what is asked for decides what is worked out.
			k, err := work.Load(ctx, d.reader(), r, d.eye.Eye, adjust)
			if err != nil {
				return nil, page.Refuse(http.StatusConflict, "%v.", err)
			}
			runs = append(runs, k)
		}
		return runs, nil
	}
	runs, err := load(req.Adjust)
	if err != nil {
		return nil, err
	}
	dir := filepath.Join(d.dir, "exports", a.Name)
	if err := d.confined([]string{filepath.Join(d.dir, "exports"), dir}); err != nil {
		return nil, page.Refuse(http.StatusForbidden, "exports/%s leads out of the lab's folder and is not written.", a.Name)
	}
	if !a.Replace && exists(dir) {
		return nil, page.ErrTaken(a.Name, "a folder of exports")
	}
	done := &export.Outcome{}
	if req.Wanted() {
		done, err = export.Write(ctx, dir, runs, d.everyRun, req, func(f export.File) { told(page.Progress{What: f.Name, Share: 1, Written: true}) })
	}
	if err == nil && a.Films.Wanted() {
		if runs, err = load(overlay.Adjust); err == nil {
			err = d.films(ctx, runs, dir, filmOrder{a.Films, films}, told, done)
		}
	}
	if err != nil {
		return nil, page.Refuse(http.StatusInsufficientStorage, "%v.", err)
	}
	out := &page.Exported{Name: a.Name, Files: []string{}, Notes: done.Notes}
	for _, f := range done.Files {
		out.Files = append(out.Files, f.Name)
	}
	if len(out.Files) == 0 {
		return nil, page.Refuse(http.StatusUnprocessableEntity, "Nothing could be made. %s", strings.Join(done.Notes, " "))
	}
	return out, nil
}

// requestOf checks what the page asks for.
func requestOf(a page.ExportAsk) (export.Request, overlay.FilmOptions, error) {
	req, films := export.DefaultRequest(), overlay.DefaultFilmOptions()
	req.Pictures, req.Formats, req.SameScale, req.Tables, req.Page = a.Pictures, a.Formats, a.SameScale, a.Tables, a.Page
	req.Themes = nil
	for _, t := range a.Themes {
		req.Themes = append(req.Themes, figure.Theme(t))
	}
	req.Options.Width, req.Options.Height, req.Options.DPI = a.Width, a.Height, a.DPI
	req.Options.Labels, req.Options.Unit = figure.Labels(a.Labels), words.Unit(a.Unit)
	films.Unit, films.Aspect, films.Blur = req.Options.Unit, a.Films.Aspect, a.Films.Blur
	if !a.Films.Wanted() {
		return req, films, req.Validate()
	}
	films.Speed = a.Films.Speed
	if a.Films.Beside && len(a.Runs) != 2 {
		return req, films, fmt.Errorf("a film of two runs side by side needs two runs; %d are chosen", len(a.Runs))
	}
	err := films.Validate()
	if err == nil && req.Wanted() {
		err = req.Validate()
	}
	return req, films, err
}

// filmOrder is which films to make of runs, and how.
type filmOrder struct {
	page.FilmAsk
	options overlay.FilmOptions
}

// films makes films of runs into dir. What can't be made is noted and left out.
func (d *Desk) films(ctx context.Context, runs []*work.Kept, dir string, o filmOrder, told func(page.Progress), done *export.Outcome) error {
	studio := d.eye.Studio(d.reader())
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	add := func(m *overlay.Made, files ...string) {
		if m != nil {
			files = append(files, m.Sidecar)
			done.Notes = append(done.Notes, m.Notes...)
		}
		for _, f := range files {
			done.Files = append(done.Files, export.File{Name: filepath.Base(f)})
			told(page.Progress{What: filepath.Base(f), Share: 1, Written: true})
		}
	}
	try := func(name string, err error) error {
		if err != nil && ctx.Err() == nil {
			done.Notes = append(done.Notes, fmt.Sprintf("%s: not made: %v.", name, err))
			return nil
		}
		return err
	}
	one := func(name string, of []*work.Kept) error {
		told(page.Progress{What: name})
		m, err := studio.Film(ctx, of, filepath.Join(dir, name), o.options, func(r track.FilmReply) {
			if r.Total > 0 {
				told(page.Progress{What: name, Share: float64(r.Done) / float64(r.Total)})
			}
		})
		if err == nil {
			add(m, m.Files...)
		}
		told(page.Progress{What: name, Share: 1})
		return try(name, err)
	}
	for _, k := range runs {
		if o.Each {
			if err := one(k.FileName()+"_film.mp4", []*work.Kept{k}); err != nil {
				return err
			}
		}
		if o.Clips {
			clips := k.FileName() + ": clips of its events"
			told(page.Progress{What: clips})
			err := studio.Clips(ctx, k, dir, o.options, func(m *overlay.Made, file, _ string) { add(m, file) })
			told(page.Progress{What: clips, Share: 1})
			if err = try(k.FileName(), err); err != nil {
				return err
			}
		}
	}
	if o.Beside {
		return one(runs[0].FileName()+"_beside_"+runs[1].FileName()+".mp4", runs)
	}
	return nil
}
