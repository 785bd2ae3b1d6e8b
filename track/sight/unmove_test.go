package sight

import (
	"math"
	"testing"
)

// A knock is told from a swing at any moment and of any phase; one sample that
// was measured wrongly is neither.
func TestKnocked(t *testing.T) {
	const n = 24
	made := func(f func(u float64) float64) bool {
		w, known := make([][3]float64, n), make([]bool, n)
		for i := range w {
			v := f((float64(i) + 0.5) / n)
			w[i], known[i] = [3]float64{v, -0.6 * v, 0}, i%7 != 3
		}
		return knocked(w, known)
	}
	for at := 0.15; at < 0.9; at += 0.05 {
		if !made(func(u float64) float64 {
			if u < at {
				return 0.002 * math.Sin(40*u)
			}
			return 0.07 + 0.002*math.Sin(40*u)
		}) {
			t.Errorf("a knock at %.2f of the recording is none", at)
		}
	}
	for cycles := 0.5; cycles < 9; cycles += 0.5 {
		for phase := 0.0; phase < 6.3; phase += 0.3 {
			if made(func(u float64) float64 { return math.Sin(2*math.Pi*cycles*u + phase) }) {
				t.Errorf("a swing of %.1f cycles, phase %.1f, is called a knock", cycles, phase)
			}
		}
	}
	for name, f := range map[string]func(u float64) float64{
		"at rest":    func(float64) float64 { return 0 },
		"a drift":    func(u float64) float64 { return u },
		"one sample": func(u float64) float64 { return math.Floor(u + 1 - 0.9999*(n-0.5)/n) },
	} {
		if made(f) {
			t.Errorf("%s is called a knock", name)
		}
	}
}
