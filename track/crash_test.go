package track

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

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
	_, _, _, _, err := Watch(context.Background(), eye, job, DefaultOptions(), nil)
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
