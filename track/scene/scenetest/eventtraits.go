package scenetest

import (
	"math"

	"swathe/geom"
	"swathe/track/scene"
)

// Course is a recording in which known things happen.
type Course struct {
	Trait
	TestObjects []scene.ObjectTruth // nil: none lie there
}

// Courses returns recordings of known events and of test objects on the floor. They
// are made anew at each call; drawing them is the caller's.
func Courses() []Course {
	var out []Course
	g := newStage()
	pilot := func() *scene.Pilot {
		o := scene.DefaultPilotOptions()
		o.Speed = 0.3
		p := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, o)
		p.Pause(3)
		return p
	}
	pt := func(x, y float64) geom.Point2 { return geom.Point2{X: x, Y: y} }
	add := func(name, why string, p *scene.Pilot) {
		p.Pause(3)
		out = append(out, Course{Trait: g.trait(name, why, p.Drive())})
	}

	p := pilot()
	p.Goto(pt(1.2, 1.0))
	p.Turn(-2 * 2 * math.Pi)
	p.Goto(pt(2.2, 0.8))
	p.PauseEvent(8)
	p.Goto(pt(2.2, 1.5))
	p.Turn(1.25 * 2 * math.Pi)
	p.Goto(pt(0.6, 1.6))
	p.Goto(pt(0.6, 0.5))
	add("spin_and_pause", "two turns to the right, one and a quarter to the left, a stop of 8 s", p)

	p = pilot()
	p.Goto(pt(1.6, 0.9))
	p.Stuck(14)
	p.Goto(pt(2.3, 0.5))
	p.Goto(pt(0.6, 1.6))
	add("stuck", "it jerks about on the spot for 14 s, then goes on", p)

	p = pilot()
	p.Goto(pt(0.8, 1.2))
	p.Face(math.Pi / 2)
	p.Bump(0.002, geom.Radians(-100))
	p.Goto(pt(2.0, 0.8))
	p.Face(0)
	p.Bump(0.004, geom.Radians(120))
	p.Goto(pt(1.6, 1.0))
	p.Face(geom.Radians(45))
	p.Bump(0.001, geom.Radians(-150))
	p.Goto(pt(0.6, 0.5))
	add("touches", "it bumps into two walls and a crate", p)

	p = pilot()
	p.Goto(pt(0.5, 1.7))
	p.Goto(pt(2.2, 1.5))
	p.Goto(pt(2.4, 0.5))
	p.Again(pt(2.2, 1.5), pt(0.5, 1.7), pt(2.2, 1.5))
	p.Goto(pt(1.2, 0.6))
	p.Goto(pt(0.5, 0.4))
	add("revisit", "it drives along lanes that it has cleaned", p)

	p = pilot()
	p.Goto(pt(1.5, 1.2))
	p.Face(math.Pi / 2)
	first := p.Time()
	for k := range 4 {
		p.Goto(pt(1.3+0.12*float64(k), 1.3))
		p.Face(math.Pi / 2)
		p.Bump(0.003, geom.Radians(160))
		p.Straight(0.4)
	}
	p.Note("edge_retry", first, 4, "times")
	p.Goto(pt(0.6, 0.5))
	add("edge_retry", "four times it comes back to one stretch of a wall", p)

	p = pilot()
	p.Goto(pt(0.6, 0.8))
	p.Face(0)
	p.Straight(0.8)
	p.Swerve(geom.Radians(75), 0.45)
	p.Goto(pt(2.4, 0.5))
	p.Goto(pt(0.6, 0.5))
	add("swerve", "in the midst of the open floor it turns aside", p)

	dock := g
	dock.plan.Dock = &geom.Pose{X: 0.19, Y: 1.1}
	o := scene.DefaultPilotOptions()
	p = scene.NewPilot(&dock.plan, dock.robot, *dock.plan.Dock, o)
	p.Pause(4)
	leave := func() {
		began := p.Time()
		p.Undock(0.45)
		p.Note("undock", began, 0.45, "m")
	}
	home := func() {
		p.Dock()
		p.Note("dock", p.Time(), 0, "")
	}
	leave()
	p.Goto(pt(2.2, 1.5))
	p.Goto(pt(2.2, 0.6))
	home()
	p.Pause(9)
	leave()
	p.Goto(pt(1.2, 0.4))
	p.Goto(pt(1.2, 1.8))
	home()
	p.Pause(5)
	out = append(out, Course{Trait: dock.trait("dock_twice", "it goes home to charge for a while, comes back, and goes home", p.Drive())})

	p = pilot()
	p.Rows(0, 0.165, 0.1, 200)
	p.Rows(math.Pi/2, 0.165, 0.1, 400)
	add("rows_twice", "rows along the room, then rows across it: a second layer on purpose", p)
	out[len(out)-1].Long = true

	p = pilot()
	p.Bounce(120)
	add("bounce", "chance decides where it goes: there are no rows to be found", p)
	out[len(out)-1].Long = true

	out = append(out, outsideCourse(g), objectCourse(g), stopCourse(g), handsCourse(g))
	return out
}

// outsideCourse has no walls, and the robot leaves the room for a while.
func outsideCourse(g stage) Course {
	p := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	p.Goto(geom.Point2{X: 0.8, Y: 1.2})
	p.Face(math.Pi)
	p.Straight(0.8)
	began := p.Time()
	p.Straight(0.4)
	p.Pause(1)
	p.Straight(-0.4)
	p.Note("outside", began, p.Time()-began, "s")
	p.Straight(-0.5)
	p.Goto(geom.Point2{X: 2.2, Y: 1.2})
	p.Goto(geom.Point2{X: 2.2, Y: 0.4})
	p.Pause(3)
	c := Course{Trait: g.trait("outside", "there is no wall, and it leaves the room for some seconds", p.Drive())}
	c.Scene.Look.WallHeight = 0
	return c
}

// handsCourse has a person who takes one thing away and lays another down.
func handsCourse(g stage) Course {
	d := g.tour(3, 24, 3)
	c := Course{Trait: g.trait("test_objects_by_hand", "someone takes a thing away and lays another down: the robot did neither", d)}
	walk := scene.Path{scene.At(9, 1.6, -1.6, 90), scene.At(10.5, 1.6, -0.15, 90), scene.At(13.5, 1.6, -0.15, 90), scene.At(14.2, 1.6, -0.15, -90), scene.At(16, 1.6, -1.8, -90)}
	p := scene.NewPerson(walk)
	p.Touch = []scene.Touching{{Span: geom.Span{From: 11.2, To: 12.8}, At: geom.Point3{X: 1.6, Y: 0.3, Z: 0.05}}}
	c.Scene.People = []scene.Person{p}
	c.TestObjects = c.Scene.PutTestObjects([]scene.TestObject{
		{Name: "taken", Outline: scene.Box(0.08, 0.08), Height: 0.06, Color: scene.BGR{70, 60, 180}, At: geom.Pose{X: 1.53, Y: 0.24}, Nature: scene.Slides, Seen: geom.Span{From: 0, To: 12}},
		{Name: "laid", Outline: scene.Box(0.08, 0.08), Height: 0.06, Color: scene.BGR{70, 160, 60}, At: geom.Pose{X: 1.67, Y: 0.24}, Nature: scene.Slides, Seen: geom.Span{From: 12, To: 1e9}},
	})
	return c
}

// objectCourse has a test object for every outcome but the last.
func objectCourse(g stage) Course {
	o := scene.DefaultPilotOptions()
	o.Speed, o.Wander = 0.25, 0
	p := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, o)
	p.Pause(4)
	for _, q := range []geom.Point2{{X: 0.45, Y: 1.7}, {X: 2.1, Y: 1.7}, {X: 2.1, Y: 1.25}, {X: 0.8, Y: 1.25}, {X: 0.8, Y: 0.8}, {X: 2.3, Y: 0.8}, {X: 2.3, Y: 0.4}, {X: 1.7, Y: 0.4}} {
		p.Follow([]geom.Point2{q})
	}
	p.Pause(4)
	d := p.Drive()
	c := Course{Trait: g.trait("test_objects", "small things on the floor, one for every outcome", d)}
	c.TestObjects = c.Scene.PutTestObjects([]scene.TestObject{
		// In the way of the first lane, off the middle: it slides aside.
		{Name: "slipper", Outline: scene.Box(0.1, 0.14), Height: 0.05, Color: scene.BGR{60, 70, 170}, At: geom.Pose{X: 1.3, Y: 1.66}, Nature: scene.Slides},
		// Just so touched by the side of the second.
		{Name: "cup", Outline: scene.Box(0.07, 0.07), Height: 0.09, Color: scene.BGR{190, 190, 120}, At: geom.Pose{X: 1.6, Y: 1.25 - 0.17 - 0.035 + 0.004}, Nature: scene.Slides},
		// Driven over by the third.
		{Name: "cord", Outline: scene.Box(0.03, 0.5), Height: 0.008, Color: scene.BGR{40, 40, 44}, At: geom.Pose{X: 1.4, Y: 0.72, Heading: 0.15}, Nature: scene.Flat},
		// Taken along by it.
		{Name: "sock", Outline: scene.Box(0.09, 0.06), Height: 0.03, Color: scene.BGR{60, 160, 90}, At: geom.Pose{X: 1.95, Y: 0.82}, Nature: scene.Sticks, DragM: 0.25},
		// Passed at 40 mm.
		{Name: "toy", Outline: scene.Box(0.06, 0.06), Height: 0.06, Color: scene.BGR{200, 120, 60}, At: geom.Pose{X: 2.3 + 0.17 + 0.03 + 0.04, Y: 0.6}, Nature: scene.Slides},
		// Never approached.
		{Name: "brick", Outline: scene.Box(0.12, 0.08), Height: 0.06, Color: scene.BGR{70, 90, 160}, At: geom.Pose{X: 2.8, Y: 1.55}, Nature: scene.Slides},
	})
	return c
}

// stopCourse has a thing that the robot cannot move.
func stopCourse(g stage) Course {
	o := scene.DefaultPilotOptions()
	o.Speed, o.Wander = 0.25, 0
	p := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, o)
	p.Pause(4)
	p.Follow([]geom.Point2{{X: 0.45, Y: 1.2}})
	p.Face(0)
	p.Straight(1.5 - 0.04 - 0.17 - 0.45)
	p.Pause(12)
	c := Course{Trait: g.trait("stopped_by_test_object", "a heavy thing stops it for good", p.Drive())}
	c.TestObjects = c.Scene.PutTestObjects([]scene.TestObject{{Name: "weight", Outline: scene.Box(0.08, 0.12), Height: 0.07, Color: scene.BGR{60, 60, 66}, At: geom.Pose{X: 1.5, Y: 1.2}, Nature: scene.Fixed}})
	return c
}
