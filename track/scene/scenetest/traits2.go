package scenetest

import (
	"math"

	"swathe/geom"
	"swathe/track/scene"
)

func peopleTraits(add adder) {
	g := newStage()
	usual := g.tour(6, 24, 6)
	out := geom.Point2{X: 0.4, Y: -1.6}
	// visit walks to a place, stays and leaves.
	visit := func(from, stay float64, x, y float64) scene.Path {
		h := math.Atan2(y-out.Y, x-out.X)
		deg := geom.Degrees(h)
		w := math.Hypot(x-out.X, y-out.Y) / 1.1
		return scene.Path{scene.At(from, out.X, out.Y, deg), scene.At(from+w, x, y, deg), scene.At(from+w+stay, x, y, deg),
			scene.At(from+w+stay+0.7, x, y, deg+180), scene.At(from+2*w+stay+0.7, out.X, out.Y, deg+180)}
	}
	add(g.trait("person_start", "someone presses the button and walks away", usual), func(t *Trait) {
		p := scene.NewPerson(scene.Path{scene.At(0, 0.42, -0.12, 90), scene.At(3.2, 0.42, -0.12, 90), scene.At(4, 0.42, -0.2, -90), scene.At(6, 0.42, -2.2, -90)})
		p.Touch = []scene.Touching{{Span: geom.Span{From: 1, To: 2.5}, At: geom.Point3{X: 0.45, Y: 0.4, Z: 0.12}}}
		t.Scene.People = []scene.Person{p}
	})
	add(g.trait("person_middle", "someone walks through the room while it works", usual), func(t *Trait) {
		p := scene.NewPerson(scene.Path{scene.At(12, 3.2, -1.5, 110), scene.At(14, 2.5, 0.3, 110), scene.At(15, 2.2, 1.1, 120), scene.At(16.5, 1.2, 2.0, 130), scene.At(19, -0.6, 3.9, 130)})
		p.Shirt = scene.BGR{70, 88, 160}
		t.Scene.People = []scene.Person{p}
	})
	add(g.trait("person_end", "someone comes in at the end and stays", usual), func(t *Trait) {
		e := t.Scene.Length
		t.Scene.People = []scene.Person{scene.NewPerson(scene.Path{scene.At(e-4, 3.8, -1.2, 150), scene.At(e-2, 2.3, -0.1, 150), scene.At(e+1, 2.3, -0.1, 150)})}
	})
	// Touched where it stands for a moment.
	p := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(4)
	p.Goto(geom.Point2{X: 1.5, Y: 0.9})
	stop, where := p.Time(), p.Pose()
	p.Pause(4)
	g.loop(p, 30)
	p.Pause(3)
	add(g.trait("touched", "someone bends over it and touches it in the midst of its run", p.Drive()), func(t *Trait) {
		person := scene.NewPerson(visit(stop-1.2, 1.8, where.X-0.2, where.Y-0.5))
		person.Touch = []scene.Touching{{Span: geom.Span{From: stop + 1.3, To: stop + 2.2}, At: geom.Point3{X: where.X, Y: where.Y, Z: 0.12}}}
		t.Scene.People = []scene.Person{person}
	})
	// Carried from one place to another.
	p = scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	p.Goto(geom.Point2{X: 0.6, Y: 1.6})
	p.Goto(geom.Point2{X: 1.0, Y: 0.7})
	p.Pause(0.5)
	from := p.Time()
	p.Carry(geom.Pose{X: 2.2, Y: 0.7, Heading: 2}, 0.35, 6)
	to := p.Time()
	p.Pause(1.5)
	g.loop(p, to+16)
	p.Pause(3)
	d := p.Drive()
	add(g.trait("carried", "someone lifts it, carries it across the room and puts it down; then it goes on", d), func(t *Trait) {
		t.Scene.People = []scene.Person{scene.Escort(d.Path, from, to, geom.Point2{X: 1.2, Y: -1.6})}
	})
	// Carried away at the end.
	p = scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	g.loop(p, 22)
	p.Goto(geom.Point2{X: 1.2, Y: 0.6})
	p.Pause(2)
	from = p.Time()
	p.Carry(geom.Pose{X: 1.2, Y: -1.8, Heading: 0}, 0.5, 5)
	to = p.Time()
	p.Pause(2)
	d = p.Drive()
	add(g.trait("carried_off", "someone picks it up at the end and takes it out of the picture", d), func(t *Trait) {
		t.Scene.People = []scene.Person{scene.Escort(d.Path, from, to, geom.Point2{X: 1.2, Y: -1.6})}
	})
	add(g.trait("pet", "a cat runs about, as large as the robot", usual), func(t *Trait) {
		t.Scene.Pets = []scene.Pet{{Color: scene.BGR{70, 110, 150}, Size: 0.4, Walk: scene.Path{scene.At(5, 3.4, 0.3, 160), scene.At(8, 1.8, 0.8, 160), scene.At(9, 1.6, 1.1, 100), scene.At(13, 1.6, 1.1, 100),
			scene.At(14, 1.5, 1.5, 120), scene.At(17, -0.5, 2.4, 150)}}}
	})
	add(g.trait("ball", "a ball rolls through", usual), func(t *Trait) {
		t.Scene.Balls = []scene.Ball{{Color: scene.BGR{70, 60, 190}, Radius: 0.11, Walk: scene.Path{scene.At(9, -0.4, 1.9, 0), scene.At(12, 1.9, 0.95, 0), scene.At(14, 2.6, 0.7, 0), scene.At(16, 2.85, 0.62, 0), scene.At(60, 2.86, 0.62, 0)}}}
	})
	// It shoves a light crate.
	shift := g
	shift.plan.Obstacles = append(shift.plan.Obstacles[:1:1], geom.Piece{Name: "pouf", Outline: scene.Outline([][2]float64{{1.35, 0.85}, {1.65, 0.85}, {1.65, 1.15}, {1.35, 1.15}}), Height: 0.3})
	p = scene.NewPilot(&shift.plan, shift.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	p.Goto(geom.Point2{X: 0.6, Y: 1.04})
	p.Face(0)
	p.Straight(0.68)
	p.Pause(0.4)
	p.Straight(-0.25)
	p.Turn(1.8)
	p.Goto(geom.Point2{X: 0.5, Y: 1.75})
	p.Goto(geom.Point2{X: 2.2, Y: 1.7})
	p.Goto(geom.Point2{X: 0.5, Y: 1.7})
	p.Goto(geom.Point2{X: 0.4, Y: 0.35})
	p.Goto(geom.Point2{X: 2.6, Y: 0.35})
	p.Pause(3)
	add(shift.trait("shifted_obstacle", "the robot shoves a pouf by 10 cm: it stays there", p.Drive()), func(t *Trait) {
		box := []geom.Point2{{X: -0.15, Y: -0.15}, {X: 0.15, Y: -0.15}, {X: 0.15, Y: 0.15}, {X: -0.15, Y: 0.15}}
		t.Scene.Movers = []scene.Mover{{Name: "pouf", Replaces: "pouf", Outline: box, Height: 0.3, Color: scene.BGR{80, 70, 120},
			Path: scene.Push(t.Scene.Path, t.Scene.Robot, box, geom.Pose{X: 1.5, Y: 1.0})}}
	})
}

func hiddenTraits(add adder) {
	// Under a table top and straight out again.
	g := newStage()
	g.plan.Overhead = []geom.Piece{{Name: "table", Outline: scene.Outline([][2]float64{{1.3, 0.6}, {1.75, 0.6}, {1.75, 1.3}, {1.3, 1.3}}), Height: 0.55}}
	p := scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	p.Goto(geom.Point2{X: 0.6, Y: 0.95})
	p.Goto(geom.Point2{X: 2.5, Y: 0.95})
	p.Goto(geom.Point2{X: 2.2, Y: 0.4})
	p.Goto(geom.Point2{X: 0.5, Y: 0.8})
	p.Goto(geom.Point2{X: 0.6, Y: 1.7})
	p.Pause(3)
	add(g.trait("hidden_short", "it passes beneath a table top and is out of sight for up to two seconds", p.Drive()), func(t *Trait) { t.Bounds.PathRMS = 0.005 })
	g = newStage()
	g.plan.Overhead = []geom.Piece{{Name: "table", Outline: scene.Outline([][2]float64{{1.1, 0.5}, {2.1, 0.5}, {2.1, 1.4}, {1.1, 1.4}}), Height: 0.6}}
	p = scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	p.Goto(geom.Point2{X: 0.6, Y: 0.8})
	p.Goto(geom.Point2{X: 1.6, Y: 0.8})
	p.Turn(2.5)
	p.Pause(1.5)
	p.Goto(geom.Point2{X: 1.7, Y: 1.1})
	p.Goto(geom.Point2{X: 1.6, Y: 1.75})
	p.Goto(geom.Point2{X: 0.5, Y: 1.7})
	p.Goto(geom.Point2{X: 0.5, Y: 0.5})
	p.Pause(3)
	add(g.trait("hidden_long", "it works beneath a large table for ten seconds and comes out elsewhere", p.Drive()), func(t *Trait) { t.Bounds.InSigma = true })
	g = newStage()
	g.plan.Obstacles = append(g.plan.Obstacles[:1:1], geom.Piece{Name: "cupboard", Outline: scene.Outline([][2]float64{{0, 1.55}, {0.8, 1.55}, {0.8, 2.2}, {0, 2.2}}), Height: 1.3})
	p = scene.NewPilot(&g.plan, g.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	p.Goto(geom.Point2{X: 1.05, Y: 1.3})
	p.Goto(geom.Point2{X: 1.02, Y: 1.95})
	p.Goto(geom.Point2{X: 2.2, Y: 1.9})
	p.Goto(geom.Point2{X: 2.2, Y: 0.5})
	p.Goto(geom.Point2{X: 0.3, Y: 0.4})
	p.Pause(3)
	add(g.trait("partly_hidden", "tall furniture hides a part of it while it goes round", p.Drive()), nil)
}

func cameraTraits(add adder) {
	g := newStage()
	usual := g.tour(3, 20, 3)
	size := func(name, why string, w, h int, long bool) {
		d := usual
		if w > 1500 {
			d = g.tour(2, 8, 2)
		}
		add(g.trait(name, why, d), func(t *Trait) {
			t.remark(stageCamera(w, h))
			t.Long = long
			if 0.17*0.57*float64(w)/2.6 < 25 {
				t.Bounds.HeadingRMS = math.NaN()
			}
		})
	}
	size("size_640x480", "a small picture, 4:3", 640, 480, false)
	size("size_1280x720", "a middling picture", 1280, 720, true)
	size("size_1920x1080", "a large picture", 1920, 1080, true)
	size("size_3840x2160", "a very large picture", 3840, 2160, true)
	add(g.trait("tilt_35", "the camera looks in from the side, tilted by 35 degrees", usual), func(t *Trait) {
		// From so far off, a picture of 800 px would show the top with less
		// than the 25 px in radius that a heading takes.
		t.remark(scene.Overhead(960, 540, geom.Lens{Fx: 600, Fy: 600, Cx: 479.5, Cy: 269.5, Dist: [5]float64{-0.08, 0.01}},
			scene.Hang{Centre: geom.Point3{X: 1.5, Y: -0.85, Z: 2.6}, Tilt: geom.Radians(35), Toward: geom.Radians(90), Turn: 0}))
	})
	add(g.trait("fisheye", "a lens of a very wide angle", usual), func(t *Trait) {
		t.remark(scene.Overhead(800, 600, geom.Lens{Model: geom.Fisheye, Fx: 330, Fy: 330, Cx: 399.5, Cy: 299.5, Dist: [5]float64{-0.02, 0.003}},
			scene.Hang{Centre: geom.Point3{X: 1.4, Y: 1.0, Z: 2.0}, Tilt: geom.Radians(5), Toward: geom.Radians(200), Turn: 0}))
		t.Bounds.HeadingRMS = geom.Radians(2)
	})
	add(g.trait("turned_picture", "the container says that the picture stands on its head", usual), func(t *Trait) {
		lens := t.Scene.Camera.Lens
		t.Scene.Camera = scene.Overhead(800, 450, lens, scene.Hang{Centre: geom.Point3{X: 1.45, Y: 1.0, Z: 2.6}, Tilt: geom.Radians(4), Toward: geom.Radians(60), Turn: geom.Radians(-1.5) + math.Pi})
		t.Encode, t.Mark = DefaultFFmpegArgs, []string{"-metadata:s:v:0", "rotate=180"}
	})
	// The same camera, knocked: its picture shifts by about so many pixels.
	knocked := func(px float64) *geom.Camera {
		a := px / (0.57 * 800)
		return scene.Overhead(800, 450, g.cam.Lens, scene.Hang{Centre: geom.Point3{X: 1.45, Y: 1.0, Z: 2.6}, Tilt: geom.Radians(4) + a*0.8, Toward: geom.Radians(60) + 2*a, Turn: geom.Radians(-1.5) + a*0.5})
	}
	add(g.trait("nudged_a_little", "the camera is knocked in the midst of the recording: 4 px", usual), func(t *Trait) {
		t.Scene.Nudges = []scene.Nudge{{From: 12, Camera: knocked(4)}}
		t.At = 12
	})
	add(g.trait("nudged_since_survey", "the camera hangs a little differently than when its marks were surveyed: 5 px", usual), func(t *Trait) {
		t.Scene.Camera = knocked(5)
	})
	add(g.trait("knocked_away", "the camera is knocked by 60 px in the midst of the recording", usual), func(t *Trait) {
		t.Scene.Nudges = []scene.Nudge{{From: 12, Camera: knocked(60)}}
		t.Expect, t.At = ExpectCameraMoved, 12
	})
	add(g.trait("stabilised", "video stabilisation was left on: the picture swims", usual), func(t *Trait) {
		t.Scene.Wobble = scene.Wobble{Shift: 2.5, Turn: geom.Radians(0.15), Period: 5}
	})
}

func timingTraits(add adder) {
	g := newStage()
	usual := g.tour(3, 20, 3)
	rate := func(name, why string, fps float64) {
		add(g.trait(name, why, usual), func(t *Trait) { t.Scene.Timing.FPS = fps })
	}
	rate("fps_10", "ten frames a second", 10)
	rate("fps_30", "thirty frames a second", 30)
	rate("fps_60", "sixty frames a second", 60)
	add(g.trait("uneven_times", "frames come when they come, and some never", usual), func(t *Trait) {
		t.Scene.Timing.Jitter, t.Scene.Timing.DropShare = 0.012, 0.08
	})
	add(g.trait("rolling_shutter", "rows are exposed one after the other, and long", usual), func(t *Trait) {
		t.Scene.Timing.Readout, t.Scene.Timing.Exposure = 0.03, 0.02
	})
	add(g.trait("interlaced", "odd rows are half a frame's time late", usual), func(t *Trait) {
		t.remark(stageCamera(800, 448)) // pairs of lines in pairs
		t.Scene.Timing.FPS, t.Scene.Timing.Interlaced = 25, true
		t.Encode = append(append([]string{}, DefaultFFmpegArgs...), "-flags", "+ilme+ildct", "-top", "1")
	})
	add(g.trait("low_bit_rate", "a recorder that saves: the encoder smears", usual), func(t *Trait) {
		t.Encode = []string{"-c:v", "libx264", "-preset", "veryfast", "-b:v", "180k", "-maxrate", "260k", "-bufsize", "400k", "-pix_fmt", "yuv420p"}
	})
}

// codedTraits are recordings as a camera's encoder leaves them, at usual bit rates.
func codedTraits(add adder) {
	coded := func(rate string) []string {
		return []string{"-c:v", "libx264", "-preset", "veryfast", "-b:v", rate, "-maxrate", rate, "-bufsize", rate, "-g", "60", "-pix_fmt", "yuv420p"}
	}
	g := newStage()
	add(g.trait("coded_pale", "a white robot on a pale floor, at rest at first, as H.264 at 1 Mbit/s", g.tour(10, 24, 3)), func(t *Trait) {
		t.Scene.Look.Floor = scene.Surface{Kind: scene.Tiles, Color: scene.BGR{196, 202, 206}, Contrast: 0.3, Seed: 5}
		t.Scene.Look.Robot = scene.RobotLook{Top: scene.BGR{224, 226, 226}, Side: scene.BGR{196, 198, 198}, Accent: scene.Grey(120), Contrast: 0.7, Gloss: 0.1}
		t.Encode = coded("1000k")
	})
	add(g.trait("coded_dark", "a black robot on a dark floor, as H.264 at 1 Mbit/s", g.tour(3, 24, 3)), func(t *Trait) {
		t.Scene.Look.Floor = scene.Surface{Kind: scene.Planks, Color: scene.BGR{58, 66, 76}, Contrast: 0.6, Seed: 5}
		t.Scene.Look.Robot = scene.RobotLook{Top: scene.Grey(32), Side: scene.Grey(22), Accent: scene.Grey(88), Contrast: 0.7, Gloss: 0.1}
		t.Encode = coded("1000k")
	})
	under := newStage()
	under.plan.Overhead = []geom.Piece{{Name: "table", Outline: scene.Outline([][2]float64{{1.3, 0.6}, {1.75, 0.6}, {1.75, 1.3}, {1.3, 1.3}}), Height: 0.55}}
	p := scene.NewPilot(&under.plan, under.robot, geom.Pose{X: 0.45, Y: 0.4, Heading: math.Pi / 2}, scene.DefaultPilotOptions())
	p.Pause(3)
	p.Goto(geom.Point2{X: 0.6, Y: 0.95})
	p.Goto(geom.Point2{X: 2.5, Y: 0.95})
	p.Goto(geom.Point2{X: 2.2, Y: 0.4})
	p.Goto(geom.Point2{X: 0.5, Y: 0.8})
	p.Goto(geom.Point2{X: 0.6, Y: 1.7})
	p.Pause(3)
	add(under.trait("coded_drift_table", "the daylight comes and goes, a table top hides it for up to two seconds, as H.264 at 1 Mbit/s", p.Drive()), func(t *Trait) {
		t.Scene.Light.DriftShare, t.Scene.Light.DriftPeriod = 0.25, 37
		t.Bounds.PathRMS = 0.005
		t.Encode = coded("1000k")
	})
	add(g.trait("coded_1080p30", "1920 x 1080, thirty frames a second, as H.264 at 8 Mbit/s", g.tour(2, 8, 2)), func(t *Trait) {
		t.remark(stageCamera(1920, 1080))
		t.Scene.Timing.FPS = 30
		t.Scene.Length = math.Floor(t.Scene.Path.End()*30) / 30
		t.Long = true
		t.Encode = coded("8000k")
	})
}

func emptyTraits(add adder) {
	g := newStage()
	still := scene.Drive{Path: scene.Path{scene.At(0, 1.4, 0.9, 30), scene.At(20, 1.4, 0.9, 30)}}
	add(g.trait("only_a_person", "a person, and no robot", still), func(t *Trait) {
		t.Scene.NoRobot, t.Expect = true, ExpectNoRobot
		t.Scene.People = []scene.Person{scene.NewPerson(scene.Path{scene.At(2, 0.4, -1.6, 60), scene.At(5, 1.6, 0.7, 60), scene.At(9, 1.6, 0.7, 60), scene.At(10, 1.6, 0.7, 150), scene.At(14, -1, 2, 150)})}
	})
	add(g.trait("only_a_ball", "a ball, and no robot", still), func(t *Trait) {
		t.Scene.NoRobot, t.Expect = true, ExpectNoRobot
		t.Scene.Balls = []scene.Ball{{Color: scene.BGR{70, 60, 190}, Radius: 0.11, Walk: scene.Path{scene.At(3, -0.4, 1.9, 0), scene.At(7, 1.9, 0.95, 0), scene.At(9, 2.6, 0.7, 0), scene.At(40, 2.7, 0.66, 0)}}}
	})
	add(g.trait("only_a_pet", "a cat, and no robot", still), func(t *Trait) {
		t.Scene.NoRobot, t.Expect = true, ExpectNoRobot
		t.Scene.Pets = []scene.Pet{{Color: scene.BGR{70, 110, 150}, Size: 0.4, Walk: scene.Path{scene.At(2, 3.4, 0.3, 160), scene.At(6, 1.8, 0.8, 160), scene.At(7, 1.6, 1.1, 100), scene.At(12, 1.6, 1.1, 100), scene.At(16, -0.5, 2.4, 150)}}}
	})
	add(g.trait("empty_room", "nothing but the room and its light", still), func(t *Trait) {
		t.Scene.NoRobot, t.Expect = true, ExpectNoRobot
		t.Scene.Light.DriftShare, t.Scene.Light.DriftPeriod = 0.1, 30
	})
	add(g.trait("never_moves", "the robot stands there all the time", still), func(t *Trait) { t.Expect = ExpectNeverMoved })
}
