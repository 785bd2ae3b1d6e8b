package sight

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A change of light, exposure or compression is no movement, and a movement is
// one also where the light changed with it.
func TestInPlace(t *testing.T) {
	const seed = 4
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 2))
	room := NewPlane(240, 160) // tiles with joints, a few things
	shade := func(x, y int) float64 {
		v := 120 + 25*math.Sin(float64(x/20)*1.7+float64(y/16)*2.3)
		if x%20 == 0 || y%16 == 0 {
			v -= 40
		}
		if x > 60 && x < 100 && y > 40 && y < 90 {
			v = 200
		}
		return v
	}
	draw := func(dx, dy, gain, gamma, noise float64, blur int) *Plane {
		p := NewPlane(room.W, room.H)
		for y := 0; y < p.H; y++ {
			for x := 0; x < p.W; x++ {
				v, n := 0.0, 0.0
				for j := -blur; j <= blur; j++ {
					for i := -blur; i <= blur; i++ {
						v += shade(x+i+1000-int(dx)-1000, y+j-int(dy))
						n++
					}
				}
				v = 255 * math.Pow(math.Max(0, v/n*gain/255), gamma)
				p.Pix[y*p.Stride+x] = grey(v + noise*rng.NormFloat64())
			}
		}
		return &p
	}
	ref := draw(0, 0, 1, 1, 0, 0)
	for _, k := range []struct {
		name string
		p    *Plane
		want bool
	}{
		{"as it was", draw(0, 0, 1, 1, 2, 0), true},
		{"brighter, most of it burnt out", draw(0, 0, 1.9, 1, 2, 0), true},
		{"dark and noisy", draw(0, 0, 0.25, 1, 4, 0), true},
		{"another gamma, smeared by the encoder", draw(0, 0, 1, 1.8, 2, 1), true},
		{"moved by two", draw(2, 0, 1, 1, 2, 0), false},
		{"moved, and darker", draw(1, 2, 0.5, 1, 3, 0), false},
		{"far off", draw(9, 7, 1, 1, 2, 0), false},
		{"black", draw(0, 0, 0, 1, 3, 0), false},
	} {
		if got := inPlace(k.p, ref); got != k.want {
			t.Errorf("%s: in place %v", k.name, got)
		}
	}
}
