package film

import (
	"math"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track/paint"
	"swathe/track/scene"
	"swathe/track/sight"
)

// company is a drawn scene with a person in it.
func company(t *testing.T, name string, people ...scene.Person) scene.Scene {
	t.Helper()
	all := scene.Traits()
	for _, c := range scene.Courses() {
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
	every := 20
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
		if !long && name != "bends over the robot" && name != "stands there and leaves" {
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
			robot, ofRobot := 0, 0 // frames in which it is known, and in which it is covered
			for n := 0; n < len(times); n += every {
				at := times[n]
				with.Draw(n, bgr)
				without.Draw(n, bare)
				orig := append([]byte(nil), bgr...)
				pic = sight.FromBGR(bgr, w, h, at, pic)
				q, known := pose(at)
				cloak.Cover(paint.New(w, h, bgr), pic, q, known, at)
				if c, ok := s.Camera.Project(geom.Point3{X: q.X, Y: q.Y, Z: s.Robot.Height}); known && ok && c.X > 0 && c.Y > 0 && c.X < float64(w) && c.Y < float64(h) {
					robot++
					if v.covers(int(c.Y)/v.size*v.nx+int(c.X)/v.size, at) {
						ofRobot++
					}
				}
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
			apart := name != "bends over the robot" && name != "carries the robot"
			t.Logf("the robot is covered in %.1f %% of %d frames (bound 2, where nobody reaches for it)", 100*float64(ofRobot)/math.Max(1, float64(robot)), robot)
			if apart && float64(ofRobot) > 0.02*float64(robot) {
				t.Errorf("the robot is covered in %d of %d frames", ofRobot, robot)
			}
			if len(s.People) == 0 && share > 0 {
				t.Errorf("nobody is there, and %.2f %% of the pictures are covered", share*100)
			}
		})
	}
}
