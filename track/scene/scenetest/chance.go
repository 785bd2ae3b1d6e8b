package scenetest

import (
	"fmt"
	"math"

	"swathe/geom"
	"swathe/track/scene"
)

// chance draws numbers for a recording.
type chance struct{ *scene.Rand }

func (c chance) in(lo, hi float64) float64 { return lo + (hi-lo)*c.Float() }

func (c chance) one(share float64) bool { return c.Float() < share }

func (c chance) pick(v ...float64) float64 { return v[int(c.Float()*float64(len(v)))] }

// longHidden is the time out of sight beyond which a hidden stretch is judged
// by its sigma, s.
const longHidden = 2

// ByChance draws a recording in which everything is left to chance within what
// household robots, rooms and ceilings are like: room, camera, lens, survey,
// robot, looks, light, sensor, times, drive, people, the encoder. Up to a
// minute; few pictures a second, for drawing them is what takes time. The same seed gives the same recording.
func ByChance(seed uint64) Trait {
	c := chance{scene.NewRand(seed, 0xc4a9ce)}
	w, d := c.in(2.4, 4), c.in(2, 3)
	plan := &geom.Plan{Name: "stage", Room: scene.Outline([][2]float64{{0, 0}, {w, 0}, {w, d}, {0, d}})}
	robot := geom.Robot{Name: "heron", Diameter: c.in(0.24, 0.38), Height: c.in(0.065, 0.125), Tools: []geom.Tool{{Name: "brush", Width: 0.18, Ahead: 0.02}}}
	if c.one(0.1) {
		robot.Outline, robot.Diameter = dShape(robot.Diameter/2), 0
	}
	c.furnish(plan, robot)
	cam := c.camera(plan)
	s := scene.DefaultScene(cam, plan, robot)
	s.Name, s.Seed = fmt.Sprintf("chance_%d", seed), seed
	contrast := c.looks(&s)
	c.light(&s)
	s.Timing.FPS = c.pick(10, 10, 12.5, 15)
	s.Timing.Exposure = c.in(0.002, 0.015)
	if c.one(0.5) {
		s.Timing.Readout = c.in(0.003, 0.02)
	}
	if c.one(0.2) {
		s.Timing.Jitter, s.Timing.DropShare = c.in(0, 0.2)/s.Timing.FPS, c.in(0, 0.1)
	}
	s.Sensor = scene.Sensor{Noise: c.in(0.4, 3), Shot: c.in(0.5, 3.5), Blur: c.in(0.2, 0.9)}
	drive := c.drive(plan, robot)
	s.Path = drive.Path
	s.Length = math.Floor(math.Min(drive.Path.End(), 60)*s.Timing.FPS) / s.Timing.FPS
	c.company(&s)
	t := Trait{Name: s.Name, Why: "all by chance", Scene: s, Drive: drive, Survey: cam,
		Bounds: Bounds{PathRMS: 0.003, Path95: 0.008, HeadingRMS: geom.Radians(2), StartEnd: 0.5}, At: math.NaN(), Long: true}
	c.survey(&t)
	t.Encode = []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", fmt.Sprint(int(c.in(17, 27))), "-pix_fmt", "yuv420p"}
	t.bound(contrast)
	return t
}

// furnish puts furniture into a room.
func (c chance) furnish(plan *geom.Plan, robot geom.Robot) {
	_, hi := plan.Bounds()
	box := func(x, y, w, d float64) [][2]float64 {
		return [][2]float64{{x, y}, {x + w, y}, {x + w, y + d}, {x, y + d}}
	}
	if c.one(0.6) { // in a corner
		w, d := c.in(0.3, 0.7), c.in(0.3, 0.6)
		plan.Obstacles = append(plan.Obstacles, geom.Piece{Name: "crate", Outline: scene.Outline(box(hi.X-w, hi.Y-d, w, d)), Height: c.in(0.2, 1.1)})
	}
	if c.one(0.4) { // free
		plan.Obstacles = append(plan.Obstacles, geom.Piece{Name: "stool", Outline: scene.Outline(box(c.in(0.65, hi.X-1.1), c.in(0.65, hi.Y-1.1), 0.3, 0.3)), Height: c.in(0.1, 0.5)})
	}
	if c.one(0.35) {
		w, d := c.in(0.4, 0.9), c.in(0.4, 0.9)
		plan.Overhead = append(plan.Overhead, geom.Piece{Name: "table", Outline: scene.Outline(box(c.in(0.2, hi.X-w-0.2), c.in(0.2, hi.Y-d-0.2), w, d)), Height: c.in(robot.Height+0.12, 0.75)})
	}
	if c.one(0.25) {
		plan.Areas = append(plan.Areas, geom.Piece{Name: "rug", Outline: scene.Outline(box(c.in(0.1, 1), c.in(0.1, 0.8), c.in(0.6, 1.2), c.in(0.6, 1))), Kind: geom.AreaSurface, Height: c.pick(0.004, 0.008, 0.015)})
	}
}

// camera hangs a camera so that the whole floor shows.
func (c chance) camera(plan *geom.Plan) *geom.Camera {
	_, hi := plan.Bounds()
	tilt, toward := geom.Radians(c.in(0, 10)), c.in(0, 2*math.Pi)
	if c.one(0.15) {
		tilt = geom.Radians(c.in(15, 32))
	}
	z := c.in(2.3, 3)
	if tilt > 0.3 && hi.X+hi.Y > 5.4 {
		tilt /= 2 // the far end of a large room would show in pixels of 15 mm
	}
	// A tilted camera hangs as far back as it looks ahead.
	at := geom.Point3{X: hi.X/2 + c.in(-0.3, 0.3) - 0.8*z*math.Tan(tilt)*math.Cos(toward), Y: hi.Y/2 + c.in(-0.25, 0.25) - 0.8*z*math.Tan(tilt)*math.Sin(toward), Z: z}
	turn := geom.Radians(c.in(-4, 4)) + c.pick(0, 0, 0, math.Pi)
	size := [][2]int{{640, 480}, {640, 480}, {720, 540}, {800, 450}, {960, 540}}[int(c.Float()*5)]
	dist := [5]float64{c.in(-0.2, 0.02)}
	dist[1] = -0.15 * dist[0]
	model := geom.Brown
	if c.one(0.15) {
		model, dist = geom.Fisheye, [5]float64{c.in(-0.03, 0.01), c.in(-0.003, 0.003)}
	}
	cx, cy := float64(size[0]-1)/2+c.in(-6, 6), float64(size[1]-1)/2+c.in(-6, 6)
	for f := 1.2; ; f *= 0.97 {
		l := geom.Lens{Model: model, Fx: f * float64(size[0]), Fy: f * float64(size[0]), Cx: cx, Cy: cy, Dist: dist}
		cam := scene.Overhead(size[0], size[1], l, scene.Hang{Centre: at, Tilt: tilt, Toward: toward, Turn: turn})
		all := true
		for k := 0; k < 40 && all; k++ {
			u := float64(k%10) / 10
			p := [...]geom.Point3{{X: u * hi.X}, {X: hi.X, Y: u * hi.Y}, {X: (1 - u) * hi.X, Y: hi.Y}, {Y: (1 - u) * hi.Y}}[k/10]
			px, ok := cam.Project(p)
			all = ok && px.X > 8 && px.Y > 8 && px.X < float64(size[0])-8 && px.Y < float64(size[1])-8
		}
		if all || f < 0.2 {
			return cam
		}
	}
}

// leastContrast is how far top and floor differ at least, in light: of less no
// camera makes an outline.
const leastContrast = 22

// looks dresses room and robot; it returns how far the top's markings stand out.
func (c chance) looks(s *scene.Scene) (contrast float64) {
	tint := func(level float64) scene.BGR {
		k := 0.12
		return scene.BGR{hold255(level * c.in(1-k, 1+k)), hold255(level), hold255(level * c.in(1-k, 1+k))}
	}
	floor := c.in(55, 215)
	kinds := []string{scene.Plain, scene.Planks, scene.Tiles, scene.Carpet}
	s.Look.Floor = scene.Surface{Kind: kinds[int(c.Float()*4)], Color: tint(floor), Contrast: c.in(0.1, 0.9), Seed: s.Seed}
	top := c.in(22, 232)
	for math.Abs(top-floor) < leastContrast {
		top = c.in(22, 232)
	}
	contrast = 0
	if c.one(0.85) {
		contrast = c.in(0.35, 0.9)
	}
	accent := top + c.pick(-1, 1)*c.in(50, 110)
	if accent < 10 || accent > 245 {
		accent = 2*top - accent
	}
	s.Look.Robot = scene.RobotLook{Top: tint(top), Side: tint(top * c.in(0.55, 0.95)), Accent: tint(math.Max(10, math.Min(245, accent))), Contrast: contrast, Gloss: c.in(0, 0.4)}
	s.Look.Wall = tint(math.Min(240, floor*c.in(0.8, 1.4)))
	s.Look.WallHeight = c.pick(0, 0.1, 0.22)
	s.Look.Areas = []scene.Surface{{Kind: scene.Carpet, Color: tint(math.Min(235, floor*c.in(0.75, 1.25))), Contrast: c.in(0.2, 0.7), Seed: s.Seed + 9}}
	for math.Abs(float64(s.Look.Areas[0].Color[1])-top) < leastContrast {
		s.Look.Areas[0].Color = tint(math.Min(235, floor*c.in(0.75, 1.25)))
	}
	s.Look.Obstacles = []scene.BGR{tint(c.in(30, 200)), tint(c.in(30, 200))}
	s.Look.Overhead = []scene.BGR{tint(c.in(40, 210))}
	return contrast
}

func hold255(v float64) float32 { return float32(max(0, min(255, v))) }

// light lights the scene.
func (c chance) light(s *scene.Scene) {
	a, r := c.in(0, 2*math.Pi), c.in(0, 0.8)
	l := &s.Light
	l.Toward = geom.Point2{X: r * math.Cos(a), Y: r * math.Sin(a)}
	l.Shadow, l.Softness, l.Contact, l.Ambient = c.in(0.1, 0.6), c.in(0.05, 0.4), c.in(0.1, 0.4), c.in(0.4, 0.7)
	l.Falloff = c.in(0, 0.3)
	l.DriftShare, l.DriftPeriod = c.in(0, 0.04), c.in(40, 200)
	if c.one(0.25) {
		l.DriftShare, l.DriftPeriod = c.in(0.1, 0.25), c.in(25, 120)
	}
	if c.one(0.15) {
		l.Flicker = c.in(0.005, 0.02)
	}
	_, hi := s.Plan.Bounds()
	if c.one(0.15) {
		from := c.in(10, 40)
		l.Lamps = []scene.Lamp{{At: geom.Point2{X: c.in(0, hi.X), Y: c.in(0, hi.Y)}, Size: c.in(0.6, 4), Gain: c.in(-0.3, 0.35), On: geom.Span{From: from, To: from + c.in(5, 60)}}}
	}
	if c.one(0.1) {
		at := c.in(8, 40)
		l.Flashes = []scene.Flash{{Span: geom.Span{From: at, To: at + 0.12}, Gain: c.in(1.2, 1.6)}}
	}
}

// drive drives about: at rest at first and at last, or not.
func (c chance) drive(plan *geom.Plan, robot geom.Robot) scene.Drive {
	o := scene.DefaultPilotOptions()
	o.Speed, o.Accel, o.TurnRate = c.in(0.15, 0.4), c.in(0.4, 1.2), geom.Radians(c.in(60, 140))
	o.Keep, o.Wander, o.Seed = c.in(0.008, 0.03), c.in(0, 0.003), c.Next()
	_, hi := plan.Bounds()
	q := scene.NewGround(plan, robot.Height).Free(geom.Point2{X: c.in(0.2, hi.X-0.2), Y: c.in(0.2, hi.Y-0.2)}, robot.Reach()+0.06)
	p := scene.NewPilot(plan, robot, geom.Pose{X: q.X, Y: q.Y, Heading: c.in(-math.Pi, math.Pi)}, o)
	p.Pause(c.pick(0, 1, 4, 10, 20))
	end := p.Time() + c.in(22, 36)
	if c.one(0.2) {
		p.Turn(2 * math.Pi)
	}
	if c.one(0.35) {
		p.Edges()
	}
	spacing := robot.Reach() * c.in(0.6, 1)
	for p.Time() < end {
		if c.one(0.5) {
			p.Bounce(min(end, p.Time()+c.in(8, 20)))
		} else {
			p.Rows(c.pick(0, math.Pi/2, 0.4), spacing, c.pick(0, spacing), min(end, p.Time()+c.in(10, 30)))
		}
		if c.one(0.3) {
			p.PauseEvent(c.in(1, 6))
		}
	}
	p.Pause(c.pick(0, 1, 4, 10, 20))
	d := p.Drive()
	d.Path = scene.OnAreas(d.Path, plan)
	return d
}

// company lets others into the room.
func (c chance) company(s *scene.Scene) {
	_, hi := s.Plan.Bounds()
	across := func(from, speed float64) scene.Path {
		a := geom.Point2{X: c.in(0, hi.X), Y: -1.6}
		b := geom.Point2{X: c.in(0, hi.X), Y: hi.Y + 1.6}
		deg := geom.Degrees(math.Atan2(b.Y-a.Y, b.X-a.X))
		return scene.Path{scene.At(from, a.X, a.Y, deg), scene.At(from+a.Dist(b)/speed, b.X, b.Y, deg)}
	}
	if c.one(0.3) {
		p := scene.NewPerson(across(c.in(2, 35), c.in(0.6, 1.3)))
		p.Shirt, p.Legs = scene.Grey(hold255(c.in(30, 220))), scene.Grey(hold255(c.in(30, 160)))
		s.People = append(s.People, p)
	}
	if c.one(0.15) {
		s.Pets = append(s.Pets, scene.Pet{Walk: across(c.in(2, 35), c.in(0.4, 1)), Color: scene.Grey(hold255(c.in(30, 220))), Size: c.in(0.3, 0.45)})
	}
	if c.one(0.1) {
		s.Balls = append(s.Balls, scene.Ball{Walk: across(c.in(2, 35), c.in(0.4, 1)), Color: scene.BGR{70, 60, 190}, Radius: c.in(0.05, 0.12)})
	}
	if c.one(0.07) {
		s.Wobble = scene.Wobble{Shift: c.in(0.5, 2.5), Turn: geom.Radians(c.in(0, 0.15)), Period: c.in(2, 9)}
	} else if c.one(0.07) {
		l := s.Camera
		r := l.R
		for k, a := range []float64{c.in(-3, 3), c.in(-3, 3), c.in(-2, 2)} {
			turnRows(&r, k, a/l.Lens.Fx)
		}
		s.Nudges = []scene.Nudge{{From: c.in(5, 40), Camera: geom.NewCamera(l.Width, l.Height, l.Lens, r, l.Centre)}}
	}
}

// turnRows turns the camera whose rotation is r about its own axis k by a.
func turnRows(r *[3][3]float64, k int, a float64) {
	s, c := math.Sincos(a)
	i, j := (k+1)%3, (k+2)%3
	for m := range 3 {
		u, v := r[i][m], r[j][m]
		r[i][m], r[j][m] = c*u-s*v, s*u+c*v
	}
}

// survey notes a dozen marks or more, some of them raised or the lens's height
// taken with a tape.
func (c chance) survey(t *Trait) {
	raised := c.pick(0, 0.5)
	t.NoHeight = raised > 0 && c.one(0.5)
	t.Marks = scene.Marks(t.Survey, scene.MarkPoints(t.Scene.Plan, 4, int(c.pick(3, 4)), raised), 0.25, t.Scene.Seed)
}

// pixel is how wide a pixel is in the middle of the room at a height, m.
func (t *Trait) pixel(z float64) float64 {
	lo, hi := t.Scene.Plan.Bounds()
	mid := lo.Add(hi).Scale(0.5)
	return t.Survey.PixelSize(geom.Point3{X: mid.X, Y: mid.Y, Z: z})
}

// bound sets what must hold: no heading of a small or plain top; more leeway
// where the robot is hidden.
func (t *Trait) bound(contrast float64) {
	px := t.Scene.Robot.Radius() / t.pixel(t.Scene.Robot.Height)
	if t.Scene.Robot.Round() && (px < 26 || contrast == 0) {
		t.Bounds.HeadingRMS = math.NaN()
	}
	tr := t.Truth()
	if math.IsNaN(t.Bounds.HeadingRMS) {
		// Nobody sees it turn on the spot.
		t.Bounds.StartEnd += max(t.idle(tr.Run.From, 1), t.idle(tr.Run.To, -1))
	}
	from := math.NaN()
	for i, v := range tr.Visible {
		switch {
		case v > 0.5:
			from = math.NaN()
		case math.IsNaN(from):
			from = tr.Times[i]
		}
		if !math.IsNaN(from) {
			t.Bounds.PathRMS = max(t.Bounds.PathRMS, 0.005)
			if tr.Times[i]-from > longHidden {
				t.Bounds.InSigma = true
			}
		}
	}
	if t.Bounds.InSigma {
		t.Bounds.PathRMS = 0.003
	}
}

// idle is the time from a moment of the run, forwards or backwards, until the
// centre has moved by more than 5 mm.
func (t *Trait) idle(from float64, dir float64) float64 {
	a := t.Scene.Path.At(from)
	for d := 0.0; d < t.Scene.Length; d += 0.02 {
		if b := t.Scene.Path.At(from + dir*d); math.Hypot(b.X-a.X, b.Y-a.Y) > 0.005 {
			return d
		}
	}
	return 0
}
