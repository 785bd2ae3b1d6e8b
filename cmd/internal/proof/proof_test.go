package proof

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/coverage/conduct"
	"swathe/report"
	"swathe/report/accuracy"
)

// small is a lab that is quick to draw.
const small = `
cameras:
  ceiling:
    frame: [480, 270]
    height: 2.1
    marks:
      - {floor: [0.1, 0.1, 0], pixel: [101.65, 241.24]}
      - {floor: [0.1, 0.7, 0], pixel: [101.10, 154.60]}
      - {floor: [0.1, 1.3, 0], pixel: [102.03, 70.67]}
      - {floor: [0.7, 0.1, 0], pixel: [187.22, 240.41]}
      - {floor: [0.7, 0.7, 0], pixel: [186.07, 153.87]}
      - {floor: [0.7, 1.3, 0], pixel: [186.17, 68.88]}
      - {floor: [1.3, 0.1, 0], pixel: [273.60, 237.94]}
      - {floor: [1.3, 0.7, 0], pixel: [272.06, 152.11]}
      - {floor: [1.3, 1.3, 0], pixel: [270.01, 68.24]}
      - {floor: [1.9, 0.1, 0], pixel: [357.14, 234.41]}
      - {floor: [1.9, 0.7, 0], pixel: [354.90, 149.85]}
      - {floor: [1.9, 1.3, 0], pixel: [351.28, 67.71]}
      - {floor: [0.3, 0.3, 0.4], pixel: [106.58, 225.86]}
      - {floor: [1.7, 1.1, 0.4], pixel: [347.21, 82.41]}
layouts:
  den:
    camera: ceiling
    room: [[0, 0], [2, 0], [2, 1.4], [0, 1.4]]
robots:
  tern:
    diameter: 0.34
    height: 0.1
    tools: {brush: {width: 0.2, ahead: 0.02}}
settings: {cell: 0.01}
`

func open(t *testing.T, text string) *lab.Lab {
	t.Helper()
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "lab.yaml"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// A small room is drawn and measured: every figure is there, and the errors are
// those of a working set-up.
func TestProve(t *testing.T) {
	l := open(t, small)
	opt := Options{Seconds: 10, Seed: 7}
	begun := 0
	res, err := Prove(context.Background(), l, opt, Watcher{Begin: func(n int) { begun = n }})
	if err != nil {
		t.Fatal(err)
	}
	p := res.Doc
	if begun != 2 || len(p.Runs) != 2 || len(p.Expect) != 1 || len(res.Pictures) != 2 || len(res.Frames) != 1 {
		t.Fatalf("%d runs announced, %d drawn, %d summed, %d pictures, %d frames", begun, len(p.Runs), len(p.Expect), len(res.Pictures), len(res.Frames))
	}
	for _, r := range p.Runs {
		if r.Failed != nil {
			t.Fatalf("%s: %s", r.Title(), *r.Failed)
		}
		t.Logf("%s: path %.2f mm, survey %.2f mm, heading %.2f deg, start %+.2f s, end %+.2f s", r.Title(), 1000*r.Path.RMSM, 1000*r.Path.SurveyM, r.Path.HeadingRMS, r.Path.StartErrorS, r.Path.EndErrorS)
		for _, v := range []float64{r.Path.RMSM, r.Path.P95M, r.Path.SurveyM, r.Path.Within2Sigma, r.Path.StartErrorS, r.Path.EndErrorS} {
			if !report.Measured(v) {
				t.Errorf("%s: a figure of the path is missing: %+v", r.Title(), r.Path)
			}
		}
		if !(r.Path.RMSM > 0 && r.Path.RMSM < 0.008) || math.Abs(r.Path.StartErrorS) > 0.5 {
			t.Errorf("%s: path off by %g m, start by %g s", r.Title(), r.Path.RMSM, r.Path.StartErrorS)
		}
		if !(r.Path.SurveyM > 1e-5) {
			t.Errorf("%s: the survey has no error of its own: %g m", r.Title(), r.Path.SurveyM)
		}
		if len(r.Looks.Usual) == 0 || len(r.Looks.From) > 0 {
			t.Errorf("%s: with no recording, looks %+v", r.Title(), r.Looks)
		}
		for _, f := range r.Figures {
			if d := f.Measured - f.True - f.Error; math.Abs(d) > 1e-12 {
				t.Errorf("%s, %s: %g less %g is not %g", r.Title(), f.Name, f.Measured, f.True, f.Error)
			}
		}
	}
}

// A layout that no camera looks at is left out with the reason; nothing to draw
// is an error.
func TestNothingToDraw(t *testing.T) {
	l := open(t, small)
	if _, err := Prove(context.Background(), l, Options{Seconds: 10, Pick: func(string, string) bool { return false }}, Watcher{}); err == nil {
		t.Error("nothing was picked, and no error said so")
	}
	if _, err := Prove(context.Background(), l, Options{Seconds: -1}, Watcher{}); err == nil {
		t.Error("a run of -1 s was drawn")
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Prove(ctx, l, Options{Seconds: 10}, Watcher{}); err == nil {
		t.Error("a call that was stopped gave a proof")
	}
}

// Events pair by kind, time and place, each once.
func TestCountEvents(t *testing.T) {
	e := func(kind string, start, end, x float64) conduct.Event {
		return conduct.Event{Kind: kind, Start: start, End: end, X: x}
	}
	truth := []conduct.Event{e(conduct.Spin, 10, 14, 1), e(conduct.Spin, 30, 34, 1), e(conduct.Pause, 50, 60, 1), e(conduct.Hidden, 5, 6, 1)}
	found := []conduct.Event{e(conduct.Spin, 10.3, 14, 1.1), e(conduct.Spin, 31, 33, 3), e(conduct.Contact, 70, 70, 1), e(conduct.Hidden, 80, 81, 1), e(conduct.Pause, 59, 65, 1)}
	got := countEvents(truth, found)
	want := []accuracy.Events{{Kind: conduct.Contact, MadeUp: 1}, {Kind: conduct.Pause, Drawn: 1, Found: 1}, {Kind: conduct.Spin, Drawn: 2, Found: 1, MadeUp: 1}}
	if len(got) != len(want) {
		t.Fatalf("%+v, want %+v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("%+v, want %+v", got[i], want[i])
		}
	}
}
