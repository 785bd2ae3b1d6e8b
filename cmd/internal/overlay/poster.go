package overlay

import (
	"context"
	"path/filepath"
	"strings"

	"swathe/cmd/internal/disk"
	"swathe/cmd/internal/work"
)

// Poster writes the frame that a film of the run ends on as the PNG out, and beside
// it what it shows in words, for readers who cannot see it. It returns the words.
func (s Studio) Poster(ctx context.Context, k *work.Kept, out string, o FilmOptions) (string, error) {
	o.Overlay, o.Layer, o.Handles = false, "", 0
	r := k.Figure.Trace.Run
	end := r.To - r.From
	if o.To < end {
		end = o.To
	}
	o.From, o.To = end, end+1
	if err := s.Still(ctx, k, out, o); err != nil {
		return "", err
	}
	shows := (&take{k: k, from: r.From, to: r.From + end}).describe(o)
	text := strings.TrimSuffix(out, filepath.Ext(out)) + ".txt"
	return shows, disk.WriteWhole(text, []byte(shows+"\n"))
}
