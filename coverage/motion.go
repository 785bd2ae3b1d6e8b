package coverage

import (
	"math"

	"swathe/geom"
)

// motionOf returns how the run moved along the path.
func motionOf(trace *geom.Trace, pts []point, movingSpeed float64) Motion {
	m := Motion{
		DurationS: trace.Run.To - trace.Run.From,
		StartX:    math.NaN(), StartY: math.NaN(),
		MovingShare: math.NaN(), MeanSpeedMPS: math.NaN(),
	}
	if len(pts) == 0 {
		return m
	}
	m.StartX, m.StartY = pts[0].x, pts[0].y
	m.DistanceM = pts[len(pts)-1].s
	moving, far := 0.0, 0.0
	for k := 1; k < len(pts); k++ {
		if pts[k].gap {
			continue
		}
		dt, ds := pts[k].t-pts[k-1].t, pts[k].s-pts[k-1].s
		m.KnownS += dt
		if ds > movingSpeed*dt {
			moving += dt
			far += ds
		}
	}
	if m.KnownS > 0 {
		m.MovingShare = moving / m.KnownS
	}
	if moving > 0 {
		m.MeanSpeedMPS = far / moving
	}
	return m
}
