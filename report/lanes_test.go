package report

import (
	"encoding/json"
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
		raw, err := json.Marshal(r.Coverage)
		if err != nil {
			t.Fatal(err)
		}
		if r.Coverage.Economy.LaneEfficiency.Known() != shown || strings.Contains(string(raw), `"economy":{"lane_efficiency":[`) != shown {
			t.Errorf("u %g: %s", u, raw)
		}
	}
	in := sample(t)
	in.Doubt = nil
	if r, err := NewRun(in); err != nil || r.Coverage.Economy.LaneEfficiency.Known() {
		t.Errorf("without an uncertainty: %v, %v", r.Coverage.Economy, err)
	}
}
