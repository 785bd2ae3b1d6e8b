package figure

import (
	"os"
	"path/filepath"
	"testing"
)

// TestLook writes every picture into the folder that SWATHE_LOOK names, for
// eyes: run it after a change of looks and open what it wrote.
func TestLook(t *testing.T) {
	dir := os.Getenv("SWATHE_LOOK")
	if dir == "" {
		t.Skip("SWATHE_LOOK names no folder to write pictures into")
	}
	r := fixture(t)
	for _, theme := range []Theme{Light, Dark, Print} {
		for _, size := range [][2]int{{800, 600}, {1600, 1200}, {3000, 2000}} {
			opt := DefaultOptions()
			opt.Theme, opt.Width, opt.Height = theme, size[0], size[1]
			opt.DPI = size[0] / 8
			for _, f := range []func(Run, Options) (*Picture, error){Passes, Path, Curve} {
				p, err := f(r, opt)
				if err != nil {
					t.Fatal(err)
				}
				save(t, p, "png", filepath.Join(dir, p.Name+"_"+string(theme)+"_"+itoa(size[0])+".png"))
			}
		}
	}
}
