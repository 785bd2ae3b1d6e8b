package work

import (
	"context"
	"fmt"
	"math"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/labtest"
	"swathe/coverage/compare"
	"swathe/report"
	"swathe/report/compared"
	"swathe/report/words"
)

// A made-up laboratory: four robots drive rows through a room of 3 x 2.4 m, three
// trials each, as paths. Trials differ in their pitch, drawn from a seed; the
// second of siskin is cut short, the second of finch gets stuck after a third of
// its way, and wren is wider than the others. The last of heron ran beside a
// chest that stood there that day alone.
const fourLab = `# four made-up robots, measured by their paths
layouts:
  hall:
    room: [[0, 0], [3, 0], [3, 2.4], [0, 2.4]]
    obstacles:
      bench: {outline: [[2.4, 1.9], [3, 1.9], [3, 2.4], [2.4, 2.4]], height: 0.4}
robots:
  finch: {diameter: 0.30, height: 0.09, tools: {brush: {width: {value: 0.16, tolerance: 0.002}, ahead: 0.02}}}
  heron: {diameter: 0.30, height: 0.09, tools: {brush: {width: {value: 0.16, tolerance: 0.002}, ahead: 0.02}}}
  siskin: {diameter: 0.30, height: 0.09, tools: {brush: {width: {value: 0.16, tolerance: 0.002}, ahead: 0.02}}}
  wren: {diameter: 0.40, height: 0.09, tools: {brush: {width: {value: 0.16, tolerance: 0.002}, ahead: 0.02}}}
settings: {cell: 0.02, draws: 20, budget_draws: 20}
`

// rowsPath writes a path of rows of the given pitch between walls that a robot of
// the radius keeps 5 mm off, there and back along x; share: of the way that is
// driven; rests: it stands for 5 s in the end.
func rowsPath(radius, pitch, share float64, rests bool) string {
	type leg struct{ x, y float64 }
	low, right, top := radius+0.005, 3-radius-0.005, 2.4-radius-0.005
	at := leg{low, low}
	legs := []leg{at}
	for k := 0; ; k++ {
		end := right
		if at.y > 1.9-radius-0.01 {
			end = 2.4 - radius - 0.005
		}
		if k%2 == 1 {
			end = low
		}
		legs = append(legs, leg{end, at.y})
		y := at.y + pitch
		if y > top {
			break
		}
		if y > 1.9-radius-0.01 && end > 2.4-radius {
			end = 2.4 - radius - 0.005
			legs = append(legs, leg{end, at.y})
		}
		at = leg{end, y}
		legs = append(legs, at)
	}
	total := 0.0
	for i := 1; i < len(legs); i++ {
		total += math.Hypot(legs[i].x-legs[i-1].x, legs[i].y-legs[i-1].y)
	}
	var b strings.Builder
	b.WriteString("t_s,x_m,y_m\n")
	t := 0.0
	put := func(x, y float64) { fmt.Fprintf(&b, "%.1f,%.4f,%.4f\n", t, x, y); t += 0.1 }
	for range 30 {
		put(legs[0].x, legs[0].y)
	}
	const step = 0.03 // m in a tenth of a second
	driven, last := 0.0, legs[0]
	for i := 1; i < len(legs) && driven < share*total; i++ {
		a, c := legs[i-1], legs[i]
		d := math.Hypot(c.x-a.x, c.y-a.y)
		for s := step; s < d+step && driven < share*total; s += step {
			u := math.Min(1, s/math.Max(d, 1e-9))
			last = leg{a.x + u*(c.x-a.x), a.y + u*(c.y-a.y)}
			put(last.x, last.y)
			driven += step
		}
	}
	if rests {
		for range 50 {
			put(last.x, last.y)
		}
	}
	return b.String()
}

// fourRobots makes the laboratory and measures it.
func fourRobots(t testing.TB) *lab.Lab {
	t.Helper()
	const seed = 21
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewSource(seed))
	dir := t.TempDir()
	labtest.Put(t, dir, "lab.yaml", fourLab)
	for _, r := range []struct {
		name          string
		radius, pitch float64
	}{{"finch", 0.15, 0.19}, {"heron", 0.15, 0.14}, {"siskin", 0.15, 0.15}, {"wren", 0.20, 0.15}} {
		for trial := 1; trial <= 3; trial++ {
			share, rests := 1.0, true
			switch {
			case r.name == "siskin" && trial == 2:
				share, rests = 0.6, false
			case r.name == "finch" && trial == 2:
				share = 0.35
			}
			if share < 1 && rests {
				labtest.Put(t, dir, fmt.Sprintf("recordings/hall/%s_single_%d.yaml", r.name, trial), "outcome: trapped\n")
			}
			labtest.Put(t, dir, fmt.Sprintf("recordings/hall/%s_single_%d.csv", r.name, trial), rowsPath(r.radius, r.pitch+0.0005*rng.NormFloat64(), share, rests))
		}
	}
	measureAll := func(l *lab.Lab) {
		t.Helper()
		items, err := List(l, nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, o := range All(context.Background(), l, items, Options{Jobs: 2}, Watcher{}) {
			if o.Kind != Measured && o.Kind != UpToDate {
				t.Fatalf("%s: %s: %s", o.Run, o.Kind, o.Reason)
			}
		}
	}
	open := func() *lab.Lab {
		t.Helper()
		l, err := lab.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		return l
	}
	measureAll(open())
	// One more run on a day on which a chest stood in the room.
	labtest.Put(t, dir, "lab.yaml", strings.Replace(fourLab, "height: 0.4}\n", "height: 0.4}\n      chest: {outline: [[0, 2.1], [0.4, 2.1], [0.4, 2.4], [0, 2.4]], height: 0.5}\n", 1))
	labtest.Put(t, dir, "recordings/hall/heron_single_4.csv", rowsPath(0.15, 0.14, 0.6, true))
	measureAll(open())
	labtest.Put(t, dir, "lab.yaml", fourLab)
	return open()
}

func TestFourRobots(t *testing.T) {
	l := fourRobots(t)
	ids, err := Pick(l, []string{"hall/*"})
	if err != nil {
		t.Fatal(err)
	}
	in, err := Compare(l, "four", ids, compare.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	d := in.Doc
	if len(d.Refused) != 1 || d.Refused[0].Run != "hall/heron_single_4" || !strings.Contains(d.Refused[0].Reason, "chest (obstacles) is new") {
		t.Errorf("left out: %v", d.Refused)
	}
	cell := func(figure, group string) compared.FigureCell {
		t.Helper()
		for _, f := range d.Figures {
			for _, c := range f.Groups {
				if f.Figure == figure && c.Group == group {
					return c
				}
			}
		}
		t.Fatalf("no %s of %s", figure, group)
		return compared.FigureCell{}
	}
	// The run that was cut short is a bound, and in no mean.
	s := cell("covered_share", "siskin")
	if s.N != 2 || len(s.AtLeast) != 1 || s.AtLeast[0].Run != "hall/siskin_single_2" || report.Measured(s.Mean) || report.Measured(s.Interval.Lo) {
		t.Errorf("siskin: %+v", s)
	}
	// So is the one that got stuck, by its notes; what it did not reach, it did not.
	f := cell("covered_share", "finch")
	if f.N != 2 || len(f.AtLeast) != 1 || f.AtLeast[0].Run != "hall/finch_single_2" || report.Measured(f.Mean) {
		t.Errorf("finch: %+v", f)
	}
	if n := cell("time_to_s.50", "finch"); n.N != 2 || len(n.Never) != 1 || report.Measured(n.Mean) {
		t.Errorf("finch's time to 50 %%: %+v", n)
	}
	// A wider robot reaches less: its share of what it can reach flatters it
	// against the share of the floor that is the same for all.
	w, h := cell("covered_share", "wren"), cell("covered_share", "heron")
	wr, hr := cell("reachable_share", "wren"), cell("reachable_share", "heron")
	t.Logf("heron %.3f of the open floor, %.3f of its reach; wren %.3f, %.3f", h.Mean, hr.Mean, w.Mean, wr.Mean)
	if !(h.Mean-w.Mean > hr.Mean-wr.Mean) || hr.Mean > 1 || wr.Mean > 1 {
		t.Error("the share of the reachable floor does not flatter the wide robot")
	}
	// What heron's three runs share stays in its interval.
	if !(h.CommonU > 0) {
		t.Errorf("heron: %+v", h)
	}
	verdicts := map[string]string{}
	for _, x := range d.Differ {
		if x.Primary {
			verdicts[x.Groups[0]+" "+x.Groups[1]] = x.Verdict
		}
	}
	t.Log(verdicts)
	if verdicts["heron wren"] != string(compare.FirstBetter) || verdicts["heron siskin"] != string(compare.TooFew) || verdicts["finch heron"] != string(compare.TooFew) {
		t.Errorf("verdicts %v", verdicts)
	}
	// On a terminal it is a page, not a roll.
	var text strings.Builder
	d.Text(&text, words.Metre)
	if n := strings.Count(text.String(), "\n"); n > 60 {
		t.Errorf("%d lines on a terminal:\n%s", n, text.String())
	}
	if out := os.Getenv("SWATHE_LOOK"); out != "" {
		if err := os.WriteFile(filepath.Join(out, "compare.txt"), []byte(text.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := compared.WriteComparison(out, *in); err != nil {
			t.Fatal(err)
		}
	}
	// Among all robots: finch, with a run that got stuck, shares its rank.
	all, err := report.ResultIDs(l.ResultsDir())
	if err != nil {
		t.Fatal(err)
	}
	runs, unread := report.Indexed(l.ResultsDir(), all)
	unread = append(unread, report.AddShared(l.ResultsDir(), runs)...)
	st, no, err := compare.Standings(runs, compare.DefaultOptions())
	if err != nil || len(no) > 0 {
		t.Fatal(no, err)
	}
	doc := compared.NewRobots(st, no, compare.Primary, unread, nil)
	text.Reset()
	doc.Text(&text, words.Metre)
	t.Log("\n" + text.String())
	if strings.Contains(text.String(), "of 1\n") || !strings.Contains(text.String(), "arrangement 2 of the room") || strings.Count(text.String(), "\n") > 50 {
		t.Errorf("robots:\n%s", text.String())
	}
	if got := doc.Groups[0].Name; got != "heron" {
		t.Errorf("the best is listed first, and that is %s", got)
	}
}
