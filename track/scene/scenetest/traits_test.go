package scenetest

import (
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"swathe/geom"
	"swathe/track/scene"
)

// Every trait's scene is sound and shows what its name says.
func TestTraits(t *testing.T) {
	names := map[string]bool{}
	frames, pixels := 0, 0.0
	for _, tr := range Traits() {
		s := &tr.Scene
		if names[tr.Name] {
			t.Errorf("two traits are called %s", tr.Name)
		}
		names[tr.Name] = true
		if err := s.Validate(); err != nil {
			t.Errorf("%s: %v", tr.Name, err)
			continue
		}
		truth := tr.Truth()
		hidden, longest, run := 0, 0, 0
		for i, v := range truth.Visible {
			if v < 0.5 {
				hidden++
				run++
				longest = max(longest, run)
			} else {
				run = 0
			}
			_ = i
		}
		frames += len(truth.Times)
		pixels += float64(len(truth.Times) * s.Camera.Width * s.Camera.Height)
		least := math.Inf(1)
		g := scene.NewGround(s.Plan, s.Robot.Height)
		for _, q := range s.Path {
			if !q.Held {
				least = min(least, g.Clear(geom.Point2{X: q.X, Y: q.Y})-s.Robot.Reach())
			}
		}
		t.Logf("%-20s %3.0f s %4d frames, run %6.2f..%6.2f, carried %v, hidden %3d frames, longest %.1f s, room %.0f mm, %d marks",
			tr.Name, s.Length, len(truth.Times), truth.Run.From, truth.Run.To, truth.Carried, hidden, float64(longest)/s.Timing.FPS, 1000*least, len(tr.Marks))
		if least < -0.001 && tr.Name != "carried_off" && tr.Name != "shifted_obstacle" {
			t.Errorf("%s: the robot is %.0f mm inside something", tr.Name, -1000*least)
		}
		if (tr.Expect == ExpectPath || tr.Expect == ExpectCameraMoved) && !truth.Moved {
			t.Errorf("%s: the robot does not move", tr.Name)
		}
		if len(tr.Marks) < 10 {
			t.Errorf("%s: only %d marks show", tr.Name, len(tr.Marks))
		}
		if os.Getenv("SWATHE_PICTURES") != "" && !tr.Long {
			savePictures(t, s, math.Floor(s.Length*0.45))
		}
	}
	t.Logf("%d traits, %d frames, %.1f Gpx", len(names), frames, pixels/1e9)
}

// savePictures draws a scene at some times, as PNG, into the folder that
// SWATHE_PICTURES names.
func savePictures(t testing.TB, s *scene.Scene, times ...float64) {
	r, err := scene.NewRenderer(s)
	if err != nil {
		t.Fatal(err)
	}
	w, h := s.Camera.Width, s.Camera.Height
	bgr := make([]byte, 3*w*h)
	for _, at := range times {
		r.Draw(int(math.Round(at*s.Timing.FPS)), bgr)
		img := image.NewNRGBA(image.Rect(0, 0, w, h))
		for i := range w * h {
			copy(img.Pix[4*i:], []byte{bgr[3*i+2], bgr[3*i+1], bgr[3*i], 255})
		}
		f, err := os.Create(filepath.Join(os.Getenv("SWATHE_PICTURES"), fmt.Sprintf("%s_%06.2f.png", s.Name, at)))
		if err == nil {
			err = png.Encode(f, img)
			f.Close()
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}
