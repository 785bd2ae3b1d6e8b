package track

import (
	"math"
	"testing"

	"swathe/geom"
	"swathe/track/sight"
)

// Where outline and top say that the robot is, and where it is then taken to be: with
// pixels of 5 mm the outline is good to 0.27 mm unless it has hopped, the top to 0.47 (with
// the variance of its own below). By hand: 0.27^2/(0.27^2+0.47^2) of the way, and where they differ by
// d, far more than that, all but 0.47^2/(d^2/2).
func TestPlaceByTop(t *testing.T) {
	job := testJob()
	job.Robot.Height = 0.09
	job.Camera = geom.NewCamera(640, 480, geom.Lens{Fx: 480, Fy: 480, Cx: 320, Cy: 240}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 1, Y: 1, Z: 2.49})
	for _, k := range []struct {
		name     string
		beside   float64 // m, along x
		variance float64 // m^2
		least    float64 // share of the place that the top may have
		most     float64
	}{
		{"no word of the top", 0.02, 0, 0, 0},
		{"both agree", 0.0005, 1e-7, 0.24, 0.25},
		{"the outline has hopped by four pixels", 0.02, 1e-7, 0.998, 1},
		{"by one", 0.005, 1e-7, 0.98, 0.985},
		{"a top smeared by the encoder", 0.005, 25e-6, 0, 0.01},
	} {
		l := []linked{{Sighting: sight.Sighting{Found: true, X: 1, Y: 1, Cov: [3]float64{1e-8, 0, 1e-8}, RMS: 0.2, Edge: 10, Beside: [2]float64{k.beside, 0}, BesideVar: k.variance}}}
		placeByTop(l, job)
		s := &l[0]
		got := (s.X - 1) / k.beside
		if got < k.least || got > k.most || math.Abs(got-s.byTop) > 1e-9 || s.Y != 1 {
			t.Errorf("%s: it moves by %.3f of what the top says, %.3f to %.3f wanted", k.name, got, k.least, k.most)
		}
		if k.variance > 0 && !(s.Cov[0] > 0 && s.Cov[0] <= 1e-8+k.variance) {
			t.Errorf("%s: variance %g m^2", k.name, s.Cov[0])
		}
	}
}
