package track

import (
	"fmt"
	"math"

	"swathe/geom"
)

// farMove is the movement of the whole picture, as a share of its diagonal,
// beyond which it is no longer corrected: a turn of the camera by more than a
// degree or two will have shifted its lens as well.
const farMove = 0.02

// longAdrift is for how long the picture may not fit the room at all, s, before
// that is more than somebody before the lens.
const longAdrift = 4

// tellMove is the change of the picture's place, px, from which on a tester is
// told of it.
const tellMove = 0.5

// cameraMoves tells when the camera was moved and by how much; an error where
// it was moved too far to be put right.
func cameraMoves(l []linked, job Job, opt Options) (warnings []string, err error) {
	limit := 12.0
	if job.Camera != nil {
		limit = farMove * math.Hypot(float64(job.Camera.Width), float64(job.Camera.Height))
	}
	var shifts []float64
	last, told, shaky := 0.0, 0, 0
	for i := range l {
		s := &l[i].Sighting
		if s.Adrift > longAdrift {
			since := math.Max(0, s.T-s.Adrift) // from the first frame on at the soonest
			return nil, &Failure{Kind: CameraMoved, T: since, Message: fmt.Sprintf(
				"end the run before %.1[1]f s with end_s, or survey the marks again for what follows: the camera was moved at %.1[1]f s, and the picture no longer fits the survey", since)}
		}
		if s.Shift > limit && s.Adrift == 0 {
			return nil, &Failure{Kind: CameraMoved, T: s.T, Message: fmt.Sprintf(
				"end the run before %.1[2]f s with end_s, or survey the marks again: the camera moved by %.0[1]f px then, too far to be corrected", s.Shift, s.T)}
		}
		shifts = append(shifts, s.Shift)
		if d := math.Abs(s.Shift - last); d > tellMove && s.Adrift == 0 {
			if told++; told <= 3 {
				when := fmt.Sprintf("at %.1f s", s.T)
				if i == 0 {
					when = "since its marks were surveyed"
				}
				warnings = append(warnings, fmt.Sprintf("the camera moved by %.1f px %s; positions were corrected", d, when))
			}
			shaky++
			last = s.Shift
		}
	}
	if shaky > 3 {
		return []string{fmt.Sprintf("switch off the camera's stabilisation: the picture shakes by up to %.1f px; positions were corrected", geom.Quantile(shifts, 0.98))}, nil
	}
	return warnings, nil
}
