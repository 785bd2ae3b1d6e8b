package scene

import (
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"swathe/geom"
)

func litteredPlan() *geom.Plan {
	return &geom.Plan{Room: rect(0, 0, 3.4, 2.6),
		Obstacles: []geom.Piece{
			{Name: "sofa", Outline: rect(2.3, 1.9, 3.4, 2.6), Height: 0.45},
			{Name: "pouf", Outline: rect(1.0, 1.1, 1.35, 1.4), Height: 0.35},
		},
		Overhead: []geom.Piece{{Name: "table", Outline: rect(2.2, 0.7, 2.7, 1.1), Height: 0.6}},
		Dock:     &geom.Pose{X: 0.2, Y: 0.55},
	}
}

// The body never enters a wall or an obstacle, whatever the run and the seed,
// nor does it jump, or go faster than it may.
func TestDrivesStayOnTheFloor(t *testing.T) {
	plan := litteredPlan()
	robot := geom.Robot{Diameter: 0.33, Height: 0.09, Tools: []geom.Tool{{Width: 0.17}}}
	for seed := uint64(1); seed <= 4; seed++ {
		for name, run := range map[string]func(*geom.Plan, geom.Robot, RunOptions) Drive{"mapping": MappingRun, "mapped": MappedRun} {
			o := DefaultRunOptions(robot)
			o.Pilot.Seed = seed
			d := run(plan, robot, o)
			g := NewGround(plan, robot.Height)
			least, fastest, length := math.Inf(1), 0.0, 0.0
			for i, q := range d.Path {
				least = math.Min(least, g.Clear(geom.Point2{X: q.X, Y: q.Y})-0.165)
				if i > 0 {
					dt := q.T - d.Path[i-1].T
					step := math.Hypot(q.X-d.Path[i-1].X, q.Y-d.Path[i-1].Y)
					fastest = math.Max(fastest, step/dt)
					length += step
				}
			}
			t.Logf("seed %d %s: %.0f s, %.1f m, %d lanes, least room %.1f mm, fastest %.2f m/s", seed, name, d.Path.End(), length, len(d.Lanes), 1000*least, fastest)
			if least < 0 || fastest > 0.4 || len(d.Lanes) < 10 {
				t.Errorf("seed %d %s: least room %.1f mm (want >= 0), fastest %.2f m/s (want <= 0.4), %d lanes (want >= 10)", seed, name, 1000*least, fastest, len(d.Lanes))
			}
		}
	}
}

// An encoder that fails says what it said, and one that is missing too.
func TestEncoderFailures(t *testing.T) {
	s := bare(lookDown(96, 64, 2, 1.5, 2.5, 60), geom.Robot{Diameter: 0.3, Height: 0.1}, geom.Pose{X: 2, Y: 1.5})
	s.Length = 20
	dir := t.TempDir()
	script := filepath.Join(dir, "fails")
	if err := os.WriteFile(script, []byte("#!/bin/sh\nhead -c 100 >/dev/null\necho the disk is full >&2\nexit 3\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	err := RenderTo(t.Context(), &s, EyeEncoder{Path: script}, filepath.Join(dir, "a.mp4"), nil)
	if err == nil || !strings.Contains(err.Error(), "the disk is full") {
		t.Errorf("got %v; want what the encoder said", err)
	}
	err = RenderTo(t.Context(), &s, EyeEncoder{Path: filepath.Join(dir, "none")}, filepath.Join(dir, "a.mp4"), nil)
	if err == nil || !strings.Contains(err.Error(), "cannot start the encoder") {
		t.Errorf("got %v; want that the encoder cannot be started", err)
	}
}

// The eye is told the size, the rate and the file, and given every byte, each
// frame behind its time (8 bytes).
func TestEyeEncoder(t *testing.T) {
	s := bare(lookDown(96, 64, 2, 1.5, 2.5, 60), geom.Robot{Diameter: 0.3, Height: 0.1}, geom.Pose{X: 2, Y: 1.5})
	s.Length = 2
	dir := t.TempDir()
	script := filepath.Join(dir, "eye")
	if err := os.WriteFile(script, []byte("#!/bin/sh\necho \"$@\" >"+dir+"/args\nwc -c >"+dir+"/bytes\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := RenderTo(t.Context(), &s, EyeEncoder{Path: script}, filepath.Join(dir, "new", "a.mp4"), nil); err != nil {
		t.Fatal(err)
	}
	args, _ := os.ReadFile(filepath.Join(dir, "args"))
	if want := "encode --timed --width 96 --height 64 --fps 10 " + filepath.Join(dir, "new", "a.mp4"); strings.TrimSpace(string(args)) != want {
		t.Errorf("called with %q, want %q", args, want)
	}
	n, _ := os.ReadFile(filepath.Join(dir, "bytes"))
	if want := strconv.Itoa(21 * (8 + 96*64*3)); strings.TrimSpace(string(n)) != want {
		t.Errorf("given %s bytes, want %s", n, want)
	}
}
