package scene

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"swathe/geom"
)

// A short run of the demonstration's scene at a size and rate of the caller's
// choice, and a laboratory around it, for cmd/speed.sh.
func TestMakeSpeedLab(t *testing.T) {
	dir, eye := os.Getenv("SWATHE_SPEED_LAB"), os.Getenv("SWATHE_EYE")
	if dir == "" {
		t.Skip("makes recordings for cmd/speed.sh, which sets SWATHE_SPEED_LAB")
	}
	var w, h int
	var fps float64
	if _, err := fmt.Sscanf(os.Getenv("SWATHE_SPEED_SIZE"), "%dx%dx%g", &w, &h, &fps); err != nil {
		t.Fatalf("SWATHE_SPEED_SIZE is to be like 1280x720x15: %v", err)
	}
	l := newDemoLab()
	k := float64(w) / float64(l.camera.Width)
	cam := *l.camera
	cam.Width, cam.Height = w, h
	cam.Lens = geom.Lens{Fx: k * cam.Lens.Fx, Fy: k * cam.Lens.Fy, Cx: k*(cam.Lens.Cx+0.5) - 0.5, Cy: k*(cam.Lens.Cy+0.5) - 0.5, Dist: cam.Lens.Dist}
	l.camera = &cam
	l.marks = Marks(l.camera, MarkPoints(l.plans["cluttered"], 4, 4, 0.5), 0.25, 17)
	s, _ := l.scene(demoRun{"empty", "rowan", "mapped", 1, 5, 40})
	s.Timing.FPS = fps
	t.Logf("%.0f s, from the dock to the dock, so that the recording can be looped", s.Length)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := RenderTo(t.Context(), &s, EyeEncoder{Path: eye}, filepath.Join(dir, "short.mp4"), nil); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(l.yaml()), 0o644); err != nil {
		t.Fatal(err)
	}
}
