package report

import (
	"testing"

	"swathe/report/words"
)

func TestResidueSettle(t *testing.T) {
	at := func(shares ...float64) *Residue {
		r := &Residue{}
		for i, s := range shares {
			r.Cycles = append(r.Cycles, ResidueCycle{Cycle: i + 1, TS: float64(10 * (i + 1)), LeftShare: s})
		}
		r.Settle()
		return r
	}
	for _, c := range []struct {
		name   string
		shares []float64
		want   int // cycles; 0: never
	}{
		{"never", []float64{0.9, 0.5, 0.2}, 0},
		{"at once", []float64{0.01, 0}, 1},
		{"at last", []float64{0.6, 0.2, 0.04}, 3},
		{"dropped again", []float64{0.02, 0.3, 0.01}, 3},
		{"a cycle not measured is passed over", []float64{0.5, 0.03, NaN, 0.02}, 2},
		{"nothing measured", []float64{NaN, NaN}, 0},
		{"none", nil, 0},
	} {
		r := at(c.shares...)
		if c.want == 0 {
			if r.CleanCycles != nil || Measured(r.CleanS) {
				t.Errorf("%s: clean after %d cycles", c.name, *r.CleanCycles)
			}
		} else if r.CleanCycles == nil || *r.CleanCycles != c.want || r.CleanS != float64(10*c.want) {
			t.Errorf("%s: %v, want %d cycles", c.name, r.CleanCycles, c.want)
		}
	}
}

func TestCrossingsInWords(t *testing.T) {
	for n, want := range map[int]string{1: "1 crossing", 2: "2 crossings", 3: "3 crossings"} {
		if got := words.Some(n, "crossing"); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}
