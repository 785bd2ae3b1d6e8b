package scene

import (
	"math"
	"os"
	"testing"

	"swathe/geom"
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
		g := newGround(s.Plan, s.Robot.Height)
		for _, q := range s.Path {
			if !q.Held {
				least = min(least, g.clear(geom.Point2{X: q.X, Y: q.Y})-s.Robot.Reach())
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
			drawAt(t, s, math.Floor(s.Length*0.45))
		}
	}
	t.Logf("%d traits, %d frames, %.1f Gpx", len(names), frames, pixels/1e9)
}
