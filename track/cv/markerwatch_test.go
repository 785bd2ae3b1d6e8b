//go:build cgo && customenv

package cv

import (
	"math"
	"testing"

	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/sight"
)

// A featureless white robot on a pale floor that turns on the spot and then
// drives: without a marker nothing tells its heading before it drives; with
// one it is known throughout, and its source says so.
func TestWatcherWithMarker(t *testing.T) {
	m, err := NewMarkerFinder("4x4_50", 3)
	if err != nil {
		t.Fatal(err)
	}
	defer m.Close()
	mk := geom.Marker{Dictionary: "4x4_50", ID: 3, Side: 0.12, Height: 0.09, Turn: geom.Radians(-40)}
	robot := geom.Robot{Name: "linden", Diameter: 0.34, Height: 0.09, Tools: []geom.Tool{{Width: 0.18}}, Marker: &mk}
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "one", Room: []geom.Point2{{X: 0, Y: 0}, {X: 3, Y: 0}, {X: 3, Y: 2}, {X: 0, Y: 2}}})
	if err != nil {
		t.Fatal(err)
	}
	lens := geom.Lens{Model: geom.Brown, Fx: 430, Fy: 430, Cx: 320, Cy: 180, Dist: [5]float64{-0.1}}
	cam := lookAt(640, 360, lens, geom.Point3{X: 1.5, Y: 0.6, Z: 2.4}, geom.Point2{X: 1.5, Y: 1}, 0)
	s := scene.DefaultScene(cam, plan, robot)
	s.Timing = scene.Timing{FPS: 10}
	s.Look.Robot = scene.RobotLook{Top: scene.Grey(205), Side: scene.Grey(190)}
	if s.Look.Robot.Marker, err = m.Rows(); err != nil {
		t.Fatal(err)
	}
	s.Look.Floor.Color = scene.Grey(186)
	s.Path = scene.Path{{T: 0, Pose: geom.Pose{X: 0.6, Y: 1, Heading: 1}}, {T: 1, Pose: geom.Pose{X: 0.6, Y: 1, Heading: 1}},
		{T: 4, Pose: geom.Pose{X: 0.6, Y: 1, Heading: 2 * math.Pi}}, {T: 10, Pose: geom.Pose{X: 2.4, Y: 1, Heading: 2 * math.Pi}},
		{T: 12, Pose: geom.Pose{X: 2.4, Y: 1, Heading: 2*math.Pi + 1}}}
	s.Length = 13
	r, err := scene.NewRenderer(&s)
	if err != nil {
		t.Fatal(err)
	}
	bgr := make([]byte, cam.Width*cam.Height*3)
	var all []*sight.Picture
	for k, at := range r.Times() {
		r.Draw(k, bgr)
		all = append(all, sight.FromBGR(bgr, cam.Width, cam.Height, at, nil))
	}
	set := sight.NewSetup(cam, plan, robot, 0)
	var samples []*sight.Picture
	for k := 0; k < len(all); k += len(all) / 16 {
		samples = append(samples, all[k].Clone())
	}
	w := sight.NewWatcher(set, sight.Learn(&set, samples, nil))
	w.Marker = m
	var looks []sight.Sighting
	for _, p := range all {
		looks = append(looks, w.Look(p))
	}
	sight.Merge(looks, w.Turns())
	job := track.Job{Camera: cam, Plan: plan, Robot: robot, Start: math.NaN(), End: math.NaN()}
	tr, _, err := track.Link(looks, job, s.Length, track.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	var turn2, place2 float64
	byMarker := 0
	for _, q := range tr.Samples {
		want := s.Path.At(q.T)
		e := geom.WrapAngle(q.Heading - want.Heading)
		turn2 += e * e
		place2 += math.Pow(math.Hypot(q.X-want.X, q.Y-want.Y), 2)
		if q.Source == geom.HeadingMarker {
			byMarker++
		}
	}
	n := float64(len(tr.Samples))
	turn, place := geom.Degrees(math.Sqrt(turn2/n)), 1000*math.Sqrt(place2/n)
	t.Logf("%d looks, heading from the marker in %d; %.2f degrees and %.2f mm rms", len(tr.Samples), byMarker, turn, place)
	if float64(byMarker) < 0.95*n || !(turn < 1) || !(place < 3) {
		t.Errorf("heading from the marker in %d of %d looks, %.2f degrees and %.2f mm rms; want 95 %%, 1 degree and 3 mm", byMarker, len(tr.Samples), turn, place)
	}
}
