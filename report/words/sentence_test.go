package words

import (
	"math"
	"testing"
)

// By hand, with 0.3048 m to the foot (NIST SP 811).
func TestSpeed(t *testing.T) {
	for _, c := range []struct {
		v    float64
		unit Unit
		want string
	}{{0.32, Metre, "0.32" + NB + "m/s"}, {0.32, Foot, "1.05" + NB + "ft/s"}, {math.NaN(), Metre, NotMeasured}} {
		if got := Speed(c.v, c.unit); got != c.want {
			t.Errorf("%g: %q, want %q", c.v, got, c.want)
		}
	}
}
