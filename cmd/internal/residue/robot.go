package residue

import (
	"math"
	"path/filepath"
	"slices"

	"swathe/cmd/internal/work"
	"swathe/geom"
	"swathe/track"
)

// about is how far about the robot its floor is left out, m: for the uncertainty
// of its place, and the darkest of its shadow.
const about = 0.03

// robotIn is the floor that the run's robot hides in a picture taken from the run's
// own recording: its outline as the camera shows it at foot, half height and top;
// none if the picture is another or the robot was not seen then. Of a recording in
// parts the first part is known.
func robotIn(run *work.Kept, cam *geom.Camera, s track.Still) (out [][]geom.Point2) {
	if s.T == nil || len(run.Run.Recording.Files) == 0 || filepath.Base(s.File) != run.Run.Recording.Files[0] {
		return nil
	}
	list := run.Figure.Trace.Samples
	i, _ := slices.BinarySearchFunc(list, *s.T, func(q geom.Sample, t float64) int { return int(math.Copysign(1, q.T-t)) })
	i = min(i, len(list)-1)
	if i < 0 || math.Abs(list[i].T-*s.T) > 0.5 || list[i].State != geom.Seen && list[i].State != geom.Bridged {
		return nil
	}
	robot, at := run.Figure.Body, list[i]
	h := at.Heading
	if math.IsNaN(h) {
		h = 0
	}
	grow := 1 + about/robot.Reach()
	for _, z := range []float64{0, robot.Height / 2, robot.Height} {
		var ring []geom.Point2
		for _, p := range robot.Body(32) {
			q := geom.Point3{X: at.X + grow*(p.X*math.Cos(h)-p.Y*math.Sin(h)), Y: at.Y + grow*(p.X*math.Sin(h)+p.Y*math.Cos(h)), Z: z}
			px, ok := cam.Project(q)
			if !ok {
				continue
			}
			if f, ok := cam.Floor(px, 0); ok {
				ring = append(ring, f)
			}
		}
		if len(ring) > 2 {
			out = append(out, ring)
		}
	}
	return out
}
