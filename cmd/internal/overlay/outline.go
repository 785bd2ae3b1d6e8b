// Package overlay draws what was measured onto the recording that it was
// measured from: the fitted outline on single frames (measure --outlines), and the
// cleaned floor, the path and the events on moving pictures (export).
package overlay

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/track"
	"swathe/track/paint"
)

// Frames fetches pictures from recordings; it is track.Frames with its eye.
type Frames func(ctx context.Context, q track.FrameRequest) ([]track.FramePicture, error)

// OutlineOptions say how many pictures and how large.
type OutlineOptions struct {
	Shots int     // frames, spread over the run
	Close float64 // how much of the floor a close-up shows, in robot radii each way
	Width int     // px of a close-up
}

// DefaultOutlineOptions are 20 frames, each whole and close up.
func DefaultOutlineOptions() OutlineOptions { return OutlineOptions{Shots: 20, Close: 2, Width: 480} }

// OutlineFolder is the folder within a result.
const OutlineFolder = "outlines"

// Colours of the outline, the rim of the top, and the heading.
var (
	outlineColour = paint.Colour{255, 40, 200, 255}
	topColour     = paint.Colour{255, 230, 60, 200}
	aheadColour   = paint.Colour{60, 230, 255, 255}
)

// WriteOutlines writes pictures by which anyone can see whether a measurement sits:
// the outline that the robot must show where the path says that it is, drawn
// onto frames of the recording, and each frame that shows a person moving it. They go into the result's folder outlines, whole or not at
// all, and returns how many.
func WriteOutlines(ctx context.Context, l *lab.Lab, k *work.Kept, frames Frames, o OutlineOptions) (int, error) {
	if k.Camera == nil {
		return 0, fmt.Errorf("%s was measured from a path, not a recording: there is no picture to draw on", k.ID)
	}
	items, err := work.List(l, []string{k.ID})
	if err != nil {
		return 0, fmt.Errorf("%s: its recording is no longer there: %w", k.ID, err)
	}
	run := items[0].Run
	q := track.FrameRequest{Files: run.Files, Gaps: gaps(run.Gaps())}
	chosen := choose(k.Figure.Trace, o.Shots)
	if len(chosen) == 0 {
		return 0, fmt.Errorf("%s: the robot is in sight in no frame", k.ID)
	}
	var names []string
	for i, s := range chosen {
		lines := Lines(k, s)
		whole := track.Shot{T: s.T, Format: "jpeg", Lines: lines}
		q.Shots = append(q.Shots, whole)
		names = append(names, fmt.Sprintf("%02d_%07.2fs.jpg", i+1, s.T))
		if box, ok := around(k, s, o.Close); ok {
			near := whole
			near.Crop, near.Width = &box, o.Width
			// A close-up shows where a line lies, so the lines are thin.
			near.Lines = append([]track.FrameLine(nil), lines...)
			for j := range near.Lines {
				near.Lines[j].Width = 0.6
			}
			q.Shots = append(q.Shots, near)
			names = append(names, fmt.Sprintf("%02d_%07.2fs_close.jpg", i+1, s.T))
		}
	}
	// Who moved the robot is shown as the frame has them.
	for _, e := range k.Run.Events {
		if at, ok := e.More["shown_s"]; ok {
			q.Shots = append(q.Shots, track.Shot{T: at, Format: "jpeg"})
			names = append(names, fmt.Sprintf("person_%07.2fs.jpg", at))
		}
	}
	pics, err := frames(ctx, q)
	if err != nil {
		return 0, fmt.Errorf("%s: %w", k.ID, err)
	}
	return len(chosen), save(filepath.Join(k.Dir, OutlineFolder), names, pics)
}

// save writes the pictures beside the folder and then puts them in its place.
func save(dir string, names []string, pics []track.FramePicture) error {
	return replaced(dir, true, func(at string) error {
		if err := os.Mkdir(at, 0o755); err != nil {
			return err
		}
		for i, p := range pics {
			if p.Fail != "" {
				return fmt.Errorf("no picture at %.2f s: %s", p.T, p.Fail)
			}
			if err := os.WriteFile(filepath.Join(at, names[i]), p.Data, 0o644); err != nil {
				return err
			}
		}
		return nil
	})
}

func gaps(g []float64) []*float64 {
	var out []*float64
	for _, v := range g {
		if math.IsNaN(v) {
			out = append(out, nil)
			continue
		}
		out = append(out, &v)
	}
	return out
}

// choose picks n looks, evenly over the run, at which the robot was seen.
func choose(tr *geom.Trace, n int) []geom.Sample {
	var seen []geom.Sample
	for _, s := range tr.Samples {
		if s.State == geom.Seen && s.T >= tr.Run.From && s.T <= tr.Run.To {
			seen = append(seen, s)
		}
	}
	if len(seen) <= n {
		return seen
	}
	out := make([]geom.Sample, 0, n)
	for i := 0; i < n; i++ {
		out = append(out, seen[int((float64(i)+0.5)*float64(len(seen))/float64(n))])
	}
	return out
}

// Lines are the outline, the rim of the top and the heading at a sample.
func Lines(k *work.Kept, s geom.Sample) []track.FrameLine {
	const points = 240
	pose := geom.Pose{X: s.X, Y: s.Y, Heading: s.Heading}
	floor := k.Figure.Plan.FloorHeight(geom.Point2{X: s.X, Y: s.Y})
	var out []track.FrameLine
	add := func(o geom.Outline, c paint.Colour, width float64) {
		var pts []geom.Point2
		for _, p := range o.Points {
			pts = append(pts, p.Px)
		}
		if len(pts) > 0 {
			out = append(out, track.FrameLine{Points: pts, Closed: true, Width: width, Colour: c})
		}
	}
	body := k.Figure.Body
	add(geom.TopRim(k.Camera, body, pose, floor, points), topColour, 1)
	add(geom.Silhouette(k.Camera, body, pose, floor, points), outlineColour, 1.5)
	if !math.IsNaN(s.Heading) {
		sn, cs := math.Sincos(s.Heading)
		z := floor + body.Height
		a, ok := k.Camera.Project(geom.Point3{X: s.X, Y: s.Y, Z: z})
		b, ok2 := k.Camera.Project(geom.Point3{X: s.X + cs*body.Reach(), Y: s.Y + sn*body.Reach(), Z: z})
		if ok && ok2 {
			out = append(out, track.FrameLine{Points: []geom.Point2{a, b}, Width: 1.5, Colour: aheadColour})
		}
	}
	return out
}

// around is the part of the frame about the robot.
func around(k *work.Kept, s geom.Sample, radii float64) (box [4]int, ok bool) {
	at := geom.Point3{X: s.X, Y: s.Y, Z: k.Figure.Body.Height}
	c, ok := k.Camera.Project(at)
	if !ok || !k.Camera.InFrame(c) {
		return box, false
	}
	r := radii * k.Figure.Body.Reach() / k.Camera.PixelSize(at)
	if !(r >= 4) {
		return box, false
	}
	return [4]int{int(c.X - r), int(c.Y - r), int(2 * r), int(2 * r)}, true
}
