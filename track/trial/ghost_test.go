package trial

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
)

// ghostKinds are the ways in which a robot that stands for more than half of a
// recording becomes floor.
var ghostKinds = []string{"stands, then drives off", "drives up, then stands", "stands, then is gone from one frame to the next"}

// ghostScene is a scene by chance in which the robot stands for a share of the
// recording and is elsewhere for the rest.
func ghostScene(seed uint64, kind int, share, length float64) (*scenetest.Trait, bool) {
	tr := scenetest.ByChance(seed)
	s := &tr.Scene
	truth, drive := tr.Truth(), s.Path
	if !truth.Moved {
		return nil, false
	}
	// Where it stands it is in full sight, and for a second and more it is so far
	// away that all of that floor shows.
	stand, rest := share*length, (1-share)*length
	from := math.NaN()
	for i, t := range truth.Times {
		at, end := drive.At(t), t+rest
		if kind == 1 {
			end = t - rest
		}
		if truth.Visible[i] < 0.98 || end < 0 || end > drive.End() {
			continue
		}
		far := 0.0
		for u := math.Min(t, end); u < math.Max(t, end); u += 0.1 {
			if q := drive.At(u); math.Hypot(q.X-at.X, q.Y-at.Y) > 2.6*s.Robot.Reach() {
				far += 0.1
			}
		}
		if kind == 2 || far > 1 {
			from = t
			break
		}
	}
	if math.IsNaN(from) {
		return nil, false
	}
	var p scene.Path
	for t := 0.0; t <= length; t += 0.05 {
		q := drive.At(from)
		switch {
		case kind == 0 && t > stand:
			q = drive.At(from + t - stand)
		case kind == 1 && t < rest:
			q = drive.At(from + t - rest)
		case kind == 2 && t > stand:
			q = scene.TimedPose{Pose: geom.Pose{X: -60, Y: -60}}
		}
		q.T = t
		p = append(p, q)
	}
	s.Path, s.Length = p, length
	tr.Drive.Path = p
	return &tr, true
}

// A robot that stood so long that the room's picture shows it leaves no
// detection behind where it stood: nothing is seen farther from where the robot
// is than its own radius. Rooms, robots, light and people by chance.
func TestNoGhost(t *testing.T) {
	seeds, length := 1, 8.0
	if os.Getenv("SWATHE_LONG") != "" {
		seeds, length = 18, 14
	}
	measured, wanted := 0, 0
	for n, seed := 0, uint64(301); n < seeds; seed++ {
		kind := n % len(ghostKinds)
		share := 0.55 + 0.35*rand.New(rand.NewPCG(seed, 0x9057)).Float64()
		tr, ok := ghostScene(seed, kind, share, length)
		if !ok {
			continue
		}
		n++
		s, sol := &tr.Scene, solve(t, *tr)
		opt := track.DefaultOptions()
		seen, err := Look(context.Background(), s, Entry{Robot: s.Robot, Camera: sol.Camera, Rate: opt.Rate})
		if err != nil {
			t.Fatal(err)
		}
		// What is said of each look: by the trace, or by the look itself where the
		// recording is refused.
		type say struct{ t, x, y float64 }
		var said []say
		job := track.Job{Camera: sol.Camera, CameraSigma: sol.FloorSigma, Plan: s.Plan, Robot: s.Robot, Start: math.NaN(), End: math.NaN()}
		trace, _, err := track.Link(seen.Sightings, job, s.Length, opt)
		var f *track.Failure
		switch {
		case err == nil:
			for _, q := range trace.Samples {
				if q.State == geom.Seen {
					said = append(said, say{q.T, q.X, q.Y})
				}
			}
			measured++
		case errors.As(err, &f):
			for _, q := range seen.Sightings {
				if q.Found {
					said = append(said, say{q.T, q.X, q.Y})
				}
			}
		default:
			t.Fatal(err)
		}
		if kind < 2 {
			wanted++
		}
		ghosts, far := 0, 0.0
		for _, q := range said {
			at := s.Path.At(q.t)
			if d := math.Hypot(q.x-at.X, q.y-at.Y); d > s.Robot.Reach() {
				ghosts++
				far = math.Max(far, d)
			}
		}
		t.Logf("seed %d, %s, for %.0f %% of %.0f s: seen in %d of %d looks, error %v", seed, ghostKinds[kind], 100*share, length, len(said), len(seen.Sightings), err)
		if ghosts > 0 {
			t.Errorf("seed %d, %s: %d of %d looks see it where it is not, up to %.2f m off (its radius is %.2f m)", seed, ghostKinds[kind], ghosts, len(said), far, s.Robot.Reach())
		}
	}
	t.Logf("%d scenes, %d measured; %d could be", seeds, measured, wanted)
	if 10*measured < 8*wanted {
		t.Errorf("only %d of %d were measured", measured, wanted)
	}
}
