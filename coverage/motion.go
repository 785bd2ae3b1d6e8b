package coverage

import (
	"math"

	"swathe/geom"
)

// motionOf returns how the run moved along the path; scale: what the length of
// each interval of the trace is multiplied by, nil to take lengths as they are.
func motionOf(trace *geom.Trace, pts []point, movingSpeed float64, scale []float64) Motion {
	m := Motion{
		DurationS: trace.Run.To - trace.Run.From,
		StartX:    math.NaN(), StartY: math.NaN(),
		MovingShare: math.NaN(), MeanSpeedMPS: math.NaN(),
	}
	if len(pts) == 0 {
		return m
	}
	m.StartX, m.StartY = pts[0].x, pts[0].y
	raw, moving, far := 0.0, 0.0, 0.0
	for k := 1; k < len(pts); k++ {
		if pts[k].gap {
			continue
		}
		dt, ds := pts[k].t-pts[k-1].t, pts[k].s-pts[k-1].s
		m.KnownS += dt
		own := ds
		if scale != nil {
			own *= scale[pts[k].step]
		}
		raw += ds
		m.DistanceM += own
		if ds > movingSpeed*dt {
			moving += dt
			far += own
		}
	}
	m.JitterM = raw - m.DistanceM
	if m.KnownS > 0 {
		m.MovingShare = moving / m.KnownS
	}
	if moving > 0 {
		m.MeanSpeedMPS = far / moving
	}
	return m
}
