package scenetest

import (
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"swathe/track/scene"
)

// Uneven frame times must come out of the file as they went in.
func TestFFmpegKeepsUnevenTimes(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("ffmpeg is not installed")
	}
	tr, _ := FindTrait("plain")
	s := tr.Scene
	s.Timing = scene.Timing{FPS: 15, Jitter: 0.01, DropShare: 0.1}
	s.Length = 4
	file := filepath.Join(t.TempDir(), "a", "uneven.mp4")
	if err := scene.RenderTo(t.Context(), &s, FFmpegEncoder{Path: ffmpeg}, file, nil); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("ffprobe", "-v", "error", "-select_streams", "v", "-show_entries", "packet=pts_time", "-of", "csv=p=0", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var got []float64
	for _, l := range strings.Fields(string(out)) {
		v, err := strconv.ParseFloat(strings.Trim(l, ","), 64)
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, v)
	}
	want := s.Frames()
	if len(got) != len(want) {
		t.Fatalf("%d frames in the file, %d drawn", len(got), len(want))
	}
	// Packets come in coding order.
	slices.Sort(got)
	for i := range got {
		if math.Abs(got[i]-want[i]) > 1e-4 {
			t.Errorf("frame %d at %.5f s, drawn for %.5f s", i, got[i], want[i])
		}
	}
	if _, err := os.Stat(file); err != nil {
		t.Fatal(err)
	}
}
