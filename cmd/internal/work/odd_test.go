package work

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/track"
)

const odd = "../../../testdata/odd"

// oddFrom is where in maple's recording the eight seconds begin from which the
// recordings of testdata/odd are made, s.
const oddFrom = 20

// Eight seconds of driving in every container, codec and guise of time and
// rotation that cameras use, and damaged: the path is the same in all, and the
// truth that of maple.
func TestOddRecordings(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("the eye is not named by SWATHE_EYE (bash cmd/test.sh builds it and names it)")
	}
	l, err := lab.Open(odd)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		trial     int
		what      string
		frames    int
		length    float64 // s
		warnings  bool
		lostShare float64 // at the most
	}{
		{1, "H.264 in mp4", 120, 8, false, 0},
		{2, "H.264 in mov", 120, 8, false, 0},
		{3, "H.264 in mkv", 120, 8, false, 0},
		{4, "MPEG-4 part 2 in avi", 120, 8, false, 0},
		{5, "VP9 in webm", 120, 8, false, 0},
		{6, "H.265 of 10 bits in mp4", 120, 8, false, 0},
		{7, "stored upside down, the rotation in the container", 120, 8, false, 0},
		{8, "frames left out unevenly", 82, 8, false, 0},
		{9, "interlaced", 120, 8, false, 0},
		{10, "split by the camera", 120, 8, false, 0},
		{11, "cut short after 3.9 s", 60, 4, true, 0.05},
		// A hole that takes two seconds and the whole picture with which the next
		// two begin. The decoder fills these with copies of the frame before the
		// hole, which must not be taken for a robot that stands.
		{13, "damaged in the middle", 90, 8, true, 0.4},
	} {
		t.Run(c.what, func(t *testing.T) {
			id := fmt.Sprintf("cluttered/siskin_mapped_%d", c.trial)
			items, err := List(l, []string{id})
			if err != nil || len(items) != 1 || items[0].Refusal != nil {
				t.Fatalf("%s: %d items, %v", id, len(items), err)
			}
			sol, err := l.Solve(l.CameraOf(items[0].Run), nil)
			if err != nil {
				t.Fatal(err)
			}
			r, err := track.Measure(context.Background(), eye, track.Job{Files: items[0].Run.Files, Gaps: items[0].Run.Gaps(),
				Start: track.Unset, End: track.Unset, Camera: sol.Camera, CameraSigma: sol.FloorSigma,
				Plan: l.Layouts["cluttered"].Plan, Robot: l.Robots["siskin"].Robot}, track.DefaultOptions(), nil)
			if err != nil {
				t.Fatal(err)
			}
			if r.Recording.Frames != c.frames {
				t.Errorf("%d frames, there are %d", r.Recording.Frames, c.frames)
			}
			if d := r.Recording.Duration - c.length; d > 0.11 || d < -0.11 {
				t.Errorf("%.2f s long, should be %.0f s", r.Recording.Duration, c.length)
			}
			if (len(r.Warnings) > 0) != c.warnings {
				t.Errorf("warnings: %q", r.Warnings)
			}
			lost := 0.0
			shifted := *r.Trace
			shifted.Samples = append([]geom.Sample(nil), r.Trace.Samples...)
			shifted.Run.From += oddFrom
			shifted.Run.To += oddFrom
			for i := range shifted.Samples {
				s := &shifted.Samples[i]
				if s.State == geom.Lost || s.State == geom.Carried {
					lost += 1 / float64(len(shifted.Samples))
				}
				s.T += oddFrom
			}
			if lost > c.lostShare {
				t.Errorf("place not known for %.2f of the time, at most %.2f", lost, c.lostShare)
			}
			rms, p95, heading, _ := againstTruth(t, &shifted, filepath.Join(maple, "truth/cluttered/siskin_mapped_1/trace.csv"))
			t.Logf("path RMS %.2f mm, bound %.0f; 95 %% within %.2f mm, bound %.0f; heading RMS %.2f degrees", 1e3*rms, 1e3*oddPath, 1e3*p95, 1e3*maple95, heading)
			if rms > oddPath || p95 > maple95 {
				t.Errorf("path RMS %.2f mm, bound %.0f; 95 %% within %.2f mm, bound %.0f", 1e3*rms, 1e3*oddPath, 1e3*p95, 1e3*maple95)
			}
		})
	}
}

// oddPath bounds the path's RMS, m: in eight seconds the background is learned
// from frames in most of which the robot covers much of the same floor, and the
// clips are compressed four times as much as maple.
const oddPath = 0.003

// swathe-eye that crashes is asked again with one thread and pictures of half the
// size, and the path is as true as these allow. While it learns the room it says
// what it is at, so that it need not be stopped for its silence.
func TestSecondAttemptMeasures(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("the eye is not named by SWATHE_EYE (bash cmd/test.sh builds it and names it)")
	}
	dir := t.TempDir()
	frail := filepath.Join(dir, "eye")
	script := fmt.Sprintf("#!/bin/sh\nif mkdir %[1]s/once 2>/dev/null; then cat >/dev/null; exit 2; fi\ntee %[1]s/asked | %[2]s \"$@\" | tee %[1]s/said\n", dir, eye)
	if err := os.WriteFile(frail, []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	l, err := lab.Open(odd)
	if err != nil {
		t.Fatal(err)
	}
	sol, err := l.Solve("ceiling", nil)
	if err != nil {
		t.Fatal(err)
	}
	r, err := track.Measure(context.Background(), frail, track.Job{Files: []string{filepath.Join(odd, "recordings/cluttered/siskin_mapped_1.mp4")},
		Start: track.Unset, End: track.Unset, Camera: sol.Camera, CameraSigma: sol.FloorSigma,
		Plan: l.Layouts["cluttered"].Plan, Robot: l.Robots["siskin"].Robot}, track.DefaultOptions(), nil)
	if err != nil {
		t.Fatal(err)
	}
	asked, _ := os.ReadFile(filepath.Join(dir, "asked"))
	if !strings.Contains(string(asked), `"halve":1`) || !strings.Contains(string(asked), `"threads":1,`) {
		t.Errorf("asked: %s", asked)
	}
	if !strings.Contains(strings.Join(r.Warnings, "\n"), "half the size") {
		t.Errorf("warnings: %q", r.Warnings)
	}
	said, _ := os.ReadFile(filepath.Join(dir, "said"))
	before, _, _ := strings.Cut(string(said), `{"open"`)
	if n := strings.Count(before, `{"doing":`); n < 4 {
		t.Errorf("it said %d times what it was doing before it knew the room:\n%s", n, before)
	}
	tr := *r.Trace
	tr.Samples = append([]geom.Sample(nil), tr.Samples...)
	tr.Run.From += oddFrom
	tr.Run.To += oddFrom
	for i := range tr.Samples {
		tr.Samples[i].T += oddFrom
	}
	rms, _, _, _ := againstTruth(t, &tr, filepath.Join(maple, "truth/cluttered/siskin_mapped_1/trace.csv"))
	t.Logf("path RMS %.2f mm with half the picture, bound %.0f", 1e3*rms, 2e3*oddPath)
	if rms > 2*oddPath {
		t.Errorf("path RMS %.2f mm, bound %.0f", 1e3*rms, 2e3*oddPath)
	}
}
