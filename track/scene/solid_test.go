package scene

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/geom"
)

// A ray meets a body with a sloping rim where a march along it first comes inside.
func TestRayMeetsRim(t *testing.T) {
	const seed = 5
	r := rand.New(rand.NewPCG(seed, 0))
	met := [3]int{}
	for k := range 3000 {
		h := 0.06 + 0.06*r.Float64()
		p := newDisc(0.17, 0, h)
		p.rim = Rim{In: 0.002 + 0.15*r.Float64(), Down: 0.002 + (h-0.01)*r.Float64()}
		p = p.moved(geom.Pose{X: 0.3, Y: -0.1, Heading: 6 * r.Float64()}, 0)
		v := &view{H: 2.5, cx: 2 * r.Float64(), cy: 2 * r.Float64()}
		fx, fy := 0.3+0.5*(r.Float64()-0.5), -0.1+0.5*(r.Float64()-0.5)
		got, ok := p.hit(v, fx, fy)
		want := math.NaN()
		for z := h; z >= 0; z -= 2e-5 {
			s := 1 - z/v.H
			x, y := v.cx+(fx-v.cx)*s-p.x, v.cy+(fy-v.cy)*s-p.y
			if hypot(x, y) <= p.r-p.rim.In*max(0, 1-(h-z)/p.rim.Down) {
				want = z
				break
			}
		}
		if ok != !math.IsNaN(want) || ok && math.Abs(got.z-want) > 5e-5 {
			// A ray that only grazes is either.
			if ok || want > 1e-3 && want < h-1e-3 {
				t.Fatalf("seed %d, ray %d: met %v at %.5f m, a march %.5f", seed, k, ok, got.z, want)
			}
		}
		if ok {
			if n := math.Sqrt(got.nx*got.nx + got.ny*got.ny + got.nz*got.nz); math.Abs(n-1) > 1e-9 {
				t.Fatalf("seed %d, ray %d: a normal of length %v", seed, k, n)
			}
			switch {
			case got.nz == 1:
				met[0]++
			case got.nz > 0:
				met[1]++
			default:
				met[2]++
			}
		}
	}
	t.Logf("%d on the top, %d on its rim, %d on the side", met[0], met[1], met[2])
	if min(met[0], met[1], met[2]) < 20 {
		t.Error("a part is hardly met")
	}
}
