package work

import (
	"context"
	"errors"
	"math"
	"os"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/trial"
)

// Rooms by chance in which everything is but the robot: people, pets, balls, a
// camera that is knocked, changing light. None is measured, so that no event is
// told of any. Sixty with SWATHE_LONG, two daily; drawn and looked at in this
// process. What no robot makes of itself is never a run.
func TestRecordingsWithoutARobot(t *testing.T) {
	seeds := []uint64{16, 48} // in these the lines of the floor and a shadow once were a robot that stands
	if os.Getenv("SWATHE_LONG") != "" {
		seeds = seeds[:0]
		for seed := range uint64(60) {
			seeds = append(seeds, 1+seed)
		}
	}
	least := lab.DefaultSettings().LeastSeen
	said := map[track.Kind]int{}
	for _, seed := range seeds {
		tr := scenetest.ByChance(seed)
		s := tr.Scene
		s.NoRobot, s.Length = true, math.Min(s.Length, 12)
		c := tr.Survey
		sol, err := geom.SolveCamera(geom.CameraSpec{Name: "ceiling", Width: c.Width, Height: c.Height, LensHeight: c.Centre.Z, Model: c.Lens.Model, Marks: tr.Marks})
		if err != nil {
			t.Fatal(err)
		}
		opt := track.DefaultOptions()
		seen, err := trial.Look(context.Background(), &s, trial.Entry{Robot: s.Robot, Camera: sol.Camera, Rate: opt.Rate})
		if err != nil {
			t.Fatal(err)
		}
		job := track.Job{Camera: sol.Camera, CameraSigma: sol.FloorSigma, Plan: s.Plan, Robot: s.Robot, Start: math.NaN(), End: math.NaN()}
		trace, _, err := track.Link(seen.Sightings, job, s.Length, opt)
		var f *track.Failure
		switch {
		case errors.As(err, &f):
			said[f.Kind]++
		case err != nil:
			t.Fatal(err)
		case account(trace, nil).mark(least) != "":
			said[track.TooLittleSeen]++
		default:
			t.Errorf("seed %d: a robot was made up, seen for %.0f %% of the recording (people %d, pets %d, balls %d)", seed, 100*account(trace, nil).share, len(s.People), len(s.Pets), len(s.Balls))
		}
		if f != nil && f.Kind == track.NeverMoved {
			t.Errorf("seed %d: %s", seed, f.Message)
		}
	}
	t.Logf("%d rooms: %v", len(seeds), said)
}

// A robot that stands throughout is told as one that never moved. (Daily one
// recording of the lab of odd ones shows the same.)
func TestRobotThatNeverMoves(t *testing.T) {
	if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("SWATHE_LONG is not set")
	}
	for _, name := range []string{"plain", "featureless"} {
		tr, ok := scenetest.FindTrait(name)
		if !ok {
			t.Fatalf("there is no drawn recording %q", name)
		}
		s := tr.Scene
		s.Path, s.Length = scene.Path{{Pose: s.Path.At(s.Path.End() / 2).Pose}}, 4
		opt := track.DefaultOptions()
		seen, err := trial.Look(context.Background(), &s, trial.Entry{Robot: s.Robot, Camera: tr.Survey, Rate: opt.Rate})
		if err != nil {
			t.Fatal(err)
		}
		job := track.Job{Camera: tr.Survey, Plan: s.Plan, Robot: s.Robot, Start: math.NaN(), End: math.NaN()}
		_, _, err = track.Link(seen.Sightings, job, s.Length, opt)
		var f *track.Failure
		if !errors.As(err, &f) || f.Kind != track.NeverMoved {
			t.Errorf("%s: %v", name, err)
		}
	}
}
