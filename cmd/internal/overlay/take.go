package overlay

import (
	"context"
	"fmt"
	"math"
	"strings"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/report"
	"swathe/report/words"
	"swathe/track"
	"swathe/track/film"
)

// take is one run on its way into a film: its result and its recording.
type take struct {
	k     *work.Kept
	run   lab.Run
	paces []track.Pace // of each file
	rate  float64      // frames a second, constant
	end   float64      // s in the recording of its last frame
	from  float64      // s in the recording, set by pane: where the film begins
	to    float64      // and ends
	// handles that were asked for and had, s, before and behind
	handles [2]float64
}

func (s Studio) open(ctx context.Context, k *work.Kept) (*take, error) {
	if k.Camera == nil {
		return nil, fmt.Errorf("%s was measured from a path: it has no recording to draw on", k.ID)
	}
	items, err := work.List(s.Lab, []string{k.ID})
	if err != nil {
		return nil, fmt.Errorf("%s: its recording is no longer there: %w", k.ID, err)
	}
	t := &take{k: k, run: items[0].Run}
	if t.paces, err = s.Pace(ctx, t.run.Files); err != nil {
		return nil, fmt.Errorf("%s: %w", k.ID, err)
	}
	if t.rate = t.paces[0].FPS(); !(t.rate >= 1 && t.rate <= 240) {
		t.rate = 30
	}
	t.end = math.Max(0, k.Run.Recording.DurationS-1/t.rate)
	if p := t.paces[0]; len(t.paces) == 1 && p.Frames > 1 {
		t.end = p.Length
		if !p.Variable {
			t.end = float64(p.Frames-1) / t.rate
		}
	}
	return t, nil
}

// SourceClock reads how the recording of a run counts its frames.
func (s Studio) SourceClock(ctx context.Context, k *work.Kept) (report.SourceClock, error) {
	t, err := s.open(ctx, k)
	if err != nil {
		return report.SourceClock{}, err
	}
	return report.SourceClock{Rate: t.rate, Timecode: t.codeAt(0)}, nil
}

// frame is the recording's frame nearest to t, s in the recording.
func (t *take) frame(s float64) int { return int(math.Round(s * t.rate)) }

// codeAt is the source's time code at a time in the recording; "" where the source
// has none, or is in several files, each with its own.
func (t *take) codeAt(s float64) string {
	if len(t.paces) != 1 {
		return ""
	}
	first, err := report.ParseTimecode(t.paces[0].Timecode, t.rate)
	if err != nil {
		return ""
	}
	return report.Timecode(first+t.frame(s), t.rate)
}

// span sets which part of the recording is shown.
func (t *take) span(o FilmOptions, fps float64) {
	tr := t.k.Figure.Trace
	t.from, t.to = tr.Run.From, tr.Run.To
	if o.Layer != "" { // as long as its recording
		t.from, t.to = 0, t.end
	}
	if !math.IsNaN(o.From) {
		t.from = math.Max(0, tr.Run.From+o.From)
	}
	if !math.IsNaN(o.To) {
		t.to = math.Min(t.end, math.Min(tr.Run.To, tr.Run.From+o.To))
	}
	a, b := math.Max(0, t.from-o.Handles), math.Min(t.end, t.to+o.Handles)
	if o.Speed == 1 && fps == t.rate { // frame by frame
		a, b = float64(t.frame(a))/t.rate, float64(t.frame(b))/t.rate
	}
	t.handles = [2]float64{t.from - a, b - t.to}
	t.from, t.to = a, b
}

// pane is the run's part of a film of fps frames a second, and its length, s.
func (t *take) pane(o FilmOptions, fps float64) (p film.Pane, length float64) {
	k := t.k
	tr, g := k.Figure.Trace, k.Figure.Cover.Grid
	t.span(o, fps)
	p = film.Pane{Files: t.run.Files, Gaps: gaps(t.run.Gaps()), Camera: *k.Camera, Plan: *k.Figure.Plan, Robot: k.Figure.Body,
		X0: g.X0, Y0: g.Y0, Cell: g.Cell, Nx: g.Nx, Ny: g.Ny, Tail: o.Tail, Start: tr.Run.From, From: t.from, Cover: o.Cover,
		End: tr.Run.To, Final: strings.ReplaceAll(o.Language.Say(k.Figure.Reached()), words.NB, " ")}
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
		if text := e.What(k.Figure.Plan, o.Unit); text != "" && report.Measured(e.StartS) {
			end := e.StartS
			if report.Measured(e.EndS) {
				end = e.EndS
			}
			// Long enough to be read at the film's speed.
			p.Notes = append(p.Notes, film.Note{From: e.StartS, To: math.Max(end, e.StartS+3*o.Speed), Text: o.Language.Say(text)})
		}
	}
	p.Title, p.Mark = o.Language.Say(k.Figure.Title()), o.Language.Say(k.Run.Mark)
	if other := k.OtherTool(); other != "" {
		p.Title += ", " + other
	}
	return p, math.Max(1/t.rate, t.to-t.from)
}

func (t *take) passes() []film.Pass {
	g := t.k.Figure.Cover.Grid
	out := make([]film.Pass, len(g.Log))
	for i, q := range g.Log {
		out[i] = film.Pass{Cell: q.Cell, T: q.T}
	}
	return out
}
