package trial

import (
	"context"
	"math"

	"swathe/geom"
	"swathe/track"
	"swathe/track/scene"
)

// Outcome is what became of a drawn recording.
type Outcome struct {
	Trace *geom.Trace // as measured
	Truth *geom.Trace // the same without any error, a sample a frame
	Score Score
}

// Measure draws the recording, measures it with the camera as its tester would
// have solved it, in this process and without encoding it, and holds the path
// against the truth. tell, if not nil, is told the share that is done. A
// recording that cannot be measured gives a *track.Failure.
func (d *Drawing) Measure(ctx context.Context, tell func(share float64)) (*Outcome, error) {
	opt := track.DefaultOptions()
	seen, err := Look(ctx, &d.Scene, Entry{Robot: d.Scene.Robot, Camera: d.Survey.Camera, Rate: opt.Rate, Tell: tell})
	if err != nil {
		return nil, err
	}
	tr, _, err := track.Link(seen.Sightings, d.job(), d.Scene.Length, opt)
	if err != nil {
		return nil, err
	}
	return d.judge(tr), nil
}

// MeasureEncoded is Measure through a real recording: the frames are encoded
// into file, which the eye then opens and looks at, as it does with a camera's.
func (d *Drawing) MeasureEncoded(ctx context.Context, eye, file string, tell func(share float64)) (*Outcome, error) {
	if tell == nil {
		tell = func(float64) {}
	}
	err := scene.RenderTo(ctx, &d.Scene, scene.EyeEncoder{Path: eye}, file, func(done, total int) {
		tell(0.85 * float64(done) / float64(total))
	})
	if err != nil {
		return nil, err
	}
	job := d.job()
	job.Files = []string{file}
	r, err := track.Measure(ctx, eye, job, track.DefaultOptions(), func(p track.Progress) { tell(0.85 + 0.15*p.Share) })
	if err != nil {
		return nil, err
	}
	return d.judge(r.Trace), nil
}

func (d *Drawing) job() track.Job {
	return track.Job{Camera: d.Survey.Camera, CameraSigma: d.Survey.FloorSigma, Plan: d.Scene.Plan, Robot: d.Scene.Robot, Start: math.NaN(), End: math.NaN()}
}

func (d *Drawing) judge(tr *geom.Trace) *Outcome {
	truth := scene.NewTruth(&d.Scene, d.Drive)
	return &Outcome{Trace: tr, Truth: truth.Trace(), Score: Judge(tr, truth, d.Scene.Path)}
}

// Picture draws the frame nearest to t, packed BGR of the camera's size.
func (d *Drawing) Picture(t float64) ([]byte, error) {
	r, err := scene.NewRenderer(&d.Scene)
	if err != nil {
		return nil, err
	}
	best := 0
	for i, at := range r.Times() {
		if math.Abs(at-t) < math.Abs(r.Times()[best]-t) {
			best = i
		}
	}
	bgr := make([]byte, 3*d.Scene.Camera.Width*d.Scene.Camera.Height)
	r.Draw(best, bgr)
	return bgr, nil
}

// SurveyError is how far the survey alone puts a place on the floor, at the
// height of the robot's top, from where it is: root mean square over the open
// floor that shows, m.
func (d *Drawing) SurveyError() float64 {
	const step = 0.1
	var sum, n float64
	z := d.Scene.Robot.Height
	low, high := d.Scene.Plan.Bounds()
	for x := low.X + step/2; x < high.X; x += step {
		for y := low.Y + step/2; y < high.Y; y += step {
			p := geom.Point2{X: x, Y: y}
			px, ok := d.Scene.Camera.Project(geom.Point3{X: x, Y: y, Z: z})
			if !ok || !d.Scene.Plan.Open(p) || !d.Scene.Camera.InFrame(px) {
				continue
			}
			if q, ok := d.Survey.Camera.Floor(px, z); ok {
				sum += (q.X-x)*(q.X-x) + (q.Y-y)*(q.Y-y)
				n++
			}
		}
	}
	return math.Sqrt(sum / n)
}
