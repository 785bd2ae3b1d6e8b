package units

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// NIST Special Publication 811, 2008 edition, appendix B.8 and B.9: "Factors for
// units listed", to the digits printed there; those printed in bold are exact.
func TestAgainstNIST(t *testing.T) {
	held := map[string]bool{}
	for _, c := range []struct {
		unit   string
		factor float64
		exact  bool
	}{
		{"g", 1e-3, true}, {"mg", 1e-6, true}, {"lb", 4.535924e-1, false}, {"oz", 2.834952e-2, false}, {"gr", 6.479891e-5, true},
		{"cm", 1e-2, true}, {"mm", 1e-3, true}, {"in", 2.54e-2, true}, {"ft", 3.048e-1, true},
		{"in2", 6.4516e-4, true}, {"ft2", 9.290304e-2, true}, {"cm2", 1e-4, true}, {"mm2", 1e-6, true},
		{"L", 1e-3, true}, {"mL", 1e-6, true}, {"in3", 1.638706e-5, false}, {"ft3", 2.831685e-2, false}, {"US fl oz", 2.957353e-5, false},
		{"min", 60, true}, {"h", 3.6e3, true},
		{"ft3/min", 4.719474e-4, false}, {"L/s", 1e-3, true}, {"L/min", 1e-3 / 60, true}, {"m3/h", 1. / 3600, true},
		{"hPa", 100, true}, {"kPa", 1000, true}, {"mmH2O", 9.80665, true}, {"inH2O", 2.490889e2, false}, {"psi", 6.894757e3, false},
		{"kW", 1000, true}, {"kJ", 1000, true}, {"W h", 3.6e3, true}, {"kW h", 3.6e6, true},
		{"A h", 3.6e3, true}, {"mA h", 3.6, true}, {"%", 0.01, true},
	} {
		held[c.unit] = true
		u, ok := Find(c.unit)
		if !ok {
			t.Errorf("no unit %s", c.unit)
			continue
		}
		bound := 5e-7 // half of the last digit printed, as a share of a leading 1
		if c.exact {
			bound = 1e-12
		}
		if off := math.Abs(u.Factor/c.factor - 1); off > bound {
			t.Errorf("%s is %.10g, NIST SP 811 has %.7g: off by %.2g of it, bound %.2g", c.unit, u.Factor, c.factor, off, bound)
		}
	}
	for _, u := range Table {
		// The first unit of a kind is SI; degrees are below.
		if u != first(u.Kind) && u.Kind != Temperature && !held[u.Name] {
			t.Errorf("%s is held against no published factor", u.Name)
		}
	}
	// Temperatures: t/degC = T/K - 273.15, t/degC = (t/degF - 32)/1.8.
	for _, c := range []struct {
		unit    string
		v, want float64
	}{{"degC", 0, 273.15}, {"degC", 21.5, 294.65}, {"degF", 32, 273.15}, {"degF", 212, 373.15}, {"degF", -40, 233.15}} {
		if got := Must(c.unit).ToSI(c.v); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%g %s is %.10g K, want %.10g", c.v, c.unit, got, c.want)
		}
	}
}

func TestEveryUnitIsOfAKind(t *testing.T) {
	seen := map[string]bool{}
	for _, u := range Table {
		if seen[u.Name] {
			t.Errorf("%s stands in the table twice", u.Name)
		}
		seen[u.Name] = true
		if first(u.Kind).Factor != 1 || first(u.Kind).Offset != 0 {
			t.Errorf("the first unit of %s is %s, which is not SI", u.Kind, first(u.Kind).Name)
		}
	}
}

func TestThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		u := rapid.SampledFrom(Table).Draw(t, "unit")
		v := rapid.Float64Range(-1e6, 1e6).Draw(t, "v")
		if back := u.FromSI(u.ToSI(v)); math.Abs(back-v) > 1e-9*(1+math.Abs(v)+math.Abs(u.Offset)) {
			t.Errorf("%g %s comes back as %g", v, u.Name, back)
		}
	})
}

// 20 L/s against 5 kPa are 100 W exactly.
func TestProduct(t *testing.T) {
	p, err := Product(Must("L/s").ToSI(20), Flow, Must("kPa").ToSI(5), Pressure, Power)
	if err != nil || math.Abs(p-100) > 1e-12 {
		t.Errorf("%g W, %v; want 100", p, err)
	}
	if _, err := Product(1, Flow, 1, Mass, Power); err == nil {
		t.Error("a flow times a mass passed for a power")
	}
}

// first is the unit that values of the kind are kept in.
func first(k Kind) Unit { u, _ := Find(Names(k)[0]); return u }
