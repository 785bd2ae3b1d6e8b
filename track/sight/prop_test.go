package sight

import (
	"bytes"
	"image/png"
	"math"
	"testing"

	"swathe/geom"
)

// tracked is a test object with some looks at it.
func tracked(log []objectLook) *object {
	return &object{name: "sock", mid: geom.Point2{X: 1, Y: 1}, mpp: 0.005, log: log, laid: math.NaN(), taken: math.NaN()}
}

func lookAt(t, x, gap float64, met bool) objectLook {
	return objectLook{t: t, at: geom.Pose{X: x, Y: 1.001}, visible: 1, gap: gap, met: met}
}

// A test object that was pushed lies still before and after, and moves while the robot
// is at it; that it is measured a little off while the robot is near is no move.
func TestTrackOfAPush(t *testing.T) {
	q := tracked([]objectLook{
		lookAt(0, 1.0020, 1, false), lookAt(1, 1.0022, 1, false), lookAt(2, 1.0018, 0.5, false), // at rest, 2 mm off the survey
		lookAt(3, 1.0080, 0.06, false),                               // the robot's shadow
		lookAt(3.1, 1.0020, 0.01, true), lookAt(3.2, 1.030, 0, true), // pushed
		lookAt(3.3, 1.060, 0, true), lookAt(3.4, 1.100, 0, true),
		lookAt(3.5, 1.093, 0.05, true), // let go, and in the shadow
		lookAt(4, 1.102, 0.3, true), lookAt(5, 1.102, 1, false), lookAt(6, 1.1021, 1, false),
	})
	s := q.sight()
	if !s.Seen || s.Present != (geom.Span{}) {
		t.Fatalf("%+v", s)
	}
	first, last := s.Track[0], s.Track[len(s.Track)-1]
	if math.Hypot(first.X-1, first.Y-1) > 1e-9 {
		t.Errorf("it lies at (%.4f, %.4f) first; so near to the survey, the survey holds", first.X, first.Y)
	}
	if math.Abs(last.X-first.X-0.1) > 1e-3 {
		t.Errorf("moved by %.4f m, drawn 0.1", last.X-first.X)
	}
	for _, p := range s.Track {
		if p.T <= 3.1 && p != (geom.ObjectPose{T: p.T, X: first.X, Y: first.Y}) {
			t.Errorf("at %.1f s it has moved already: %+v", p.T, p)
		}
		if p.T >= 3.4 && math.Abs(p.X-last.X) > 1e-9 {
			t.Errorf("at %.1f s it still moves: %+v", p.T, p)
		}
	}
}

// A robot that passes or parks beside a test object has not moved it.
func TestTrackOfAObjectLeftAlone(t *testing.T) {
	q := tracked([]objectLook{
		lookAt(0, 1, 1, false), lookAt(1, 1, 1, false), lookAt(2, 1.005, 0.05, false), lookAt(3, 1.004, 0.2, false),
		lookAt(4, 1.009, 0.06, false), lookAt(5, 1.009, 0.06, false),
	})
	for _, p := range q.sight().Track {
		if p.X != q.sight().Track[0].X || p.Y != q.sight().Track[0].Y {
			t.Errorf("moved: %+v", p)
		}
	}
}

// Somebody moves it: the robot was never near.
func TestTrackOfAObjectMovedByHand(t *testing.T) {
	q := tracked([]objectLook{lookAt(0, 1, 1, false), lookAt(1, 1, 1, false), lookAt(5, 1.2, 1, false), lookAt(6, 1.2, 1, false)})
	s := q.sight()
	if d := s.Track[len(s.Track)-1].X - s.Track[0].X; math.Abs(d-0.2) > 1e-6 {
		t.Errorf("moved by %.3f m, drawn 0.2", d)
	}
}

func TestObjectsThatCannotBeSeen(t *testing.T) {
	cam := geom.NewCamera(400, 300, geom.Lens{Fx: 250, Fy: 250, Cx: 199.5, Cy: 149.5}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 1, Y: 1, Z: 2.5})
	set := Setup{Cam: cam, Floor: func(geom.Point2) float64 { return 0 }}
	at := func(x, y, w, h float64) geom.Piece {
		return geom.Piece{Name: "thing", Outline: geom.Ring([]geom.Point2{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}})}
	}
	// 10 mm a pixel.
	for _, c := range []struct {
		piece geom.Piece
		state int
	}{{at(1, 1, 0.3, 0.031), objectWaits}, {at(1, 1, 0.3, 0.029), objectUnseen}, {at(9, 1, 0.3, 0.3), objectUnseen}} {
		q := newObject(&set, c.piece)
		if q.state != c.state || (q.reason == "") != (c.state == objectWaits) {
			t.Errorf("%v: state %d, %q", c.piece.Outline, q.state, q.reason)
		}
		if s := q.sight(); s.Seen || s.Reason == "" {
			t.Errorf("never looked at, and yet %+v", s)
		}
	}
}

// The pictures of a test object that was pushed half a metre show the same frame, with
// the place where it was and the one where it is.
func TestShotsAreOneFrame(t *testing.T) {
	cam := geom.NewCamera(400, 300, geom.Lens{Fx: 250, Fy: 250, Cx: 199.5, Cy: 149.5}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 1, Y: 1, Z: 2.5})
	e := &objectEye{set: &Setup{Cam: cam, Floor: func(geom.Point2) float64 { return 0 }}}
	was, is := geom.Pose{X: 0.7, Y: 0.9}, geom.Pose{X: 1.2, Y: 1.1}
	frame := func(at geom.Pose) *Picture { // pale floor with a dark thing of 0.1 m, 100 px a metre
		p := &Picture{Y: NewPlane(400, 300), U: NewPlane(200, 150), V: NewPlane(200, 150)}
		c, _ := cam.Project(geom.Point3{X: at.X, Y: at.Y})
		for i := range p.Y.Pix {
			p.Y.Pix[i] = 200
			if math.Abs(float64(i%400)-c.X) < 5 && math.Abs(float64(i/400)-c.Y) < 5 {
				p.Y.Pix[i] = 20
			}
		}
		for i := range p.U.Pix {
			p.U.Pix[i], p.V.Pix[i] = 128, 128
		}
		return p
	}
	q := tracked([]objectLook{{t: 0, at: was}})
	q.mpp, q.radius, q.at = 0.01, 0.07, is
	q.before, q.after = frame(was), e.crop(frame(is), q)
	s := q.sight()
	var dark [2][2]float64 // middle of what is dark in each picture
	var size [2][2]int
	for k, raw := range [][]byte{s.Before, s.After} {
		img, err := png.Decode(bytes.NewReader(raw))
		if err != nil {
			t.Fatal(err)
		}
		b, n := img.Bounds(), 0.0
		size[k] = [2]int{b.Dx(), b.Dy()}
		for y := range b.Dy() {
			for x := range b.Dx() {
				if r, _, _, _ := img.At(x, y).RGBA(); r>>8 < 80 {
					dark[k][0], dark[k][1], n = dark[k][0]+float64(x), dark[k][1]+float64(y), n+1
				}
			}
		}
		if n == 0 {
			t.Fatalf("picture %d does not show it", k)
		}
		dark[k][0], dark[k][1] = dark[k][0]/n, dark[k][1]/n
	}
	dx, dy := (dark[1][0]-dark[0][0])/cropScale, (dark[1][1]-dark[0][1])/cropScale
	t.Logf("frames of %v and %v; it moved by %.1f and %.1f px, want 50 and -20", size[0], size[1], dx, dy)
	if size[0] != size[1] || math.Abs(dx-50) > 1 || math.Abs(dy+20) > 1 {
		t.Errorf("the pictures are not of one frame: %v and %v, moved by %.1f and %.1f px", size[0], size[1], dx, dy)
	}
}
