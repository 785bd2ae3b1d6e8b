package work

import (
	"math"

	"swathe/geom"
)

// viewCell is how finely a layout is looked over for floor that the camera
// cannot see, m: 10 mm, coarser for halls so that it takes a fraction of a
// second.
func viewCell(p *geom.Plan) float64 {
	low, high := p.Bounds()
	const cells = 400_000
	return math.Max(0.01, math.Sqrt((high.X-low.X)*(high.Y-low.Y)/cells))
}

// unseen returns a function that tells whether the camera cannot see a floor
// point, because it lies outside the picture or behind an obstacle. Floor under
// an overhead piece is not counted: the robot is expected there and bridged.
func unseen(cam *geom.Camera, p *geom.Plan) (func(geom.Point2) bool, error) {
	v, err := geom.UnseenArea(cam, p, viewCell(p))
	if err != nil {
		return nil, err
	}
	return func(q geom.Point2) bool {
		c, r := int(math.Floor((q.X-v.Origin.X)/v.Cell)), int(math.Floor((q.Y-v.Origin.Y)/v.Cell))
		if c < 0 || r < 0 || c >= v.Cols || r >= v.Rows {
			return true
		}
		s := v.At(c, r)
		return s == geom.Behind || s == geom.OutOfFrame
	}, nil
}
