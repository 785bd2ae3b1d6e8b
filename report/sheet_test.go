package report

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"swathe/coverage/conduct"
	"swathe/coverage/stats"
	"swathe/geom"
	"swathe/report/sheet"
	"swathe/report/words"
)

// page returns the page of the sample run, with events, and its text.
func page(t testing.TB) (sheet.Sheet, string) {
	t.Helper()
	in := sample(t)
	stop := 3.0
	in.Events = []Event{{Kind: "other", StartS: 1, EndS: 1 + stop, X: 0.5, Y: 0.3, Size: 730, Unit: "deg", Sentence: "It turned twice <on the spot> & went on."}}
	avoided := "avoided"
	in.TestObjects = []TestObject{{Name: "sock", Outcome: &avoided, ClearanceM: 0.031, MovedM: 0, FirstContactS: NaN}, {Name: "bead", Reason: "too small to see", ClearanceM: NaN, MovedM: NaN, FirstContactS: NaN}}
	in.Camera = &geom.Solution{Solved: []string{"place", "focal length"}, NotSolved: []string{"second radial term: the marks do not settle it"}, MarkRMSPx: 0.31, MarkRMSM: 0.0012, LeaveOneOutM: 0.0019, TapeErrors: []float64{0.0021, math.NaN()}}
	r, err := NewRun(in)
	if err != nil {
		t.Fatal(err)
	}
	r.Coverage.Known = Known{Beside[stats.Interval]{"reachable_share": {Lo: 0.31, Hi: 0.35}, "time_to_reachable_s.50": {Lo: 11, Hi: NaN}}, Beside[float64]{"reachable_share": 0.01}}
	r.Uncertainty = &Uncertainty{Draws: 200, Level: 0.95, Budget: []Budget{
		{Input: "path", Words: "place along the path", StandardU: Beside[float64]{"reachable_share": 0.003, "mean_passes": 0.02, "distance_m": 0.05}},
		{Input: "tool", Words: "width within 2 mm", StandardU: Beside[float64]{"reachable_share": 0.004, "mean_passes": 0.01, "distance_m": 0}},
		{Input: "clock", Words: "start and end", StandardU: Beside[float64]{"reachable_share": NaN, "mean_passes": 0}},
	}}
	s := RunSheet(SheetInput{Run: r, Figure: in.FigureRun(), Unit: words.Metre, Setup: in.Setup})
	var buf bytes.Buffer
	if err := s.Write(&buf); err != nil {
		t.Fatal(err)
	}
	return s, buf.String()
}

// The budget stands on the page, the greatest cause first; the parts are those
// of the variance: 0.4^2 and 0.3^2 of 0.5^2.
func TestThePageShowsTheBudget(t *testing.T) {
	s, _ := page(t)
	for _, p := range s.Sections {
		if p.Heading != "Causes of the uncertainty" {
			continue
		}
		rows := p.Tables[0].Rows
		if len(rows) != 3 {
			t.Fatalf("%d rows", len(rows))
		}
		for i, want := range [][]string{
			{"the tool's width and place on the robot", "width within 2 mm", "64\u00a0%", "0.40\u00a0%", "0.010", "0\u00a0mm"},
			{"the robot's path", "place along the path", "36\u00a0%", "0.30\u00a0%", "0.020", "50\u00a0mm"},
			{"when the run began and ended", "start and end", "\u2013", "\u2013", "0.000", "\u2013"},
		} {
			for k, w := range want {
				if rows[i][k] != w {
					t.Errorf("row %d, column %d: %q, want %q", i, k, rows[i][k], w)
				}
			}
		}
		return
	}
	t.Error("the page has no budget")
}

func TestThePageHoldsEverything(t *testing.T) {
	_, text := page(t)
	for _, want := range []string{
		"wren, mapped run\u00a02, nook", "of the reachable floor", "31.0\u00a0% to 35.0\u00a0%", "11\u00a0s to never", "not reached",
		"It turned twice &lt;on the spot&gt; &amp; went on.", "too small to see", "the marks do not settle it",
		"the light drifts", "wren_mapped_2.mp4", "SHA-256 ab", "layouts: {}", "What the figures mean", "1.9\u00a0mm",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	// Pictures are letters too, of which any word may be a part.
	text = regexp.MustCompile(`data:image/png;base64,[^" ]*`).ReplaceAllString(text, "data:PICTURE")
	for _, bad := range []string{"NaN", "%!", "<no value>", "ZgotmplZ", "&lt;nil", "http://", "https://", "<script"} {
		if i := strings.Index(text, bad); i >= 0 {
			t.Errorf("the page has %q: %s", bad, text[max(0, i-80):min(len(text), i+40)])
		}
	}
	if n, m := strings.Count(text, "<img "), len(regexp.MustCompile(`<img [^>]*alt="[^"]{40,}"`).FindAllString(text, -1)); n != m || n < 4 {
		t.Errorf("%d pictures, %d with a description", n, m)
	}
}

func TestTheCheckThatLooksForContrastWorks(t *testing.T) {
	// The formula of WCAG 2.2: black on white is 21, #777 on white 4.48.
	for _, c := range []struct{ a, b, want float64 }{{0, 255, 21}, {0x77, 255, 4.48}} {
		if got := ratio(c.a, c.a, c.a, c.b, c.b, c.b); math.Abs(got-c.want) > 0.005 {
			t.Errorf("contrast %.3f, want %.2f", got, c.want)
		}
	}
}

// ratio is the contrast of two colours of sRGB, 0 to 255 (WCAG 2.2).
func ratio(r1, g1, b1, r2, g2, b2 float64) float64 {
	lum := func(c ...float64) float64 {
		var l float64
		for i, w := range []float64{0.2126, 0.7152, 0.0722} {
			x := c[i] / 255
			if x <= 0.04045 {
				x /= 12.92
			} else {
				x = math.Pow((x+0.055)/1.055, 2.4)
			}
			l += w * x
		}
		return l
	}
	x, y := lum(r1, g1, b1), lum(r2, g2, b2)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

func writePage(t testing.TB) string {
	t.Helper()
	_, text := page(t)
	file := filepath.Join(t.TempDir(), "page.html")
	if dir := os.Getenv("SWATHE_LOOK"); dir != "" {
		file = filepath.Join(dir, "page.html")
	}
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// The run's page tells its conditions, its time at work and in the dock, and what
// the bench read of it.
func TestRunPageTellsWork(t *testing.T) {
	in := SheetInput{Run: &Run{Active: &conduct.Active{ActiveS: 400}, Docking: &conduct.Docking{Trips: 2, DockedS: 122}, Conditions: map[string]string{"temperature": "21.5", "outcome": "complete"}},
		Readings: [][]string{{"Energy drawn", "2.46 W h"}}}
	var text []string
	for _, r := range append(in.workTable().Rows, conditionSection(in.Run.Conditions, func(string) string { return "degC" }).Tables[0].Rows...) {
		text = append(text, strings.ReplaceAll(strings.Join(r, ": "), words.NB, " "))
	}
	want := "Time at work: 6 min 40 s|Time in the dock: 2 min 2 s|Returns to the dock: 2|Energy drawn: 2.46 W h|temperature: 21.5 °C|outcome, as stated by the tester: complete"
	if got := strings.Join(text, "|"); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
	in.Run.Docking.DockedS = 0.05 // the last movement, in the dock
	if got := in.workTable().Rows[1][1]; got != "none" {
		t.Errorf("in the dock: %s", got)
	}
}
