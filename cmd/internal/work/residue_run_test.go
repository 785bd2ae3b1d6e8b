package work

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/track"
)

// TestResidueOverARun paints a stain into a recording of testdata/maple that
// shrinks whenever the robot has crossed it, and holds what measure says of each
// crossing against the discs that were painted. The recording was drawn by another
// program; ffmpeg paints and codes it anew.
func TestResidueOverARun(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	ffmpeg, err := exec.LookPath("ffmpeg")
	if eye == "" || err != nil || os.Getenv("SWATHE_LONG") == "" {
		t.Skip("runs with SWATHE_LONG=1, SWATHE_EYE and ffmpeg")
	}
	dir := t.TempDir()
	const run = "recordings/cluttered/siskin_mapped_1.mp4"
	from := filepath.Join(maple, run)
	to := filepath.Join(dir, run)
	setup, err := os.ReadFile(filepath.Join(maple, lab.SetupFile))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		t.Fatal(err)
	}
	call := func(args ...string) {
		t.Helper()
		if out, err := exec.Command(ffmpeg, append([]string{"-v", "error", "-y"}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("ffmpeg: %v: %s", err, out)
		}
	}
	look := Eye{
		Measure: func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
			return track.Measure(ctx, eye, job, track.DefaultOptions(), tell)
		},
		Residue: func(ctx context.Context, q track.ResidueRequest) (*track.ResidueReply, error) {
			return track.MeasureResidue(ctx, eye, q)
		},
	}
	find := func(text string) *found {
		t.Helper()
		if err := os.WriteFile(filepath.Join(dir, lab.SetupFile), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		l, err := lab.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		l.Settings.Uncertainty.Draws, l.Settings.Uncertainty.BudgetDraws = 20, 0
		items, err := List(l, nil)
		if err != nil {
			t.Fatal(err)
		}
		f, err := measure(context.Background(), l, items[0].Run, Options{Eye: look}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	raw, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, raw, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	bare := find(string(setup))
	if bare.left != nil {
		t.Error("a layout without patches has residue")
	}
	// A patch that the robot crosses three times or more.
	const side, radius = 0.34, 0.16
	var patch []geom.Point2
	var list []crossing
	for x := 0.2; x < 2.7 && patch == nil; x += 0.1 {
		for y := 0.2; y < 1.9; y += 0.1 {
			try := []geom.Point2{{X: x, Y: y}, {X: x + side, Y: y}, {X: x + side, Y: y + side}, {X: x, Y: y + side}}
			open := true
			for _, p := range append(try, geom.Point2{X: x + side/2, Y: y + side/2}) {
				open = open && bare.lab.Layouts["cluttered"].Plan.Open(p)
			}
			before, c := crossings(bare.track.Trace, try, radius)
			if open && !math.IsNaN(before) && len(c) >= 3 && len(c) <= 6 {
				patch, list = try, c
				break
			}
		}
	}
	if patch == nil {
		t.Fatal("the robot crosses no place often enough")
	}
	mid := geom.Centroid(patch)
	shares := []float64{1, 0.6, 0.25, 0.03, 0.02, 0.01, 0}
	const full = 0.12 // m, radius of the disc before
	args := []string{"-i", from}
	filter, last := "", "0:v"
	for k := range len(list) + 1 {
		file := filepath.Join(dir, fmt.Sprintf("stain%d.png", k))
		paintDisc(t, file, bare.camera.Camera, mid, full*math.Sqrt(shares[k]))
		args = append(args, "-i", file)
		// It shows from when the robot has gone to when it comes again.
		since := 0.0
		if k > 0 {
			since = list[k-1].t - showFor/2 - 0.05
		}
		until := bare.track.Trace.Length + 1
		shown := since + 0.2
		if k == 0 {
			// It may have stood near by at first.
			shown, _ = crossings(bare.track.Trace, patch, radius)
		}
		for _, s := range bare.track.Trace.Samples {
			if s.T > shown && geom.RingFloorDistance(patch, geom.Point2{X: s.X, Y: s.Y})-radius <= clearOf {
				until = s.T
				break
			}
		}
		if k < len(list) {
			until = math.Min(until, list[k].t)
		}
		filter += fmt.Sprintf("[%s][%d:v]overlay=format=rgb:enable='between(t,%.2f,%.2f)'[v%d];", last, k+1, since, until, k)
		last = fmt.Sprintf("v%d", k)
	}
	args = append(args, "-filter_complex", strings.TrimSuffix(filter, ";"), "-map", "["+last+"]", "-c:v", "libx264", "-crf", "16", "-preset", "fast", "-pix_fmt", "yuv420p", to)
	call(args...)
	before, _ := crossings(bare.track.Trace, patch, radius)
	call("-ss", fmt.Sprintf("%.2f", before), "-i", from, "-frames:v", "1", filepath.Join(dir, "clean.png"))
	var corners []string
	for _, p := range patch {
		corners = append(corners, fmt.Sprintf("[%.3f, %.3f]", p.X, p.Y))
	}
	text := strings.Replace(string(setup), "    obstacles:\n", "    clean_floor: clean.png\n    patches:\n      spill: {outline: ["+strings.Join(corners, ", ")+"], kind: stain}\n    obstacles:\n", 1)
	f := find(text)
	if len(f.left) != 1 || len(f.left[0].Cycles) != len(list) {
		t.Fatalf("residue %+v, want %d crossings", f.left, len(list))
	}
	r := f.left[0]
	area := math.Pi * full * full
	t.Logf("patch at %v, %d crossings; before %.1f of %.1f cm2; clean after %v s", mid, len(list), 1e4*r.BeforeM2, 1e4*area, r.CleanS)
	if e := r.BeforeM2/area - 1; !(math.Abs(e) < 0.03) {
		t.Errorf("before is %.1f %% off", 100*e)
	}
	for i, c := range r.Cycles {
		why := ""
		if c.Reason != nil {
			why = *c.Reason
		}
		t.Logf("crossing %d at %.1f s: %.3f left, painted %.3f (95 %%: %.3f to %.3f) %s", c.Cycle, c.TS, c.LeftShare, shares[i+1], c.LeftInterval95[0], c.LeftInterval95[1], why)
		if !(math.Abs(c.LeftShare-shares[i+1]) < 0.02) {
			t.Errorf("crossing %d: %.3f left, painted %.3f", c.Cycle, c.LeftShare, shares[i+1])
		}
	}
	if r.CleanCycles == nil || *r.CleanCycles != 3 {
		t.Errorf("clean after %v crossings, painted clean (3 %%) after 3", r.CleanCycles)
	}
}

// paintDisc writes a picture of the size of the camera's that is clear but for a
// brown disc on the floor, half see-through.
func paintDisc(t *testing.T, file string, cam *geom.Camera, mid geom.Point2, radius float64) {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, cam.Width, cam.Height))
	const n = 8
	for y := range cam.Height {
		for x := range cam.Width {
			p, ok := cam.Floor(geom.Point2{X: float64(x), Y: float64(y)}, 0)
			if !ok || p.Dist(mid) > radius+0.03 {
				continue
			}
			in := 0
			for k := range n * n {
				q, ok := cam.Floor(geom.Point2{X: float64(x) + (float64(k%n)+0.5)/n - 0.5, Y: float64(y) + (float64(k/n)+0.5)/n - 0.5}, 0)
				if ok && q.Dist(mid) < radius {
					in++
				}
			}
			img.SetNRGBA(x, y, color.NRGBA{90, 50, 20, uint8(150 * in / (n * n))})
		}
	}
	w, err := os.Create(file)
	if err == nil {
		err = png.Encode(w, img)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
}
