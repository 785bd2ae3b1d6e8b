package trial

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
)

// TestTraits measures drawn recordings, each with one trait that recordings of
// real rooms have, and holds the path, the heading and the run's bounds against
// the truth. The camera is solved from noisy marks, as a tester's would be. The
// bounds are those of ACCURACY.md beside this file; -v prints its rows.
// The quick ones run always, the rest with SWATHE_LONG=1.
func TestTraits(t *testing.T) {
	long := os.Getenv("SWATHE_LONG") != ""
	quick := map[string]bool{}
	for _, n := range quickTraits {
		quick[n] = true
	}
	only := os.Getenv("SWATHE_TRAIT")
	ran := 0
	var pool []float64
	for _, tr := range scenetest.Traits() {
		if only != "" && only != tr.Name || only == "" && !long && !quick[tr.Name] {
			continue
		}
		ran++
		t.Run(tr.Name, func(t *testing.T) { pool = append(pool, checkTrait(t, tr)...) })
	}
	t.Logf("of %d coordinates %.3f lie within half a sigma, %.3f within one, %.3f within two", len(pool), Within(pool, 0.5), Within(pool, 1), Within(pool, 2))
	if ran == 0 {
		t.Fatal("no trait was measured")
	}
	if only == "" && long {
		holdsSigma(t, pool)
	}
}

// holdsSigma holds the sigmas of many recordings to the errors of their
// coordinates from both sides: of normal errors 68 % lie within one sigma and
// 95 % within two. An error bar that is too wide is wrong too.
func holdsSigma(t *testing.T, ratios []float64) {
	t.Helper()
	for _, k := range []struct{ sigmas, least, most float64 }{{1, 0.60, 0.76}, {2, 0.92, 0.98}} {
		if got := Within(ratios, k.sigmas); !(got >= k.least && got <= k.most) {
			t.Errorf("%.3f of %d coordinates lie within %.0f sigma, %.2f to %.2f should", got, len(ratios), k.sigmas, k.least, k.most)
		}
	}
}

// quickTraits take some seconds together.
var quickTraits = []string{"white_on_pale", "hidden_short", "nudged_a_little", "carried", "empty_room"}

func checkTrait(t *testing.T, tr scenetest.Trait) (ratios []float64) {
	sol := solve(t, tr)
	begun := time.Now()
	trace, s, err := measured(t, tr, sol)
	var f *track.Failure
	if tr.Expect != scenetest.ExpectPath {
		if !errors.As(err, &f) || string(f.Kind) != tr.Expect {
			t.Fatalf("want the failure %q, have %v", tr.Expect, err)
		}
		if !math.IsNaN(tr.At) && !(math.Abs(f.T-tr.At) < 5) {
			t.Errorf("it is said to happen at %.1f s, it does at %.1f s", f.T, tr.At)
		}
		t.Logf("| %s | %s | refused: %s |", tr.Name, tr.Why, f.Kind)
		return nil
	}
	if err != nil {
		t.Fatal(err)
	}
	rms := s.PathRMS
	if tr.Bounds.InSigma {
		rms = s.SeenRMS
	}
	t.Logf("| %s | %.2f | %.2f | %.2f | %.1f | %.2f | %.2f | %+.2f %+.2f | (max %.1f mm, bridged rms %.2f, texture %.2f, travel %.1f deg, carried off %d, width %.4f+-%.4f of %d %v, %s, %.0f s)", tr.Name,
		1e3*tr.Bounds.PathRMS, 1e3*rms, 1e3*s.P95, geom.Degrees(s.HeadingRMS), s.Within2Sigma, s.LostSight, s.StartErr, s.EndErr,
		1e3*s.Max, 1e3*s.PathRMS, s.TextureShare, geom.Degrees(s.TravelRMS), s.Carried, s.Width.Ratio, s.Width.Sigma, s.Width.Fits, s.Width.Used, trace.Ended, time.Since(begun).Seconds())
	t.Logf("   %s: %.2f within half a sigma, %.2f within one, %.2f within two", tr.Name, Within(s.Ratios, 0.5), Within(s.Ratios, 1), Within(s.Ratios, 2))
	for _, m := range misses(tr, s) {
		t.Error(m)
	}
	return s.Ratios
}

// measured measures a trait's recording: a trait of the encoded file through a
// file and the eye, any other without encoding it.
func measured(t *testing.T, tr scenetest.Trait, sol *geom.Solution) (*geom.Trace, Score, error) {
	t.Helper()
	robot := tr.Scene.Robot
	if tr.Entry != nil {
		robot = *tr.Entry
	}
	if tr.Encode != nil {
		eye := os.Getenv("SWATHE_EYE")
		if eye == "" {
			t.Skip("a trait of the encoded file: SWATHE_EYE must name a built swathe-eye")
		}
		ffmpeg, err := exec.LookPath("ffmpeg")
		if err != nil {
			t.Skip("a trait of the encoded file: it takes ffmpeg to make it")
		}
		enc := scenetest.FFmpegEncoder{Path: ffmpeg, Args: tr.Encode, Mark: tr.Mark}
		return RunCoded(context.Background(), &tr.Scene, robot, tr.Drive, sol, enc, eye, filepath.Join(keptIn(t), tr.Name+".mp4"), track.DefaultOptions())
	}
	var reference *sight.Plane
	if tr.Survey != tr.Scene.Camera {
		reference = surveyed(t, tr)
	}
	return run(context.Background(), &tr.Scene, robot, tr.Drive, sol, reference, track.DefaultOptions())
}

// keptIn is where encoded recordings go: a folder of the test's own, or the one
// that SWATHE_KEEP names. One that lies there is not drawn again, which is for
// whoever tries one change of the measuring after the other.
func keptIn(t *testing.T) string {
	if dir := os.Getenv("SWATHE_KEEP"); dir != "" {
		return dir
	}
	return t.TempDir()
}

// misses holds a score to a trait's bounds and tells those that it does not keep.
func misses(tr scenetest.Trait, s Score) (out []string) {
	miss := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	rms := s.PathRMS
	if tr.Bounds.InSigma {
		rms = s.SeenRMS
	}
	check := func(what string, v, bound float64) {
		if !(math.Abs(v) <= bound) {
			miss("%s: %.4g, bound %.4g", what, v, bound)
		}
	}
	check("path RMS, m", rms, tr.Bounds.PathRMS)
	if !tr.Bounds.InSigma {
		check("95 % of the positions within, m", s.P95, tr.Bounds.Path95)
	}
	if !math.IsNaN(tr.Bounds.HeadingRMS) {
		check("heading RMS, rad", s.HeadingRMS, tr.Bounds.HeadingRMS)
		if s.TextureShare < 0.9 {
			miss("the top gives the heading of %.0f %% of the run only", 100*s.TextureShare)
		}
	}
	check("start, s", s.StartErr, tr.Bounds.StartEnd)
	check("end, s", s.EndErr, tr.Bounds.StartEnd)
	if s.Width.Used {
		miss("the width was entered right, and shows %.4f of it", s.Width.Ratio)
	}
	check("share lost in sight", s.LostSight, tr.Bounds.Lost)
	if least := scenetest.LeastWithin2(s.Places, s.Survey); s.Within2Sigma < least {
		miss("%.3f of the coordinates lie within two sigma, %.3f must (%d places, %.2f of sigma squared the survey's)", s.Within2Sigma, least, s.Places, s.Survey)
	}
	return out
}

func solve(t *testing.T, tr scenetest.Trait) *geom.Solution {
	t.Helper()
	c := tr.Survey
	spec := geom.CameraSpec{Name: "ceiling", Width: c.Width, Height: c.Height, LensHeight: c.Centre.Z, Model: c.Lens.Model, Marks: tr.Marks}
	if tr.NoHeight {
		spec.LensHeight = math.NaN()
	}
	sol, err := geom.SolveCamera(spec)
	if err != nil {
		t.Fatal(err)
	}
	return sol
}

// surveyed draws the empty room as the camera showed it when its marks were
// surveyed.
func surveyed(t *testing.T, tr scenetest.Trait) *sight.Plane {
	t.Helper()
	s := tr.Scene
	s.Camera, s.NoRobot, s.Nudges, s.People, s.Length = tr.Survey, true, nil, nil, 0.1
	r, err := scene.NewRenderer(&s)
	if err != nil {
		t.Fatal(err)
	}
	w, h := s.Camera.Width, s.Camera.Height
	bgr := make([]byte, 3*w*h)
	r.Draw(0, bgr)
	p := sight.FromBGR(bgr, w, h, 0, nil)
	return &p.Y
}
