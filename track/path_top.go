package track

import (
	"math"

	"swathe/geom"
)

// placeByTop weighs where the outline says that the robot is against where the
// picture of its top does, by their variances. An outline may hop to another edge (a
// shadow's, the rim of a bevel), which its own variance does not know: as far as the
// two differ by more than both explain, that is the outline's (the moment estimate of
// an excess variance: DerSimonian and Laird, "Meta-analysis in clinical trials",
// Controlled Clinical Trials 7, 1986).
func placeByTop(l []linked, job Job) {
	for i := range l {
		s := &l[i]
		if !s.Found || s.BesideVar <= 0 {
			continue
		}
		px := pixels(job, geom.Pose{X: s.X, Y: s.Y})
		scatter := (s.Cov[0] + s.Cov[2]) / 2
		outline := scatter + px*px*bend(s)*bend(s)
		top := s.BesideVar + px*px*bendTop*bendTop
		dx, dy := s.Beside[0], s.Beside[1]
		outline += math.Max(0, (dx*dx+dy*dy)/2-outline-top)
		k := outline / (outline + top)
		s.X, s.Y, s.byTop = s.X+k*dx, s.Y+k*dy, k
		v := (1-k)*(1-k)*scatter + k*k*s.BesideVar
		s.Cov = [3]float64{v, 0, v}
	}
}
