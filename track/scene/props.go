package scene

import (
	"math"

	"swathe/geom"
)

// How a small thing takes it when the robot meets it.
const (
	Slides = "slides" // gives way
	Flat   = "flat"   // is driven over and stays
	Sticks = "sticks" // goes with the robot for a while
	Fixed  = "fixed"  // stops the robot
)

// Test object is a small thing on the floor.
type TestObject struct {
	Name    string
	Outline []geom.Point2 // convex, counter-clockwise, about its own middle, m
	Height  float64
	Color   BGR
	At      geom.Pose
	Nature  string    // one of the natures above
	DragM   float64   // m that it goes along, if it sticks
	Seen    geom.Span // when it lies there; zero: always
}

// ObjectTruth is what happened to a test object, by the contract's words.
type ObjectTruth struct {
	Name         string
	Outcome      string
	ClearanceM   float64     // smallest distance between the two outlines
	MovedM       float64     // from where it lay to where it lies in the end
	FirstContact float64     // s; NaN: none
	Contacts     []geom.Span // s, while the outlines touch
}

// Box returns the outline of a box of the given sides about its middle.
func Box(length, width float64) []geom.Point2 {
	l, w := length/2, width/2
	return []geom.Point2{{X: -l, Y: -w}, {X: l, Y: -w}, {X: l, Y: w}, {X: -l, Y: w}}
}

// move returns where the test object is in the course of the robot's path.
func (p *TestObject) move(path Path, robot geom.Robot) Path {
	switch p.Nature {
	case Slides:
		return Push(path, robot, p.Outline, p.At)
	case Sticks:
		return p.drag(path, robot)
	}
	return Path{{Pose: p.At}}
}

// drag carries the test object with the robot, fixed to it, from the first contact on
// until the robot has gone on by DragM.
func (p *TestObject) drag(path Path, robot geom.Robot) Path {
	out := Path{{Pose: p.At}}
	body := robot.Body(96)
	var hold geom.Point2 // in the body frame
	turn, gone := 0.0, 0.0
	held := false
	for i, q := range path {
		if !held {
			if dx, dy := overlap(body, q.Pose, p.Outline, p.At); dx == 0 && dy == 0 {
				continue
			}
			held = true
			s, c := math.Sincos(q.Heading)
			x, y := p.At.X-q.X, p.At.Y-q.Y
			hold, turn = geom.Point2{X: c*x + s*y, Y: c*y - s*x}, p.At.Heading-q.Heading
			if q.T > 0 {
				out = append(out, TimedPose{T: q.T, Pose: p.At})
			}
			continue
		}
		gone += hypot(q.X-path[i-1].X, q.Y-path[i-1].Y)
		m := q.At(hold)
		out = append(out, TimedPose{T: q.T, Pose: geom.Pose{X: m.X, Y: m.Y, Heading: q.Heading + turn}})
		if gone >= p.DragM {
			break
		}
	}
	return out
}

// PutTestObjects lays test objects into the scene: into its plan, which is copied, and
// among its movers; it returns what happened to each.
func (s *Scene) PutTestObjects(objects []TestObject) []ObjectTruth {
	plan := *s.Plan
	plan.TestObjects = append([]geom.Piece(nil), plan.TestObjects...)
	var out []ObjectTruth
	for i := range objects {
		p := &objects[i]
		var lies []geom.Point2
		for _, q := range p.Outline {
			lies = append(lies, p.At.At(q))
		}
		plan.TestObjects = append(plan.TestObjects, geom.Piece{Name: p.Name, Outline: geom.Ring(lies), Height: p.Height})
		way := p.move(s.Path, s.Robot)
		s.Movers = append(s.Movers, Mover{Name: p.Name, Outline: p.Outline, Height: p.Height, Color: p.Color, Path: way, Seen: p.Seen})
		out = append(out, objectTruth(s, p, way))
	}
	s.Plan = &plan
	return out
}

// objectTruth looks at the two outlines at every pose of the path.
func objectTruth(s *Scene, p *TestObject, way Path) ObjectTruth {
	t := ObjectTruth{Name: p.Name, ClearanceM: math.Inf(1), FirstContact: math.NaN()}
	body := s.Robot.Body(192)
	deepest := 0.0
	for _, q := range s.Path {
		if q.T > s.Length {
			break
		}
		at := way.At(q.T)
		d, over := gap(body, q.Pose, p.Outline, at.Pose)
		t.ClearanceM = min(t.ClearanceM, d)
		deepest = max(deepest, over)
		// Half a millimetre is contact: the thing that gives way touches.
		if d > 0.0005 {
			continue
		}
		if math.IsNaN(t.FirstContact) {
			t.FirstContact = q.T
		}
		if n := len(t.Contacts); n > 0 && q.T-t.Contacts[n-1].To < 0.3 {
			t.Contacts[n-1].To = q.T
		} else {
			t.Contacts = append(t.Contacts, geom.Span{From: q.T, To: q.T})
		}
	}
	end := way[len(way)-1]
	t.MovedM = hypot(end.X-p.At.X, end.Y-p.At.Y)
	touched := !math.IsNaN(t.FirstContact)
	switch {
	case touched && p.Nature == Fixed:
		t.Outcome = "stopped it"
	case touched && p.Nature == Sticks:
		t.Outcome = "carried along"
	case touched && deepest > 0.02:
		t.Outcome = "run over"
	case touched && t.MovedM >= 0.01:
		t.Outcome = "pushed"
	case touched:
		t.Outcome = "grazed"
	case t.ClearanceM <= 2*s.Robot.Radius():
		t.Outcome = "avoided"
	default:
		t.Outcome = "untested"
	}
	if touched {
		t.ClearanceM = 0
	}
	return t
}

// gap returns the distance between two convex outlines, and how deep they
// overlap.
func gap(body []geom.Point2, pose geom.Pose, outline []geom.Point2, at geom.Pose) (d, over float64) {
	if far := hypot(pose.X-at.X, pose.Y-at.Y); far > 2 {
		return far - 1, 0
	}
	a, b := make([]geom.Point2, len(body)), make([]geom.Point2, len(outline))
	for i := range body {
		a[i] = pose.At(body[i])
	}
	for i := range outline {
		b[i] = at.At(outline[i])
	}
	if dx, dy := overlap(body, pose, outline, at); dx != 0 || dy != 0 {
		return 0, hypot(dx, dy)
	}
	d = math.Inf(1)
	for _, p := range a {
		d = min(d, ringDist(b, p))
	}
	for _, p := range b {
		d = min(d, ringDist(a, p))
	}
	return d, 0
}
