package trial

import (
	"math"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
)

// A camera that is knocked by some pixels among the few samples of a short
// recording is followed, whatever the floor; one that is not is not.
func TestKnockedAmongFewSamples(t *testing.T) {
	long := os.Getenv("SWATHE_LONG") != ""
	for i, floor := range []scene.Surface{
		{Kind: scene.Plain, Color: scene.BGR{150, 150, 150}, Contrast: 0.3, Seed: 4},
		{Kind: scene.Planks, Color: scene.BGR{142, 158, 170}, Contrast: 0.5, Seed: 3},
		{Kind: scene.Tiles, Color: scene.BGR{196, 202, 206}, Contrast: 0.3, Seed: 5},
		{Kind: scene.Carpet, Color: scene.BGR{120, 128, 140}, Contrast: 0.9, Seed: 5},
	} {
		for _, px := range []float64{2.5, 0, 1, 4.3, 6} {
			if !long && (i > 0 || px != 2.5) {
				continue
			}
			for _, flat := range []bool{false, true} {
				tr, _ := scenetest.FindTrait("plain")
				s := tr.Scene
				s.Look.Floor = floor
				c := s.Camera
				a := px / c.Lens.Fx
				knocked := scene.Overhead(c.Width, c.Height, c.Lens, scene.Hang{Centre: c.Centre, Tilt: geom.Radians(4) + a*0.8, Toward: geom.Radians(60), Turn: geom.Radians(-1.5) + a*0.5})
				if flat {
					l := c.Lens
					l.Cx, l.Cy = l.Cx+0.8*px, l.Cy-0.6*px
					knocked = geom.NewCamera(c.Width, c.Height, l, c.R, c.Centre)
				}
				s.Nudges = []scene.Nudge{{From: 14, Camera: knocked}}
				r, err := scene.NewRenderer(&s)
				if err != nil {
					t.Fatal(err)
				}
				times := r.Times()
				bgr := make([]byte, 3*c.Width*c.Height)
				var samples []*sight.Picture
				for k := range 6 {
					i := k * len(times) / 6
					r.Draw(i, bgr)
					samples = append(samples, sight.FromBGR(bgr, c.Width, c.Height, times[i], nil))
				}
				set := sight.NewSetup(c, s.Plan, s.Robot, 0)
				bg := sight.Learn(&set, samples, nil)
				t.Logf("%s, knocked by %.1f px (flat %v): found %.2f px", floor.Kind, px, flat, bg.Moved)
				// A knock turns the camera, so that the edges move more than the
				// middle; a shifted picture is taken from the middle of its swing.
				want := 1.14 * px
				if flat {
					want = px / 2
				}
				if !(math.Abs(bg.Moved-want) < 0.3+0.05*px) && !(flat && math.Abs(bg.Moved-px) < 0.3+0.05*px) {
					t.Errorf("%s, knocked by %.1f px (flat %v): found %.2f px, not %.2f", floor.Kind, px, flat, bg.Moved, want)
				}
			}
		}
	}
}
