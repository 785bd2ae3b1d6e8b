package accuracy

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/report"
)

func aProof() *Proof {
	fine := Run{Layout: "den", Robot: "tern", Phase: "mapping", Frames: []int{480, 270}, FPS: 30,
		Looks:   Look{From: []string{"den/tern_mapping_1"}, Usual: []string{"shadows"}, FloorGrey: 140, RobotGrey: 50, NoiseGrey: 1.3, RobotTexture: report.NaN},
		Path:    Path{RMSM: 0.0012, P95M: 0.002, HeadingRMS: 0.4, StartErrorS: -0.08, EndErrorS: 0.05, TravelRMS: report.NaN},
		Figures: []Figure{{Name: "reachable_share", Words: "Share of reachable floor", Unit: "share", True: 0.5, Measured: 0.499, Error: -0.001}, {Name: "redundancy", Words: "Redundancy", True: 0.2, Measured: 0.203, Error: 0.003}, {Name: "time_to_reachable_s.50", Words: "Time to 50 %", Unit: "s", True: 60, Measured: report.NaN, Error: report.NaN}},
		Events:  []Events{{Kind: "spin", Drawn: 2, Found: 1, MadeUp: 1}}}
	worse := fine
	worse.Phase = "mapped"
	worse.Path.RMSM, worse.Path.StartErrorS = 0.0015, 0.02
	failed := fine
	why := "nothing of the robot's size was seen"
	failed.Failed = &why
	return &Proof{Schema: 1, Lab: "my-lab", Seed: 3, DriveS: 90, Runs: []Run{fine, worse, failed}, Left: []Left{}, Drawn: Drawn, Outside: Outside}
}

// What to expect is the worst of the runs that were measured, without signs; a
// run that failed is counted and hides nothing.
func TestProofSum(t *testing.T) {
	p := aProof()
	p.Sum()
	if len(p.Expect) != 1 {
		t.Fatalf("%d entries", len(p.Expect))
	}
	e := p.Expect[0]
	if e.Runs != 3 || e.Failed != 1 || e.PathRMSM != 0.0015 || e.StartEndS != 0.08 || e.ReachShare != 0.001 || e.Redundancy != 0.003 {
		t.Errorf("%+v", e)
	}
	if report.Measured(e.TimesS) || report.Measured(e.CoveredShare) {
		t.Errorf("what no run told has a value: %+v", e)
	}
	if e.EventsDrawn != 4 || e.EventsFound != 2 || e.EventsMadeUp != 2 {
		t.Errorf("%+v", e)
	}
}

// The page stands by itself, says that the runs are drawn, and names the two
// checks that do not lean on it; the JSON has null for what was not measured.
func TestWriteProof(t *testing.T) {
	p := aProof()
	p.Sum()
	dir := filepath.Join(t.TempDir(), "proof")
	err := WriteProof(dir, p, nil, func(file string, data []byte) error { return os.WriteFile(file, data, 0o644) })
	if err != nil {
		t.Fatal(err)
	}
	page, err := os.ReadFile(filepath.Join(dir, SheetFile))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"model of the world", "A taped line", "Two people", "1.5\u00a0mm", "nothing of the robot&#39;s size", "1 of 3 not measured", "not reached", "den/tern_mapping_1"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not hold %q", want)
		}
	}
	for _, not := range []string{"http://", "https://", "<script", "NaN"} {
		if strings.Contains(string(page), not) {
			t.Errorf("the page holds %q", not)
		}
	}
	raw, err := os.ReadFile(filepath.Join(dir, JSONFile))
	if err != nil {
		t.Fatal(err)
	}
	var back Proof
	if err := report.Unmarshal(raw, &back); err != nil {
		t.Fatal(err)
	}
	if report.Measured(back.Runs[0].Path.TravelRMS) || back.Runs[1].Path.RMSM != 0.0015 || back.Expect[0].Failed != 1 {
		t.Errorf("prove.json came back as %+v", back)
	}
}
