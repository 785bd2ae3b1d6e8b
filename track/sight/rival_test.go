package sight

import (
	"math"
	"testing"

	"swathe/geom"
	"swathe/track/scene"
)

// TestRivalsAreToldByTheTop drives a drawn robot until its top is known and then
// offers the watcher outlines that lie beside it, as a shadow's edge does: it
// must come back to the robot from each, and stay where it already was right.
func TestRivalsAreToldByTheTop(t *testing.T) {
	trait, ok := scene.FindTrait("plain")
	if !ok {
		t.Fatal("no such trait")
	}
	s := &trait.Scene
	r, err := scene.NewRenderer(s)
	if err != nil {
		t.Fatal(err)
	}
	set := NewSetup(s.Camera, s.Plan, s.Robot, 0)
	w, h := s.Camera.Width, s.Camera.Height
	if w > WorkWidth {
		t.Fatalf("a picture of %d px would have to be halved", w)
	}
	bgr := make([]byte, 3*w*h)
	draw := func(i int) *Picture {
		r.Draw(i, bgr)
		return FromBGR(bgr, w, h, r.Times()[i], nil)
	}
	var samples []*Picture
	for k := 0; k < 15; k++ {
		samples = append(samples, draw(k*len(r.Times())/15))
	}
	wt := NewWatcher(set, Learn(&set, samples, nil))
	tried := 0
	for i, at := range r.Times() {
		if wt.tex.soFar.seen > 2*firstTop {
			break
		}
		p := draw(i)
		if !wt.Look(p).Found || wt.tex.soFar.model == nil || i%12 != 0 {
			continue
		}
		truth := s.Path.At(at)
		from := func(off geom.Point2) float64 {
			fit := Fit{Pose: wt.last, Visible: 1, Gain: 1}
			fit.Pose.X += off.X
			fit.Pose.Y += off.Y
			got := wt.amongRivals(p, fit, fit.Pose, 12)
			return math.Hypot(got.Pose.X-truth.X, got.Pose.Y-truth.Y)
		}
		if d := from(geom.Point2{}); d > 0.003 {
			t.Errorf("%.1f s: moved to %.1f mm off although it was right", at, 1e3*d)
		}
		for _, off := range []geom.Point2{{X: 0.03}, {X: -0.025, Y: 0.02}, {Y: -0.035}} {
			tried++
			if d := from(off); d > 0.003 {
				t.Errorf("%.1f s: from %.0f mm beside it to %.1f mm off (bound 3)", at, 1e3*off.Norm(), 1e3*d)
			}
		}
	}
	if tried < 20 {
		t.Fatalf("the top was known in too few pictures: %d tries", tried)
	}
	t.Logf("%d tries", tried)
}
