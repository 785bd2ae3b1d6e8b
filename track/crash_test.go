package track

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"swathe/geom"
)

// An eye that crashes is asked once more with one thread; what it did last is
// told, the recording is not blamed, and there is a report for the maintainers.
func TestCrashIsAskedAgainAndNotBlamed(t *testing.T) {
	dir := t.TempDir()
	eye := filepath.Join(dir, "eye")
	script := "#!/bin/sh\ncat >> " + dir + "/asked\nprintf '{\"open\":{\"Width\":640,\"Height\":360}}\\n{\"s\":{\"t\":1.5}}\\n'\necho 'panic: index 104 of 104' >&2\necho 'goroutine 1 [running]:' >&2\nexit 2\n"
	if err := os.WriteFile(eye, []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	job := testJob()
	job.Files, job.Camera, job.Plan = []string{"sound.mp4"}, &geom.Camera{}, &geom.Plan{}
	_, err := watch(context.Background(), eye, job, DefaultOptions(), nil)
	var f *Failure
	if !errors.As(err, &f) || f.Kind != EyeCrashed {
		t.Fatalf("an eye that crashes gives %v", err)
	}
	for _, want := range []string{"twice", "panic: index 104 of 104", "looking at the frame at 1.5 s", "fault of the program"} {
		if !strings.Contains(f.Message, want) {
			t.Errorf("%q is not said: %s", want, f.Message)
		}
	}
	if strings.Contains(f.Message, "damaged") {
		t.Errorf("the recording is blamed: %s", f.Message)
	}
	if strings.Count(f.Report, "goroutine 1") != 2 || !strings.Contains(f.Report, "640 x 360") {
		t.Errorf("the report lacks the two attempts:\n%s", f.Report)
	}
	asked, _ := os.ReadFile(filepath.Join(dir, "asked"))
	if n := strings.Count(string(asked), "\n"); n != 2 || strings.Count(string(asked), `"threads":1,`) != 1 {
		t.Errorf("asked %d times: %s", n, asked)
	}
}

// An eye that learns for longer than it may be silent gives signs of life, and is
// not stopped; one that gives none is, and what it was at is told.
func TestSignsOfLife(t *testing.T) {
	job := testJob()
	job.Files, job.Camera, job.Plan = []string{"sound.mp4"}, &geom.Camera{}, &geom.Plan{}
	opt := DefaultOptions()
	opt.Limit = 4 * time.Second
	ask := func(script string) error {
		eye := filepath.Join(t.TempDir(), "eye")
		if err := os.WriteFile(eye, []byte("#!/bin/sh\ncat > /dev/null\n"+script), 0o755); err != nil {
			t.Fatal(err)
		}
		_, err := watch(context.Background(), eye, job, opt, nil)
		return err
	}
	const say = "printf '{\"doing\":\"learning the floor\"}\\n'; "
	if err := ask("for i in 1 2 3 4 5 6 7 8; do " + say + "sleep 0.8; done\nprintf '{\"open\":{}}\\n{\"end\":{\"Duration\":1}}\\n'"); err != nil {
		t.Errorf("an eye that gives signs of life is stopped: %v", err)
	}
	opt.Limit = time.Second
	var f *Failure
	if err := ask(say + "exec sleep 20"); !errors.As(err, &f) || !strings.Contains(f.Message, "gave no output for 1 s") || !strings.Contains(f.Message, "learning the floor") {
		t.Errorf("an eye that falls silent: %v", err)
	}
}

// The second attempt is made with half the picture where the robot shows large
// enough in it, and the wish reaches the eye.
func TestSecondAttemptHalves(t *testing.T) {
	for _, c := range []struct {
		height float64 // of the lens, m
		want   string
	}{{2.5, `"halve":1`}, {12, ""}} {
		dir := t.TempDir()
		eye := filepath.Join(dir, "eye")
		if err := os.WriteFile(eye, []byte("#!/bin/sh\ncat >> "+dir+"/asked\nexit 2\n"), 0o755); err != nil {
			t.Fatal(err)
		}
		job := testJob()
		lens := geom.Lens{Fx: 500, Fy: 500, Cx: 320, Cy: 180}
		job.Camera = geom.NewCamera(640, 360, lens, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 2, Y: 1.5, Z: c.height})
		job.Files, job.Plan = []string{"sound.mp4"}, &geom.Plan{Room: geom.Ring([]geom.Point2{{}, {X: 4}, {X: 4, Y: 3}, {Y: 3}})}
		if _, err := watch(context.Background(), eye, job, DefaultOptions(), nil); err == nil {
			t.Fatal("an eye that stops with an error went well")
		}
		asked, _ := os.ReadFile(filepath.Join(dir, "asked"))
		lines := strings.Split(strings.TrimSpace(string(asked)), "\n")
		if len(lines) != 2 || strings.Contains(lines[0], "halve") || strings.Contains(lines[1], `"halve"`) != (c.want != "") || !strings.Contains(lines[1], c.want) {
			t.Errorf("a lens %g m up: asked %s", c.height, asked)
		}
	}
}
