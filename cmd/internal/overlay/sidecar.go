package overlay

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/disk"
	"swathe/report/words"
	"swathe/track"
	"swathe/track/film"
)

// Made is what became of a film.
type Made struct {
	Files   []string
	Sidecar string   // the file beside it that says what an editor wants to know
	Notes   []string // what was changed, for whoever called
	reply   track.FilmReply
}

// sidecar is what an editor wants to know of a film.
type sidecar struct {
	Film     string    `json:"film"`
	Shows    string    `json:"description"`
	Layer    string    `json:"layer,omitempty"`
	Width    int       `json:"width"`
	Height   int       `json:"height"`
	Rate     string    `json:"frame_rate"`
	Frames   int       `json:"frames"`
	Speed    float64   `json:"speed"`
	Timecode *string   `json:"start_timecode"` // null: the recording has none, or the film is not in its time
	Sources  []sources `json:"sources"`
	Blurred  bool      `json:"blurred"`
	Look     string    `json:"look_before_publishing,omitempty"`
}

// sources is the recording of one run in the film.
type sources struct {
	Run      string   `json:"run"`
	Files    []string `json:"files"`
	SHA256   []string `json:"sha256"`
	Rate     string   `json:"frame_rate"`
	Variable bool     `json:"variable_rate"`
	Timecode *string  `json:"start_timecode"` // of its first frame; null: it has none
	OffsetS  float64  `json:"offset_s"`       // in the recording, of the film's first frame
	Offset   int      `json:"offset_frames"`
	EndS     float64  `json:"end_s"` // of the last
	Handles  struct {
		Before float64 `json:"before_s"`
		After  float64 `json:"after_s"`
	} `json:"handles"`
}

// note writes the sidecar of a film and gathers what its maker must be told.
func (m *Made) note(s *film.Spec, takes []*take, o FilmOptions) error {
	text := func(v string) *string {
		if v == "" {
			return nil
		}
		return &v
	}
	goal := m.Files[0]
	if s.Overlay {
		goal = filepath.Dir(goal)
	}
	c := sidecar{Film: filepath.Base(goal), Layer: s.Layer, Width: s.Width, Height: s.Height, Rate: fraction(s.FPS), Frames: s.Frames(), Speed: s.Speed,
		Timecode: text(s.Timecode), Blurred: s.Blur, Look: m.reply.Look}
	var shows []string
	for _, t := range takes {
		shows = append(shows, t.describe(o))
		r := t.k.Run.Recording
		q := sources{Run: t.k.ID, Files: r.Files, SHA256: r.SHA256, Rate: fraction(t.rate), Timecode: text(t.paces[0].Timecode), OffsetS: t.from, Offset: t.frame(t.from), EndS: t.to}
		q.Handles.Before, q.Handles.After = t.handles[0], t.handles[1]
		for _, p := range t.paces {
			if p.Variable && !q.Variable {
				q.Variable = true
				m.Notes = append(m.Notes, fmt.Sprintf("%s: the recording has %.3g to %.3g frames a second; the film has %s, constant", t.k.ID, p.Slowest, p.Fastest, decimal(s.FPS)))
			}
		}
		c.Sources = append(c.Sources, q)
	}
	c.Shows = strings.Join(shows, " ")
	if c.Look != "" {
		m.Notes = append(m.Notes, c.Film+": look before publishing: "+c.Look)
	}
	raw, err := json.MarshalIndent(c, "", "  ")
	if err != nil {
		return err
	}
	m.Sidecar = strings.TrimSuffix(goal, filepath.Ext(goal)) + ".json"
	return disk.WriteWhole(m.Sidecar, append(raw, '\n'))
}

// describe says in words what is seen, for who cannot see it.
func (t *take) describe(o FilmOptions) string {
	k := t.k
	return o.Language.Say(fmt.Sprintf("%s, seen from the ceiling, from %s to %s of the run. %s after %s.", k.Figure.Title(),
		words.Clock(max(0, t.from-k.Figure.Trace.Run.From)), words.Clock(max(0, t.to-k.Figure.Trace.Run.From)), k.Figure.Headline(), words.Duration(k.Figure.Cover.Motion.DurationS)))
}

// fraction writes a rate exactly, as whole numbers.
func fraction(v float64) string {
	for _, d := range []int{1, 1001, 1000} {
		if n := v * float64(d); n > 0 && abs(n-float64(int(n+0.5))) < 1e-6*n {
			return fmt.Sprintf("%d/%d", int(n+0.5), d)
		}
	}
	return fmt.Sprintf("%d/1000", int(v*1000+0.5))
}

func abs(v float64) float64 { return max(v, -v) }

func decimal(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.3f", v), "0"), ".")
}
