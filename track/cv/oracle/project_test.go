//go:build cgo && customenv

package oracle

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/geom"
)

// sameProjection is the rounding of both, px.
const sameProjection = 1e-6

// OpenCV's projectPoints is the outside oracle of geom.Camera.Project: random
// cameras and points, both models.
func TestProjectAgainstOpenCV(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 1))
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	for _, model := range []geom.LensModel{geom.Brown, geom.Fisheye} {
		worst, n := 0.0, 0
		for k := 0; k < 400; k++ {
			l := geom.Lens{Model: model, Fx: between(300, 2500), Fy: between(300, 2500), Cx: between(200, 2000), Cy: between(200, 1200)}
			l.Dist = [5]float64{between(-0.3, 0.2), between(-0.1, 0.1), between(-0.003, 0.003), between(-0.003, 0.003), between(-0.05, 0.05)}
			if model == geom.Fisheye {
				l.Dist = [5]float64{between(-0.05, 0.05), between(-0.02, 0.02), between(-0.01, 0.01), between(-0.002, 0.002)}
			}
			cam := geom.NewCamera(1920, 1080, l, randomTurn(rng), geom.Point3{X: between(-3, 3), Y: between(-3, 3), Z: between(1.5, 4)})
			var pts []geom.Point3
			for i := 0; i < 40; i++ {
				pts = append(pts, geom.Point3{X: between(-4, 4), Y: between(-4, 4), Z: between(0, 1)})
			}
			want, err := Project(cam, pts)
			if err != nil {
				t.Fatal(err)
			}
			for i, p := range pts {
				got, ok := cam.Project(p)
				// Behind the lens or beyond its field OpenCV answers all the
				// same; far outside the picture the digits run out.
				if !ok || math.Abs(got.X)+math.Abs(got.Y) > 1e4 {
					continue
				}
				n++
				worst = math.Max(worst, got.Dist(want[i]))
			}
		}
		t.Logf("%s: %d points, largest distance %.2g px", model, n, worst)
		if n < 2000 || worst > sameProjection {
			t.Errorf("%s: %d points, largest distance from OpenCV's projectPoints %.3g px, more than %g", model, n, worst, sameProjection)
		}
	}
	if _, err := Project(geom.NewCamera(10, 10, geom.Lens{Fx: 500, Fy: 500, Cx: 5, Cy: 5}, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, geom.Point3{}), nil); err == nil {
		t.Error("no points were projected")
	}
}

// randomTurn is a camera that looks down, tilted by up to 50 degrees.
func randomTurn(rng *rand.Rand) [3][3]float64 {
	a, tilt, way := rng.Float64()*2*math.Pi, rng.Float64()*geom.Radians(50), rng.Float64()*2*math.Pi
	// Rows: right, down, ahead; ahead is down the room, tilted.
	sa, ca := math.Sincos(a)
	base := [3][3]float64{{ca, sa, 0}, {sa, -ca, 0}, {0, 0, -1}}
	// Turn about an axis in the picture plane.
	st, ct := math.Sincos(tilt)
	x, y := math.Cos(way), math.Sin(way)
	r := [3][3]float64{
		{ct + x*x*(1-ct), x * y * (1 - ct), y * st},
		{x * y * (1 - ct), ct + y*y*(1-ct), -x * st},
		{-y * st, x * st, ct},
	}
	var out [3][3]float64
	for i := range out {
		for j := range out[i] {
			for k := range base {
				out[i][j] += r[i][k] * base[k][j]
			}
		}
	}
	return out
}
