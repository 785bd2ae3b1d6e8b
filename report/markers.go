package report

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"path"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"swathe/geom"
	"swathe/report/language"
	"swathe/report/words"
)

// MarkerFormats lists what the events of a run can be written as for an editor's
// own program, all of them open: OpenTimelineIO (schema Timeline.1, with a
// Marker.2 an event), an edit decision list after CMX 3600 with an entry of one
// frame an event, and chapters and captions from the story as WebVTT.
func MarkerFormats() []string { return []string{"otio", "edl", "chapters", "captions"} }

// SourceClock is how a recording counts its frames.
type SourceClock struct {
	Rate     float64 // frames a second; 0: as its length and number of frames have it
	Timecode string  // of its first frame; "": 00:00:00:00
}

// CountsFrames tells whether a format of markers names frames, and not seconds.
func CountsFrames(format string) bool { return format == "otio" || format == "edl" }

// Markers are the events of a run. Times are those of the recording: frames as its own
// time code counts them, seconds from its first frame on.
type Markers struct {
	Run      *Run
	Plan     *geom.Plan // nil: places are not told
	Unit     words.Unit
	Language *language.Catalogue // nil: English
	Clock    SourceClock
}

// Write writes them in one of MarkerFormats.
func (in Markers) Write(w io.Writer, format string) error {
	r, clock, plan, unit := in.Run, in.Clock, in.Plan, in.Unit
	m := markers{run: r, rate: clock.Rate, language: in.Language}
	if m.rate == 0 {
		m.rate = FrameRate(&r.Recording)
	}
	for _, e := range r.Events {
		if math.IsNaN(e.StartS) {
			continue
		}
		end := e.StartS
		if Measured(e.EndS) { // of a moment there is no end
			end = math.Max(end, e.EndS)
		}
		m.list = append(m.list, marker{e.StartS, end, e.Kind, e.What(plan, unit)})
	}
	if m.rate == 0 && CountsFrames(format) {
		return fmt.Errorf("%s has no frames, and markers for video editing are counted in frames; write chapters or captions", r.Name())
	}
	if clock.Timecode != "" && CountsFrames(format) {
		var err error
		if m.first, err = ParseTimecode(clock.Timecode, m.rate); err != nil {
			return err
		}
	}
	switch format {
	case "otio":
		return m.otio(w)
	case "edl":
		return m.edl(w)
	case "chapters":
		return m.chapters(w, r.moments(plan, unit))
	case "captions":
		return m.captions(w, r.moments(plan, unit))
	}
	return fmt.Errorf("markers can't be written as %q. Choose from %s", format, strings.Join(MarkerFormats(), ", "))
}

// FrameRate is a recording's frames a second, at the exact rate where it is one
// that cameras have (whole, or whole by 1.001); 0 of a path.
func FrameRate(r *RecordingInfo) float64 {
	if r.Frames < 2 || len(r.FrameSize) == 0 || !(r.DurationS > 0) {
		return 0
	}
	own := float64(r.Frames) / r.DurationS
	whole := math.Round(own)
	for _, v := range []float64{whole, whole * 1000 / 1001} {
		// One frame more or less over the recording, as its ends are counted.
		if whole > 0 && math.Abs(own-v)*r.DurationS < 1.5 && math.Abs(own-v) < 0.1 {
			return v
		}
	}
	return own
}

// Timecode writes a frame as HH:MM:SS:FF. At rates of whole numbers by 1.001 that
// are multiples of 30, numbers are dropped as SMPTE ST 12-1 has it (from memory):
// two in thirty at the start of each minute but every tenth; the frames' part then
// stands behind a semicolon.
func Timecode(frame int, rate float64) string {
	n := int(math.Round(rate))
	sep := ":"
	if dropped(rate) {
		sep = ";"
		drop := 2 * n / 30
		minute, ten := 60*n-drop, 600*n-9*drop
		tens, rest := frame/ten, frame%ten
		frame += 9 * drop * tens
		if rest >= 60*n {
			frame += drop * (1 + (rest-60*n)/minute)
		}
	}
	s := frame / n
	return fmt.Sprintf("%02d:%02d:%02d%s%02d", s/3600, s/60%60, s%60, sep, frame%n)
}

// ParseTimecode is the number of the frame that a time code names, the inverse of
// Timecode; any separator but a colon before the frames says that numbers are dropped,
// which the rate settles.
func ParseTimecode(code string, rate float64) (frame int, err error) {
	var h, m, s, f int
	var sep byte
	if n, err := fmt.Sscanf(code, "%d:%d:%d%c%d", &h, &m, &s, &sep, &f); n != 5 || err != nil || h < 0 || m < 0 || m > 59 || s < 0 || s > 59 || f < 0 {
		return 0, fmt.Errorf("%q is not a time code HH:MM:SS:FF", code)
	}
	n := int(math.Round(rate))
	if n < 1 || f >= n {
		return 0, fmt.Errorf("the time code %q has no such frame at %g frames a second", code, rate)
	}
	frame = ((h*60+m)*60+s)*n + f
	if dropped(rate) && sep != ':' {
		minutes := h*60 + m
		frame -= 2 * n / 30 * (minutes - minutes/10)
	}
	return frame, nil
}

// dropped tells whether time codes of a rate leave out numbers.
func dropped(rate float64) bool {
	n := math.Round(rate)
	return int(n)%30 == 0 && math.Abs(rate-n*1000/1001) < 1e-6*n
}

type marker struct {
	from, to   float64 // s in the recording
	kind, text string
}

type markers struct {
	run      *Run
	rate     float64
	first    int // number of the recording's first frame
	list     []marker
	language *language.Catalogue
}

func (m *markers) frame(s float64) int { return m.first + int(math.Round(s*m.rate)) }

func (m *markers) source() string {
	if len(m.run.Recording.Files) == 1 {
		return m.run.Recording.Files[0]
	}
	return ""
}

// object is one object of OpenTimelineIO.
type object map[string]any

func (m *markers) otio(w io.Writer) error {
	at := func(frames int) object {
		return object{"OTIO_SCHEMA": "RationalTime.1", "rate": m.rate, "value": float64(frames)}
	}
	span := func(from, n int) object {
		return object{"OTIO_SCHEMA": "TimeRange.1", "start_time": at(from), "duration": at(n)}
	}
	item := func(schema, name string, more object) object {
		o := object{"OTIO_SCHEMA": schema, "name": name, "metadata": object{}, "effects": []object{}, "markers": []object{}, "source_range": nil}
		for k, v := range more {
			o[k] = v
		}
		return o
	}
	var list []object
	for _, e := range m.list {
		from := m.frame(e.from)
		list = append(list, object{"OTIO_SCHEMA": "Marker.2", "name": m.language.Say(e.text), "color": "RED", "metadata": object{"kind": e.kind},
			"marked_range": span(from, max(1, m.frame(e.to)-from))})
	}
	whole := span(m.first, m.run.Recording.Frames)
	media := object{"OTIO_SCHEMA": "MissingReference.1", "name": "", "metadata": object{}, "available_range": whole}
	if f := m.source(); f != "" {
		media = object{"OTIO_SCHEMA": "ExternalReference.1", "name": f, "metadata": object{}, "available_range": whole, "target_url": f}
	}
	clip := item("Clip.1", m.run.Layout+"/"+m.run.Name(), object{"media_reference": media, "source_range": whole, "markers": list})
	track := item("Track.1", "recording", object{"kind": "Video", "children": []object{clip}})
	raw, err := json.MarshalIndent(object{"OTIO_SCHEMA": "Timeline.1", "name": m.run.Name(), "metadata": object{}, "global_start_time": at(m.first),
		"tracks": item("Stack.1", "tracks", object{"children": []object{track}})}, "", "  ")
	if err != nil {
		return err
	}
	_, err = w.Write(append(raw, '\n'))
	return err
}

// maxEdits is how many entries the list's number of three digits counts.
const maxEdits = 999

func (m *markers) edl(w io.Writer) error {
	if len(m.list) > maxEdits {
		return fmt.Errorf("%s has %d events, but a CMX 3600 list holds %d; write them as otio", m.run.Name(), len(m.list), maxEdits)
	}
	var b strings.Builder
	mode := "NON-DROP FRAME"
	if dropped(m.rate) {
		mode = "DROP FRAME"
	}
	fmt.Fprintf(&b, "TITLE: %s\r\nFCM: %s\r\n", plainText(m.run.Name()), mode)
	for i, e := range m.list {
		f := m.frame(e.from)
		from, to := Timecode(f, m.rate), Timecode(f+1, m.rate)
		fmt.Fprintf(&b, "\r\n%03d  AX       V     C        %s %s %s %s\r\n", i+1, from, to, from, to)
		if s := m.source(); s != "" {
			fmt.Fprintf(&b, "* FROM CLIP NAME: %s\r\n", plainText(path.Base(s)))
		}
		fmt.Fprintf(&b, "* COMMENT: %s\r\n", plainText(m.language.Say(e.text)))
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// plainText is s in the letters that an edit decision list may hold: accents go.
func plainText(s string) string {
	s = norm.NFD.String(strings.NewReplacer("\u00df", "ss", "\u201e", "'", "\u201c", "'", "\u201d", "'", "\u2019", "'").Replace(s))
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\u2212' || r == '\u2013':
			return '-'
		case r == '\u00a0' || r == '\u202f' || r == '\n' || r == '\r':
			return ' '
		case r == '\u00b2':
			return '2'
		case r >= 0x300 && r < 0x370: // an accent by itself
			return -1
		case r < ' ' || r > '~':
			return '?'
		}
		return r
	}, s)
}

// chapters are the story's moments, one after another without a gap, from the first
// frame on.
func (m *markers) chapters(w io.Writer, story []moment) error {
	v := vtt{language: m.language}
	at, title := 0.0, "Start of the recording"
	for _, s := range story {
		if s.at >= at+shortest/2 {
			v.cue(at, s.at, title)
			at, title = s.at, upperFirst(s.title)
			continue
		}
		// Too soon after the one before for a chapter of its own.
		if at == 0 && title == "Start of the recording" {
			title = upperFirst(s.title)
		} else {
			title += "; " + s.title
		}
	}
	v.cue(at, math.Max(m.end(), at+1), title)
	return v.write(w)
}

// captions are the story's sentences, each when it has become true, and the events.
func (m *markers) captions(w io.Writer, story []moment) error {
	var list []marker
	for _, s := range story {
		if s.told != "" {
			list = append(list, marker{from: s.at, to: s.at + reading*float64(utf8.RuneCountInString(s.told)), text: s.told + "."})
		}
	}
	list = append(list, m.list...)
	slices.SortStableFunc(list, func(a, b marker) int { return cmp.Compare(a.from, b.from) })
	v := vtt{language: m.language}
	for _, e := range list {
		to := math.Max(e.to, e.from+shortest)
		if end := m.end(); end > e.from+1 {
			to = math.Min(to, end)
		}
		v.cue(e.from, to, e.text)
	}
	return v.write(w)
}

// How long a caption stands, s: at the least, and for each letter of a long one.
const (
	shortest = 4
	reading  = 0.06
)

// end of the recording, s.
func (m *markers) end() float64 { return math.Max(m.run.Recording.DurationS, 0) }

// vtt is a file of the format WebVTT.
type vtt struct {
	language *language.Catalogue
	cues     strings.Builder
}

func (v *vtt) cue(from, to float64, text string) {
	stamp := func(s float64) string {
		d := time.Duration(math.Round(s*1000)) * time.Millisecond
		return fmt.Sprintf("%02d:%02d:%02d.%03d", int(d.Hours()), int(d.Minutes())%60, int(d.Seconds())%60, d.Milliseconds()%1000)
	}
	escape := strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", "\n", " ")
	fmt.Fprintf(&v.cues, "\n%s --> %s\n%s\n", stamp(from), stamp(to), escape.Replace(v.language.Say(text)))
}

func (v *vtt) write(w io.Writer) error {
	_, err := io.WriteString(w, "WEBVTT\n"+v.cues.String())
	return err
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}
