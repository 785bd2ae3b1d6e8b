package trial

import (
	"context"
	"math"
	"os"
	"path/filepath"

	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
	"swathe/track/sight"
)

// Within is the share of ratios of at most so many sigmas; NaN of none.
func Within(ratios []float64, sigmas float64) float64 {
	n := 0.0
	for _, r := range ratios {
		if r <= sigmas {
			n++
		}
	}
	return n / float64(len(ratios))
}

// surveyShare is the share of sigma squared that is the survey's, over the samples seen.
func surveyShare(tr *geom.Trace, camera func(geom.Point3) float64, height float64) float64 {
	if camera == nil {
		return 0
	}
	sum, n := 0.0, 0.0
	for _, s := range tr.Samples {
		if c := camera(geom.Point3{X: s.X, Y: s.Y, Z: height}); s.State == geom.Seen && !math.IsNaN(c) {
			sum, n = sum+math.Min(1, c*c/(s.Sigma*s.Sigma)), n+1
		}
	}
	return sum / math.Max(1, n)
}

// run draws a scene, measures it with a solved camera (nil: the true one) and a
// robot as entered in lab.yaml, and judges the result.
func run(ctx context.Context, s *scene.Scene, robot geom.Robot, d scene.Drive, sol *geom.Solution, reference *sight.Plane, opt track.Options) (*geom.Trace, Score, error) {
	cam := s.Camera
	var sigma func(geom.Point3) float64
	if sol != nil {
		cam, sigma = sol.Camera, sol.FloorSigma
	}
	seen, err := Look(ctx, s, Entry{Robot: robot, Camera: cam, Reference: reference, Rate: opt.Rate})
	if err != nil {
		return nil, Score{}, err
	}
	job := track.Job{Camera: cam, CameraSigma: sigma, Plan: s.Plan, Robot: robot, Start: math.NaN(), End: math.NaN()}
	tr, _, err := track.Link(seen.Sightings, job, s.Length, opt)
	if err != nil {
		return nil, Score{Width: seen.Width}, err
	}
	sc := Judge(tr, scene.NewTruth(s, d), s.Path)
	sc.Width, sc.Survey = seen.Width, surveyShare(tr, sigma, robot.Height)
	return tr, sc, nil
}

// RunCoded is run through a real recording: enc encodes the frames into file,
// which the eye then opens and looks at, as it does with a camera's. A file that
// is there already is taken for the recording.
func RunCoded(ctx context.Context, s *scene.Scene, robot geom.Robot, d scene.Drive, sol *geom.Solution, enc scene.Encoder, eye, file string, opt track.Options) (*geom.Trace, Score, error) {
	if _, err := os.Stat(file); err != nil {
		part := filepath.Join(filepath.Dir(file), "part-"+filepath.Base(file))
		if err := scene.RenderTo(ctx, s, enc, part, nil); err != nil {
			return nil, Score{}, err
		}
		if err := os.Rename(part, file); err != nil {
			return nil, Score{}, err
		}
	}
	job := track.Job{Files: []string{file}, Camera: sol.Camera, CameraSigma: sol.FloorSigma, Plan: s.Plan, Robot: robot, Start: math.NaN(), End: math.NaN()}
	r, err := track.Measure(ctx, eye, job, opt, nil)
	if err != nil {
		return nil, Score{}, err
	}
	sc := Judge(r.Trace, scene.NewTruth(s, d), s.Path)
	sc.Survey = surveyShare(r.Trace, sol.FloorSigma, robot.Height)
	return r.Trace, sc, nil
}
