package work

import (
	"testing"

	"swathe/geom"
)

// drive is a robot that rests, drives 0.3 m/s along x from 2 s to 8 s, and rests.
func drive() *geom.Trace {
	t := &geom.Trace{Run: geom.Span{From: 2, To: 8}, Started: geom.StartedAtRest, Ended: geom.EndedStood, Length: 10}
	for i := 0; i <= 100; i++ {
		at := float64(i) / 10
		t.Samples = append(t.Samples, geom.Sample{T: at, X: 0.3 * min(max(at-2, 0), 6), State: geom.Seen})
	}
	return t
}

// TestCarry guards that a stretch marked as carried sweeps nothing and that the
// run begins and ends outside it.
func TestCarry(t *testing.T) {
	// At 1.8 m the robot rests from 8 s on.
	dock := &geom.Plan{Dock: &geom.Pose{X: 1.8}}
	fetched := drive()
	fetched.Run.To = 12
	for at := 10.1; at <= 12; at += 0.1 {
		fetched.Samples = append(fetched.Samples, geom.Sample{T: at, X: 1.8, Y: 0.5 * (at - 10), State: geom.Seen})
	}
	if got := carry(fetched, []geom.Span{{From: 10, To: 12}}, dock, geom.Robot{Diameter: 0.3}); got.Ended != geom.EndedDocked || got.Run.To > 8.1 {
		t.Errorf("docked at 8 s and fetched at 10: ended %q at %.1f s", got.Ended, got.Run.To)
	}
	for _, c := range []struct {
		name     string
		spans    []geom.Span
		from, to float64
		ended    string
	}{
		{"in the middle", []geom.Span{{From: 4, To: 5}}, 2, 8, geom.EndedStood},
		{"at the start", []geom.Span{{From: 1, To: 3}}, 3.2, 8, geom.EndedStood},
		{"at the end", []geom.Span{{From: 7, To: 10}}, 2, 6.8, geom.EndedCarried},
	} {
		before := drive()
		got := carry(before, c.spans, dock, geom.Robot{Diameter: 0.3})
		if got.Run.From < c.from-0.11 || got.Run.From > c.from+0.11 || got.Run.To < c.to-0.11 || got.Run.To > c.to+0.11 || got.Ended != c.ended {
			t.Errorf("%s: the run is %v and ended %q; want about %g to %g, %q", c.name, got.Run, got.Ended, c.from, c.to, c.ended)
		}
		for i, s := range got.Samples {
			if want := c.spans[0].Contains(s.T); (s.State == geom.Carried) != want {
				t.Errorf("%s: at %.1f s the state is %v", c.name, s.T, s.State)
			}
			if before.Samples[i].State != geom.Seen {
				t.Fatalf("%s: the trace given was changed", c.name)
			}
		}
	}
}
