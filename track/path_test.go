package track

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/geom"
)

func readPath(t *testing.T, text string) (*Result, error) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "path.csv")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return pathOf(file)
}

func mustReadPath(t *testing.T, text string) *Result {
	t.Helper()
	r, err := readPath(t, text)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// rows spells samples at the given rate as a path.
func rows(header string, n int, row func(i int) []float64) string {
	var b strings.Builder
	b.WriteString(header + "\n")
	for i := range n {
		for j, v := range row(i) {
			if j > 0 {
				b.WriteByte(',')
			}
			if !math.IsNaN(v) {
				fmt.Fprintf(&b, "%.6f", v)
			}
		}
		b.WriteByte('\n')
	}
	return b.String()
}

func TestPathRefused(t *testing.T) {
	const head = "t_s,x_m,y_m\n"
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "the file is empty"},
		{"no header", "0,1,2\n1,2,3\n", "line 1: the column t_s is missing"},
		{"column missing", "t_s,x_m\n0,1\n", "line 1: the column y_m is missing"},
		{"column twice", "t_s,x_m,y_m,x_m\n0,1,2,3\n", "line 1: the column x_m appears twice"},
		{"header alone", head, "it has 0 rows"},
		{"one row", head + "0,0,0\n", "it has 1 rows"},
		{"a word", head + "0,0,0\n1,here,0\n", `line 3: x_m is "here"; it should be a number`},
		{"decimal comma", "t_s;x_m;y_m\n0;0;0\n", "line 1: the column t_s is missing"},
		{"quoted comma", head + "0,0,0\n1,\"0,5\",0\n", "line 3: x_m is \"0,5\"; write a decimal point"},
		{"no time", head + "0,0,0\n,1,0\n", `line 3: t_s is ""; it should be a number`},
		{"time back", head + "0,0,0\n2,1,0\n1,1,1\n", "line 4: t_s is 1 after 2"},
		{"time twice", head + "0,0,0\n1,1,0\n1,1,1\n", "line 4: t_s is 1 after 1"},
		{"clock of the epoch", head + "1700000000,0,0\n1700000001,1,0\n", "line 2: t_s is 1.7e+09; subtract"},
		{"half a place", head + "0,0,0\n1,,1\n", "line 3: x_m or y_m is empty"},
		{"infinite", head + "0,0,0\n1,inf,1\n", "line 3: x_m is \"inf\"; it should be a number"},
		{"far away", head + "0,0,0\n1,1e6,1\n", "line 3: (1e+06, 1) is more than 10 km away"},
		{"open quote", head + "0,0,0\n1,\"1,1\n", "line 3: this is not a comma-separated row"},
		{"no place at all", head + "0,,\n1,,\n", "no two neighbouring rows hold a place"},
		{"all too fast", head + "0,0,0\n1,9,0\n2,0,0\n", "no two neighbouring rows hold a place"},
	} {
		_, err := readPath(t, c.text)
		var f *Failure
		if !errors.As(err, &f) || f.Kind != PathUnusable || !strings.Contains(f.Message, c.want) || !strings.HasSuffix(f.Message, ".") {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	_, err := pathOf(filepath.Join(t.TempDir(), "nowhere.csv"))
	var f *Failure
	if !errors.As(err, &f) || f.Kind != PathUnusable {
		t.Errorf("a file that is not there: %v", err)
	}
	_, err = readPath(t, head+"0,1,1\n1,1.004,1\n2,1,1\n")
	if !errors.As(err, &f) || f.Kind != NeverMoved {
		t.Errorf("a robot that stands still: %v", err)
	}
}

// Spreadsheets' byte order marks, spaces, other columns and their order do not
// matter.
func TestPathSpelling(t *testing.T) {
	r := mustReadPath(t, "\ufefft_s, y_m,note, x_m\n0, 0.5,\"a, b\", 1\n0.5,0.5,,1.2\n1,0.5,,1.4\n")
	s := r.Trace.Samples
	if len(s) != 3 || s[1].X != 1.2 || s[1].Y != 0.5 || r.Recording.Frames != 3 || r.Recording.Duration != 1 || len(r.Recording.SHA256[0]) != 64 {
		t.Errorf("read as %+v %+v", s, r.Recording)
	}
}

// A gap of more than a second, or a step faster than 1.5 m/s, is lost: a sample
// in its middle takes the step out of the sweep, and nothing else.
func TestPathLost(t *testing.T) {
	r := mustReadPath(t, "t_s,x_m,y_m\n0,0,0\n1,0.3,0\n2.001,0.6,0\n3,0.9,0\n3.1,1.051,0\n3.2,1.2,0\n4,,\n4.2,1.5,0\n")
	var lost []float64
	for _, s := range r.Trace.Samples {
		if s.State == geom.Lost {
			lost = append(lost, s.T)
			if !math.IsNaN(s.X) {
				t.Errorf("a lost sample has a place: %+v", s)
			}
		}
	}
	// 1 to 2.001 s is a gap, 3 to 3.1 s is 1.51 m/s; 3.1 to 3.2 s is 1.49 m/s,
	// and 3.2 to 4.2 s is one second exactly, an empty row in it or not.
	if len(lost) != 2 || math.Abs(lost[0]-1.5005) > 1e-9 || math.Abs(lost[1]-3.05) > 1e-9 {
		t.Errorf("lost at %v, want 1.5005 and 3.05", lost)
	}
	if len(r.Trace.Reasons) != 2 || !strings.Contains(r.Trace.Reasons[1].Reason, "a step of 0.15 m") {
		t.Errorf("reasons %+v", r.Trace.Reasons)
	}
	if len(r.Warnings) != 1 || !strings.Contains(r.Warnings[0], "lost in 2 stretches") {
		t.Errorf("warnings %q", r.Warnings)
	}
}

// Headings wrapped to +-180 and unwrapped ones give the same turning.
func TestPathHeadings(t *testing.T) {
	turn := func(wrap func(deg float64) float64) []geom.Sample {
		return mustReadPath(t, rows("t_s,x_m,y_m,heading_deg", 50, func(i int) []float64 {
			return []float64{float64(i) * 0.1, 0.01 * float64(i), 0, wrap(20 * float64(i))}
		})).Trace.Samples
	}
	for name, wrap := range map[string]func(float64) float64{
		"unwrapped":  func(d float64) float64 { return d },
		"to +-180":   func(d float64) float64 { return math.Remainder(d, 360) },
		"0 to 360":   func(d float64) float64 { return math.Mod(d, 360) },
		"some turns": func(d float64) float64 { return d + 7200 },
	} {
		s := turn(wrap)
		got := geom.Degrees(s[len(s)-1].Heading - s[0].Heading)
		if math.Abs(got-980) > 1e-3 || s[0].Source != geom.HeadingGiven {
			t.Errorf("%s: turned by %g degrees, want 980; source %v", name, got, s[0].Source)
		}
	}
	// Unwrapped headings may turn by more than half a turn in one step.
	s := mustReadPath(t, "t_s,x_m,y_m,heading_deg\n0,0,0,0\n1,0.1,0,270\n2,0.2,0,540\n").Trace.Samples
	if got := geom.Degrees(s[2].Heading); math.Abs(got-540) > 1e-9 {
		t.Errorf("270 degrees a step read as %g in all, want 540", got)
	}
}

// Without a heading the direction of travel serves: right on straights, smooth
// on arcs, held while the robot stands and jitters.
func TestTravelHeading(t *testing.T) {
	arc := mustReadPath(t, rows("t_s,x_m,y_m", 200, func(i int) []float64 {
		a := 0.01 * float64(i) * 3 // 0.3 m/s on a circle of 1 m at 10 Hz
		return []float64{float64(i) * 0.1, math.Cos(a), math.Sin(a)}
	})).Trace.Samples
	worst := 0.0
	for i, s := range arc[5 : len(arc)-5] {
		worst = math.Max(worst, math.Abs(s.Heading-(0.03*float64(i+5)+math.Pi/2)))
	}
	// The bound is a chord's departure from its arc: half its angle, 0.025 rad
	// at 50 mm on 1 m; led over smoothly it should be far below.
	t.Logf("on a circle of 1 m the direction errs by %.4f rad at most (bound 0.01)", worst)
	if worst > 0.01 {
		t.Errorf("the direction on an arc errs by %g rad", worst)
	}

	rng := jitter(20260101)
	stand := mustReadPath(t, rows("t_s,x_m,y_m", 300, func(i int) []float64 {
		x := math.Min(float64(i)*0.03, 1) // drives a metre, then stands
		return []float64{float64(i) * 0.1, x + 0.002*rng(), 0.5 + 0.002*rng()}
	})).Trace.Samples
	for _, s := range stand {
		if math.Abs(s.Heading) > 0.2 {
			t.Fatalf("with 2 mm of jitter the direction is %g rad at %g s", s.Heading, s.T)
		}
	}
	last := stand[len(stand)-1].Heading
	for _, s := range stand[60:] {
		if s.Heading != last {
			t.Fatalf("the direction changes while the robot stands: %g at %g s, %g at the end", s.Heading, s.T, last)
		}
	}

	// Back on itself: a step of half a turn, not a sweep through every angle.
	back := mustReadPath(t, rows("t_s,x_m,y_m", 100, func(i int) []float64 {
		return []float64{float64(i) * 0.1, 1 - math.Abs(float64(i)-50)*0.02, 0}
	})).Trace.Samples
	for _, s := range back {
		h := math.Abs(geom.WrapAngle(s.Heading))
		if h > 1e-6 && math.Abs(h-math.Pi) > 1e-6 {
			t.Errorf("turning back, the direction is %g rad at %g s", s.Heading, s.T)
		}
	}
}

// jitter returns a repeatable generator of numbers spread like a normal one
// within +-2, by the sum of four uniform ones.
func jitter(seed uint64) func() float64 {
	return func() float64 {
		sum := 0.0
		for range 4 {
			seed = seed*6364136223846793005 + 1442695040888963407
			sum += float64(seed>>33)/float64(1<<31) - 0.5
		}
		return sum * math.Sqrt(3)
	}
}

func TestPathRun(t *testing.T) {
	// Stands 3 s, drives 1 m at 0.25 m/s, stands 3 s; at 10 Hz.
	drive := func(before, after int) string {
		return rows("t_s,x_m,y_m", before+40+after, func(i int) []float64 {
			return []float64{float64(i) * 0.1, 0.5 + 0.025*math.Max(0, math.Min(40, float64(i-before))), 0.4}
		})
	}
	for _, c := range []struct {
		name           string
		before, after  int
		dock           *geom.Pose
		started, ended string
	}{
		{"rests at both ends", 30, 30, nil, geom.StartedAtRest, geom.EndedStood},
		{"drives from the first row", 0, 30, nil, geom.StartedMoving, geom.EndedStood},
		{"cut short", 30, 1, nil, geom.StartedAtRest, geom.EndedRecording},
		{"ends in the dock", 30, 30, &geom.Pose{X: 1.52, Y: 0.4}, geom.StartedAtRest, geom.EndedDocked},
		{"dock elsewhere", 30, 30, &geom.Pose{X: 0.5, Y: 0.4}, geom.StartedAtRest, geom.EndedStood},
	} {
		file := filepath.Join(t.TempDir(), "p.csv")
		if err := os.WriteFile(file, []byte(drive(c.before, c.after)), 0o644); err != nil {
			t.Fatal(err)
		}
		r, err := MeasurePath(Job{Files: []string{file}, Start: math.NaN(), End: math.NaN(), Plan: &geom.Plan{Dock: c.dock}})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		tr := r.Trace
		if tr.Started != c.started || tr.Ended != c.ended {
			t.Errorf("%s: %s, %s; want %s, %s", c.name, tr.Started, tr.Ended, c.started, c.ended)
		}
		// 5 mm at 0.25 m/s are passed 0.02 s after it moves off.
		from, to := 0.1*float64(c.before)+0.02, 0.1*float64(c.before+40)-0.02
		if c.after < 5 {
			to = 0.1*float64(c.before+40+c.after-1) - 0.02
			to = math.Min(to, 0.1*float64(c.before+40)-0.02)
		}
		if math.Abs(tr.Run.From-from) > 0.011 || math.Abs(tr.Run.To-to) > 0.011 {
			t.Errorf("%s: run from %.3f to %.3f s, want %.3f to %.3f", c.name, tr.Run.From, tr.Run.To, from, to)
		}
	}
	// Turning on the spot is moving, where the heading is given.
	tr := mustReadPath(t, rows("t_s,x_m,y_m,heading_deg", 100, func(i int) []float64 {
		return []float64{float64(i) * 0.1, 1, 1, 2 * math.Max(0, math.Min(40, float64(i-30)))}
	})).Trace
	if math.Abs(tr.Run.From-3.15) > 0.011 || math.Abs(tr.Run.To-6.85) > 0.011 {
		t.Errorf("turning on the spot: run from %.3f to %.3f s, want 3.15 to 6.85", tr.Run.From, tr.Run.To)
	}
}

// Parts follow each other by one row's time unless a gap is given; times outside
// start_s and end_s do not count.
func TestPathParts(t *testing.T) {
	dir := t.TempDir()
	var files []string
	for k := range 2 {
		f := filepath.Join(dir, fmt.Sprint(k, ".csv"))
		text := rows("t_s,x_m,y_m", 11, func(i int) []float64 { return []float64{0.1 * float64(i), 0.02 * float64(11*k+i), 0} })
		if err := os.WriteFile(f, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	nan := math.NaN()
	for _, c := range []struct {
		gaps       []float64
		start, end float64
		n          int
		length     float64
	}{
		{nil, nan, nan, 22, 2.1},
		{[]float64{nan}, nan, nan, 22, 2.1},
		{[]float64{0.5}, nan, nan, 22, 2.5},
		{[]float64{30}, nan, nan, 23, 32}, // the gap is lost: one sample more
		{nil, 0.45, nan, 17, 2.1},
		{nil, nan, 1.55, 16, 1.5},
	} {
		r, err := MeasurePath(Job{Files: files, Gaps: c.gaps, Start: c.start, End: c.end})
		if err != nil {
			t.Errorf("%+v: %v", c, err)
			continue
		}
		if n := len(r.Trace.Samples); n != c.n || math.Abs(r.Trace.Length-c.length) > 1e-9 || len(r.Recording.SHA256) != 2 {
			t.Errorf("%+v: %d samples, %g s, %d hashes", c, n, r.Trace.Length, len(r.Recording.SHA256))
		}
	}
}

func FuzzParsePath(f *testing.F) {
	seeds, err := os.ReadDir("testdata/fuzz/FuzzParsePath")
	if err != nil || len(seeds) == 0 {
		f.Fatalf("the seeds are gone: %v", err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		rows, err := parsePath(strings.NewReader(string(data)))
		if err != nil {
			return
		}
		last := math.Inf(-1)
		for _, r := range rows {
			if !(r.T > last) || math.IsNaN(r.X) != math.IsNaN(r.Y) || math.IsInf(r.X+r.Y+r.H, 0) {
				t.Fatalf("let through: %+v after %g", r, last)
			}
			last = r.T
		}
		tr, _ := traceOf(rows, rows[0].heading)
		if tr == nil {
			return
		}
		if pathBounds(tr, nil) && !(tr.Run.From < tr.Run.To && tr.Run.To <= tr.Length) {
			t.Fatalf("run %+v of %g s", tr.Run, tr.Length)
		}
		last = math.Inf(-1)
		for _, s := range tr.Samples {
			if !(s.T > last) || s.Speed < 0 || s.Speed > MaxSpeed*1.001 {
				t.Fatalf("sample %+v after %g", s, last)
			}
			last = s.T
		}
	})
}

func pathOf(file string) (*Result, error) {
	return MeasurePath(Job{Files: []string{file}, Start: math.NaN(), End: math.NaN()})
}
