package figure

import (
	"fmt"
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
	for _, theme := range []Theme{Light, Dark, Print} {
		for _, size := range [][2]int{{800, 600}, {1600, 1200}, {3000, 2000}} {
			opt := DefaultOptions()
			opt.Theme, opt.Width, opt.Height = theme, size[0], size[1]
			opt.DPI = size[0] / 8
			for _, p := range gallery(t, opt) {
				save(t, p, "png", filepath.Join(dir, fmt.Sprintf("%s_%s_%d.png", p.Name, theme, size[0])))
			}
		}
	}
}
