package scene

import (
	"os"
	"os/exec"
	"testing"
)

// A lab can be kept for a closer look: SWATHE_DEMO=DIR makes it there.
func TestMakeDemo(t *testing.T) {
	dir := os.Getenv("SWATHE_DEMO")
	if dir == "" {
		t.Skip("set SWATHE_DEMO=DIR to make the demonstration's recordings there with ffmpeg")
	}
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	if err := MakeDemo(t.Context(), dir, FFmpegEncoder{Path: ffmpeg}, nil); err != nil {
		t.Fatal(err)
	}
}

func TestDemoScenes(t *testing.T) {
	l := newDemoLab()
	for _, r := range demoRuns {
		s, d := l.scene(r)
		if err := s.Validate(); err != nil {
			t.Error(err)
		}
		truth := NewTruth(&s, d)
		truth.Sweep = NewSweep(&s, s.Robot.Tools[0], truth.Run, 0.01)
		w := truth.Sweep
		t.Logf("%s/%s: %.0f s, %d frames, run %.2f to %.2f s, %.1f m, covered %.3f, redundancy %.3f, %d events, %d lanes",
			r.layout, s.Name, s.Length, len(truth.Times), truth.Run.From, truth.Run.To, w.DistanceM, w.CoveredShare(), w.Redundancy(), len(truth.Events), len(truth.Lanes))
		if w.CoveredShare() < 0.6 || s.Length > 200 {
			t.Errorf("%s/%s: covered %.3f in %.0f s; a demonstration should cover 0.6 in 200 s", r.layout, s.Name, w.CoveredShare(), s.Length)
		}
		if os.Getenv("SWATHE_PICTURES") != "" {
			s.Name = r.layout + "_" + s.Name
			drawAt(t, &s, 2, 50, s.Length-0.5)
		}
	}
}
