package export

import (
	"fmt"

	"swathe/cmd/internal/work"
	"swathe/report"
	"swathe/report/figure"
)

// OfOne tells whether kind is a picture of a single run.
func OfOne(kind string) bool { return single[kind] != nil }

// Draw draws a picture of a single run.
func Draw(kind string, k *work.Kept, o figure.Options) (*figure.Picture, error) {
	draw := single[kind]
	if draw == nil {
		return nil, fmt.Errorf("there is no picture %q of a single run", kind)
	}
	return draw(k, o)
}

// DrawFirst draws the first picture of a kind that Write would make of runs.
func DrawFirst(kind string, runs []*work.Kept, all func() ([]*report.Run, error), o figure.Options) (*figure.Picture, error) {
	jobs, err := (&exporter{}).jobs(kind, runs, all)
	if err != nil {
		return nil, err
	}
	if len(jobs) == 0 {
		return nil, fmt.Errorf("there is no picture %q of these runs", kind)
	}
	return jobs[0].draw(o)
}
