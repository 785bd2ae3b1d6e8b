package geom

import (
	"math"
	"math/rand"
	"os"
	"sort"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

// Fourteen marks with 0.22 px of noise settle the floor to a millimetre at the
// height of a robot's top, and the solution says so itself; and the default
// options are better than holding the centre or leaving out k2.
func TestSolveAccuracy(t *testing.T) {
	const z = 0.09
	draws := 17
	if os.Getenv("SWATHE_LONG") == "1" {
		draws = 150
	}
	variants := map[string]func(*SolveOptions){
		"default":     func(*SolveOptions) {},
		"centre held": func(o *SolveOptions) { o.Centre, o.Tangential = 0, 0 },
		"k1 only":     func(o *SolveOptions) { o.K2 = 0 },
	}
	bound := map[kindOf]float64{idealLens: 1e-3, realLens: 1.2e-3, tilted: 1.3e-3, fisheyed: 1e-3}
	for kind := idealLens; kind <= fisheyed; kind++ {
		got := map[string]float64{}
		for name, change := range inOrder(variants) {
			if kind == fisheyed && name != "default" {
				continue
			}
			o := DefaultSolveOptions()
			change(&o)
			var in2, co2, sg2 float64
			var each []float64
			for i := 0; i < draws; i++ {
				rng := rand.New(rand.NewSource(int64(1000*int(kind) + i)))
				cam, w, h := drawCamera(rng, kind)
				spec := drawSpec(rng, cam, w, h, 14, 0.22)
				spec.LensHeight = cam.Centre.Z + 0.003*rng.NormFloat64()
				sol, err := SolveCameraWith(spec, o)
				if err != nil {
					t.Fatal(err)
				}
				in, co := floorRMS(cam, sol.Camera, w, h, z)
				in2 += in * in / float64(draws)
				co2 += co * co / float64(draws)
				each = append(each, in)
				s := sol.FloorSigma(Point3{0.3 * w, 0.8 * h, z})
				sg2 += 2 * s * s / float64(draws)
			}
			sort.Float64s(each)
			got[name] = math.Sqrt(in2)
			t.Logf("kind %d, %s: between the marks %.2f mm (median %.2f), corners %.2f mm; sigma says %.2f mm", kind, name,
				1000*math.Sqrt(in2), 1000*each[draws/2], 1000*math.Sqrt(co2), 1000*math.Sqrt(sg2))
			if name != "default" {
				continue
			}
			if med := each[draws/2]; med > bound[kind] {
				t.Errorf("kind %d: median floor error %.2f mm, bound %.2f", kind, 1000*med, 1000*bound[kind])
			}
			if r := math.Sqrt(in2 / sg2); r > 1.5 || r < 0.5 {
				t.Errorf("kind %d: error is %.2f of what the solution says", kind, r)
			}
		}
		if kind == realLens || kind == tilted {
			if got["default"] >= got["centre held"] {
				t.Errorf("kind %d: holding the centre is better", kind)
			}
		}
		if kind < fisheyed && got["default"] >= got["k1 only"] {
			t.Errorf("kind %d: leaving out k2 is better", kind)
		}
	}
}

// No better answer lies near the truth: solving from there finds none of lower
// cost, whatever the number of marks, lens given or not.
func TestSolveFindsLeast(t *testing.T) {
	seed := int64(101)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for kind := idealLens; kind <= fisheyed; kind++ {
		for _, n := range []int{4, 5, 7, 14} {
			for i := 0; i < 6; i++ {
				cam, w, h := drawCamera(rng, kind)
				spec := drawSpec(rng, cam, w, h, n, 0.5)
				if i%2 == 0 {
					spec.Lens = &cam.Lens
				}
				if i%3 == 0 {
					spec.LensHeight = cam.Centre.Z
				}
				o := DefaultSolveOptions()
				o.Outlier = 1e9
				sol, err := SolveCameraWith(spec, o)
				if err != nil {
					t.Fatal(err)
				}
				got, err := sol.s.run(sol.s.values(sol.x), math.Inf(1))
				if err != nil {
					t.Fatal(err)
				}
				s := newSolver(sol.s.spec, o)
				s.r0, s.noise = cam.R, sol.s.noise
				v := s.base
				v[pX], v[pY], v[pZ] = cam.Centre.X, cam.Centre.Y, cam.Centre.Z
				v[pFocal], v[pK1], v[pK2] = math.Log(cam.Lens.Fx), cam.Lens.Dist[0], cam.Lens.Dist[1]
				near, err := s.run(v, math.Inf(1))
				if err != nil {
					t.Fatal(err)
				}
				if got.Cost > near.Cost*1.0001+1e-4 {
					t.Errorf("kind %d, %d marks, lens given %v: cost %.4f, from the truth %.4f", kind, n, spec.Lens != nil, got.Cost, near.Cost)
				}
			}
		}
	}
}

// FloorSigma holds: of many surveys of the same camera, the errors have the
// spread that each solution states. Perturbed draws have it too.
func TestSolveSigma(t *testing.T) {
	rng := rand.New(rand.NewSource(21))
	cam, w, h := drawCamera(rng, idealLens)
	p := Point3{0.25 * w, 0.8 * h, 0.09}
	var e2, s2, d2 float64
	const draws = 100
	for i := 0; i < draws; i++ {
		spec := drawSpec(rng, cam, w, h, 12, 0.3)
		spec.LensHeight = cam.Centre.Z + 0.005*rng.NormFloat64()
		o := DefaultSolveOptions()
		o.Centre, o.Tangential = 0, 0 // this camera has neither
		sol, err := SolveCameraWith(spec, o)
		if err != nil {
			t.Fatal(err)
		}
		e := floorError(cam, sol.Camera, p)
		e2 += e * e / 2 / draws
		s := sol.FloorSigma(p)
		s2 += s * s / draws
		for k := 0; k < 4; k++ {
			d := floorError(sol.Camera, sol.Perturbed(rng), p)
			d2 += d * d / 2 / draws / 4
		}
	}
	t.Logf("one axis: errors %.3f mm, FloorSigma %.3f mm, Perturbed %.3f mm", 1000*math.Sqrt(e2), 1000*math.Sqrt(s2), 1000*math.Sqrt(d2))
	// 200 squares have a relative standard error of 10 %, their root 5 %.
	if r := math.Sqrt(e2 / s2); r < 0.8 || r > 1.2 {
		t.Errorf("errors are %.2f of FloorSigma", r)
	}
	if r := math.Sqrt(d2 / s2); r < 0.9 || r > 1.1 {
		t.Errorf("Perturbed is %.2f of FloorSigma", r)
	}
}

// With a lens that is given and pixels without noise, the pose comes out
// exactly, from every camera, planar and raised marks alike.
func TestSolvePoseExact(t *testing.T) {
	for name, cam := range inOrder(testCameras()) {
		for _, raised := range []float64{0, 0.8} {
			spec := CameraSpec{Name: name, Width: cam.Width, Height: cam.Height, Model: cam.Lens.Model, Lens: &cam.Lens, LensHeight: math.NaN()}
			for i, q := range markPlaces[:9] {
				z := raised * float64(i%3) / 2
				spec.Marks = append(spec.Marks, markAt(cam, Point3{cam.Centre.X - 1.2 + 2.4*q.X, cam.Centre.Y - 0.8 + 2*q.Y, z}))
			}
			sol, err := SolveCamera(spec)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			c := sol.Camera.Centre
			if d := math.Hypot(math.Hypot(c.X-cam.Centre.X, c.Y-cam.Centre.Y), c.Z-cam.Centre.Z); d > 1e-6 || sol.MarkRMSPx > 1e-6 {
				t.Errorf("%s, raised %g: off by %g m, %g px", name, raised, d, sol.MarkRMSPx)
			}
		}
	}
}

// Raised marks settle height and focal length without a height; without them
// a camera that looks straight down says that it can't, and a height mends it.
func TestSolveHeight(t *testing.T) {
	seed := int64(31)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	cam := NewCamera(1280, 720, Lens{Brown, 640, 640, 639.5, 359.5, [5]float64{-0.1, 0.02}},
		lookAt(Point3{2, 1.5, 2.8}, Point2{2, 1.5}, 0), Point3{2, 1.5, 2.8})
	flat := drawSpec(rng, cam, 4, 3, 12, 0.2)
	sol, err := SolveCamera(flat)
	if err != nil {
		t.Fatal(err)
	}
	if !hasPrefix(sol.NotSolved, "height and focal length:") || !hasPrefix(sol.Warnings, "measure the height of the lens") || hasPrefix(sol.Solved, "focal length") {
		t.Errorf("straight down, no height: solved %q, not %q, warnings %q", sol.Solved, sol.NotSolved, sol.Warnings)
	}
	// What lies on the floor is right all the same.
	if in, _ := floorRMS(cam, sol.Camera, 4, 3, 0); in > 1.5e-3 {
		t.Errorf("floor off by %.2f mm", in*1000)
	}
	given := flat
	given.LensHeight = 2.8
	raised := flat
	raised.Marks = append([]Mark(nil), flat.Marks...)
	for i := 0; i < 4; i++ {
		f := flat.Marks[8+i].Floor
		raised.Marks[8+i] = markAt(cam, Point3{f.X, f.Y, 0.8})
	}
	wrong := raised
	wrong.LensHeight = 3.1
	if sol, err = SolveCamera(wrong); err != nil || !hasPrefix(sol.Warnings, "measure the height again") {
		t.Errorf("a height that the raised marks contradict: %v, %q", err, sol.Warnings)
	}
	for name, spec := range map[string]CameraSpec{"given": given, "raised": raised} {
		sol, err := SolveCamera(spec)
		if err != nil {
			t.Fatal(err)
		}
		in, _ := floorRMS(cam, sol.Camera, 4, 3, 0.095)
		t.Logf("%s: height %.4f m, at 95 mm off by %.2f mm; solved %q, not %q", name, sol.Camera.Centre.Z, 1000*in, sol.Solved, sol.NotSolved)
		if in > 1.5e-3 || math.Abs(sol.Camera.Centre.Z-2.8) > 0.02 || !hasPrefix(sol.Solved, "focal length") {
			t.Errorf("%s: height %.4f m, off by %.2f mm", name, sol.Camera.Centre.Z, 1000*in)
		}
		if len(sol.Warnings) > 0 {
			t.Errorf("%s: %q", name, sol.Warnings)
		}
	}
}

func hasPrefix(list []string, p string) bool {
	for _, s := range list {
		if strings.HasPrefix(s, p) {
			return true
		}
	}
	return false
}

// Four marks give a camera, tilted by up to 40 degrees too, that fits them and
// says how little it knows.
func TestSolveFourMarks(t *testing.T) {
	seed := int64(41)
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	for deg := 0.0; deg <= 40; deg += 10 {
		at := Point3{2, 1.5 - 2.6*math.Tan(Radians(deg)), 2.6}
		cam := NewCamera(1280, 720, Lens{Brown, 700, 700, 639.5, 359.5, [5]float64{-0.05, 0.01}}, lookAt(at, Point2{2, 1.5}, 0), at)
		spec := drawSpec(rng, cam, 4, 3, 4, 0.2)
		spec.LensHeight = 2.6
		sol, err := SolveCamera(spec)
		if err != nil {
			t.Errorf("%g degrees: %v", deg, err)
			continue
		}
		mid := floorError(cam, sol.Camera, Point3{2, 1.5, 0.09})
		said := sol.FloorSigma(Point3{2, 1.5, 0.09})
		t.Logf("%g degrees: middle off by %.1f mm, said %.1f mm; marks %.3f px; leave-one-out %g", deg, 1000*mid, 1000*said, sol.MarkRMSPx, sol.LeaveOneOutM)
		if sol.MarkRMSPx > 1 || mid > 4*said || !math.IsNaN(sol.LeaveOneOutM) || !hasPrefix(sol.Warnings, "survey a dozen marks: with 4") {
			t.Errorf("%g degrees: %+v", deg, sol.Warnings)
		}
		// The lens given, four marks are good for a few millimetres.
		spec.Lens = &cam.Lens
		if sol, err = SolveCamera(spec); err != nil {
			t.Fatal(err)
		}
		if in, _ := floorRMS(cam, sol.Camera, 4, 3, 0.09); in > 4e-3 {
			t.Errorf("%g degrees, lens given: off by %.1f mm", deg, 1000*in)
		}
	}
}

// The recordings of testdata: their marks carry 0.2 to 0.25 px of noise and
// their tape 1 to 2 mm.
func TestSolveMaple(t *testing.T) {
	data, err := os.ReadFile("../testdata/maple/lab.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var lab struct {
		Cameras map[string]struct {
			Frame  [2]int
			Height float64
			Marks  []struct{ Floor, Pixel []float64 }
			Tapes  []struct {
				Pixels [2][2]float64
				Length float64
			}
		}
	}
	if err := yaml.Unmarshal(data, &lab); err != nil {
		t.Fatal(err)
	}
	c := lab.Cameras["ceiling"]
	spec := CameraSpec{Name: "ceiling", Width: c.Frame[0], Height: c.Frame[1], LensHeight: c.Height}
	for _, m := range c.Marks {
		spec.Marks = append(spec.Marks, Mark{Floor: Point3{m.Floor[0], m.Floor[1], 0}, Pixel: Point2{m.Pixel[0], m.Pixel[1]}})
	}
	for _, p := range c.Tapes {
		spec.Tapes = append(spec.Tapes, Tape{Point2{p.Pixels[0][0], p.Pixels[0][1]}, Point2{p.Pixels[1][0], p.Pixels[1][1]}, p.Length})
	}
	sol, err := SolveCamera(spec)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("marks %.3f px, %.2f mm; leave-one-out %.2f mm; noise %.3f px; tape %.2f mm; solved %q; not %q; warnings %q",
		sol.MarkRMSPx, 1000*sol.MarkRMSM, 1000*sol.LeaveOneOutM, sol.Noise, 1000*sol.TapeErrors[0], sol.Solved, sol.NotSolved, sol.Warnings)
	if sol.MarkRMSPx > 0.35 || sol.LeaveOneOutM > 3e-3 || math.Abs(sol.TapeErrors[0]) > 3e-3 || len(sol.Warnings) > 0 {
		t.Error("the marks do not fit as they should")
	}
}

func BenchmarkSolveCamera(b *testing.B) {
	rng := rand.New(rand.NewSource(1))
	cam, w, h := drawCamera(rng, realLens)
	spec := drawSpec(rng, cam, w, h, 14, 0.2)
	spec.LensHeight = cam.Centre.Z
	for b.Loop() {
		if _, err := SolveCamera(spec); err != nil {
			b.Fatal(err)
		}
	}
}
