package scene

import (
	"math"
	"testing"

	"swathe/geom"
)

// Closed forms for a line of width w that is swept over an open floor.
func TestSweepClosedForms(t *testing.T) {
	plan := &geom.Plan{Room: rect(0, 0, 6, 4)}
	robot := geom.Robot{Diameter: 0.3, Height: 0.1}
	tool := geom.Tool{Width: 0.3}
	o := DefaultPilotOptions()
	o.Wander = 0
	for _, c := range []struct {
		name           string
		drive          func(p *Pilot)
		covered, swept float64
	}{
		{"straight", func(p *Pilot) { p.Straight(3) }, 0.9, 0.9},
		{"quarter arc of 1 m", func(p *Pilot) { p.Arc(1, math.Pi/2) }, 0.471239, 0.471239},
		// Out and back in reverse: twice but for the last half radius, where
		// the robot has not yet gone on by its radius.
		{"out and back", func(p *Pilot) { p.Straight(3); p.Straight(-3) }, 0.9, 0.9 + 0.8775},
	} {
		p := NewPilot(plan, robot, geom.Pose{X: 1.503, Y: 1.507, Heading: 0.3}, o)
		c.drive(p)
		s := Scene{Plan: plan, Robot: robot, Path: p.Drive().Path}
		w := NewSweep(&s, tool, geom.Span{From: 0, To: s.Path.End()}, 0.0025)
		t.Logf("%s: covered %.6f m2 (want %.6f), swept %.6f (want %.6f)", c.name, w.CoveredM2, c.covered, w.SweptM2, c.swept)
		if math.Abs(w.CoveredM2/c.covered-1) > 1e-3 || math.Abs(w.SweptM2/c.swept-1) > 2e-3 {
			t.Errorf("%s: covered %.6f m2, swept %.6f; want %.6f and %.6f", c.name, w.CoveredM2, w.SweptM2, c.covered, c.swept)
		}
	}
}

// A whole turn with the line ahead of the centre sweeps pi w^2/4, wherever it
// is ahead (the ring between the line's ends and its middle).
func TestSweepTurnOnTheSpot(t *testing.T) {
	plan := &geom.Plan{Room: rect(0, 0, 3, 3)}
	robot := geom.Robot{Diameter: 0.3, Height: 0.1}
	for _, ahead := range []float64{0.02, 0.08, -0.1} {
		p := NewPilot(plan, robot, geom.Pose{X: 1.5, Y: 1.5}, DefaultPilotOptions())
		p.Turn(2 * math.Pi)
		s := Scene{Plan: plan, Robot: robot, Path: p.Drive().Path}
		w := NewSweep(&s, geom.Tool{Width: 0.3, Ahead: ahead}, geom.Span{From: 0, To: s.Path.End()}, 0.0025)
		t.Logf("line %.2f m ahead: %.6f m2, want 0.070686", ahead, w.CoveredM2)
		if math.Abs(w.CoveredM2/0.070686-1) > 0.01 {
			t.Errorf("line %.2f m ahead: %.6f m2, want 0.070686 within 1 %%", ahead, w.CoveredM2)
		}
		if math.Abs(w.SweptM2-w.CoveredM2) > 1e-9 {
			t.Errorf("turning on the spot added a pass: %.6f over %.6f m2", w.SweptM2, w.CoveredM2)
		}
	}
}
