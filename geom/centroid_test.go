package geom

import (
	"math"
	"testing"
)

func TestCentroid(t *testing.T) {
	for _, c := range []struct {
		what string
		ring []Point2
		want Point2
	}{
		{"square", []Point2{{0, 0}, {2, 0}, {2, 2}, {0, 2}}, Point2{1, 1}},
		{"the other way round", []Point2{{0, 2}, {2, 2}, {2, 0}, {0, 0}}, Point2{1, 1}},
		{"triangle: the mean of its corners", []Point2{{0, 0}, {3, 0}, {0, 6}}, Point2{1, 2}},
		// Two squares of 1 m2 and 2 m2: (1*0.5 + 2*1)/3, (1*1.5 + 2*0.5)/3.
		{"L", []Point2{{0, 0}, {2, 0}, {2, 1}, {1, 1}, {1, 2}, {0, 2}}, Point2{2.5 / 3, 2.5 / 3}},
		{"no area", []Point2{{1, 1}, {2, 2}}, Point2{1, 1}},
	} {
		if got := Centroid(c.ring); math.Hypot(got.X-c.want.X, got.Y-c.want.Y) > 1e-12 {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
}
