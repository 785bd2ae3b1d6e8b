package overlay

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/coverage"
	"swathe/geom"
	"swathe/report"
	"swathe/report/language"
	"swathe/report/words"
	"swathe/track"
	"swathe/track/film"
)

// Studio makes films of a lab's runs: with swathe-eye, as track.MakeFilm and
// track.Paces call it.
type Studio struct {
	Lab  *lab.Lab
	Make func(ctx context.Context, spec film.Spec, told func(track.FilmReply)) ([]string, error)
	Pace func(ctx context.Context, files []string) ([]track.Pace, error)
}

// FilmOptions say what a film shows and how.
type FilmOptions struct {
	FPS     float64    // frames a second of the film; 0: the recording's, as far as editors use it
	Speed   float64    // seconds of the run in one of film
	Aspect  string     // "16:9", "9:16", or "" for the recording's own
	Width   int        // px; 0: as recorded
	Unit    words.Unit // of lengths in what is said of events
	Height  int
	From    float64         // s of the run; NaN: from its beginning
	To      float64         // NaN: to its end
	Tail    float64         // s of the path that are drawn behind the robot
	Handles float64         // s before and behind what is shown, as far as the recording goes
	Overlay bool            // PNG files of what is painted alone
	Layer   string          // the one thing that is painted, see-through, as long as the recording; "": a film
	Kind    string          // how a layer is kept: see film.AlphaKinds
	Blur    bool            // whoever may be a person becomes unrecognisable
	Cover   [][]geom.Point2 // px of the recording: polygons that become so for good

	Language *language.Catalogue // of the words; nil: English
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
	case !(o.Handles >= 0 && o.Handles <= 3600):
		return fmt.Errorf("invalid handles of %g s: give seconds, such as 1", o.Handles)
	case o.Layer != "" && !slices.Contains(film.Layers(), o.Layer):
		return fmt.Errorf("there is no layer %q. Give some of %s", o.Layer, strings.Join(film.Layers(), ", "))
	case o.Layer != "" && film.AlphaKinds()[o.Kind] == "":
		return fmt.Errorf("a layer can't be kept as %q: give prores, png or vp9", o.Kind)
	}
	return nil
}

// Adjust has the moments of all passes kept when a result is read back.
func Adjust(o *coverage.Options) {
	o.Log = true
	o.Raster, o.WidthStep = false, 0
}

// Film makes a film of one run, or of two side by side, each from its own
// start, as the file out (or with Overlay the folder out), and beside it its notes
// for an editor.
func (s Studio) Film(ctx context.Context, runs []*work.Kept, out string, o FilmOptions, told func(track.FilmReply)) (*Made, error) {
	return s.produce(ctx, runs, out, o, false, told)
}

// Still writes one frame of the film, at o.From, as a PNG.
func (s Studio) Still(ctx context.Context, run *work.Kept, out string, o FilmOptions) error {
	_, err := s.produce(ctx, []*work.Kept{run}, out, o, true, nil)
	return err
}

func (s Studio) produce(ctx context.Context, runs []*work.Kept, out string, o FilmOptions, still bool, told func(track.FilmReply)) (*Made, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	if len(runs) < 1 || len(runs) > 2 {
		return nil, fmt.Errorf("a film shows one run, or two side by side; %d were given", len(runs))
	}
	var takes []*take
	for _, k := range runs {
		o.Language.Keep(k.Names()...)
		t, err := s.open(ctx, k)
		if err != nil {
			return nil, err
		}
		takes = append(takes, t)
	}
	spec := film.Spec{Speed: o.Speed, Overlay: o.Overlay, Layer: o.Layer, Blur: o.Blur, Still: still, FPS: exactRate(o.FPS), Colour: takes[0].paces[0].Colour, Words: filmWords(o.Language)}
	if o.Layer != "" {
		spec.Kind = o.Kind
	}
	if spec.FPS == 0 {
		spec.FPS = takes[0].rate
	}
	var err error
	if spec.Out, err = filepath.Abs(out); err != nil {
		return nil, err
	}
	var logs [][]film.Pass
	for _, t := range takes {
		p, length := t.pane(o, spec.FPS)
		spec.Panes = append(spec.Panes, p)
		spec.Length = math.Max(spec.Length, length)
		logs = append(logs, t.passes())
	}
	if o.Speed == 1 && len(takes) == 1 && spec.FPS == takes[0].rate {
		spec.Timecode = takes[0].codeAt(takes[0].from)
	}
	spec.Width, spec.Height = size(spec.Panes, o)
	arrange(&spec, o)
	m := &Made{}
	if m.Files, m.reply, err = whole(ctx, spec, logs, s.Make, told); err != nil || still {
		return m, err
	}
	return m, m.note(&spec, takes, o)
}

// filmWords are the texts of a film in a language.
func filmWords(l *language.Catalogue) *film.Words {
	w := film.English()
	if l == nil {
		return &w
	}
	for i, p := range w.Passes {
		w.Passes[i] = l.Say(p)
	}
	// A number stands for the places, so that the sentence is looked up as a whole.
	place := func(s string) string {
		return strings.Replace(l.Say(strings.Replace(s, "%s", "7", 1)), "7", "%s", 1)
	}
	w.Cleaned, w.Share, w.Faster, w.Decimal = l.Say(w.Cleaned), place(w.Share), place(w.Faster), l.Decimal
	return &w
}

// The span of a clip about its event, s.
const (
	clipBefore = 3
	clipAfter  = 2
	clipMost   = 30
)

// Clips makes a short film and a still for each event of a run, in dir. told is
// called with each file.
func (s Studio) Clips(ctx context.Context, k *work.Kept, dir string, o FilmOptions, told func(m *Made, file, shows string)) error {
	if k.Run.Events == nil {
		return fmt.Errorf("%s: events were not analysed in this run; measure it with --again", k.ID)
	}
	base := k.FileName()
	start := k.Figure.Trace.Run.From
	for i, e := range k.Run.Events {
		if !report.Measured(e.StartS) {
			continue
		}
		a := e.StartS - start
		b := a
		if report.Measured(e.EndS) {
			b = e.EndS - start
		}
		c := o
		c.From, c.To = a-clipBefore, math.Min(math.Max(b, a)+clipAfter, a-clipBefore+clipMost)
		name := filepath.Join(dir, fmt.Sprintf("%s_%02d_%s", base, i+1, strings.ReplaceAll(e.Kind, " ", "_")))
		made, err := s.Film(ctx, []*work.Kept{k}, name+".mp4", c, nil)
		if err != nil {
			return fmt.Errorf("%s: event %d (%s): %w", k.ID, i+1, e.Kind, err)
		}
		c.From, c.To, c.Handles = (a+math.Max(a, b))/2, math.Inf(1), 0
		if err := s.Still(ctx, k, name+".png", c); err != nil {
			return fmt.Errorf("%s: event %d (%s): %w", k.ID, i+1, e.Kind, err)
		}
		if told != nil {
			shows := e.Text(k.Figure.Plan, o.Unit)
			told(made, made.Files[0], shows)
			told(nil, name+".png", shows)
		}
	}
	return nil
}
