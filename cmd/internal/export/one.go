package export

import (
	"fmt"

	"swathe/cmd/internal/work"
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
