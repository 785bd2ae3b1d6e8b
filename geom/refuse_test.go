package geom

import (
	"errors"
	"math"
	"math/rand"
	"strings"
	"testing"
)

// A wrong mark is found, named and left out; so are two that were exchanged.
func TestSolveOutliers(t *testing.T) {
	seed := int64(51)
	t.Logf("seed %d", seed)
	for i := 0; i < 4; i++ {
		rng := rand.New(rand.NewSource(seed + int64(i)))
		cam, w, h := drawCamera(rng, realLens)
		spec := drawSpec(rng, cam, w, h, 13, 0.22)
		spec.LensHeight = cam.Centre.Z
		clean, err := SolveCamera(spec)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range clean.Residuals {
			if r.Unused {
				t.Errorf("draw %d: a good mark, %d, was left out: %q", i, r.Mark+1, clean.Warnings)
			}
		}
		bad := i * 3
		one := spec
		one.Marks = append([]Mark(nil), spec.Marks...)
		one.Marks[bad].Pixel.X += 9
		sol, err := SolveCamera(one)
		if err != nil {
			t.Fatal(err)
		}
		in, _ := floorRMS(cam, sol.Camera, w, h, 0.09)
		if !sol.Residuals[bad].Unused || in > 4e-3 {
			t.Errorf("draw %d: mark %d not left out, floor off by %.1f mm; %q", i, bad+1, 1000*in, sol.Warnings)
		}
		two := spec
		two.Marks = append([]Mark(nil), spec.Marks...)
		two.Marks[8].Pixel, two.Marks[9].Pixel = two.Marks[9].Pixel, two.Marks[8].Pixel
		if sol, err = SolveCamera(two); err != nil {
			t.Fatal(err)
		}
		if !sol.Residuals[8].Unused || !sol.Residuals[9].Unused || !strings.Contains(strings.Join(sol.Warnings, "\n"), "swap the pixels of marks 9 and 10") {
			t.Errorf("draw %d: swapped marks not both left out: %q", i, sol.Warnings)
		}
	}
}

// A survey's own uncertainty lowers a mark's weight.
func TestSolveSurveySigma(t *testing.T) {
	rng := rand.New(rand.NewSource(61))
	cam, w, h := drawCamera(rng, idealLens)
	spec := drawSpec(rng, cam, w, h, 14, 0.2)
	spec.LensHeight = cam.Centre.Z
	for _, i := range []int{4, 8, 12} {
		spec.Marks[i].Floor.X += 0.02
	}
	with := spec
	with.Marks = append([]Mark(nil), spec.Marks...)
	for _, i := range []int{4, 8, 12} {
		with.Marks[i].Sigma = 0.02
	}
	o := DefaultSolveOptions()
	o.Outlier = 1e9
	a, err := SolveCameraWith(spec, o)
	if err != nil {
		t.Fatal(err)
	}
	b, err := SolveCameraWith(with, o)
	if err != nil {
		t.Fatal(err)
	}
	ea, _ := floorRMS(cam, a.Camera, w, h, 0)
	eb, _ := floorRMS(cam, b.Camera, w, h, 0)
	t.Logf("three marks off by 20 mm: floor off by %.2f mm unsaid, %.2f mm with sigma", 1000*ea, 1000*eb)
	if eb > ea/2 {
		t.Error("sigma does not help")
	}
}

func TestSolveRefuses(t *testing.T) {
	rng := rand.New(rand.NewSource(71))
	cam, w, h := drawCamera(rng, idealLens)
	good := drawSpec(rng, cam, w, h, 9, 0.2)
	good.LensHeight = cam.Centre.Z
	cases := map[string]struct {
		change func(*CameraSpec)
		says   string
	}{
		"three marks": {func(s *CameraSpec) { s.Marks = s.Marks[:3] }, "at least 4"},
		"one line": {func(s *CameraSpec) {
			for i := range s.Marks {
				s.Marks[i].Floor.Y = 2*s.Marks[i].Floor.X + 0.001*float64(i)
			}
		}, "on one line"},
		"all but one on a line": {func(s *CameraSpec) {
			for i := range s.Marks[1:] {
				s.Marks[i+1].Floor.Y = 1
			}
		}, "all marks but number 1"},
		"pixels on a line": {func(s *CameraSpec) {
			for i := range s.Marks {
				s.Marks[i].Pixel.Y = 100
			}
		}, "pixels lie on one line"},
		"mirrored x": {func(s *CameraSpec) {
			for i := range s.Marks {
				s.Marks[i].Floor.X = w - s.Marks[i].Floor.X
			}
		}, "mirrored"},
		"rows from the bottom, height not given": {func(s *CameraSpec) {
			s.LensHeight = math.NaN()
			for i := range s.Marks {
				s.Marks[i].Pixel.Y = float64(s.Height) - s.Marks[i].Pixel.Y
			}
		}, "mirrored"},
		"shuffled": {func(s *CameraSpec) {
			for i := range s.Marks {
				s.Marks[i].Pixel = good.Marks[(i*4+1)%9].Pixel
			}
		}, "check floor and pixel"},
		"NaN":             {func(s *CameraSpec) { s.Marks[2].Pixel.X = math.NaN() }, "mark 3"},
		"sigma":           {func(s *CameraSpec) { s.Marks[2].Sigma = -1 }, "mark 3"},
		"above the lens":  {func(s *CameraSpec) { s.Marks[2].Floor.Z = 5 }, "not below the lens"},
		"negative height": {func(s *CameraSpec) { s.LensHeight = -2 }, "height is -2"},
		"no frame":        {func(s *CameraSpec) { s.Width = 0 }, "size of its recordings"},
		"odd model":       {func(s *CameraSpec) { s.Model = "odd" }, "not known"},
		"lens NaN":        {func(s *CameraSpec) { s.Lens = &Lens{Fx: 1, Fy: 1, Cx: math.NaN()} }, "not finite"},
		"bad lens":        {func(s *CameraSpec) { s.Lens = &Lens{Fx: -1, Fy: 1} }, "focal lengths"},
	}
	for name, c := range cases {
		spec := good
		spec.Marks = append([]Mark(nil), good.Marks...)
		c.change(&spec)
		sol, err := SolveCamera(spec)
		var ce *CameraError
		if !errors.As(err, &ce) || !strings.Contains(err.Error(), c.says) || !strings.Contains(err.Error(), `"drawn"`) {
			t.Errorf("%s: %v, want a sentence with %q", name, err, c.says)
			if err == nil {
				t.Logf("rms %.2f px, %q", sol.MarkRMSPx, sol.Warnings)
			}
		}
	}
	out := good
	out.Marks = append(append([]Mark(nil), good.Marks...), markAt(cam, Point3{w + 0.8, h + 0.8, 0}))
	sol, err := SolveCamera(out)
	if err != nil || !strings.Contains(strings.Join(sol.Warnings, "\n"), "outside the picture") {
		t.Errorf("a mark outside the picture: %v", err)
	}
	folds := NewCamera(960, 540, Lens{Brown, 420, 420, 479.5, 269.5, [5]float64{-0.35}}, lookAt(Point3{2, 1.5, 2.7}, Point2{2, 1.4}, 0), Point3{2, 1.5, 2.7})
	fold := CameraSpec{Name: "drawn", Width: 960, Height: 540, LensHeight: 2.7, Lens: &folds.Lens}
	for _, q := range markPlaces[:8] {
		fold.Marks = append(fold.Marks, markAt(folds, Point3{1 + 2*q.X, 0.5 + 2*q.Y, 0}))
	}
	if sol, err := SolveCamera(fold); err != nil || !strings.Contains(strings.Join(sol.Warnings, "\n"), "as given, it images nothing") {
		t.Errorf("a lens that folds in the picture: %v", err)
	}
	fold.Marks[3].Pixel = Point2{5, 5}
	if _, err := SolveCamera(fold); err == nil || !strings.Contains(err.Error(), "at the pixel of mark 4") {
		t.Errorf("a mark beyond the fold: %v", err)
	}
	if _, err := SolveCameraWith(good, SolveOptions{}); err == nil {
		t.Error("options that are all 0 were taken")
	}
}
