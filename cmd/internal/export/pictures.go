package export

import (
	"context"
	"fmt"
	"os"

	"swathe/report/figure"
)

// Drawing is a picture that is none of a run's: the base of its file's name, and how
// it is drawn.
type Drawing struct {
	Name string
	Draw func(figure.Options) (*figure.Picture, error)
}

// Pictures writes drawings into dir, which it makes, in the formats, themes and size
// of r, with pictures.csv. Of r no more is used.
func Pictures(ctx context.Context, dir string, drawings []Drawing, r Request, told func(File)) (*Outcome, error) {
	if err := r.validLook(); err != nil {
		return nil, err
	}
	if len(r.Formats) == 0 || len(r.Themes) == 0 {
		return nil, fmt.Errorf("pictures need a format and a theme")
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("the folder for the pictures can't be made: %w. Choose another with --out", err)
	}
	e := &exporter{dir: dir, req: r, told: told, out: &Outcome{Files: []File{}, Notes: []string{}}}
	var jobs []job
	for _, d := range drawings {
		jobs = append(jobs, job{d.Name, d.Draw})
	}
	if err := e.pictures(ctx, e.sheets(jobs)); err != nil {
		return e.out, err
	}
	return e.out, e.index()
}
