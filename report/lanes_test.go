package report

import (
	"strings"
	"testing"

	"swathe/coverage"
	"swathe/coverage/doubt"
)

// Lane efficiency is written only where the two laws of search lie more than
// five of its standard uncertainties apart, and then with its interval.
func TestLaneEfficiencyShown(t *testing.T) {
	for u, shown := range map[float64]bool{0.05: true, 0.19: true, 0.21: false, 3: false} {
		in := sample(t)
		in.Coverage.Coverage.Economy = coverage.Economy{Effort: 0.8, Perfect: 0.8, Random: 0.55, Share: 0.7, LaneEfficiency: 0.6}
		in.Doubt = &doubt.Result{Blocks: map[string]map[string]doubt.Figure{in.Coverage.Tool: {doubt.LaneEfficiency: {U: u, Lo: 0.6 - 2*u, Hi: 0.6 + 2*u}}}}
		r, err := NewRun(in)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := Marshal(r.Coverage)
		if err != nil {
			t.Fatal(err)
		}
		if Measured(r.Coverage.Economy.LaneEfficiency) != shown || strings.Contains(string(raw), `"economy":{"lane_efficiency":[`) != shown {
			t.Errorf("u %g: %s", u, raw)
		}
	}
	in := sample(t)
	in.Doubt = nil
	if r, err := NewRun(in); err != nil || Measured(r.Coverage.Economy.LaneEfficiency) {
		t.Errorf("without an uncertainty: %v, %v", r.Coverage.Economy, err)
	}
}
