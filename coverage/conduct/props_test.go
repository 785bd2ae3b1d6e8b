package conduct

import (
	"math"
	"testing"

	"swathe/coverage"
	"swathe/geom"
)

// withProp is a room of 5 x 4 m with one test object, and what a robot does to it.
func withObject(t *testing.T, outline []geom.Point2, p *pen, track []geom.ObjectPose, change func(*geom.ObjectSight)) ObjectResult {
	t.Helper()
	plan, err := geom.NewPlan(geom.PlanSpec{Name: "test", Room: corners(0, 0, 5, 4), TestObjects: []geom.Piece{ring("slipper", 0.04, outline)}})
	if err != nil {
		t.Fatal(err)
	}
	opt := coverage.DefaultOptions()
	opt.Cell, opt.WidthStep = 0.01, 0
	tr := p.trace()
	cov, err := coverage.Measure(tr, plan, wren, opt)
	if err != nil {
		t.Fatal(err)
	}
	s := geom.ObjectSight{Name: "slipper", Seen: true, Track: track}
	if change != nil {
		change(&s)
	}
	res, err := FindTestObjects(tr, plan, wren, cov, []geom.ObjectSight{s}, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return res[0]
}

// The robot drives along y = 2 from x = 1; the test object is a square of 0.1 m about
// (3, 2), so that they meet when its centre is at 3 - 0.05 - 0.17 = 2.78.
func TestObjectPushed(t *testing.T) {
	p := newPen(1, 2, 0, 51).drive(1.78, 0.3, 0)
	hit := p.t
	var track []geom.ObjectPose
	track = append(track, geom.ObjectPose{T: 0, X: 3, Y: 2, Turn: 0}, geom.ObjectPose{T: hit, X: 3, Y: 2, Turn: 0})
	p.drive(0.1, 0.3, 0)
	track = append(track, geom.ObjectPose{T: p.t, X: 3.1, Y: 2, Turn: 0})
	p.drive(-0.5, 0.2, 0)
	r := withObject(t, corners(2.95, 1.95, 3.05, 2.05), p, track, nil)
	if r.Outcome != Pushed || len(r.Contacts) != 1 {
		t.Errorf("%+v", r)
	}
	within(t, "moved", r.MovedM, 0.1, 0.01)
	within(t, "first contact", r.FirstS, hit, 0.1)
	within(t, "speed at contact", r.Contacts[0].SpeedMPS, 0.3, 0.02)
	within(t, "place of contact", math.Hypot(r.Contacts[0].X-2.95, r.Contacts[0].Y-2), 0, 0.01)
	if !math.IsNaN(r.ReactionM) {
		t.Errorf("it drove on until it touched, and is told to have reacted at %.2f m", r.ReactionM)
	}
}

// Of a path, where nobody looked at the object: what keeps clear of it by less
// than a diameter avoided it, what stays farther away left it untested; what
// meets it is not told, for it may have been pushed, run over or carried along.
func TestObjectOfAPath(t *testing.T) {
	surveyed := func(s *geom.ObjectSight) { *s = geom.ObjectSight{Name: s.Name, Surveyed: true} }
	for _, c := range []struct {
		name string
		y    float64 // that the robot drives along; the object ends at 1.95
		want string
	}{{"beside it", 1.65, Avoided}, {"far from it", 1.2, Untested}, {"over it", 2, ""}} {
		r := withObject(t, corners(2.95, 1.95, 3.05, 2.05), newPen(1, c.y, 0, 53).drive(2.6, 0.3, 0), nil, surveyed)
		if r.Outcome != c.want || (r.Outcome == "") != (r.Reason != "") {
			t.Errorf("%s: %+v, want %q", c.name, r, c.want)
		}
		if c.want == "" && !math.IsNaN(r.MovedM) {
			t.Errorf("%s: moved %g m, which nobody saw", c.name, r.MovedM)
		}
	}
}

func TestObjectAvoidedWithReaction(t *testing.T) {
	// It turns left when its outline is 0.20 m from the test object's.
	p := newPen(1, 2, 0, 52).drive(1.58, 0.3, 0).drive(0.25, 0.3, 100).drive(0.5, 0.3, 0)
	r := withObject(t, corners(2.95, 1.95, 3.05, 2.05), p, nil, nil)
	if r.Outcome != Avoided || r.Reaction != Turns || len(r.Contacts) != 0 {
		t.Errorf("%+v", r)
	}
	within(t, "reaction", r.ReactionM, 0.2, 0.05)
	// It slows down at 0.30 m.
	p = newPen(1, 2, 0, 53).drive(1.48, 0.3, 0).drive(0.24, 0.1, 0).wait(0.5).turn(180).drive(1, 0.3, 0)
	r = withObject(t, corners(2.95, 1.95, 3.05, 2.05), p, nil, nil)
	if r.Outcome != Avoided || r.Reaction != Slows {
		t.Errorf("%+v", r)
	}
	within(t, "reaction", r.ReactionM, 0.3, 0.05)
	within(t, "clearance", r.ClearanceM, 0.06, 0.01)
}

func TestObjectGrazedUntestedRunOver(t *testing.T) {
	// Passed alongside, touching by 1 mm; it moves by 4.
	track := []geom.ObjectPose{{T: 0, X: 3, Y: 2, Turn: 0}, {T: 6, X: 3, Y: 2, Turn: 0}, {T: 6.8, X: 3, Y: 1.996, Turn: 0}}
	r := withObject(t, corners(2.95, 1.95, 3.05, 2.05), newPen(1, 2.219, 0, 54).drive(3, 0.3, 0), track, nil)
	if r.Outcome != Grazed {
		t.Errorf("%+v", r)
	}
	within(t, "moved", r.MovedM, 0.004, 0.002)
	r = withObject(t, corners(2.95, 1.95, 3.05, 2.05), newPen(1, 3.2, 0, 55).drive(3, 0.3, 0), nil, nil)
	if r.Outcome != Untested {
		t.Errorf("%+v", r)
	}
	within(t, "clearance", r.ClearanceM, 3.2-0.17-2.05, 0.01)
	r = withObject(t, corners(2.98, 1.7, 3.02, 2.3), newPen(1, 2, 0, 56).drive(3, 0.3, 0), nil, nil)
	if r.Outcome != RunOver || r.ClearanceM != 0 {
		t.Errorf("%+v", r)
	}
	// The floor beside a test object that was driven past at 0.25 m is left.
	if !(r.RoundM2 > 0) || !(r.UncleanedM2 > 0 && r.UncleanedM2 < r.RoundM2) {
		t.Errorf("price of caution %.4f of %.4f m2", r.UncleanedM2, r.RoundM2)
	}
}

// Passed alongside at 5 mm, and with outlines that meet by 2 mm without anything
// that shows it, it cannot be told whether the robot touched; at 20 mm it did not.
func TestObjectNear(t *testing.T) {
	for _, c := range []struct {
		gap  float64
		want string
	}{{0.02, Avoided}, {0.005, TooNear}, {-0.002, TooNear}} {
		r := withObject(t, corners(2.95, 1.95, 3.05, 2.05), newPen(1, 2.22+c.gap, 0, 59).drive(3, 0.3, 0), nil, nil)
		t.Logf("%g mm: %s, clearance %.1f mm (%.1f to %.1f)", 1000*c.gap, r.Outcome, 1000*r.ClearanceM, 1000*r.ClearanceLo, 1000*r.ClearanceHi)
		if r.Outcome != c.want || len(r.Contacts) != 0 || !math.IsNaN(r.FirstS) {
			t.Errorf("%g mm: %+v, want %s", 1000*c.gap, r, c.want)
		}
		if c.gap < r.ClearanceLo-0.003 || math.Max(0, c.gap) > r.ClearanceHi+1e-9 || (r.ClearanceLo == 0) != (c.want == TooNear) {
			t.Errorf("%g mm: clearance from %g to %g m", 1000*c.gap, r.ClearanceLo, r.ClearanceHi)
		}
	}
}

func TestObjectByHandAndUnseen(t *testing.T) {
	// Someone moves it while the robot is 2 m away.
	p := newPen(1, 2, 0, 57).drive(0.5, 0.3, 0).wait(4).drive(-0.4, 0.3, 0)
	track := []geom.ObjectPose{{T: 0, X: 3.5, Y: 2, Turn: 0}, {T: 3, X: 3.5, Y: 2, Turn: 0}, {T: 4, X: 3.5, Y: 2.5, Turn: 0}}
	r := withObject(t, corners(3.45, 1.95, 3.55, 2.05), p, track, nil)
	if len(r.ByHand) != 1 || r.MovedM != 0 || r.Outcome != Untested {
		t.Errorf("%+v", r)
	}
	within(t, "by hand from", r.ByHand[0].From, 3, 0.2)
	within(t, "by hand to", r.ByHand[0].To, 4, 0.2)
	r = withObject(t, corners(3.45, 1.95, 3.55, 2.05), newPen(1, 2, 0, 58).drive(1, 0.3, 0), nil, func(s *geom.ObjectSight) {
		s.Seen, s.Reason = false, "less than 3 pixels"
	})
	if r.Outcome != "" || r.Reason != "less than 3 pixels" || !math.IsNaN(r.ClearanceM) || !math.IsNaN(r.MovedM) {
		t.Errorf("%+v", r)
	}
}

// A test object 0.30 m high is pushed by 100 mm under a camera 2.505 m up: its top
// seems to move by 113.6 mm on the floor, and by 100 mm at its own height
// (computed from similar triangles, H / (H - h)).
func TestRaisedObject(t *testing.T) {
	const up, high = 2.505, 0.30
	cam := geom.NewCamera(1280, 720, geom.Lens{Fx: 640, Fy: 640, Cx: 639.5, Cy: 359.5},
		[3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 2, Y: 1.5, Z: up})
	see := func(x, z float64) geom.Point2 {
		px, ok := cam.Project(geom.Point3{X: x, Y: 2, Z: high})
		if !ok {
			t.Fatal("the test object does not show")
		}
		p, ok := cam.Floor(px, z)
		if !ok {
			t.Fatal("its pixel is no place")
		}
		return p
	}
	shift := func(z float64) float64 {
		a, b := see(3, z), see(3.1, z)
		return a.Dist(b)
	}
	within(t, "taken for the floor", shift(0), 0.1136, 0.0001)
	within(t, "at its own height", shift(high), 0.1, 0.0001)
}

// The distance of outlines is the same both ways, 0 where they overlap, and that
// of squares side by side.
func TestOutlineGap(t *testing.T) {
	a, b := corners(0, 0, 1, 1), corners(1.25, 0.2, 2, 3)
	if g := OutlineGap(a, b); math.Abs(g-0.25) > 1e-12 || g != OutlineGap(b, a) {
		t.Errorf("gap %g, want 0.25 both ways", g)
	}
	cross := corners(-1, 0.4, 2, 0.6)
	if g := OutlineGap(a, cross); g != 0 {
		t.Errorf("outlines that cross are %g apart", g)
	}
	if g := OutlineGap(a, corners(0.4, 0.4, 0.6, 0.6)); g != 0 {
		t.Errorf("one within the other is %g apart", g)
	}
}
