package work

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/report"
	"swathe/track"
)

const hard = "../../../testdata/hard"

// hardCase is what must be said of a recording of testdata/hard.
type hardCase struct {
	run, what string
	anyway    bool       // measured although too little was seen
	long      bool       // with SWATHE_LONG alone
	refused   string     // the reason, every number as #; empty: it is measured
	kind      string     // of the refusal
	ends      [2]string  // how the run started and ended
	lost      [2]float64 // share of the recording, from and to
	events    []string   // kinds that may be told; what else is told is wrong
	warnings  []string   // all of them, every number as #
}

const (
	hardSize   = "its diameter, outline or height in lab.yaml is wrong (# % off is enough to lose it)"
	hardFaint  = "it hardly stands out from the floor, or the light changes: light the room evenly, put a printed marker on it, or another floor under it"
	hardMarks  = "the camera's marks do not belong to this recording"
	hardGone   = "it was not in the room yet, or had left it: state its times with start_s and end_s in the notes beside the recording"
	hardLittle = " A run that is seen for less than # % (least_seen among the settings of lab.yaml) is not measured: its figures would mislead. The most likely reasons why it was not seen for # s: "
	hardAnyway = ". swathe check LAB --recording FILE shows what is seen. With --anyway the run is measured as far as it was seen, and marked on every page and picture"
	hardNobody = "nothing of the robot's size was seen in the room. Check its diameter and height in lab.yaml (# % off is enough to lose it; swathe check LAB --recording FILE shows the diameter that fits), that the camera's marks belong to this recording, and that the robot contrasts with the floor"
)

// hardCases are what is said of each recording, word for word but for the
// numbers. The recordings are made by TestMakeHard of track/scene, which says
// what each shows.
var hardCases = []hardCase{
	{run: "heron_single_1", what: "hidden but for four frames", kind: "too little seen",
		refused: "the robot was found in only # % of the recording (# s of # s): from # to # s at (#, #) m." + hardLittle +
			"(#) " + hardSize + "; (#) " + hardFaint + "; (#) " + hardMarks + hardAnyway},
	{run: "heron_single_2", what: "the white balance jumps, and back", ends: [2]string{"at rest", "stood still"}, lost: [2]float64{0, 0.02}},
	{run: "heron_single_3", what: "it rests for more than 80 % of the recording", ends: [2]string{"at rest", "stood still"}, lost: [2]float64{0, 0.02}},
	{run: "crake_single_1", what: "a body that is not convex", long: true, ends: [2]string{"at rest", "stood still"}, lost: [2]float64{0, 0.02}},
	{run: "heron_single_4", what: "nobody at all", kind: "no robot", refused: hardNobody},
	{run: "heron_single_5", what: "a person, and no robot", kind: "no robot", refused: hardNobody + "; something moved in the picture, but nothing with the robot's outline"},
	{run: "heron_single_6", what: "gone from sight half-way", kind: "too little seen",
		refused: "the robot was found in only # % of the recording (# s of # s): from # to # s from (#, #) to (#, #) m." + hardLittle +
			"(#) " + hardGone + "; (#) " + hardSize + "; (#) " + hardFaint + hardAnyway},
	{run: "heron_single_6", what: "gone from sight half-way, measured all the same", long: true, anyway: true, ends: [2]string{"at rest", "lost"}, lost: [2]float64{0.65, 0.75},
		warnings: []string{"the robot's position is unknown for # % of the recording (# s), longest from # to # s (nothing of the robot's size was seen); nothing counts as cleaned there, so the coverage is a lower bound"}},
}

var number = regexp.MustCompile(`-?\d+(\.\d+)?`)

func masked(s string) string {
	return number.ReplaceAllString(strings.ReplaceAll(s, "\u00a0", " "), "#")
}

// Recordings that are hard, each for one reason: what is said of each.
func TestHardRecordings(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("the eye is not named by SWATHE_EYE (bash cmd/test.sh builds it and names it)")
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(hard)); err != nil {
		t.Fatal(err)
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	look := Eye{Measure: func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
		return track.Measure(ctx, eye, job, track.DefaultOptions(), tell)
	}}
	for _, c := range hardCases {
		if c.long && os.Getenv("SWATHE_LONG") == "" {
			continue
		}
		t.Run(strings.ReplaceAll(c.what, " ", "_"), func(t *testing.T) {
			items, err := List(l, []string{"stage/" + c.run})
			if err != nil {
				t.Fatal(err)
			}
			out := All(context.Background(), l, items, Options{Jobs: 1, Anyway: c.anyway, Eye: look}, Watcher{})[0]
			if c.refused != "" {
				c.holdRefusal(t, l, out)
				return
			}
			if out.Kind != Measured {
				t.Fatalf("%s: %s", out.Kind, out.Reason)
			}
			c.holdRun(t, filepath.Join(l.Dir, filepath.FromSlash(out.Result)))
		})
	}
}

func (c hardCase) holdRefusal(t *testing.T, l *lab.Lab, out Outcome) {
	if out.Kind != Failed {
		t.Fatalf("%s, it should be refused", out.Kind)
	}
	_, reason, _ := strings.Cut(out.Reason, ".mp4: ")
	if got := masked(reason); got != c.refused {
		t.Errorf("said:\n%s\nshould be said:\n%s", got, c.refused)
	}
	raw, err := os.ReadFile(filepath.Join(l.ResultsDir(), "stage", c.run+".failed.json"))
	if err != nil {
		t.Fatal(err)
	}
	var f lab.Failed
	if err := json.Unmarshal(raw, &f); err != nil {
		t.Fatal(err)
	}
	if f.Kind != c.kind {
		t.Errorf("kind %q, should be %q", f.Kind, c.kind)
	}
}

func (c hardCase) holdRun(t *testing.T, dir string) {
	r, err := report.ReadRun(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got := [2]string{r.Run.Started, r.Run.Ended}; got != c.ends {
		t.Errorf("started and ended %q, should be %q", got, c.ends)
	}
	if v := r.Trace.LostShare; v < c.lost[0] || v > c.lost[1] {
		t.Errorf("lost for %.3f of the recording, should be %.2f to %.2f", v, c.lost[0], c.lost[1])
	}
	if sum := r.Trace.SeenShare + r.Trace.BridgedShare + r.Trace.LostShare + r.Trace.CarriedShare; math.Abs(sum-1) > 1e-3 {
		t.Errorf("the shares add up to %.4f", sum)
	}
	if (r.Mark != "") != c.anyway {
		t.Errorf("mark %q", r.Mark)
	}
	for _, e := range r.Events {
		if !slices.Contains(c.events, e.Kind) {
			t.Errorf("%s told of a recording that shows none: %s", e.Kind, e.Sentence)
		}
	}
	var said []string
	for _, w := range r.Warnings {
		said = append(said, masked(w))
	}
	if !slices.Equal(said, c.warnings) {
		t.Errorf("warned:\n%s\nshould be:\n%s", strings.Join(said, "\n"), strings.Join(c.warnings, "\n"))
	}
}
