package scene

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

// The whole demonstration, in a folder of the tester's choice so that it can
// be looked at: SWATHE_LONG=1, and SWATHE_DEMO=DIR to keep it.
func TestMakeDemo(t *testing.T) {
	if os.Getenv("SWATHE_LONG") == "" {
		t.Skip("takes a minute and more; set SWATHE_LONG=1")
	}
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("set SWATHE_EYE to swathe-eye, which encodes")
	}
	dir := os.Getenv("SWATHE_DEMO")
	if dir == "" {
		dir = t.TempDir()
	}
	last, all := 0, 0
	err := MakeDemo(t.Context(), dir, EyeEncoder{Path: eye}, func(done, total int, what string) {
		if done <= last || what == "" {
			t.Errorf("progress went from %d to %d frames at %q", last, done, what)
		}
		last, all = done, total
	})
	if err != nil {
		t.Fatal(err)
	}
	if last != all {
		t.Errorf("progress ended at %d of %d frames", last, all)
	}
	for _, r := range demoRuns {
		name := r.robot + "_" + r.phase + "_" + strconv.Itoa(r.trial)
		for _, f := range []string{
			filepath.Join("recordings", r.layout, name+".mp4"), filepath.Join("truth", r.layout, name, "truth.json"),
			filepath.Join("truth", r.layout, name, "trace.csv"), filepath.Join("truth", r.layout, name, "curve.csv"),
		} {
			if st, err := os.Stat(filepath.Join(dir, f)); err != nil || st.Size() < 200 {
				t.Errorf("%s is missing or empty: %v", f, err)
			}
		}
	}
}

func TestDemoScenes(t *testing.T) {
	l := newDemoLab()
	for _, r := range demoRuns {
		s, d := l.scene(r)
		if err := s.Validate(); err != nil {
			t.Error(err)
		}
		truth := NewTruth(&s, d)
		truth.Sweep = NewSweep(&s, s.Robot.Tools[0], truth.Run, 0.01)
		w := truth.Sweep
		t.Logf("%s/%s: %.0f s, %d frames, run %.2f to %.2f s, %.1f m, covered %.3f, redundancy %.3f, %d events, %d lanes",
			r.layout, s.Name, s.Length, len(truth.Times), truth.Run.From, truth.Run.To, w.DistanceM, w.CoveredShare(), w.Redundancy(), len(truth.Events), len(truth.Lanes))
		if w.CoveredShare() < 0.6 || s.Length > 200 {
			t.Errorf("%s/%s: covered %.3f in %.0f s; a demonstration should cover 0.6 in 200 s", r.layout, s.Name, w.CoveredShare(), s.Length)
		}
		if os.Getenv("SWATHE_PICTURES") != "" {
			s.Name = r.layout + "_" + s.Name
			drawAt(t, &s, 2, 50, s.Length-0.5)
		}
	}
}

// The laboratory's file is YAML, and holds marks that its camera shows.
func TestDemoLabFile(t *testing.T) {
	l := newDemoLab()
	var doc struct {
		Cameras map[string]struct {
			Frame []int
			Marks []struct{ Floor, Pixel []float64 }
		}
		Layouts map[string]struct {
			Room [][]float64
			Dock struct{ At []float64 }
		}
		Robots map[string]struct{ Diameter float64 }
	}
	if err := yaml.Unmarshal([]byte(l.yaml()), &doc); err != nil {
		t.Fatal(err)
	}
	cam := doc.Cameras["ceiling"]
	raised := 0
	for _, m := range cam.Marks {
		if len(m.Floor) == 3 && m.Floor[2] > 0 {
			raised++
		}
		if m.Pixel[0] < 0 || m.Pixel[1] < 0 || m.Pixel[0] > float64(cam.Frame[0]) || m.Pixel[1] > float64(cam.Frame[1]) {
			t.Errorf("mark %v lies outside the picture", m)
		}
	}
	if len(cam.Marks) < 12 || raised < 2 || len(doc.Layouts) != 2 || len(doc.Robots) != 2 {
		t.Errorf("%d marks, %d raised, %d layouts, %d robots; want 12, 2, 2, 2 or more", len(cam.Marks), raised, len(doc.Layouts), len(doc.Robots))
	}
	if doc.Robots["rowan"].Diameter != 0.35 || len(doc.Layouts["empty"].Dock.At) != 2 {
		t.Errorf("robot or dock came out wrong: %+v", doc)
	}
}

// What WriteTruth writes is what the truth holds.
func TestWriteTruth(t *testing.T) {
	s, d := newDemoLab().scene(demoRun{"empty", "rowan", "mapped", 1, 5, 10})
	truth := NewTruth(&s, d)
	dir := filepath.Join(t.TempDir(), "truth", "x")
	if err := WriteTruth(dir, truth); err == nil || !strings.Contains(err.Error(), "NewSweep") {
		t.Errorf("got %v; want that the sweep is missing", err)
	}
	truth.Sweep = NewSweep(&s, s.Robot.Tools[0], truth.Run, 0.01)
	if err := WriteTruth(dir, truth); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var doc truthFile
	if err := json.Unmarshal(data, &doc); err != nil {
		t.Fatal(err)
	}
	if doc.CoveredM2 != truth.Sweep.CoveredM2 || doc.Run["start_s"] != truth.Run.From || doc.TimeTo["99"] != nil {
		t.Errorf("truth.json holds %+v", doc)
	}
	f, err := os.Open(filepath.Join(dir, "trace.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != len(truth.Times)+1 || strings.Join(rows[0], ",") != "t_s,x_m,y_m,heading_rad" {
		t.Fatalf("%d rows under %v; want %d", len(rows)-1, rows[0], len(truth.Times))
	}
	x, _ := strconv.ParseFloat(rows[101][1], 64)
	if math.Abs(x-truth.Poses[100].X) > 1e-5 {
		t.Errorf("row 100 has x %v, want %v", x, truth.Poses[100].X)
	}
}
