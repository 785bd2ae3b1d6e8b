package courses

import (
	"math"
	"math/rand"
	"testing"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
)

// sightsOf are the test objects of a scene as they would be seen: where they lay five
// times a second, to a millimetre and a degree.
func sightsOf(s *scene.Scene, seed int64) []geom.ObjectSight {
	rng := rand.New(rand.NewSource(seed))
	var out []geom.ObjectSight
	for _, m := range s.Movers {
		p := geom.ObjectSight{Name: m.Name, Seen: true}
		if m.Seen != (geom.Span{}) {
			p.Present = m.Seen
		}
		var last geom.Pose
		for t := 0.0; t <= s.Length; t += 0.2 {
			q := m.Path.At(t).Pose
			// What does not move is looked at often enough to be known well.
			if n := len(p.Track); n == 0 || q != last {
				last = q
				p.Track = append(p.Track, geom.ObjectPose{T: t, X: q.X + 0.001*rng.NormFloat64(), Y: q.Y + 0.001*rng.NormFloat64(),
					Turn: q.Heading - m.Path[0].Heading})
			} else {
				k := p.Track[n-1]
				k.T = t
				p.Track = append(p.Track, k)
			}
		}
		out = append(out, p)
	}
	return out
}

func TestObjectCourses(t *testing.T) {
	seed := int64(6)
	t.Logf("seed %d", seed)
	seen := map[string]bool{}
	for _, c := range scenetest.Courses() {
		if c.TestObjects == nil {
			continue
		}
		truth := c.Truth()
		opt := coverage.DefaultOptions()
		opt.Cell, opt.WidthStep = 0.01, 0
		tr := noisy(truth.Trace(), seed)
		cov, err := coverage.Measure(tr, c.Scene.Plan, c.Scene.Robot, opt)
		if err != nil {
			t.Fatal(err)
		}
		got, err := conduct.FindTestObjects(tr, c.Scene.Plan, c.Scene.Robot, cov, sightsOf(&c.Scene, seed), conduct.DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(c.TestObjects) {
			t.Fatalf("%s: %d test objects told of, %d drawn", c.Name, len(got), len(c.TestObjects))
		}
		for i, w := range c.TestObjects {
			g := got[i]
			t.Logf("%s %s: %s (drawn %s), clearance %.0f mm (%.0f), moved %.0f mm (%.0f), first contact %.2f s (%.2f), %d contacts (%d), reaction at %.2f m %s, %.0f of %.0f cm2 uncleaned, by hand %v",
				c.Name, w.Name, g.Outcome, w.Outcome, g.ClearanceM*1000, w.ClearanceM*1000, g.MovedM*1000, w.MovedM*1000, g.FirstS, w.FirstContact, len(g.Contacts), len(w.Contacts), g.ReactionM, g.Reaction, g.UncleanedM2*1e4, g.RoundM2*1e4, g.ByHand)
			seen[g.Outcome] = true
			if hand := c.Name == "test_objects_by_hand"; hand != (len(g.ByHand) > 0) {
				t.Errorf("%s: moved by hand: %v", w.Name, g.ByHand)
			}
			if w.Name == "taken" {
				continue // the truth is drawn as if it had lain there to the end
			}
			if g.Outcome != w.Outcome {
				t.Errorf("%s: %q, drawn %q", w.Name, g.Outcome, w.Outcome)
			}
			if math.Abs(g.ClearanceM-w.ClearanceM) > 0.01 || math.Abs(g.MovedM-w.MovedM) > 0.01 {
				t.Errorf("%s: clearance %.1f mm (drawn %.1f), moved %.1f mm (drawn %.1f), allowed 10", w.Name, g.ClearanceM*1000, w.ClearanceM*1000, g.MovedM*1000, w.MovedM*1000)
			}
			if math.IsNaN(g.FirstS) != math.IsNaN(w.FirstContact) || math.Abs(g.FirstS-w.FirstContact) > 1 {
				t.Errorf("%s: first contact at %.2f s, drawn at %.2f", w.Name, g.FirstS, w.FirstContact)
			}
		}
	}
	for _, o := range conduct.Outcomes {
		// What cannot be decided is so by what is known, not by what was drawn.
		if !seen[o] && o != conduct.TooNear {
			t.Errorf("no course ends with %q", o)
		}
	}
}
