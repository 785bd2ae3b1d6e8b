package film

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track/paint"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
)

// company is a drawn scene with a person in it.
func company(t *testing.T, name string, people ...scene.Person) scene.Scene {
	t.Helper()
	all := scenetest.Traits()
	for _, c := range scenetest.Courses() {
		all = append(all, c.Trait)
	}
	for _, tr := range all {
		if tr.Name == name {
			if people != nil {
				tr.Scene.People = people
			}
			return tr.Scene
		}
	}
	t.Fatalf("no trait %q", name)
	return scene.Scene{}
}

func step(t, x, y, deg float64) scene.TimedPose {
	return scene.TimedPose{T: t, Pose: geom.Pose{X: x, Y: y, Heading: geom.Radians(deg)}}
}

// What a person shows, told by drawing each frame with and without people, is
// covered in every frame, the head in all of it: while they walk by, bend over
// the robot, carry it, come and stay, and stand still for most of the recording.
// Without people nothing is covered; the robot is left unless somebody reaches for it.
func TestCloakHidesPeople(t *testing.T) {
	still := company(t, "plain").Length
	const bound = 0.06
	long := os.Getenv("SWATHE_LONG") != ""
	every := 40
	if long {
		every = 4
	}
	for name, s := range map[string]scene.Scene{
		"nobody":                       company(t, "plain"),
		"test objects are pushed":      company(t, "test_objects"),
		"a lamp is switched":           company(t, "lamp_switched"),
		"furniture was shifted":        company(t, "shifted_obstacle"),
		"walks by":                     company(t, "person_middle"),
		"bends over the robot":         company(t, "touched"),
		"carries the robot":            company(t, "carried"),
		"comes and stays":              company(t, "person_end"),
		"stands still nearly all time": company(t, "plain", scene.NewPerson(scene.Path{step(2, 2.3, -1.6, 90), step(4, 2.4, 0.25, 90), step(still, 2.4, 0.25, 90)})),
		"stands there and leaves":      company(t, "plain", scene.NewPerson(scene.Path{step(0, 2.4, 0.25, 90), step(still-6, 2.4, 0.25, 90), step(still-3.5, 2.3, -2, -90)})),
	} {
		if !long && name != "stands there and leaves" {
			continue
		}
		t.Run(name, func(t *testing.T) {
			empty := s
			empty.People = nil
			with, err := scene.NewRenderer(&s)
			if err != nil {
				t.Fatal(err)
			}
			without, err := scene.NewRenderer(&empty)
			if err != nil {
				t.Fatal(err)
			}
			times := with.Times()
			w, h := s.Camera.Width, s.Camera.Height
			bgr, bare := make([]byte, 3*w*h), make([]byte, 3*w*h)
			pose := func(at float64) (geom.Pose, bool) {
				q := s.Path.At(at)
				return q.Pose, !q.Held && q.Lift == 0
			}
			var samples []*sight.Picture
			for k := range CloakSamples {
				n := k * len(times) / CloakSamples
				with.Draw(n, bgr)
				samples = append(samples, sight.FromBGR(bgr, w, h, times[n], nil))
			}
			cloak := NewCloak(Pane{Camera: *s.Camera, Plan: *s.Plan, Robot: s.Robot}, 0, samples, pose)
			v := cloak.veil
			var pic *sight.Picture
			worst, when, heads, frames, covered := 0.0, 0.0, 0, 0, 0
			// Frames in which the robot is known and nobody is seen at it, nor was within
			// the veil's hold, and in which it is covered.
			robot, ofRobot, company := 0, 0, math.Inf(-1)
			for n := 0; n < len(times); n += every {
				at := times[n]
				with.Draw(n, bgr)
				without.Draw(n, bare)
				orig := append([]byte(nil), bgr...)
				pic = sight.FromBGR(bgr, w, h, at, pic)
				q, known := pose(at)
				cloak.Cover(paint.New(w, h, bgr), pic, q, known, at)
				changed, open := 0, 0
				for i := 0; i < w*h; i++ {
					k := i/w/v.size*v.nx + i%w/v.size
					if v.covers(k, at) {
						covered++
					}
					d := 0
					for c := 3 * i; c < 3*i+3; c++ {
						d = max(d, int(orig[c])-int(bare[c]), int(bare[c])-int(orig[c]))
					}
					// Less is a person's faint shadow.
					if d < 25 {
						continue
					}
					changed++
					if !v.covers(k, at) {
						open++
					}
				}
				frames++
				if c, ok := s.Camera.Project(geom.Point3{X: q.X, Y: q.Y, Z: s.Robot.Height}); known && ok && c.X > 0 && c.Y > 0 && c.X < float64(w) && c.Y < float64(h) {
					if near := atRobot(orig, bare, w, h, c, 2*s.Robot.Reach()/s.Camera.PixelSize(geom.Point3{X: q.X, Y: q.Y})); near {
						company = at
					}
					if at > company+veilHold {
						robot++
						if v.covers(int(c.Y)/v.size*v.nx+int(c.X)/v.size, at) {
							ofRobot++
						}
					}
				}
				// Where a foot just comes into the picture a few pixels are as good
				// as floor: less than a tenth of a head is nobody.
				k := s.Camera.PixelSize(geom.Point3{X: 2, Y: 1, Z: 1.6})
				head := math.Pi * 0.1 * 0.09 / (k * k)
				if share := float64(open) / math.Max(head, float64(changed)); share > worst {
					worst, when = share, at
				}
				for _, p := range s.People {
					if at < p.Walk[0].T || at > p.Walk.End() {
						continue
					}
					b := p.Walk.At(at)
					c, ok := s.Camera.Project(geom.Point3{X: b.X, Y: b.Y, Z: 1.6})
					if !ok || c.X < 0 || c.Y < 0 || c.X >= float64(w) || c.Y >= float64(h) || changed <= 50 {
						continue
					}
					heads++
					if i := int(c.Y)*w + int(c.X); !v.covers(i/w/v.size*v.nx+i%w/v.size, at) && orig[3*i] != bare[3*i] {
						t.Errorf("at %.1f s the head at pixel %.0f, %.0f shows", at, c.X, c.Y)
					}
				}
			}
			share := float64(covered) / float64(frames*w*h)
			t.Logf("%d frames, %d with a head in it; at most %.1f %% of a person shows (bound %.0f), %.1f %% of the pictures are covered", frames, heads, worst*100, bound*100, share*100)
			if worst > bound {
				t.Errorf("%.1f %% of a person shows at %.1f s", worst*100, when)
			}
			t.Logf("the robot is covered in %.1f %% of %d frames (bound 2) that show nobody at it", 100*float64(ofRobot)/math.Max(1, float64(robot)), robot)
			if float64(ofRobot) > 0.02*float64(robot) {
				t.Errorf("the robot is covered in %d of %d frames", ofRobot, robot)
			}
			if len(s.People) == 0 && share > 0 {
				t.Errorf("nobody is there, and %.2f %% of the pictures are covered", share*100)
			}
		})
	}
}

// atRobot tells whether two pictures differ, as by a person, within r px of c.
func atRobot(a, b []byte, w, h int, c geom.Point2, r float64) bool {
	n := 0
	for y := max(0, int(c.Y-r)); y < min(h, int(c.Y+r)); y++ {
		for x := max(0, int(c.X-r)); x < min(w, int(c.X+r)); x++ {
			if d := int(a[3*(y*w+x)]) - int(b[3*(y*w+x)]); math.Hypot(float64(x)-c.X, float64(y)-c.Y) < r && (d > 25 || d < -25) {
				n++
			}
		}
	}
	return n > 4
}

// TestHeadsAreCovered draws twenty recordings in which somebody walks in, stands where
// the head is in the picture and leaves, each another way, and looks at the head in
// every frame that shows one.
func TestHeadsAreCovered(t *testing.T) {
	if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("draws twenty recordings; SWATHE_LONG is not set")
	}
	const recordings, seed = 20, uint64(1)
	empty := map[int]*sight.Picture{} // samples before and after somebody is there are the same in all
	rng := rand.New(rand.NewPCG(seed, 7))
	t.Logf("seed %d", seed)
	frames, shown := 0, 0
	for k := range recordings {
		s := company(t, "plain")
		w, h := s.Camera.Width, s.Camera.Height
		inside := func() geom.Point2 {
			for {
				px := geom.Point2{X: float64(w) * (0.1 + 0.8*rng.Float64()), Y: float64(h) * (0.1 + 0.8*rng.Float64())}
				if p, ok := s.Camera.Floor(px, 1.6); ok {
					return p
				}
			}
		}
		a, b, from := inside(), inside(), 4+8*rng.Float64()
		turn := func(p, q geom.Point2) float64 { return math.Atan2(q.Y-p.Y, q.X-p.X) * 180 / math.Pi }
		out := geom.Point2{X: a.X, Y: -2}
		s.People = []scene.Person{scene.NewPerson(scene.Path{step(from, out.X, out.Y, 90), step(from+2.5, a.X, a.Y, 90), step(from+4, a.X, a.Y, turn(a, b)), step(from+5.5, b.X, b.Y, turn(a, b)),
			step(from+6.5, b.X, b.Y, -90), step(from+9, b.X, -2, -90)})}
		with, err := scene.NewRenderer(&s)
		if err != nil {
			t.Fatal(err)
		}
		times := with.Times()
		bgr := make([]byte, 3*w*h)
		pose := func(at float64) (geom.Pose, bool) { return s.Path.At(at).Pose, true }
		var samples []*sight.Picture
		for i := range CloakSamples {
			n := i * len(times) / CloakSamples
			pic, there := empty[n], times[n] >= from-0.1 && times[n] <= from+9.1
			if pic == nil || there {
				with.Draw(n, bgr)
				pic = sight.FromBGR(bgr, w, h, times[n], nil)
			}
			if !there {
				empty[n] = pic
			}
			samples = append(samples, pic)
		}
		cloak := NewCloak(Pane{Camera: *s.Camera, Plan: *s.Plan, Robot: s.Robot}, 0, samples, pose)
		v := cloak.veil
		for n := 0; n < len(times); n += 8 {
			at := times[n]
			if at < from || at > from+9 {
				continue
			}
			p := s.People[0].Walk.At(at)
			c, ok := s.Camera.Project(geom.Point3{X: p.X, Y: p.Y, Z: 1.6})
			if !ok || c.X < 0 || c.Y < 0 || c.X >= float64(w) || c.Y >= float64(h) {
				continue
			}
			with.Draw(n, bgr)
			q, known := pose(at)
			cloak.Cover(paint.New(w, h, bgr), sight.FromBGR(bgr, w, h, at, nil), q, known, at)
			frames++
			if !v.covers(int(c.Y)/v.size*v.nx+int(c.X)/v.size, at) {
				shown++
				t.Errorf("recording %d: at %.1f s the head at pixel %.0f, %.0f shows", k+1, at, c.X, c.Y)
			}
		}
		t.Logf("recording %d: %d frames with a head so far, shown in %d", k+1, frames, shown)
	}
	t.Logf("%d recordings, %d frames with a head, shown in %d (bound 0)", recordings, frames, shown)
	if frames < 8*recordings { // every eighth frame is looked at
		t.Errorf("only %d frames show a head", frames)
	}
}
