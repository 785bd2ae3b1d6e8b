package scenetest

import (
	"math"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track/scene"
)

func TestCourses(t *testing.T) {
	outcomes := map[string]string{"slipper": "pushed", "cup": "grazed", "cord": "run over", "sock": "carried along", "toy": "avoided", "brick": "untested", "weight": "stopped it", "taken": "avoided", "laid": "avoided"}
	kinds := map[string]int{}
	for _, c := range Courses() {
		if err := c.Scene.Validate(); err != nil {
			t.Errorf("%s: %v", c.Name, err)
			continue
		}
		truth := c.Truth()
		t.Logf("%s: %.0f s, run %.2f..%.2f, %d lanes", c.Name, c.Scene.Length, truth.Run.From, truth.Run.To, len(truth.Lanes))
		for _, e := range truth.Events {
			kinds[e.Kind]++
			t.Logf("    %-8s %6.2f..%6.2f s at (%.2f, %.2f): %.3f %s", e.Kind, e.Start, e.End, e.X, e.Y, e.Size, e.Unit)
		}
		for _, p := range c.TestObjects {
			t.Logf("    %-8s %-14s clearance %.0f mm, moved %.1f mm, first contact %.2f s, %d contacts", p.Name, p.Outcome, 1000*p.ClearanceM, 1000*p.MovedM, p.FirstContact, len(p.Contacts))
			if p.Outcome != outcomes[p.Name] {
				t.Errorf("%s: %s came out as %q, want %q", c.Name, p.Name, p.Outcome, outcomes[p.Name])
			}
		}
		least := math.Inf(1)
		gr := scene.NewGround(c.Scene.Plan, c.Scene.Robot.Height)
		for _, q := range c.Scene.Path {
			least = min(least, gr.Clear(geom.Point2{X: q.X, Y: q.Y})-c.Scene.Robot.Reach())
		}
		if least < 0 && c.Name != "outside" {
			t.Errorf("%s: the robot is %.1f mm inside something", c.Name, -1000*least)
		}
		if os.Getenv("SWATHE_PICTURES") != "" && !c.Long {
			savePictures(t, &c.Scene, math.Floor(c.Scene.Length*0.55), math.Floor(c.Scene.Length))
		}
	}
	for _, k := range []string{"spin", "pause", "stuck", "contact", "revisit", "edge_retry", "swerve", "dock", "undock", "outside"} {
		if kinds[k] == 0 {
			t.Errorf("no course has a %s", k)
		}
	}
}

// A box that a disc pushes squarely moves by what the disc goes on after contact.
func TestPushMovesByTheAdvance(t *testing.T) {
	robot := geom.Robot{Diameter: 0.34, Height: 0.1}
	path := scene.Path{{Pose: geom.Pose{X: 1, Y: 1}}}
	for i := 1; i <= 500; i++ {
		path = append(path, scene.TimedPose{T: float64(i) * 0.01, Pose: geom.Pose{X: 1 + 0.5*float64(i)/500, Y: 1}})
	}
	way := scene.Push(path, robot, scene.Box(0.1, 0.1), geom.Pose{X: 1.4, Y: 1})
	end := way[len(way)-1]
	// Contact at x = 1.4 - 0.05 - 0.17 = 1.18; the disc ends at 1.5.
	t.Logf("moved %.2f mm, want 320", 1000*(end.X-1.4))
	if math.Abs(end.X-1.4-0.32) > 0.001 || math.Abs(end.Y-1) > 0.002 {
		t.Errorf("it lies at (%.4f, %.4f), want (1.72, 1)", end.X, end.Y)
	}
}
