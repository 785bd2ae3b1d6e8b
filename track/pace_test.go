package track

import (
	"math"
	"testing"
)

// Frames at a constant rate are told from uneven ones, through the ticks of containers
// that round their times (Matroska's custom is 1 ms), and a frame that is missing is
// uneven.
func TestPace(t *testing.T) {
	even := func(rate, tick float64, n int) (out []float64) {
		for k := range n {
			out = append(out, math.Round(float64(k)/rate/tick)*tick)
		}
		return out
	}
	missing := even(30, 1.0/90000, 300)
	missing = append(missing[:100:100], missing[101:]...)
	var phone []float64 // 30 in bright light, 24 in the dark
	for at, k := 0.0, 0; k < 600; k++ {
		phone = append(phone, at)
		if at += 1.0 / 30; k > 400 {
			at += 1.0/24 - 1.0/30
		}
	}
	for name, c := range map[string]struct {
		times    []float64
		tick     float64
		rate     [2]int
		variable bool
	}{
		"15":              {even(15, 1.0/15360, 200), 1.0 / 15360, [2]int{15, 1}, false},
		"12.5":            {even(12.5, 1.0/90000, 200), 1.0 / 90000, [2]int{12500, 1000}, false},
		"29.97":           {even(30000.0/1001, 1.0/30000, 900), 1.0 / 30000, [2]int{30000, 1001}, false},
		"29.97, 1 ms":     {even(30000.0/1001, 0.001, 900), 0.001, [2]int{30000, 1001}, false},
		"30, 1 ms":        {even(30, 0.001, 900), 0.001, [2]int{30, 1}, false},
		"60, 1 ms":        {even(60, 0.001, 900), 0.001, [2]int{60, 1}, false},
		"one missing":     {missing, 1.0 / 90000, [2]int{30, 1}, true},
		"slower at night": {phone, 1.0 / 90000, [2]int{30, 1}, true},
		"one frame":       {[]float64{3}, 0.001, [2]int{}, false},
	} {
		p := PaceOf(c.times, c.tick)
		if p.Rate != c.rate || p.Variable != c.variable || p.Frames != len(c.times) {
			t.Errorf("%s: %+v; want %v, variable %v", name, p, c.rate, c.variable)
		}
	}
}
