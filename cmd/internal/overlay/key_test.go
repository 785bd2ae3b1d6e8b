package overlay

import (
	"testing"

	"swathe/report/figure"
	"swathe/track/film"
)

// A colour means the same in films and in pictures.
func TestOneColourKey(t *testing.T) {
	for i, c := range figure.PassColours {
		if f := film.Colours[i]; f[0] != c.R || f[1] != c.G || f[2] != c.B {
			t.Errorf("%s: #%02x%02x%02x in pictures, #%02x%02x%02x in films", figure.PassWords[i], c.R, c.G, c.B, f[0], f[1], f[2])
		}
	}
}
