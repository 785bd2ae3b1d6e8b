package overlay

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/geom"
	"swathe/report"
	"swathe/report/words"
	"swathe/track"
	"swathe/track/film"
)

// Maker makes a film; it is track.MakeFilm with its eye.
type Maker func(ctx context.Context, spec film.Spec, told func(track.FilmReply)) ([]string, error)

// FilmOptions say what a film shows and how.
type FilmOptions struct {
	FPS     float64    // frames a second of the film; 0: the recording's, as far as editors use it
	Speed   float64    // seconds of the run in one of film
	Aspect  string     // "16:9", "9:16", or "" for the recording's own
	Width   int        // px; 0: as recorded
	Unit    words.Unit // of lengths in what is said of events
	Height  int
	From    float64 // s of the run; NaN: from its beginning
	To      float64 // NaN: to its end
	Tail    float64 // s of the path that are drawn behind the robot
	Overlay bool    // PNG files of what is painted alone
	Blur    bool    // what moves and is not the robot becomes unrecognisable
}

// DefaultFilmOptions are a film of the whole run, as recorded.
func DefaultFilmOptions() FilmOptions {
	return FilmOptions{Speed: 1, Unit: words.Metre, From: math.NaN(), To: math.NaN(), Tail: 15}
}

// exactRate is the rate that editors mean: 29.97 is 30000/1001.
func exactRate(v float64) float64 {
	if n := math.Round(v); v != n && math.Abs(v-n*1000/1001) < 0.005 {
		return n * 1000 / 1001
	}
	return v
}

// Validate says what is wrong with options, nil if nothing is.
func (o FilmOptions) Validate() error {
	switch {
	case o.FPS != 0 && !(o.FPS >= 1 && o.FPS <= 240):
		return fmt.Errorf("a film of %g frames a second can't be made: give 1 to 240, such as 25, 29.97 or 50", o.FPS)
	case !(o.Speed >= 0.1 && o.Speed <= 1000):
		return fmt.Errorf("invalid speed %g: give 1 for real time, 16 for sixteen times as fast", o.Speed)
	case o.Aspect != "" && o.Aspect != "16:9" && o.Aspect != "9:16":
		return fmt.Errorf("a film can't be cropped to %q: give 16:9 or 9:16", o.Aspect)
	case (o.Width == 0) != (o.Height == 0) || o.Width < 0 || o.Height < 0:
		return errors.New("the size of a film is its width and its height, in pixels")
	case o.From >= o.To:
		return fmt.Errorf("a film from %g s to %g s has no length", o.From, o.To)
	case !o.Unit.Valid():
		return fmt.Errorf("the unit %q is not known: give m or ft", o.Unit)
	case !(o.Tail >= 0):
		return fmt.Errorf("invalid tail of %g s", o.Tail)
	}
	return nil
}

// Adjust has the moments of all passes kept when a result is read back.
func Adjust(o *coverage.Options) {
	o.Log = true
	o.Raster, o.WidthStep = false, 0
}

// rate is the recording's own, exactly; 30 where there is none.
func rate(r *report.Run) float64 {
	if f := report.FrameRate(&r.Recording); f >= 1 && f <= 240 {
		return f
	}
	return 30
}

// Film makes a film of one run, or of two side by side, each from its own
// start, as the file out (or with Overlay the folder out).
func Film(ctx context.Context, l *lab.Lab, runs []*work.Kept, out string, make Maker, o FilmOptions, told func(track.FilmReply)) ([]string, error) {
	return produce(ctx, l, runs, out, make, o, false, told)
}

// Still writes one frame of the film, at o.From, as a PNG.
func Still(ctx context.Context, l *lab.Lab, run *work.Kept, out string, make Maker, o FilmOptions) error {
	_, err := produce(ctx, l, []*work.Kept{run}, out, make, o, true, nil)
	return err
}

func produce(ctx context.Context, l *lab.Lab, runs []*work.Kept, out string, make Maker, o FilmOptions, still bool, told func(track.FilmReply)) ([]string, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	if len(runs) < 1 || len(runs) > 2 {
		return nil, fmt.Errorf("a film shows one run, or two side by side; %d were given", len(runs))
	}
	tmp, err := os.MkdirTemp("", "swathe-film-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(tmp)
	s := film.Spec{Out: out, Speed: o.Speed, Overlay: o.Overlay, Blur: o.Blur, Still: still, FPS: exactRate(o.FPS)}
	if s.FPS == 0 {
		s.FPS = rate(runs[0].Run)
	}
	if s.Out, err = filepath.Abs(out); err != nil {
		return nil, err
	}
	for i, k := range runs {
		p, length, err := pane(l, k, filepath.Join(tmp, fmt.Sprint(i)), o, len(runs))
		if err != nil {
			return nil, err
		}
		s.Panes = append(s.Panes, p)
		s.Length = math.Max(s.Length, length)
	}
	s.Width, s.Height = size(s.Panes, o)
	for i := range s.Panes {
		p := &s.Panes[i]
		p.Crop = crop(&p.Camera, &p.Plan, float64(s.Width/len(s.Panes))/float64(s.Height))
	}
	return whole(ctx, s, make, told)
}

// pane prepares one run; log is where its passes may be written.
func pane(l *lab.Lab, k *work.Kept, log string, o FilmOptions, of int) (p film.Pane, length float64, err error) {
	if k.Camera == nil {
		return p, 0, fmt.Errorf("%s was measured from a path: it has no recording to draw on", k.ID)
	}
	items, err := work.List(l, []string{k.ID})
	if err != nil {
		return p, 0, fmt.Errorf("%s: its recording is no longer there: %w", k.ID, err)
	}
	run := items[0].Run
	tr, g := k.Figure.Trace, k.Figure.Cover.Grid
	p = film.Pane{Files: run.Files, Gaps: gaps(run.Gaps()), Camera: *k.Camera, Plan: *k.Figure.Plan, Robot: k.Figure.Body,
		X0: g.X0, Y0: g.Y0, Cell: g.Cell, Nx: g.Nx, Ny: g.Ny, Log: log, Tail: o.Tail, Start: tr.Run.From}
	from, to := 0.0, tr.Run.To-tr.Run.From
	if !math.IsNaN(o.From) {
		from = o.From
	}
	if !math.IsNaN(o.To) {
		to = math.Min(to, o.To)
	}
	// Before its beginning and behind its end the recording may go on, but not
	// before its first frame.
	p.From = math.Max(0, tr.Run.From+from)
	length = math.Max(0.04, tr.Run.From+to-p.From)
	passes := make([]film.Pass, len(g.Log))
	for i, q := range g.Log {
		passes[i] = film.Pass{Cell: q.Cell, T: q.T}
	}
	if err := film.WriteLog(log, passes); err != nil {
		return p, 0, err
	}
	for _, c := range k.Figure.Cover.Curve {
		p.Shares = append(p.Shares, film.Share{T: c.T, V: c.ReachableShare})
	}
	for _, s := range tr.Samples {
		q := film.Spot{T: s.T, X: s.X, Y: s.Y, Seen: s.State == geom.Seen || s.State == geom.Bridged}
		if math.IsNaN(s.X + s.Y) {
			q.X, q.Y, q.Seen = 0, 0, false
		}
		if h := s.Heading; !math.IsNaN(h) {
			q.H = &h
		}
		p.Path = append(p.Path, q)
	}
	for _, e := range k.Run.Events {
		if text := e.What(k.Figure.Plan, o.Unit); text != "" && e.StartS.Known() {
			end := float64(e.StartS)
			if e.EndS.Known() {
				end = float64(e.EndS)
			}
			// Long enough to be read at the film's speed.
			p.Notes = append(p.Notes, film.Note{From: float64(e.StartS), To: math.Max(end, float64(e.StartS)+3*o.Speed), Text: text})
		}
	}
	p.Title, p.Mark = k.Figure.Title(), k.Run.Mark
	if t := k.OtherTool(); t != "" {
		p.Title += ", " + t
	}
	return p, length, nil
}

// size is the film's: as asked for, or as recorded, cut to the aspect.
func size(panes []film.Pane, o FilmOptions) (w, h int) {
	w, h = o.Width, o.Height
	if w == 0 {
		c := panes[0].Camera
		w, h = c.Width, c.Height
		want := float64(w*len(panes)) / float64(h)
		switch o.Aspect {
		case "16:9":
			want = 16.0 / 9
		case "9:16":
			want = 9.0 / 16
		}
		// Two side by side share the width of one film, so that it still plays.
		if len(panes) > 1 && o.Aspect == "" {
			h /= 2
			w = int(math.Round(float64(h) * want))
		} else if float64(w)/float64(h) > want {
			w = int(math.Round(float64(h) * want))
		} else {
			h = int(math.Round(float64(w) / want))
		}
	}
	return w / (2 * len(panes)) * 2 * len(panes), h / 2 * 2
}

// roomMargin is how much of the room's size is shown round it at least.
const roomMargin = 0.03

// crop is the part of a camera's frame that a film of an aspect shows: as much
// as fits, with the room as near to its middle as the frame allows. Where such
// a part would cut the room it is wider or higher than the aspect, and bars
// fill the film.
func crop(c *geom.Camera, plan *geom.Plan, aspect float64) [4]int {
	w, h := float64(c.Width), float64(c.Height)
	if w/h > aspect {
		w = h * aspect
	} else {
		h = w / aspect
	}
	lo, hi, ok := roomBox(c, plan)
	mid := geom.Point2{X: float64(c.Width) / 2, Y: float64(c.Height) / 2}
	if ok {
		mid = lo.Add(hi).Scale(0.5)
		w, h = math.Max(w, math.Min(hi.X-lo.X, float64(c.Width))), math.Max(h, math.Min(hi.Y-lo.Y, float64(c.Height)))
	}
	iw, ih := min(c.Width, int(math.Round(w))), min(c.Height, int(math.Round(h)))
	x, y := int(math.Round(mid.X-w/2)), int(math.Round(mid.Y-h/2))
	return [4]int{max(0, min(c.Width-iw, x)), max(0, min(c.Height-ih, y)), iw, ih}
}

// roomBox is the box of the room in the picture, with its margin, cut to the
// frame; ok is false where a part of the room does not show at all.
func roomBox(c *geom.Camera, plan *geom.Plan) (lo, hi geom.Point2, ok bool) {
	cam := geom.NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre)
	lo, hi = geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for i, a := range plan.Room {
		b := plan.Room[(i+1)%len(plan.Room)]
		// Along each wall, for a lens bends it.
		for u := 0.0; u < 1; u += 0.125 {
			px, good := cam.Project(geom.Point3{X: a[0] + u*(b[0]-a[0]), Y: a[1] + u*(b[1]-a[1])})
			if !good {
				return lo, hi, false
			}
			lo.X, lo.Y = math.Min(lo.X, px.X), math.Min(lo.Y, px.Y)
			hi.X, hi.Y = math.Max(hi.X, px.X), math.Max(hi.Y, px.Y)
		}
	}
	m := hi.Sub(lo).Scale(roomMargin)
	lo, hi = lo.Sub(m), hi.Add(m)
	lo = geom.Point2{X: math.Max(0, lo.X), Y: math.Max(0, lo.Y)}
	hi = geom.Point2{X: math.Min(float64(c.Width), hi.X), Y: math.Min(float64(c.Height), hi.Y)}
	return lo, hi, hi.X > lo.X && hi.Y > lo.Y
}

// The span of a clip about its event, s.
const (
	clipBefore = 3
	clipAfter  = 2
	clipMost   = 30
)

// Clips makes a short film and a still for each event of a run, in dir. told is
// called with each file.
func Clips(ctx context.Context, l *lab.Lab, k *work.Kept, dir string, make Maker, o FilmOptions, told func(file, shows string)) error {
	if k.Run.Events == nil {
		return fmt.Errorf("%s: events were not analysed in this run; measure it with --again", k.ID)
	}
	base := k.FileName()
	start := k.Figure.Trace.Run.From
	for i, e := range k.Run.Events {
		if !e.StartS.Known() {
			continue
		}
		a := float64(e.StartS) - start
		b := a
		if e.EndS.Known() {
			b = float64(e.EndS) - start
		}
		c := o
		c.From, c.To = a-clipBefore, math.Min(math.Max(b, a)+clipAfter, a-clipBefore+clipMost)
		name := filepath.Join(dir, fmt.Sprintf("%s_%02d_%s", base, i+1, strings.ReplaceAll(e.Kind, " ", "_")))
		files, err := Film(ctx, l, []*work.Kept{k}, name+".mp4", make, c, nil)
		if err != nil {
			return fmt.Errorf("%s: event %d (%s): %w", k.ID, i+1, e.Kind, err)
		}
		c.From, c.To = (a+math.Max(a, b))/2, math.Inf(1)
		if err := Still(ctx, l, k, name+".png", make, c); err != nil {
			return fmt.Errorf("%s: event %d (%s): %w", k.ID, i+1, e.Kind, err)
		}
		if told != nil {
			shows := e.Text(k.Figure.Plan, o.Unit)
			told(files[0], shows)
			told(name+".png", shows)
		}
	}
	return nil
}
