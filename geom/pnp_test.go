package geom

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// The pose from marks, the lens given, against OpenCV's solvePnP of the same
// marks (testdata/pnp: how they were made): both seek the least squares of the
// reprojection, so they must find the same camera. Marks with an equal survey
// sigma weigh alike in pixels only where the camera's scale is the same, so none
// is given.
func TestPoseAgainstSolvePnP(t *testing.T) {
	raw, err := os.ReadFile("testdata/pnp/solvepnp.json")
	if err != nil {
		t.Fatal(err)
	}
	var cases []struct {
		Fx, Fy, Cx, Cy float64
		Distortion     [5]float64
		Marks          [][5]float64
		Rotation       [3][3]float64
		Centre         [3]float64
	}
	if err := json.Unmarshal(raw, &cases); err != nil {
		t.Fatal(err)
	}
	if len(cases) < 10 {
		t.Fatalf("only %d cases", len(cases))
	}
	worstM, worstDeg := 0.0, 0.0
	for i, c := range cases {
		lens := Lens{Model: Brown, Fx: c.Fx, Fy: c.Fy, Cx: c.Cx, Cy: c.Cy, Dist: c.Distortion}
		spec := CameraSpec{Name: "ceiling", Width: 1280, Height: 720, LensHeight: math.NaN(), Lens: &lens}
		for _, m := range c.Marks {
			spec.Marks = append(spec.Marks, Mark{Floor: Point3{X: m[0], Y: m[1], Z: m[2]}, Pixel: Point2{X: m[3], Y: m[4]}})
		}
		sol, err := SolveCamera(spec)
		if err != nil {
			t.Fatalf("case %d: %v", i, err)
		}
		off := math.Sqrt(math.Pow(sol.Camera.Centre.X-c.Centre[0], 2) + math.Pow(sol.Camera.Centre.Y-c.Centre[1], 2) + math.Pow(sol.Camera.Centre.Z-c.Centre[2], 2))
		trace := 0.0
		for a := range 3 {
			for b := range 3 {
				trace += sol.Camera.R[a][b] * c.Rotation[a][b]
			}
		}
		turn := Degrees(math.Acos(math.Max(-1, math.Min(1, (trace-1)/2))))
		t.Logf("case %d, %d marks: centre off by %.4f mm, turned by %.5f degrees", i, len(c.Marks), 1000*off, turn)
		worstM, worstDeg = math.Max(worstM, off), math.Max(worstDeg, turn)
	}
	const boundM, boundDeg = 1e-6, 0.001
	t.Logf("at most %.4f mm and %.5f degrees, allowed %.3f and %.3f", 1000*worstM, worstDeg, 1000*boundM, boundDeg)
	if worstM > boundM || worstDeg > boundDeg {
		t.Error("the pose is not OpenCV's")
	}
}
