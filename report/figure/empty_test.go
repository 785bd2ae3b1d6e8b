package figure

import (
	"fmt"
	"image"
	"os"
	"path/filepath"
	"testing"
)

// emptiest returns the largest share of a picture that a rectangle of plain
// page colour takes, on a raster of 100 cells each way.
func emptiest(img image.Image) float64 {
	const n = 100
	b := img.Bounds()
	page := img.At(b.Min.X, b.Min.Y)
	var ink [n][n]bool
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if img.At(x, y) != page {
				ink[(y-b.Min.Y)*n/b.Dy()][(x-b.Min.X)*n/b.Dx()] = true
			}
		}
	}
	best := 0
	var high [n]int // empty cells above, in each column
	for y := range n {
		for x := range n {
			if high[x]++; ink[y][x] {
				high[x] = 0
			}
		}
		for x := range n {
			low := high[x]
			for k := x; k < n && low > 0; k++ {
				low = min(low, high[k])
				best = max(best, low*(k-x+1))
			}
		}
	}
	return float64(best) / (n * n)
}

// No third of a sheet with several plans stays empty, whatever their number and
// the sheet's shape; sheets twice as long as wide are not asked to.
func TestNoEmptyThird(t *testing.T) {
	r := fixture(t)
	worst := 0.0
	for _, size := range [][2]int{{480, 360}, {600, 400}, {360, 480}, {400, 400}} {
		opt := DefaultOptions()
		opt.Width, opt.Height, opt.DPI = size[0], size[1], 50
		sheets := map[string]*Picture{}
		var rs []Run
		for n := 1; n <= maxRuns; n++ {
			rs = append(rs, r)
			if n < 2 {
				continue
			}
			p, err := Plate(rs, opt)
			if err != nil {
				t.Fatal(err)
			}
			sheets[fmt.Sprintf("plate of %d", n)] = p
			o := opt
			o.Slices = n
			if p, err = Path(r, o); err != nil {
				t.Fatal(err)
			}
			sheets[fmt.Sprintf("%d slices", n)] = p
		}
		for name, p := range sheets {
			e := emptiest(p.Image())
			worst = max(worst, e)
			if dir := os.Getenv("SWATHE_LOOK"); dir != "" {
				save(t, p, "png", filepath.Join(dir, fmt.Sprintf("%s_%dx%d.png", name, size[0], size[1])))
			}
			if e >= 1.0/3 {
				t.Errorf("%s at %d x %d: a rectangle of %.0f %% of the sheet is empty", name, size[0], size[1], 100*e)
			}
		}
	}
	t.Logf("largest empty rectangle: %.0f %% of a sheet (bound 33 %%)", 100*worst)
}
