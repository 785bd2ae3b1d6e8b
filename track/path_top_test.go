package track

import (
	"math"
	"testing"

	"swathe/geom"
	"swathe/track/sight"
)

// Where outline and top say that the robot is, and where it is then taken to be: with
// pixels of 5 mm the outline is good to a tenth of a millimetre and what bends it, the
// top to 0.7 mm.
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
		{"both agree", 0.0005, 1e-7, 0.05, 0.3},
		{"the outline has hopped by four pixels", 0.02, 1e-7, 0.98, 1},
		{"by one", 0.005, 1e-7, 0.85, 0.98},
		{"a top smeared by the encoder", 0.005, 25e-6, 0, 0.3},
	} {
		l := []linked{{Sighting: sight.Sighting{Found: true, X: 1, Y: 1, Cov: [3]float64{1e-8, 0, 1e-8}, RMS: 0.2, Edge: 10, Beside: [2]float64{k.beside, 0}, BesideVar: k.variance}}}
		placeByTop(l, job)
		s := &l[0]
		got := (s.X - 1) / k.beside
		if got < k.least || got > k.most || math.Abs(got-s.byTop) > 1e-9 || s.Y != 1 {
			t.Errorf("%s: it moves by %.3f of what the top says, %.2f to %.2f wanted", k.name, got, k.least, k.most)
		}
		if k.variance > 0 && !(s.Cov[0] > 0 && s.Cov[0] <= 1e-8+k.variance) {
			t.Errorf("%s: variance %g m^2", k.name, s.Cov[0])
		}
	}
}
