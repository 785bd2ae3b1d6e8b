package accuracy

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"

	"swathe/report"
	"swathe/report/figure"
	"swathe/report/sheet"
	"swathe/report/words"
)

// Names of the files of a proof.
const (
	JSONFile  = "prove.json"
	SheetFile = "prove.html"
)

// Pictures are the figures of one drawn run, as it was measured.
type Pictures struct {
	Run    int // index into Proof.Runs
	Figure figure.Run
}

// WriteProof writes prove.json and prove.html into dir, which is made if need
// be; write puts one file in place whole.
func WriteProof(dir string, p *Proof, pics []Pictures, write func(file string, data []byte) error) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	raw, err := report.MarshalIndent(p)
	if err != nil {
		return err
	}
	if err := write(filepath.Join(dir, JSONFile), append(raw, '\n')); err != nil {
		return err
	}
	var b strings.Builder
	if err := Sheet(p, pics).Write(&b); err != nil {
		return err
	}
	return write(filepath.Join(dir, SheetFile), []byte(b.String()))
}

// Sheet makes the page for the lab's file.
func Sheet(p *Proof, pics []Pictures) sheet.Sheet {
	s := sheet.Sheet{Title: "Expected accuracy of " + p.Lab, Lead: p.lead(), Details: fmt.Sprintf("%d drawn runs, seed %d, %s", len(p.Runs), p.Seed, p.When)}
	add := func(x sheet.Section) { s.Sections = append(s.Sections, x) }
	add(sheet.Section{Heading: "What this shows, and what it cannot", Text: []string{p.Drawn}})
	add(sheet.Section{Heading: "Two independent checks", List: p.Outside})
	add(sheet.Section{Heading: "Expected errors", Tables: []sheet.Table{p.expectTable()}, Text: []string{
		"The largest absolute errors among the drawn runs of each robot in each layout. Path: distance between true and measured position. The error of the survey is included: each run was drawn with a camera that differs from the solved one by what the marks leave uncertain, and measured with a camera solved again from marks with the same noise."}})
	add(sheet.Section{Heading: "Path and times, run by run", Tables: []sheet.Table{p.pathTable()}})
	for i, r := range p.Runs {
		sec := sheet.Section{Heading: r.Title(), Text: []string{r.Looks.Words()}}
		if r.Failed != nil {
			sec.Text = append(sec.Text, "It could not be measured: "+*r.Failed)
			add(sec)
			continue
		}
		sec.Tables = append(sec.Tables, figureTable(r))
		if len(r.Events) > 0 {
			sec.Tables = append(sec.Tables, eventCountTable(r))
		}
		for _, pic := range pics {
			if pic.Run == i {
				sec.Pictures = append(sec.Pictures, sheet.Picture{Caption: "The drawn run as it was measured.",
					Draw: func(o figure.Options) (*figure.Picture, error) { return figure.Path(pic.Figure, o) }, Options: report.PictureSize(words.Metre, 1200, 760)})
			}
		}
		add(sec)
	}
	if len(p.Left) > 0 {
		t := sheet.Table{Name: "Left out", Head: []string{"layout", "robot", "why"}}
		for _, l := range p.Left {
			t.Rows = append(t.Rows, []string{l.Layout, l.Robot, l.Reason})
		}
		add(sheet.Section{Heading: "Left out", Tables: []sheet.Table{t}})
	}
	how := "in the program's memory, without encoding them"
	if p.Encoded {
		how = "encoded as H.264 and read again, like a camera's recordings"
	}
	add(sheet.Section{Heading: "How it was made", Text: []string{fmt.Sprintf(
		"swathe %s drew each run from seed %d and the run's number, with at most %s of driving before the return to the dock, and measured it %s. The same seed gives the same runs. Use another seed to see how the errors vary.",
		p.Version, p.Seed, words.Duration(p.DriveS), how)}})
	return s
}

// Title names a drawn run.
func (r Run) Title() string {
	return fmt.Sprintf("%s in %s, %s run", r.Robot, r.Layout, r.Phase)
}

// Words says what a drawn run looks like and why.
func (l Look) Words() string {
	var parts []string
	if len(l.From) > 0 {
		parts = append(parts, "Appearance taken from "+words.List(l.From)+": "+words.List(l.taken())+".")
	}
	if len(l.Usual) > 0 {
		parts = append(parts, "Default appearance: "+words.List(l.Usual)+".")
	}
	return strings.Join(parts, " ")
}

func (l Look) taken() []string {
	var out []string
	for _, x := range []struct {
		name string
		v    float64
	}{{"floor at grey level", l.FloorGrey}, {"robot at grey level", l.RobotGrey}, {"markings on the robot of grey levels", l.RobotTexture}, {"noise of grey levels", l.NoiseGrey}} {
		if report.Measured(x.v) {
			out = append(out, fmt.Sprintf("%s %.*f", x.name, pickInt(x.v < 20, 1, 0), x.v))
		}
	}
	return out
}

func pickInt(c bool, a, b int) int {
	if c {
		return a
	}
	return b
}

func (p *Proof) lead() string {
	var rms, reach float64 = report.NaN, report.NaN
	failed := 0
	for _, e := range p.Expect {
		rms, reach = worse(rms, e.P95M), worse(reach, e.ReachShare)
		failed += e.Failed
	}
	if !report.Measured(rms) {
		return "No drawn run could be measured in this set-up"
	}
	out := fmt.Sprintf("Positions within %s (95%s%%), cleaned share within %s points", mmWords(rms), words.NB, points(reach))
	if failed > 0 {
		out += fmt.Sprintf("; %d of %d drawn runs could not be measured", failed, len(p.Runs))
	}
	return out
}

// mmWords writes metres as millimetres with one decimal.
func mmWords(v float64) string {
	if !report.Measured(v) {
		return words.NotMeasured
	}
	return fmt.Sprintf("%.1f"+words.NB+"mm", 1000*v)
}

// points writes the error of a share in percentage points.
func points(v float64) string {
	if !report.Measured(v) {
		return words.NotMeasured
	}
	return words.Number(100*v, 0, 2)
}

func plain(v float64, decimals int) string { return words.Number(v, 0, decimals) }

func (p *Proof) expectTable() sheet.Table {
	t := sheet.Table{Name: "Expected errors", Head: []string{"layout, robot", "path, root mean square", "path, 95" + words.NB + "% within", "heading, deg", "cleaned of reachable, points", "of open floor, points", "redundancy", "times, s", "start and end, s", "events found", "false"}}
	for _, e := range p.Expect {
		name := e.Layout + ", " + e.Robot
		if e.Failed > 0 {
			name += fmt.Sprintf(" (%d of %d not measured)", e.Failed, e.Runs)
		}
		t.Rows = append(t.Rows, []string{name, mmWords(e.PathRMSM), mmWords(e.P95M), plain(e.HeadingRMS, 1), points(e.ReachShare), points(e.CoveredShare),
			plain(e.Redundancy, 3), plain(e.TimesS, 1), plain(e.StartEndS, 2), fmt.Sprintf("%d of %d", e.EventsFound, e.EventsDrawn), fmt.Sprint(e.EventsMadeUp)})
	}
	return t
}

func (p *Proof) pathTable() sheet.Table {
	t := sheet.Table{Name: "Path and times", Head: []string{"run", "root mean square", "95" + words.NB + "% within", "largest", "of it the survey", "truth within 2 sigma", "heading, deg", "heading from the top", "seen", "start, s", "end, s"}}
	for _, r := range p.Runs {
		if r.Failed != nil {
			continue
		}
		x := r.Path
		t.Rows = append(t.Rows, []string{r.Title(), mmWords(x.RMSM), mmWords(x.P95M), mmWords(x.MaxM), mmWords(x.SurveyM), words.Share(x.Within2Sigma, math.NaN()),
			plain(x.HeadingRMS, 1), words.Share(x.TextureShare, math.NaN()), words.Share(x.SeenShare, math.NaN()), signed(x.StartErrorS, 2), signed(x.EndErrorS, 2)})
	}
	return t
}

// signed writes a number with its sign.
func signed(v float64, decimals int) string {
	s := plain(v, decimals)
	if v > 0 && strings.Trim(s, "0.") != "" {
		return "+" + s
	}
	return s
}

func figureTable(r Run) sheet.Table {
	t := sheet.Table{Name: "Figures", Head: []string{"figure", "true", "measured", "error"}}
	for _, f := range r.Figures {
		w := func(v float64) string {
			switch f.Unit {
			case "share":
				if !report.Measured(v) {
					return words.NotMeasured
				}
				return words.Number(100*v, 0, 2) + words.NB + "%"
			case "":
				return plain(v, 3)
			}
			if !report.Measured(v) {
				return "not reached"
			}
			return plain(v, 2) + words.NB + strings.Replace(f.Unit, "m2", "m\u00b2", 1)
		}
		e := signed(f.Error, 3)
		switch {
		case !report.Measured(f.Error):
			e = ""
		case f.Unit == "share":
			e = signed(100*f.Error, 2) + " points"
		case f.Unit != "":
			e = signed(f.Error, 2) + words.NB + strings.Replace(f.Unit, "m2", "m\u00b2", 1)
		}
		t.Rows = append(t.Rows, []string{f.Words, w(f.True), w(f.Measured), e})
	}
	return t
}

func eventCountTable(r Run) sheet.Table {
	t := sheet.Table{Name: "Events", Head: []string{"event", "in the true path", "found", "false"}}
	for _, e := range r.Events {
		t.Rows = append(t.Rows, []string{e.Kind, fmt.Sprint(e.Drawn), fmt.Sprint(e.Found), fmt.Sprint(e.MadeUp)})
	}
	return t
}
