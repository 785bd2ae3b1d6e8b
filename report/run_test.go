package report

import (
	"encoding/csv"
	"encoding/json"
	"image"
	_ "image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"swathe/coverage"
	"swathe/coverage/conduct"
	"swathe/geom"
	"swathe/track"
)

// sample is a short run in a small room, measured for real, once.
func sample(testing.TB) RunInput {
	in := measured()
	cover := *in.Coverage
	in.Coverage = &cover
	return in
}

var measured = sync.OnceValue(func() RunInput {
	plan := &geom.Plan{Name: "nook", Obstacles: []geom.Piece{{Name: "crate", Height: 0.3}}}
	square(&plan.Room, 0, 0, 2, 1.5)
	square(&plan.Obstacles[0].Outline, 1.4, 1, 2, 1.5)
	robot := geom.Robot{Name: "wren", Diameter: 0.3, Height: 0.09, Tools: []geom.Tool{{Name: "brush", Width: 0.2, Ahead: 0.02}, {Name: "pad", Width: 0.25, Ahead: -0.1}}}
	tr := &geom.Trace{Started: geom.StartedAtRest, Ended: geom.EndedStood}
	add := func(tm, x, y, h float64, state geom.State, src geom.HeadingSource) {
		tr.Samples = append(tr.Samples, geom.Sample{T: tm, X: x, Y: y, Heading: h, Speed: 0.2, Sigma: 0.002, SigmaH: 0.01, State: state, Source: src})
	}
	for i := 0; i <= 60; i++ {
		add(float64(i)/10, 0.2+float64(i)*0.02, 0.3, 0, geom.Seen, geom.HeadingTexture)
	}
	for i := 1; i <= 10; i++ {
		add(6+float64(i)/10, 1.4, 0.3+float64(i)*0.02, math.Pi/2, geom.Bridged, geom.HeadingTravel)
	}
	add(7.1, math.NaN(), math.NaN(), math.NaN(), geom.Lost, geom.HeadingUnknown)
	for i := 2; i <= 50; i++ {
		add(7+float64(i)/10, 1.4-float64(i)*0.02, 0.6, math.Pi, geom.Seen, geom.HeadingTexture)
	}
	tr.Run = geom.Span{From: 0, To: 12}
	tr.Length = 12
	res, err := coverage.Measure(tr, plan, robot, coverage.DefaultOptions())
	if err != nil {
		panic(err)
	}
	return RunInput{
		Layout: "nook", Robot: robot, Phase: "mapped", Trial: 2, Conditions: map[string]string{"mode": "quiet"}, Plan: plan,
		Recording: track.Recording{Files: []string{"/somewhere/wren_mapped_2.mp4"}, SHA256: []string{"ab"}, Frames: 121, Duration: 12, Width: 640, Height: 480},
		ToolOff:   []geom.Span{{From: 2, To: 2.5}},
		Trace:     tr, Coverage: res, Warnings: []string{"the light drifts"}, Setup: []byte("layouts: {}\n"), Versions: map[string]string{"analysis": "1"},
	}
})

// square sets the ring at r to a rectangle.
func square[R ~[]P, P ~[2]float64](r *R, x0, y0, x1, y1 float64) {
	*r = R{P{x0, y0}, P{x1, y0}, P{x1, y1}, P{x0, y1}, P{x0, y0}}
}

// near compares Floats to within tol; two that were not measured are equal.
func near(tol float64) cmp.Option {
	return cmp.Comparer(func(a, b float64) bool {
		return !Measured(a) && !Measured(b) || math.Abs(a-b) <= tol
	})
}

func TestAResultReadsBack(t *testing.T) {
	in := sample(t)
	in.Events = []Event{{Kind: "spin", StartS: 1, EndS: 3.5, X: 0.5, Y: 0.25, Size: 730, Unit: "deg", Sentence: "It turned twice, on the spot.", More: map[string]float64{"turn_deg": 730, "turns": 2, "radius_m": math.NaN()}}}
	dir := t.TempDir()
	if err := WriteRun(dir, in); err != nil {
		t.Fatal(err)
	}
	want, err := NewRun(in)
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadRun(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got, near(5.1e-7),
		cmpopts.IgnoreFields(coverage.Patch{}, "Polygon"), cmpopts.IgnoreFields(coverage.Motion{}, "KnownS"), cmpopts.IgnoreUnexported(conduct.Ledger{}, conduct.Docking{})); d != "" {
		t.Errorf("run.json does not read back as it was (-want +got):\n%s", d)
	}
	tr, err := ReadTrace(dir)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(in.Trace, tr, cmpopts.EquateApprox(0, 1e-5), cmpopts.EquateNaNs(), cmpopts.IgnoreFields(geom.Sample{}, "SigmaH")); d != "" {
		t.Errorf("trace.csv does not read back as it was (-want +got):\n%s", d)
	}
	for _, name := range []string{"passes.png", "path.png", "curve.png"} {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := image.DecodeConfig(f)
		f.Close()
		if err != nil || img.Width != 1600 || img.Height != 1200 {
			t.Errorf("%s: %v, %d x %d", name, err, img.Width, img.Height)
		}
	}
}

// The fields that a result has at the least, by their paths; "?" marks one that
// may be null here.
func TestRunJSONHasEveryField(t *testing.T) {
	dir := t.TempDir()
	if err := writeTables(dir, sample(t)); err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(filepath.Join(dir, RunFile))
	if err != nil {
		t.Fatal(err)
	}
	var doc map[string]any
	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	for _, path := range strings.Fields(`schema layout robot phase trial conditions recording.files recording.sha256 recording.frames
		recording.frames_bad recording.duration_s recording.frame_size ?camera.solved ?camera.mark_rms_px ?camera.mark_rms_m
		?camera.leave_one_out_m ?camera.tape_error_m trace.seen_share trace.bridged_share trace.lost_share trace.sigma_m
		run.start_s run.end_s run.started run.ended run.start_x_m run.start_y_m run.duration_s run.distance_m run.moving_share
		run.mean_speed_mps floor.open_m2 floor.reachable_m2 ?floor.unseen_m2 tool coverage.cell_m coverage.covered_m2
		coverage.covered_share coverage.reachable_share coverage.swept_m2 coverage.mean_passes coverage.redundancy
		coverage.passes_m2.0 coverage.passes_m2.1 coverage.passes_m2.2 coverage.passes_m2.3 coverage.passes_m2.4+
		?coverage.time_to_s.50 ?coverage.time_to_s.80 ?coverage.time_to_s.90 ?coverage.time_to_s.95 ?coverage.time_to_s.99
		?coverage.time_to_reachable_s.50 ?coverage.time_to_reachable_s.99 ?coverage.time_to_full_s coverage.plateau_s
		coverage.rate_m2_per_min other_tools.pad.covered_m2 ?events missed ?test_objects warnings`) {
		name, mayBeNull := strings.CutPrefix(path, "?")
		var at any = doc
		for _, key := range strings.Split(name, ".") {
			m, ok := at.(map[string]any)
			if !ok {
				t.Fatalf("%s: %s is not in an object", name, key)
			}
			if at, ok = m[key]; !ok {
				t.Errorf("%s is not in run.json", name)
				break
			}
		}
		if at == nil && !mayBeNull {
			t.Errorf("%s is null", name)
		}
	}
	if doc["events"] != nil || doc["test_objects"] != nil {
		t.Errorf("events %v and test objects %v were not sought and must be null", doc["events"], doc["test_objects"])
	}
}

func TestTablesSayUnknownAsEmpty(t *testing.T) {
	dir := t.TempDir()
	in := sample(t)
	if err := writeTables(dir, in); err != nil {
		t.Fatal(err)
	}
	read := func(name string) [][]string {
		f, err := os.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		rows, err := csv.NewReader(f).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		return rows
	}
	rows := read(TraceFile)
	if got, want := strings.Join(rows[0], ","), "t_s,x_m,y_m,heading_deg,speed_mps,state,sigma_m,heading_source"; got != want {
		t.Errorf("header %q, want %q", got, want)
	}
	if len(rows) != len(in.Trace.Samples)+1 {
		t.Errorf("%d rows for %d samples", len(rows), len(in.Trace.Samples))
	}
	if got := strings.Join(rows[72], ","); got != "7.1,,,,0.2,lost,0.002," {
		t.Errorf("the lost sample is written as %q", got)
	}
	if got := strings.Join(read(CurveFile)[0], ","); got != "t_s,covered_share,reachable_share,swept_m2,distance_m" {
		t.Errorf("curve.csv is headed %q", got)
	}
	if rows := read(EventsFile); len(rows) != 1 {
		t.Errorf("events.csv has %d rows though none were sought", len(rows))
	}
}

// A 1 m lost gap in a run of 12 s: by hand, 0.2 s lost (both intervals beside
// the lost sample), 1.0 s bridged, the rest seen.
func TestTraceSharesByHand(t *testing.T) {
	got := traceInfo(sample(t).Trace)
	want := TraceInfo{SeenShare: 10.8 / 12, BridgedShare: 1.0 / 12, LostShare: 0.2 / 12, CarriedShare: 0, SigmaM: 0.002}
	if d := cmp.Diff(want, got, near(1e-9)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// The polygons of missed.geojson enclose what run.json says they do (the
// shoelace formula, holes taken away).
func TestMissedPolygonsHaveTheirArea(t *testing.T) {
	in := sample(t)
	in.Coverage.Missed = []coverage.Patch{{AreaM2: 3, X: 0.25, Y: 0.25, Beside: "wall", Polygon: [][]geom.Point2{
		{{X: 0, Y: 0}, {X: 2, Y: 0}, {X: 2, Y: 2}, {X: 0, Y: 2}},
		{{X: 0.5, Y: 0.5}, {X: 0.5, Y: 1.5}, {X: 1.5, Y: 1.5}, {X: 1.5, Y: 0.5}},
	}}}
	dir := t.TempDir()
	if err := writeTables(dir, in); err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(filepath.Join(dir, MissedFile))
	if err != nil {
		t.Fatal(err)
	}
	var doc geojson
	if err := json.Unmarshal(raw, &doc); err != nil {
		t.Fatal(err)
	}
	for _, f := range doc.Features {
		sum := 0.0
		for _, ring := range f.Geometry.Coordinates {
			if ring[0] != ring[len(ring)-1] {
				t.Errorf("a ring is not closed: %v", ring)
			}
			for i := 1; i < len(ring); i++ {
				sum += (ring[i-1][0]*ring[i][1] - ring[i][0]*ring[i-1][1]) / 2
			}
		}
		if math.Abs(sum-f.Properties.AreaM2) > 1e-9 {
			t.Errorf("polygon of %v m2 says it has %v m2", sum, f.Properties.AreaM2)
		}
	}
}

func TestWhatCannotBeRead(t *testing.T) {
	write := func(name, text string) string {
		dir := t.TempDir()
		if err := writeTables(dir, sample(t)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return dir
	}
	const head = "t_s,x_m,y_m,heading_deg,speed_mps,state,sigma_m,heading_source\n"
	for _, c := range []struct{ name, file, text, want string }{
		{"an empty run.json", RunFile, "", "unexpected end"},
		{"another schema", RunFile, `{"schema": 7}`, "schema 7"},
		{"a word for a number", RunFile, `{"schema": 2, "run": {"start_s": "soon"}}`, "not a number"},
		{"an empty trace", TraceFile, "", "no header"},
		{"another header", TraceFile, "a,b,c,d,e,f,g,h\n", `column 1 is "a"`},
		{"a short row", TraceFile, head + "1,2\n", "wrong number of fields"},
		{"a word in a row", TraceFile, head + "1,2,3,4,5,seen,x,\n", "line 2: sigma_m"},
		{"an unknown state", TraceFile, head + "1,2,3,4,5,dreamt,0,\n", `state is "dreamt"`},
		{"an unknown source", TraceFile, head + "1,2,3,4,5,seen,0,stars\n", `heading_source is "stars"`},
		{"time that runs back", TraceFile, head + "1,2,3,4,5,seen,0,\n1,2,3,4,5,seen,0,\n", "line 3: the time"},
	} {
		if _, err := ReadTrace(write(c.file, c.text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got error %v, want one with %q", c.name, err, c.want)
		}
	}
	if _, err := ReadRun(t.TempDir()); err == nil {
		t.Error("a folder without run.json reads as a run")
	}
}

// A folder that cannot be written to gives an error that names the file. (A
// folder's rights do not stop root, so a folder stands where the file belongs.)
func TestAWriteErrorNamesTheFile(t *testing.T) {
	for _, name := range []string{RunFile, TraceFile, "path.png"} {
		dir := t.TempDir()
		if err := os.Mkdir(filepath.Join(dir, name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := WriteRun(dir, sample(t)); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: got error %v", name, err)
		}
	}
}
