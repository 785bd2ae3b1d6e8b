package compare

import (
	"math"
	"slices"
	"strings"
	"testing"
)

// Three robots, two figures, worked out by hand: shares 0.90, 0.80, 0.70 (mean 0.8,
// standard deviation 0.1), redundancies 0.7, 0.5, 0.3 (mean 0.5, 0.2; less is better).
// In deviations wren has +1 and -1, linden 0 and 0, heron -1 and +1. With weights 3
// and 2 wren scores (3 - 2) / 5 = 0.2; a quarter more on redundancy, 2.5, leaves
// 0.5 / 5.5; with 1.2 and 1 a quarter more turns the order.
func TestScore(t *testing.T) {
	group := func(name string, share, redundancy float64) Standing {
		return Standing{Layout: "den", Phase: "mapped", Name: name, Figures: []Place{{Figure: Figures[0], Mean: share}, {Figure: Figures[4], Mean: redundancy}}}
	}
	st := []Standing{group("wren", 0.9, 0.7), group("linden", 0.8, 0.5), group("heron", 0.7, 0.3), group("plover", 0.95, math.NaN())}
	for _, c := range []struct {
		weights string
		first   float64
		order   string
		holds   bool
	}{
		{"covered_share=3,redundancy=2", 0.2, "wren linden heron", true},
		{"covered_share=1.2,redundancy=1", 0.2 / 2.2, "wren linden heron", false},
		{"covered_share=1", 1, "wren linden heron", true},
		{"redundancy=5", 1, "heron linden wren", true},
	} {
		w, err := ParseWeights(c.weights)
		if err != nil {
			t.Fatal(err)
		}
		all := Score(st, w)
		if len(all) != 1 {
			t.Fatalf("%d layouts", len(all))
		}
		s := all[0]
		var names []string
		for _, g := range s.Order {
			if g.Name != "plover" {
				names = append(names, g.Name)
			}
		}
		if c.weights == "covered_share=1" { // plover has that figure, and the best
			if s.Order[0].Name != "plover" || len(s.Left) != 0 {
				t.Errorf("%s: %+v", c.weights, s)
			}
			continue
		}
		if got := strings.Join(names, " "); got != c.order || s.Holds() != c.holds || math.Abs(s.Order[0].Score-c.first) > 1e-12 {
			t.Errorf("%s: order %s, first %g, holds %v; want %s, %g, %v", c.weights, got, s.Order[0].Score, s.Holds(), c.order, c.first, c.holds)
		}
		if len(s.Left) != 1 || s.Left[0].Run != "plover" {
			t.Errorf("%s: left out %v, want plover", c.weights, s.Left)
		}
	}
	// A shift that turns the order says to which.
	w, _ := ParseWeights("covered_share=1.2,redundancy=1")
	i := slices.IndexFunc(Score(st, w)[0].Shifts, func(s Shift) bool { return s.Figure == "redundancy" && s.Factor > 1 })
	if x := Score(st, w)[0].Shifts[i]; x.Holds || x.Order[0] != "heron" {
		t.Errorf("a quarter more on redundancy: %+v", x)
	}
	for _, bad := range []string{"", "covered_share", "covered_share=0", "covered_share=-1", "covered_share=x", "nothing=1", "duration_s=1", "covered_share=1,covered_share=2", "covered_share=Inf"} {
		if _, err := ParseWeights(bad); err == nil {
			t.Errorf("%q is taken for weights", bad)
		}
	}
}
