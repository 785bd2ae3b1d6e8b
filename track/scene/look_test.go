package scene

import (
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"swathe/geom"
)

// lookDown returns a pinhole camera straight above (x, y) at height h whose
// picture has y up the plan pointing up, with focal length f px.
func lookDown(w, hpx int, x, y, h, f float64) *geom.Camera {
	return geom.NewCamera(w, hpx, geom.Lens{Fx: f, Fy: f, Cx: float64(w-1) / 2, Cy: float64(hpx-1) / 2},
		[3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: x, Y: y, Z: h})
}

// savePicture writes a frame as PNG into the folder that SWATHE_PICTURES names,
// for a person to look at.
func savePicture(t testing.TB, name string, w, h int, bgr []byte) {
	dir := os.Getenv("SWATHE_PICTURES")
	if dir == "" {
		return
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for j := range h {
		for i := range w {
			k := 3 * (j*w + i)
			img.Set(i, j, color.RGBA{bgr[k+2], bgr[k+1], bgr[k], 255})
		}
	}
	f, err := os.Create(filepath.Join(dir, name+".png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, img); err != nil {
		t.Fatal(err)
	}
}

func drawAt(t testing.TB, s *Scene, times ...float64) [][]byte {
	r, err := NewRenderer(s)
	if err != nil {
		t.Fatal(err)
	}
	var out [][]byte
	for _, at := range times {
		n := int(math.Round(at * s.Timing.FPS))
		b := make([]byte, 3*s.Camera.Width*s.Camera.Height)
		r.Draw(n, b)
		savePicture(t, fmt.Sprintf("%s_%06.2f", s.Name, at), s.Camera.Width, s.Camera.Height, b)
		out = append(out, b)
	}
	return out
}
