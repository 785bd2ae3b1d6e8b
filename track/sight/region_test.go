package sight

import (
	"math"
	"testing"

	"swathe/geom"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
)

// The map of a whole room has its best place on the robot: with any colour
// alike in an ordinary room, and with the colours learned where robot and floor
// are both dark. Fit then moves an outline that lies beside the robot back to it.
func TestRegionFindsTheRobot(t *testing.T) {
	for _, name := range []string{"plain", "coded_dark"} {
		t.Run(name, func(t *testing.T) {
			s, set, times, draw := drawn(t, name)
			n := len(times)
			var samples []*Picture
			for k := 0; k < 12; k++ {
				samples = append(samples, draw(k*n/12))
			}
			bg := Learn(&set, samples, nil)
			wt := NewWatcher(set, bg)
			reg := bg.region
			for k := 1; k < 12; k++ {
				p := draw(k*n/12 + 3)
				wt.whole(p)
				reg.Take(&wt.small, &wt.su, &wt.sv, &wt.lt, s.Path.At(p.T).Pose)
			}
			check := func(known string, bound float64) {
				worst, back := 0.0, 0.0
				for k := 1; k < 9; k++ {
					p := draw(k*n/9 + 7)
					at := s.Path.At(p.T)
					wt.whole(p)
					reg.Fill(&wt.small, &wt.su, &wt.sv, &wt.lt)
					m := reg.Modes(3, 0.1)
					worst = math.Max(worst, math.Hypot(m[0].Pose.X-at.X, m[0].Pose.Y-at.Y))
					f := reg.Fit(geom.Pose{X: at.X + 0.03, Y: at.Y - 0.02}, 3)
					back = math.Max(back, math.Hypot(f.X-at.X, f.Y-at.Y))
				}
				t.Logf("%s: the best place is within %.0f mm, an outline 36 mm beside comes within %.0f mm", known, 1e3*worst, 1e3*back)
				if worst > bound || back > bound {
					t.Errorf("%s: the bound is %.0f mm", known, 1e3*bound)
				}
			}
			if name == "plain" {
				check("any colour", 0.06)
			}
			reg.Know()
			check("colours known", 0.06)
		})
	}
}

// A place that was decided otherwise takes the place of the first sighting of
// that time, and keeps its frame.
func TestRevise(t *testing.T) {
	s := []Sighting{{T: 1, Frame: 10}, {T: 2, Frame: 20, Found: true, X: 1}, {T: 3, Frame: 30}}
	Revise(s, []Sighting{{T: 1, Found: true, X: 5, Revised: true}, {T: 2, Why: WhyNothing, Revised: true}, {T: 2.5, Found: true}})
	if !s[0].Found || s[0].X != 5 || s[0].Frame != 10 || s[1].Found || s[1].Frame != 20 || s[2].Found {
		t.Errorf("revised to %+v", s)
	}
}

// drawn is the scene of a trait, its set-up, the times of its frames and what draws one.
func drawn(t *testing.T, name string) (s *scene.Scene, set Setup, times []float64, draw func(i int) *Picture) {
	t.Helper()
	trait, ok := scenetest.FindTrait(name)
	if !ok {
		t.Fatal("no such trait")
	}
	s = &trait.Scene
	r, err := scene.NewRenderer(s)
	if err != nil {
		t.Fatal(err)
	}
	w, h := s.Camera.Width, s.Camera.Height
	bgr := make([]byte, 3*w*h)
	return s, NewSetup(s.Camera, s.Plan, s.Robot, 0), r.Times(), func(i int) *Picture {
		r.Draw(i, bgr)
		return FromBGR(bgr, w, h, r.Times()[i], nil)
	}
}
