package report

import "testing"

func TestResidueSettle(t *testing.T) {
	at := func(shares ...Float) *Residue {
		r := &Residue{}
		for i, s := range shares {
			r.Cycles = append(r.Cycles, ResidueCycle{Cycle: i + 1, TS: Float(10 * (i + 1)), LeftShare: s})
		}
		r.Settle()
		return r
	}
	for _, c := range []struct {
		name   string
		shares []Float
		want   int // cycles; 0: never
	}{
		{"never", []Float{0.9, 0.5, 0.2}, 0},
		{"at once", []Float{0.01, 0}, 1},
		{"at last", []Float{0.6, 0.2, 0.04}, 3},
		{"dropped again", []Float{0.02, 0.3, 0.01}, 3},
		{"a cycle not measured is passed over", []Float{0.5, 0.03, NaN, 0.02}, 2},
		{"nothing measured", []Float{NaN, NaN}, 0},
		{"none", nil, 0},
	} {
		r := at(c.shares...)
		if c.want == 0 {
			if r.CleanCycles != nil || r.CleanS.Known() {
				t.Errorf("%s: clean after %d cycles", c.name, *r.CleanCycles)
			}
		} else if r.CleanCycles == nil || *r.CleanCycles != c.want || r.CleanS != Float(10*c.want) {
			t.Errorf("%s: %v, want %d cycles", c.name, r.CleanCycles, c.want)
		}
	}
}

func TestCrossingsInWords(t *testing.T) {
	for n, want := range map[int]string{1: "1 crossing", 2: "2 crossings", 3: "3 crossings"} {
		if got := crossingsWords(n); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}
