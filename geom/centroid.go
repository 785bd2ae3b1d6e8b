package geom

// Centroid returns the middle of the area of a simple polygon, not closed, of
// one corner or more; of one without area its first corner.
func Centroid(ring []Point2) Point2 {
	var a, x, y float64
	for i, p := range ring {
		q := ring[(i+1)%len(ring)]
		c := p.X*q.Y - q.X*p.Y
		a, x, y = a+c, x+c*(p.X+q.X), y+c*(p.Y+q.Y)
	}
	if a == 0 {
		return ring[0]
	}
	return Point2{X: x / (3 * a), Y: y / (3 * a)}
}
