package preflight

import (
	"math"

	"gonum.org/v1/gonum/stat"

	"swathe/geom"
	"swathe/track/sight"
)

// size finds how wide the robot shows, about that many times its entry, at the
// height of lab.yaml.
func (f *Finding) size(set sight.Setup, bg *sight.Background, found []hit, about float64, c *clock) {
	var ratios []float64
	for _, h := range found {
		if h.s.Visible < 0.9 || h.s.Support < 0.7 || h.s.Shift > 0.5 {
			continue
		}
		if k, ok := sight.WidthAt(&set, h.pic, bg, geom.Pose{X: h.s.X, Y: h.s.Y, Heading: h.s.Turn}, about); ok {
			ratios = append(ratios, k)
		}
		if len(ratios) == 24 || !c.left() {
			break
		}
	}
	f.Size.Frames = len(ratios)
	if len(ratios) < 3 {
		return
	}
	sd := stat.StdDev(ratios, nil)
	f.Size.Ratio = known(middle(ratios))
	f.Size.Sigma = known(1.25 * sd / math.Sqrt(float64(len(ratios)))) // of a median
}
