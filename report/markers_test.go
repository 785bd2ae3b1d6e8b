package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"

	"swathe/coverage"
	"swathe/geom"
	"swathe/report/words"
)

// One hour at 29.97 is 107,892 frames; the numbers that are dropped never occur,
// and codes rise frame by frame (SMPTE ST 12-1, value from memory).
func TestTimecode(t *testing.T) {
	ntsc := 30000.0 / 1001
	for _, c := range []struct {
		frame int
		rate  float64
		want  string
	}{
		{0, 25, "00:00:00:00"}, {89999, 25, "00:59:59:24"}, {90000, 25, "01:00:00:00"},
		{107892, ntsc, "01:00:00;00"}, {107891, ntsc, "00:59:59;29"},
		{1799, ntsc, "00:00:59;29"}, {1800, ntsc, "00:01:00;02"}, {17981, ntsc, "00:09:59;29"}, {17982, ntsc, "00:10:00;00"},
		{2 * 107892, 60000.0 / 1001, "01:00:00;00"}, {3600, 60000.0 / 1001, "00:01:00;04"},
		{1440, 24000.0 / 1001, "00:01:00:00"}, {180, 15, "00:00:12:00"},
	} {
		if got := Timecode(c.frame, c.rate); got != c.want {
			t.Errorf("frame %d at %.3f is %s, want %s", c.frame, c.rate, got, c.want)
		}
	}
	// By counting: every number but the dropped ones, in turn.
	frame := 0
	for n := 0; n < 30*60*60; n++ {
		f, s, m := n%30, n/30%60, n/1800
		if f < 2 && s == 0 && m%10 != 0 {
			continue
		}
		if got, want := Timecode(frame, ntsc), fmt.Sprintf("00:%02d:%02d;%02d", m, s, f); got != want {
			t.Fatalf("frame %d is %s, want %s", frame, got, want)
		}
		frame++
	}
	if frame != 107892 {
		t.Errorf("an hour has %d frames", frame)
	}
}

func TestFrameRate(t *testing.T) {
	for _, rate := range []float64{10, 12, 15, 24, 24000.0 / 1001, 25, 30, 30000.0 / 1001, 50, 60, 60000.0 / 1001} {
		n := 18000
		r := RecordingInfo{Frames: n, DurationS: float64(n) / rate, FrameSize: []int{960, 540}}
		if got := FrameRate(&r); math.Abs(got-rate) > 1e-9 {
			t.Errorf("%d frames in %.3f s have a rate of %.5f, want %.5f", n, r.DurationS, got, rate)
		}
	}
	if FrameRate(&RecordingInfo{Frames: 100, DurationS: 10}) != 0 {
		t.Error("a path has a frame rate")
	}
}

func markerRun() *Run {
	r := &Run{Layout: "hall", Robot: "wren", Phase: "mapped", Trial: 1}
	r.Recording = RecordingInfo{Files: []string{"wren_mapped_1.mp4"}, Frames: 3600, DurationS: 3600 * 1001 / 30000.0, FrameSize: []int{960, 540}}
	nan := math.NaN()
	r.Run = RunInfo{StartS: 5, EndS: 110, Ended: geom.EndedDocked, Motion: coverage.Motion{StartX: nan, StartY: nan, DistanceM: nan}}
	r.Coverage.TimeToReachable = coverage.Times{40, 79, nan, nan, nan}
	r.Coverage.ReachableShare = 0.81
	r.Events = []Event{
		{Kind: "unknown kind", StartS: 10.01, EndS: 14, X: nan, Y: nan, Size: nan, Sentence: "It stood 3 m\u00b2 <away> & waited."},
		{Kind: "unknown kind", StartS: 60.06, EndS: nan, X: nan, Y: nan, Size: nan, Sentence: "Once more."},
	}
	return r
}

// What is written says for each event the frame that it starts in.
func TestMarkers(t *testing.T) {
	write := func(format string, r *Run) string {
		var b bytes.Buffer
		if err := (Markers{Run: r, Unit: "m"}).Write(&b, format); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	var doc struct {
		Schema string `json:"OTIO_SCHEMA"`
		Tracks struct {
			Children []struct {
				Children []struct {
					Markers []struct {
						Schema string `json:"OTIO_SCHEMA"`
						Name   string
						Range  struct {
							Start, Duration struct{ Rate, Value float64 }
						} `json:"marked_range"`
					}
					Media struct {
						URL string `json:"target_url"`
					} `json:"media_reference"`
				}
			}
		}
	}
	raw := strings.NewReplacer(`"start_time"`, `"Start"`, `"duration"`, `"Duration"`).Replace(write("otio", markerRun()))
	if err := json.Unmarshal([]byte(raw), &doc); err != nil {
		t.Fatal(err)
	}
	clip := doc.Tracks.Children[0].Children[0]
	if doc.Schema != "Timeline.1" || clip.Media.URL != "wren_mapped_1.mp4" || len(clip.Markers) != 2 {
		t.Fatalf("%+v", doc)
	}
	for i, want := range []float64{300, 1800} {
		m := clip.Markers[i]
		if m.Schema != "Marker.2" || m.Range.Start.Value != want || math.Abs(m.Range.Start.Rate-29.97) > 0.001 || m.Range.Duration.Value < 1 {
			t.Errorf("marker %d: %+v, want frame %v", i, m, want)
		}
	}
	edl := write("edl", markerRun())
	for _, want := range []string{"FCM: DROP FRAME", "001  AX       V     C        00:00:10;00 00:00:10;01", "002  AX       V     C        00:01:00;02 00:01:00;03", "* COMMENT: It stood 3 m2 <away> & waited.", "* FROM CLIP NAME: wren_mapped_1.mp4"} {
		if !strings.Contains(edl, want) {
			t.Errorf("the list lacks %q:\n%s", want, edl)
		}
	}
	if regexp.MustCompile(`[^\x20-\x7e\r\n]`).MatchString(edl) {
		t.Error("the list holds letters that it may not")
	}
	// Captions are the story and the events, chapters the story's moments.
	captions, chapters := write("captions", markerRun()), write("chapters", markerRun())
	if want := `WEBVTT

00:00:05.000 --> 00:00:09.000
At 0:05 it set off.

00:00:10.010 --> 00:00:14.010
It stood 3 m² &lt;away&gt; &amp; waited.

00:01:00.060 --> 00:01:04.060
Once more.

00:01:24.000 --> 00:01:28.740
It had cleaned 50 % of the reachable floor after 40 s and 80 % after 1 min 19 s.

00:01:50.000 --> 00:01:54.440
At 1:50 it stopped in its dock, with 81.0 % of the reachable floor cleaned.
`; strings.ReplaceAll(captions, words.NB, " ") != want {
		t.Errorf("%s", captions)
	}
	if want := `WEBVTT

00:00:00.000 --> 00:00:05.000
Start of the recording

00:00:05.000 --> 00:00:45.000
It set off

00:00:45.000 --> 00:01:24.000
50 % of the reachable floor cleaned

00:01:24.000 --> 00:01:50.000
80 % of the reachable floor cleaned

00:01:50.000 --> 00:02:00.120
It stopped in its dock
`; strings.ReplaceAll(chapters, words.NB, " ") != want {
		t.Errorf("%s", chapters)
	}
	// The recording's own time code counts, over dropped numbers too.
	var b bytes.Buffer
	if err := (Markers{Run: markerRun(), Unit: "m", Clock: SourceClock{Rate: 30000.0 / 1001, Timecode: "00:59:50;00"}}).Write(&b, "edl"); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"01:00:00;00 01:00:00;01 01:00:00;00 01:00:00;01", "01:00:50;00 01:00:50;01"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the list lacks %q:\n%s", want, &b)
		}
	}
	b.Reset()
	if err := (Markers{Run: markerRun(), Unit: "m", Clock: SourceClock{Rate: 25, Timecode: "10:00:00:00"}}).Write(&b, "otio"); err != nil {
		t.Fatal(err)
	}
	for field, want := range map[string]int{`"global_start_time"`: 1, `"start_time"`: 2} { // of the timeline; of the clip and of what it is cut from
		at := regexp.MustCompile(field+`: \{[^}]*"rate": 25,\s*"value": 900000\s*\}`).FindAllString(b.String(), -1)
		if len(at) != want {
			t.Errorf("%d times %s at the time code, want %d:\n%s", len(at), field, want, &b)
		}
	}
	if !strings.Contains(b.String(), `"value": 900250`) {
		t.Errorf("no marker at frame 250 of the recording:\n%s", &b)
	}
	path := markerRun()
	path.Recording.FrameSize = nil
	if err := (Markers{Run: path, Unit: "m"}).Write(&bytes.Buffer{}, "edl"); err == nil {
		t.Error("a path has frames")
	}
	many := markerRun()
	for range 1000 {
		many.Events = append(many.Events, many.Events[0])
	}
	if err := (Markers{Run: many, Unit: "m"}).Write(&bytes.Buffer{}, "edl"); err == nil || !strings.Contains(err.Error(), "otio") {
		t.Errorf("1002 events in a list of 999: %v", err)
	}
}

// A time code names one frame, at every rate, over dropped numbers too.
func TestParseTimecode(t *testing.T) {
	for _, rate := range []float64{12, 24, 25, 30, 50, 24000.0 / 1001, 30000.0 / 1001, 60000.0 / 1001} {
		for _, frame := range []int{0, 1, 1799, 1800, 1801, 17981, 17982, 107891, 107892, 1000000} {
			code := Timecode(frame, rate)
			if got, err := ParseTimecode(code, rate); err != nil || got != frame {
				t.Errorf("%s at %g is frame %d, %v; want %d", code, rate, got, err, frame)
			}
		}
	}
	for _, bad := range []string{"", "1:2:3", "00:00:00:30", "00:61:00:00", "now"} {
		if _, err := ParseTimecode(bad, 25); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}

// Every object of the timeline has a schema of the format's published list, and no
// field that the list does not name for it. (OpenTimelineIO, docs/tutorials/
// otio-serialized-schema-only-fields.md; Clip.1, which it upgrades to Clip.2, has one
// media_reference: docs/tutorials/versioning-schemas.md.)
func TestTimelineHasTheFieldsOfItsFormat(t *testing.T) {
	item := []string{"effects", "enabled", "markers", "metadata", "name", "source_range"}
	media := []string{"available_image_bounds", "available_range", "metadata", "name"}
	fields := map[string][]string{
		"RationalTime.1": {"rate", "value"}, "TimeRange.1": {"duration", "start_time"},
		"Marker.2": {"color", "comment", "marked_range", "metadata", "name"}, "Clip.1": append([]string{"media_reference"}, item...),
		"Stack.1": append([]string{"children"}, item...), "Track.1": append([]string{"children", "kind"}, item...),
		"Timeline.1": {"global_start_time", "metadata", "name", "tracks"}, "MissingReference.1": media, "ExternalReference.1": append([]string{"target_url"}, media...),
	}
	var b bytes.Buffer
	if err := (Markers{Run: markerRun(), Unit: "m"}).Write(&b, "otio"); err != nil {
		t.Fatal(err)
	}
	var doc any
	if err := json.Unmarshal(b.Bytes(), &doc); err != nil {
		t.Fatal(err)
	}
	n := 0
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			schema, ok := v["OTIO_SCHEMA"].(string)
			if !ok {
				return // metadata
			}
			n++
			for k, x := range v {
				if k != "OTIO_SCHEMA" && !slices.Contains(fields[schema], k) {
					t.Errorf("%s has no field %s", schema, k)
				}
				walk(x)
			}
		}
	}
	walk(doc)
	if n < 15 {
		t.Errorf("only %d objects", n)
	}
}
