package courses

import (
	"context"
	"math"
	"os"
	"testing"
	"time"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/sight"
	"swathe/track/trial"
)

// seenProps draws a course, looks at its pixels, and tells what became of its
// props.
func seenProps(t *testing.T, s *scene.Scene) ([]conduct.PropResult, []sight.PropSight) {
	t.Helper()
	begun := time.Now()
	opt := track.DefaultOptions()
	looks, seen, err := trial.Looks(context.Background(), s, nil, nil, opt.Rate, nil)
	if err != nil {
		t.Fatal(err)
	}
	job := track.Job{Camera: s.Camera, Plan: s.Plan, Robot: s.Robot, Start: math.NaN(), End: math.NaN()}
	tr, _, err := track.Link(looks, job, s.Length, opt)
	if err != nil {
		t.Fatal(err)
	}
	copt := coverage.DefaultOptions()
	copt.Cell, copt.WidthStep = 0.01, 0
	cov, err := coverage.Measure(tr, s.Plan, s.Robot, copt)
	if err != nil {
		t.Fatal(err)
	}
	var sights []conduct.PropSight
	for _, p := range seen {
		q := conduct.PropSight{Name: p.Name, Seen: p.Seen, Reason: p.Reason, Present: p.Present}
		for _, k := range p.Track {
			q.Track = append(q.Track, conduct.PropPose{T: k.T, X: k.X, Y: k.Y, TurnRad: k.Turn})
		}
		sights = append(sights, q)
		if os.Getenv("PROPDUMP") != "" {
			t.Logf("%s seen %v %s present %v", p.Name, p.Seen, p.Reason, p.Present)
			for _, m := range s.Movers {
				if m.Name == p.Name {
					for _, k := range p.Track {
						w := m.Path.At(k.T)
						t.Logf("   %6.2f  %.4f %.4f %5.1f   drawn %.4f %.4f %5.1f   off %.1f mm", k.T, k.X, k.Y, geom.Degrees(k.Turn), w.X, w.Y, geom.Degrees(w.Heading-m.Path[0].Heading), 1000*math.Hypot(k.X-w.X, k.Y-w.Y))
					}
				}
			}
			os.WriteFile("/tmp/w/h12_"+s.Name+"_"+p.Name+"_before.png", p.Before, 0o644)
			os.WriteFile("/tmp/w/h12_"+s.Name+"_"+p.Name+"_after.png", p.After, 0o644)
		}
	}
	got, err := conduct.FindProps(tr, s.Plan, s.Robot, cov, sights, conduct.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s: %.1f s", s.Name, time.Since(begun).Seconds())
	return got, seen
}

func TestSeenPropCourses(t *testing.T) {
	for _, c := range scene.Courses() {
		if c.Props == nil {
			continue
		}
		t.Run(c.Name, func(t *testing.T) { judgeSeen(t, c) })
	}
}

// judgeSeen holds what was seen of a course's props against what was drawn.
func judgeSeen(t *testing.T, c scene.Course) {
	got, _ := seenProps(t, &c.Scene)
	for i, w := range c.Props {
		g := got[i]
		t.Logf("%s %s: %s %s (drawn %s), clearance %.1f mm (%.1f), moved %.1f mm (%.1f), first contact %.2f s (%.2f), %d contacts (%d), reaction at %.2f m %s, by hand %v",
			c.Name, w.Name, g.Outcome, g.Reason, w.Outcome, g.ClearanceM*1000, w.ClearanceM*1000, g.MovedM*1000, w.MovedM*1000, g.FirstS, w.FirstContact, len(g.Contacts), len(w.Contacts), g.ReactionM, g.Reaction, g.ByHand)
		if hand := c.Name == "props_by_hand"; hand != (len(g.ByHand) > 0) {
			t.Errorf("%s: moved by hand: %v", w.Name, g.ByHand)
		}
		if w.Name == "taken" {
			continue // the truth is drawn as if it had lain there to the end
		}
		if g.Outcome != w.Outcome {
			t.Errorf("%s: %q, drawn %q", w.Name, g.Outcome, w.Outcome)
		}
		if !(math.Abs(g.ClearanceM-w.ClearanceM) <= 0.01) || !(math.Abs(g.MovedM-w.MovedM) <= 0.01) {
			t.Errorf("%s: clearance %.1f mm (drawn %.1f), moved %.1f mm (drawn %.1f), allowed 10", w.Name, g.ClearanceM*1000, w.ClearanceM*1000, g.MovedM*1000, w.MovedM*1000)
		}
		if math.IsNaN(g.FirstS) != math.IsNaN(w.FirstContact) || math.Abs(g.FirstS-w.FirstContact) > 1 {
			t.Errorf("%s: first contact at %.2f s, drawn at %.2f", w.Name, g.FirstS, w.FirstContact)
		}
	}
}
