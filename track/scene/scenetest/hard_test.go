package scenetest

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/geom"

	"swathe/track/scene"

	"github.com/paulmach/orb"
)

// hardRun is a recording of testdata/hard: one thing that is hard, and little
// else.
type hardRun struct {
	name  string // of the file, <robot>_<phase>_<trial>
	shows func(g stage) (s scene.Scene, drive scene.Drive)
	// seen says in which frames the robot is in the picture at all; nil: in all.
	seen func(t float64) bool
}

// hardRobots are the robots of testdata/hard.
var hardRobots = []geom.Robot{
	{Name: "heron", Diameter: 0.34, Height: 0.095, Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02}}},
	// A body with a bay in its front: its hull is not its outline.
	{Name: "crake", Height: 0.09, Outline: []geom.Point2{{X: -0.16, Y: -0.17}, {X: 0.17, Y: -0.17}, {X: 0.17, Y: -0.07}, {X: 0.05, Y: -0.07},
		{X: 0.05, Y: 0.07}, {X: 0.17, Y: 0.07}, {X: 0.17, Y: 0.17}, {X: -0.16, Y: 0.17}}, Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: -0.05}}},
}

// hardRuns are the recordings of testdata/hard.
var hardRuns = []hardRun{
	{"heron_single_1", hardTour(2, 24, 2, nil), func(t float64) bool { return t >= 12 && t < 12.35 }}, // four frames
	{"heron_single_2", hardTour(2, 24, 3, func(s *scene.Scene) {
		s.Light.Balances = []scene.Balance{{Span: geom.Span{From: 9, To: 19}, Gain: scene.BGR{0.78, 1.02, 1.2}}}
	}), nil}, // a jump of white balance, and back
	{"heron_single_3", hardTour(32, 4, 2, nil), nil},                                                                                  // rests for more than 80 %
	{"crake_single_1", hardTour(2, 20, 3, nil), nil},                                                                                  // a body that is not convex
	{"heron_single_4", hardTour(2, 10, 2, func(s *scene.Scene) { s.NoRobot = true }), nil},                                            // nobody at all
	{"heron_single_5", hardTour(2, 10, 2, func(s *scene.Scene) { s.NoRobot, s.People = true, []scene.Person{hardWalk(2, 10)} }), nil}, // a person, and no robot
	{"heron_single_6", hardTour(2, 20, 3, nil), func(t float64) bool { return t < 11 }},                                               // gone from sight half-way
}

// hardTour is the stage's tour, with a change.
func hardTour(rest, drive, stand float64, change func(*scene.Scene)) func(g stage) (scene.Scene, scene.Drive) {
	return func(g stage) (scene.Scene, scene.Drive) {
		d := g.tour(rest, drive, stand)
		s := scene.DefaultScene(g.cam, &g.plan, g.robot)
		s.Path, s.Timing.FPS, s.Sensor = d.Path, 10, scene.Sensor{Noise: 0.6, Shot: 0.8, Blur: 0.35}
		s.Length = math.Floor(d.Path.End())
		if change != nil {
			change(&s)
		}
		return s, d
	}
}

// hardWalk is somebody who crosses the room.
func hardWalk(from, to float64) scene.Person {
	return scene.NewPerson(scene.Path{{T: from, Pose: geom.Pose{X: -0.6, Y: 1.1}}, {T: to, Pose: geom.Pose{X: 3.6, Y: 1.1}}})
}

// hardCamera sees the stage in small frames.
func hardCamera() *geom.Camera { return stageCamera(640, 360) }

// TestMakeHard draws the recordings of testdata/hard anew where SWATHE_HARD
// names the folder and ffmpeg is there; SWATHE_HARD_ONLY names one of them.
func TestMakeHard(t *testing.T) {
	dir, only := os.Getenv("SWATHE_HARD"), os.Getenv("SWATHE_HARD_ONLY")
	if dir == "" {
		t.Skip("SWATHE_HARD names no folder to make the recordings in")
	}
	g := newStage()
	g.cam = hardCamera()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(hardYAML(g)), 0o644); err != nil {
		t.Fatal(err)
	}
	for i, r := range hardRuns {
		if only != "" && only != r.name {
			continue
		}
		name, _, _ := strings.Cut(r.name, "_")
		for _, b := range hardRobots {
			if b.Name == name {
				g.robot = b
			}
		}
		s, _ := r.shows(g)
		s.Name, s.Seed = r.name, uint64(i+1)
		empty := s
		empty.NoRobot = true
		with, err := scene.NewRenderer(&s)
		if err != nil {
			t.Fatal(err)
		}
		without, err := scene.NewRenderer(&empty)
		if err != nil {
			t.Fatal(err)
		}
		enc := FFmpegEncoder{Path: "ffmpeg", Args: []string{"-c:v", "libx264", "-preset", "slow", "-crf", "30", "-pix_fmt", "yuv420p", "-g", "50", "-threads", "1"}}
		w, err := enc.Open(filepath.Join(dir, "recordings/stage", r.name+".mp4"), s.Camera.Width, s.Camera.Height, s.Timing.FPS)
		if err != nil {
			t.Fatal(err)
		}
		bgr := make([]byte, 3*s.Camera.Width*s.Camera.Height)
		for k, at := range with.Times() {
			draw := with
			if r.seen != nil && !r.seen(at) {
				draw = without
			}
			draw.Draw(k, bgr)
			if err := w.WriteFrame(bgr, at); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
	}
}

// hardYAML is the set-up as a tester would write it down.
func hardYAML(g stage) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# A made-up room in which each recording shows one thing that is hard.\ncameras:\n  ceiling:\n    frame: [%d, %d]\n    height: %.2f\n    marks:\n", g.cam.Width, g.cam.Height, g.cam.Centre.Z)
	for _, m := range scene.Marks(g.cam, scene.MarkPoints(&g.plan, 4, 4, 0.5), 0.2, 5) {
		fmt.Fprintf(&b, "      - {floor: [%.2f, %.2f, %.2f], pixel: [%.2f, %.2f]}\n", m.Floor.X, m.Floor.Y, m.Floor.Z, m.Pixel.X, m.Pixel.Y)
	}
	fmt.Fprintf(&b, "layouts:\n  stage:\n    camera: ceiling\n    room: %s\n    obstacles:\n", cornersOf(g.plan.Room))
	for _, o := range g.plan.Obstacles {
		fmt.Fprintf(&b, "      %s: {outline: %s, height: %g}\n", o.Name, cornersOf(o.Outline), o.Height)
	}
	b.WriteString("robots:\n")
	for _, r := range hardRobots {
		shape := fmt.Sprintf("diameter: %g", r.Diameter)
		if r.Outline != nil {
			shape = "outline: " + cornersOf(geom.Ring(r.Outline))
		}
		fmt.Fprintf(&b, "  %s:\n    %s\n    height: %g\n    tools: {%s: {width: %g, ahead: %g}}\n", r.Name, shape, r.Height, r.Tools[0].Name, r.Tools[0].Width, r.Tools[0].Ahead)
	}
	b.WriteString("settings: {cell: 0.01, draws: 20, budget_draws: 10}\n")
	return b.String()
}

// corners are those of a ring, once each.
func cornersOf(r orb.Ring) string {
	parts := make([]string, len(r)-1)
	for i, p := range r[:len(r)-1] {
		parts[i] = fmt.Sprintf("[%g, %g]", p[0], p[1])
	}
	return "[" + strings.Join(parts, ", ") + "]"
}
