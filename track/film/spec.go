// Package film paints what was measured onto the frames of a recording: the
// cleaned floor in true perspective, the tail of the path, and words. It is
// pure Go over packed BGR pixels; reading and encoding are the eye's work.
package film

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"

	"swathe/geom"
	"swathe/track/paint"
)

// Spec is a film to be made, as the eye gets it in JSON.
type Spec struct {
	Out    string  `json:"out"`    // a file, or with Overlay a folder for PNG files
	Width  int     `json:"width"`  // px of the film, even
	Height int     `json:"height"` // px, even
	FPS    float64 `json:"fps"`    // of the film
	Speed  float64 `json:"speed"`  // seconds of the run in one second of film
	Length float64 `json:"length"` // s of the run that are shown; the last frame shows its end
	Panes  []Pane  `json:"panes"`  // side by side, each from its own start
	// Kind is how the film is kept: h264 (also ""), or see-through where nothing is
	// painted png, prores or vp9, which show what is painted alone.
	Kind string `json:"kind,omitempty"`
	// Layer is the one thing that is painted (see Layers); "": all of them.
	Layer string `json:"layer,omitempty"`
	// Overlay makes pictures of the painted things alone, see-through
	// elsewhere, instead of a film.
	Overlay bool `json:"overlay"`
	// Blur makes whoever may be a person unrecognisable.
	Blur bool `json:"blur"`
	// Still writes one PNG of the film's first frame instead of a film.
	Still    bool   `json:"still"`
	Timecode string `json:"timecode,omitempty"` // of the first frame, HH:MM:SS:FF; "": none
	Colour   string `json:"colour,omitempty"`   // the matrix of the recording's colours; "": not known
	// Words is what is written beside names and numbers; nil: English.
	Words *Words `json:"words,omitempty"`
	// Legend is where one explanation of the colours stands for all panes: x, y,
	// width, height. Empty: each pane has its own, over its picture.
	Legend [4]int `json:"legend"`
}

// Layers are the things that a film paints, each of which can be had by itself.
func Layers() []string {
	return []string{"passes", "path", "clock", "share", "events", "title", "legend"}
}

// AlphaKinds are the kinds of film that are see-through where nothing is painted,
// each with the ending of its file.
func AlphaKinds() map[string]string {
	return map[string]string{"png": ".mov", "prores": ".mov", "vp9": ".webm"}
}

// SeeThrough tells whether nothing but what is painted shows.
func (s *Spec) SeeThrough() bool { return s.Overlay || AlphaKinds()[s.Kind] != "" }

// Pane is one run within a film.
type Pane struct {
	Files  []string    `json:"files"`
	Gaps   []*float64  `json:"gaps"`
	From   float64     `json:"from"` // s in the run's recording at which the film begins
	Camera geom.Camera `json:"camera"`
	Plan   geom.Plan   `json:"plan"`
	Robot  geom.Robot  `json:"robot"`
	// Cover is what is made unrecognisable for good: polygons in pixels of the frame.
	Cover [][]geom.Point2 `json:"cover,omitempty"`
	Crop  [4]int          `json:"crop"` // x, y, width, height of the part of the frame that is shown
	// At is where in the film that part is shown, and Panel where the words stand;
	// both x, y, width, height. No At: as large as fits into the pane's share of the
	// film. No Panel: the words stand over the picture.
	At    [4]int `json:"at"`
	Panel [4]int `json:"panel"`

	// The raster, and the file with its passes (see WriteLog); no file paints
	// no floor.
	X0     float64 `json:"x0"` // m, lower left corner
	Y0     float64 `json:"y0"`
	Cell   float64 `json:"cell"` // m
	Nx     int     `json:"nx"`
	Ny     int     `json:"ny"`
	Log    string  `json:"log"`
	Shares []Share `json:"shares"` // in rising time
	Path   []Spot  `json:"path"`
	Tail   float64 `json:"tail"` // s of path that are shown
	Notes  []Note  `json:"notes"`
	Title  string  `json:"title"`
	Mark   string  `json:"mark,omitempty"` // a reservation, written under the title
	Start  float64 `json:"start"`          // s in the recording at which the clock shows 0
	// From End (s in the recording) on the share is written as Final, the words of
	// the pictures for print; "": as counted.
	End   float64 `json:"end"`
	Final string  `json:"final,omitempty"`
}

// Share is the share of the floor that was cleaned by a time.
type Share struct {
	T float64 `json:"t"` // s in the recording
	V float64 `json:"v"` // 0..1
}

// Spot is one sample of the path.
type Spot struct {
	T    float64  `json:"t"`
	X    float64  `json:"x"` // floor, m
	Y    float64  `json:"y"`
	H    *float64 `json:"h"`    // rad; nil: not known
	Seen bool     `json:"seen"` // false: lost or carried; no tail is drawn there
}

// Note is a sentence that is shown for a while.
type Note struct {
	From, To float64 // s in the recording
	Text     string
}

// Colours of floor that was cleaned once, twice, three and four or more times: the
// blues of the pictures (report/figure/key.go, which this package may not import;
// a test of cmd/internal/overlay holds them equal), each as strong as it covers.
var Colours = [4]paint.Colour{{158, 202, 225, 140}, {66, 146, 198, 150}, {33, 113, 181, 160}, {8, 81, 156, 170}}

// Words are the texts of a film in one language. %s stands for a number.
type Words struct {
	Cleaned string    `json:"cleaned"` // before the legend
	Passes  [4]string `json:"passes"`  // of the legend
	Share   string    `json:"share"`   // of reachable floor: %s is the share
	Faster  string    `json:"faster"`  // than the run: %s
	Decimal string    `json:"decimal"` // the sign before decimals
}

func (s *Spec) text() Words {
	if s.Words == nil {
		return English()
	}
	return *s.Words
}

// English returns the texts in English.
func English() Words {
	return Words{"cleaned", [4]string{"once", "twice", "3 times", "4 or more"}, "%s of reachable floor", "%s times as fast", "."}
}

// Validate says what is wrong with a spec, nil if nothing is.
func (s *Spec) Validate() error {
	switch {
	case s.Out == "":
		return errors.New("a film needs a file to be written to")
	case s.Width < 32 || s.Height < 32 || s.Width%2 != 0 || s.Height%2 != 0 || s.Width > 7680 || s.Height > 7680:
		return fmt.Errorf("a film of %d x %d px cannot be made: give even numbers from 32 to 7680", s.Width, s.Height)
	case !(s.FPS >= 1 && s.FPS <= 240):
		return fmt.Errorf("%g frames a second cannot be made: give 1 to 240", s.FPS)
	case !(s.Speed > 0 && s.Speed <= 1000):
		return fmt.Errorf("invalid speed %g: give the number of seconds that pass in one second of film, up to 1000", s.Speed)
	case !(s.Length > 0) || math.IsInf(s.Length, 0):
		return fmt.Errorf("invalid film length of %g s", s.Length)
	case s.Kind != "" && s.Kind != "h264" && AlphaKinds()[s.Kind] == "":
		return fmt.Errorf("there is no kind of film called %q", s.Kind)
	case s.Layer != "" && !slices.Contains(Layers(), s.Layer):
		return fmt.Errorf("there is no layer called %q", s.Layer)
	case strings.Count(s.text().Share, "%s") != 1 || strings.Count(s.text().Faster, "%s") != 1:
		return errors.New("the words of a film need a place for the share and for the speed")
	case len(s.Panes) < 1 || len(s.Panes) > 2:
		return fmt.Errorf("a film shows one run or two side by side, not %d", len(s.Panes))
	}
	for _, p := range s.Panes {
		if p.Crop[2] < 16 || p.Crop[3] < 16 || p.Crop[0] < 0 || p.Crop[1] < 0 || p.Crop[0]+p.Crop[2] > p.Camera.Width || p.Crop[1]+p.Crop[3] > p.Camera.Height {
			return fmt.Errorf("the part %v does not lie in a frame of %d x %d px", p.Crop, p.Camera.Width, p.Camera.Height)
		}
		if p.Log != "" && (!(p.Cell > 0) || p.Nx < 1 || p.Ny < 1 || p.Nx*p.Ny > 1<<28) {
			return errors.New("the raster is invalid")
		}
		if len(p.Files) == 0 && !s.SeeThrough() {
			return errors.New("a run without a recording can only be an overlay")
		}
	}
	return nil
}

// Frames is how many frames the film has.
func (s *Spec) Frames() int {
	if s.Still {
		return 1
	}
	return max(1, int(math.Ceil(s.Length/s.Speed*s.FPS-1e-6))+1)
}

// Time is when frame k of the film lies, s of the run from the film's beginning.
func (s *Spec) Time(k int) float64 { return math.Min(float64(k)/s.FPS*s.Speed, s.Length) }

// Arrange gives each pane without a place its share of the film.
func (s *Spec) Arrange() {
	w := s.Width / len(s.Panes)
	for i := range s.Panes {
		if p := &s.Panes[i]; p.At[2] == 0 {
			p.At = FitInto(p.Crop[2], p.Crop[3], [4]int{i * w, 0, w, s.Height})
		}
	}
}

// FitInto is where a picture of w x h comes, as large as it can be, in the middle
// of a box (x, y, width, height); a rounding's worth of bars is none.
func FitInto(w, h int, box [4]int) [4]int {
	k := math.Min(float64(box[2])/float64(w), float64(box[3])/float64(h))
	fw, fh := min(box[2], int(math.Round(k*float64(w)))), min(box[3], int(math.Round(k*float64(h))))
	if box[2]-fw < 3 {
		fw = box[2]
	}
	if box[3]-fh < 3 {
		fh = box[3]
	}
	return [4]int{box[0] + (box[2]-fw)/2, box[1] + (box[3]-fh)/2, fw, fh}
}

// Pass is the beginning of one pass of one cell.
type Pass struct {
	Cell int32
	T    float32 // s in the recording
}

// WriteLog writes passes, in rising time, for ReadLog.
func WriteLog(file string, log []Pass) error {
	b := make([]byte, 0, 8*len(log))
	for _, p := range log {
		b = binary.LittleEndian.AppendUint32(b, uint32(p.Cell))
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(p.T))
	}
	return os.WriteFile(file, b, 0o644)
}

// ReadLog reads what WriteLog wrote; cells is the size of the raster.
func ReadLog(file string, cells int) ([]Pass, error) {
	b, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	if len(b)%8 != 0 {
		return nil, fmt.Errorf("%s is not a list of passes", file)
	}
	out := make([]Pass, len(b)/8)
	for i := range out {
		out[i] = Pass{int32(binary.LittleEndian.Uint32(b[8*i:])), math.Float32frombits(binary.LittleEndian.Uint32(b[8*i+4:]))}
		if out[i].Cell < 0 || int(out[i].Cell) >= cells {
			return nil, fmt.Errorf("%s names a cell that is not in the raster", file)
		}
	}
	return out, nil
}
