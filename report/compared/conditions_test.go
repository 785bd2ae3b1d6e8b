package compared

import (
	"strings"
	"testing"

	"swathe/coverage/compare"
	"swathe/coverage/stats"
	"swathe/report"
	"swathe/report/words"
)

// What the notes of runs state: days and numbers as ranges with their unit, names
// as they are, what some do not state is said; how a run ended is no condition.
func TestConditionsOf(t *testing.T) {
	unit := func(n string) string { return map[string]string{"temperature": "degC", "humidity": "%"}[n] }
	runs := []map[string]string{
		{"date": "2026-03-04 10:00", "temperature": "9.5", "humidity": "46", "firmware": "1.5", "dust_lot": "D7", "outcome": "complete"},
		{"date": "2026-03-02", "temperature": "21.25", "firmware": "1.4", "note": "loud"},
		{"date": "2026-03-02T11:00", "temperature": "10", "humidity": "46", "firmware": "1.4"},
	}
	want := "Conditions: date 2026-03-02 to 2026-03-04; dust lot D7 (not stated for 2 runs); firmware 1.4 and 1.5; humidity 46 % (not stated for 1 run); temperature 9.5 to 21.25 °C."
	if got := strings.ReplaceAll(conditionLine(report.ConditionsOf(runs, unit)), words.NB, " "); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	if got := conditionLine(report.ConditionsOf(runs[:0], nil)); got != "Conditions: none stated." {
		t.Errorf("of no run: %s", got)
	}
}

// The page on a robot is about its newest firmware, and of that about the group
// with the most runs; the average beside a figure is that of the other robots, each
// counted once however many groups it has, and the robot's own older firmware is
// neither in it nor a rival.
func TestDossierOthers(t *testing.T) {
	group := func(robot, firmware, date string, shares ...float64) compare.Standing {
		s := compare.Standing{Layout: "den", Phase: "mapped", Group: compare.Group{Robot: robot, Phase: "mapped"}, Name: robot + " " + firmware}
		iv := stats.MeanInterval(shares, 0.95)
		m, sd := stats.MeanSD(shares)
		for i := range shares {
			s.Runs = append(s.Runs, compare.Run{ID: "den/" + s.Name, Layout: "den", Phase: "mapped", Robot: robot, Trial: i + 1, Conditions: map[string]string{"firmware": firmware, "date": date}})
		}
		f, _ := compare.Find("covered_share")
		s.Figures = []compare.Place{{Figure: f, Mean: m, Cell: compare.Cell{N: len(shares), Of: len(shares), Values: shares, Mean: m, SD: sd, Interval: iv}}}
		return s
	}
	st := []compare.Standing{
		group("wren", "1", "2026-03-01", 0.99, 0.991, 0.992), // older: not the one, no rival, in no average
		group("wren", "2", "2026-03-09", 0.80, 0.801, 0.802),
		group("tern", "1", "2026-03-01", 0.70, 0.701, 0.702), // two groups of one robot: 0.701 and 0.801
		group("tern", "2", "2026-03-02", 0.80, 0.801, 0.802),
		group("rook", "1", "2026-03-01", 0.60, 0.601, 0.602),
	}
	in := DossierInput{Robot: "wren", Standings: st, Runs: append(append([]compare.Run{}, st[0].Runs...), st[1].Runs...)}
	own, rest := in.own()
	if len(own) != 1 || own[0].Name != "wren 2" || len(rest) != 1 || rest[0].Name != "wren 1" {
		t.Fatalf("own %v, rest %v", own, rest)
	}
	p, ok := findPlace(in.places(), "den", "mapped", "covered_share")
	if !ok || p.robots != 2 || p.others < 0.6759 || p.others > 0.6761 { // ((0.701 + 0.801) / 2 + 0.601) / 2 = 0.676
		t.Errorf("average of %d others %.4f, want 0.676 of 2", p.robots, p.others)
	}
	if p.rank.Of != 4 || p.rank.First != 1 || p.rank.Last != 2 {
		t.Errorf("rank %d to %d of %d, want 1 to 2 of 4: without its own older firmware", p.rank.First, p.rank.Last, p.rank.Of)
	}
}
