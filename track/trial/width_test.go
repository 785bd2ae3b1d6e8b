package trial

import (
	"context"
	"fmt"
	"math"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
)

// A robot whose width is entered wrong by up to 6 % is seen all the same, its
// path is as true as ever, and it is said how wide it shows.
func TestWidthEnteredWrong(t *testing.T) {
	offs := []float64{-0.06}
	if os.Getenv("SWATHE_LONG") != "" {
		offs = []float64{-0.06, -0.04, -0.02, 0.02, 0.04, 0.06}
	}
	for _, name := range []string{"plain", "size_640x480", "white_on_pale", "square_front"} {
		tr, ok := scenetest.FindTrait(name)
		if !ok {
			t.Fatalf("there is no %q", name)
		}
		if name != "plain" && os.Getenv("SWATHE_LONG") == "" {
			continue
		}
		sol := solve(t, tr)
		for _, off := range offs {
			t.Run(fmt.Sprintf("%s%+.0f%%", name, 100*off), func(t *testing.T) {
				entry := sight.Resized(tr.Scene.Robot, 1+off)
				_, s, err := run(context.Background(), &tr.Scene, entry, tr.Drive, sol, nil, track.DefaultOptions())
				t.Logf("entered %.2f as wide: shows %.4f (+- %.4f) of that in %d frames", 1+off, s.Width.Ratio, s.Width.Sigma, s.Width.Fits)
				if err != nil {
					t.Fatal(err)
				}
				t.Logf("path RMS %.2f mm (bound 3), 95 %% %.2f mm (bound 8)", 1e3*s.PathRMS, 1e3*s.P95)
				if !(s.PathRMS <= 0.003) || !(s.P95 <= 0.008) {
					t.Errorf("path RMS %.4f m, 95 %% within %.4f m", s.PathRMS, s.P95)
				}
				if s.LostSight > 0 {
					t.Errorf("lost in sight for %.3f of the looks", s.LostSight)
				}
				// Up to 0.4 px of radius goes without a word, for light and lens bend an
				// edge by as much, and a tenth of a pixel is how well it can be measured.
				px := tr.Scene.Robot.Radius() / tr.Scene.Camera.PixelSize(geom.Point3{X: tr.Scene.Camera.Nadir().X, Y: tr.Scene.Camera.Nadir().Y, Z: tr.Scene.Robot.Height})
				untold := math.Abs(off)*px < 0.4+0.1
				if s.Width.Warning(entry) == "" && !untold || !(math.Abs(s.Width.Ratio*(1+off)-1) < 0.012) {
					t.Errorf("it shows %.4f of its entry, %.4f expected, at a radius of %.1f px, and the warning is %q", s.Width.Ratio, 1/(1+off), px, s.Width.Warning(entry))
				}
			})
		}
	}
}
