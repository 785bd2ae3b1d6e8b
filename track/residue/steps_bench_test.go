package residue

import (
	"math/rand/v2"
	"testing"
)

// BenchmarkSteps times the steps that OpenCV has calls for, on a plane of 960 x 720
// pixels; BenchmarkSteps of track/cv times those calls on the same.
func BenchmarkSteps(b *testing.B) {
	const w, h = 960, 720
	r := rand.New(rand.NewPCG(1, 2))
	plane, mask := make([]float32, w*h), make([]bool, w*h)
	rgb := make([][3]float64, w*h)
	for i := range plane {
		plane[i] = r.Float32() * 255
		rgb[i] = [3]float64{r.Float64(), r.Float64(), r.Float64()}
	}
	soft := smooth(plane, w, h, 3)
	for i, v := range soft {
		mask[i] = v > 135
	}
	b.Run("blur 1.5 px", func(b *testing.B) {
		for b.Loop() {
			smooth(plane, w, h, 1.5)
		}
	})
	b.Run("blur 8 px", func(b *testing.B) {
		for b.Loop() {
			smooth(plane, w, h, 8)
		}
	})
	b.Run("pieces", func(b *testing.B) {
		for b.Loop() {
			components(mask, w, h)
		}
	})
	b.Run("distance", func(b *testing.B) {
		for b.Loop() {
			depths(mask, w, h)
		}
	})
	b.Run("to CIELAB", func(b *testing.B) {
		var l Lab
		for b.Loop() {
			for _, c := range rgb {
				l = LabOf(c[0], c[1], c[2])
			}
		}
		_ = l
	})
}
