package scenetest

import (
	"math"
	"testing"

	"swathe/geom"
	"swathe/track/scene"
)

// The run's bounds and how it began and ended, on paths of which they are
// plain to see.
func TestRunBounds(t *testing.T) {
	g := newStage()
	move := scene.Path{scene.At(0, 0.5, 0.5, 0), scene.At(4, 0.5, 0.5, 0), scene.At(9, 1.5, 0.5, 0), scene.At(12, 1.5, 0.5, 0)}
	cut := scene.Path{scene.At(0, 0.5, 0.5, 0), scene.At(10, 2.5, 0.5, 0)}
	turn := scene.Path{scene.At(0, 0.5, 0.5, 0), scene.At(3, 0.5, 0.5, 0), scene.At(4, 0.5, 0.5, 30), scene.At(8, 0.5, 0.5, 30)}
	off := append(scene.Path(nil), move...)
	off[3].Held = true
	off = append(off, scene.At(14, 1.5, -2, 0))
	creep := scene.Path{scene.At(0, 0.5, 0.5, 0), scene.At(10, 0.504, 0.5, 2)}
	docked := g
	docked.plan.Dock = &geom.Pose{X: 1.5, Y: 0.5}
	for _, c := range []struct {
		name           string
		g              stage
		path           scene.Path
		from, to       float64
		started, ended string
		moved          bool
	}{
		// 5 mm at 0.2 m/s is 25 ms.
		{"out", g, move, 4.025, 8.975, geom.StartedAtRest, geom.EndedStood, true},
		{"cut off", g, cut, 0.025, 9.975, geom.StartedMoving, geom.EndedRecording, true},
		// 3 degrees at 30 a second are a tenth of a second.
		{"turn", g, turn, 3.1, 3.9, geom.StartedAtRest, geom.EndedStood, true},
		{"carried off", g, off, 4.025, 8.975, geom.StartedAtRest, geom.EndedCarried, true},
		{"docked", docked, move, 4.025, 8.975, geom.StartedAtRest, geom.EndedDocked, true},
		{"too little", g, creep, 0, 0, "", "", false},
	} {
		tr := c.g.trait(c.name, "", scene.Drive{Path: c.path})
		truth := tr.Truth()
		if truth.Moved != c.moved || truth.Started != c.started || truth.Ended != c.ended ||
			math.Abs(truth.Run.From-c.from) > 0.011 || math.Abs(truth.Run.To-c.to) > 0.011 {
			t.Errorf("%s: moved %v, run %.3f..%.3f, %q, %q; want %v, %.3f..%.3f, %q, %q", c.name, truth.Moved,
				truth.Run.From, truth.Run.To, truth.Started, truth.Ended, c.moved, c.from, c.to, c.started, c.ended)
		}
	}
}

// The trace that the truth gives is carried while it is carried, and as fast
// as the robot drives.
func TestTruthTrace(t *testing.T) {
	tr, ok := FindTrait("carried")
	if !ok {
		t.Fatal("there is no such trait")
	}
	truth := tr.Truth()
	trace := truth.Trace()
	carried := 0
	for i, s := range trace.Samples {
		if s.State == geom.Carried {
			carried++
		} else if s.Speed > 0.4 && i > 0 && trace.Samples[i-1].State != geom.Carried {
			t.Errorf("%.2f m/s at %.2f s", s.Speed, s.T)
		}
	}
	if want := int(6 * tr.Scene.Timing.FPS); carried < want-2 || carried > want+2 {
		t.Errorf("%d samples are carried, want about %d", carried, want)
	}
}
