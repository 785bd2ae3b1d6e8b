package page

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"

	"swathe/report"
	"swathe/report/figure"
	"swathe/report/sheet"
)

// Lab is what the page asks of the program that serves it. Its methods are
// called from several requests at once. An error that is an *Error decides the
// status of the answer; any other is one of the program, 500.
type Lab interface {
	// Rows lists every recording and result, in order of their names.
	Rows() ([]Row, error)
	// Live says what is going on at this moment; cheap.
	Live() Live
	// Names returns the layouts and robots that the set-up knows; empty while
	// it is missing or wrong.
	Names() (layouts, robots []string)

	// Measure asks for a run to be measured (again: although there is a result),
	// Stop ends its measuring or takes it out of those that wait.
	Measure(run string, again bool) error
	Stop(run string) error
	// Pause has all workers finish what they have and take nothing new, or go on.
	Pause(pause bool) error
	// Arrived tells that a recording was received whole.
	Arrived()
	// Name says which run a recording is whose name does not tell.
	Name(layout, file string, n Naming) error

	// Discard moves the result of a run into the bin, or all of it (OnlyResult,
	// WholeRun). Rename gives its recording another name. Bin lists what lies in
	// the bin, Restore moves it back, EmptyBin deletes all of it for good.
	Discard(run, what string) error
	Rename(run string, n Naming) error
	Bin() ([]Binned, error)
	Restore(id string) error
	EmptyBin() error

	// Frame returns a picture of a recording (files from the lab's folder, in
	// order) near time t, s.
	Frame(ctx context.Context, f FrameAsk) (data []byte, kind string, err error)

	// Corners finds the inner corners of a chessboard in a frame.
	Corners(ctx context.Context, a CornersAsk) (Corners, error)

	// Setup returns lab.yaml; Try judges another without writing it; Save writes
	// it if what stands there still has the hash given, and it is right.
	Setup() (Setup, error)
	Try(ctx context.Context, doc json.RawMessage) (Tried, error)
	Save(ctx context.Context, doc json.RawMessage, sha string) (Tried, error)

	// Run reads a result for its page.
	Run(run string) (*RunView, error)
	// Picture draws one, as PNG unless the request says otherwise.
	Picture(ctx context.Context, w io.Writer, run, kind string, opt figure.Options) error
	// Notes returns what stands about a run's recording; SaveNotes writes it.
	Notes(run string) (Notes, error)
	SaveNotes(run string, n Notes) error

	// Judge says, before anything is made, what would become of a comparison.
	Judge(runs []string) (Judged, error)
	// Joint draws a picture of several runs as Export would, as PNG.
	Joint(ctx context.Context, w io.Writer, kind string, runs []string, opt figure.Options) error
	// Compare lays runs side by side and returns the name of the comparison; one
	// of other runs under that name is written over only if replace is set, and
	// refused with ErrTaken else.
	Compare(ctx context.Context, name string, runs []string, replace bool) (string, error)
	// Export writes pictures, tables and films of runs into exports/<name>; told
	// hears how far it is.
	Export(ctx context.Context, ask ExportAsk, told func(Progress)) (*Exported, error)
	// PictureKinds lists the pictures that Export knows.
	PictureKinds() []string
}

// Error is a refusal with the status of its answer.
type Error struct {
	Status  int
	Message string // a whole sentence for the tester
	Taken   string // the name that is in use, where that is the reason
}

func (e *Error) Error() string { return e.Message }

// Refuse returns an *Error.
func Refuse(status int, format string, args ...any) error {
	return &Error{Status: status, Message: fmt.Sprintf(format, args...)}
}

// ErrTaken refuses to write over what has a name already.
func ErrTaken(name, what string) error {
	return &Error{http.StatusConflict, fmt.Sprintf("There is %s called %s already, of other runs.", what, name), name}
}

// The states of a recording or result.
const (
	Copying   = "being copied"
	Waiting   = "waiting"
	Measuring = "being measured"
	Held      = "stopped"
	Measured  = "measured"
	Failed    = "not measured"
	Unnamed   = "needs a name"
)

// Row is one line of the lab's list.
type Row struct {
	ID     string `json:"id"` // <layout>/<robot>_<phase>_<trial>
	Layout string `json:"layout"`
	Name   string `json:"name"`
	Robot  string `json:"robot"` // empty, as phase and trial, of what has no such name
	Phase  string `json:"phase"`
	Trial  int    `json:"trial"`
	State  string `json:"state"`
	Why    string `json:"why,omitempty"`  // of a failure or refusal, whole sentences
	File   string `json:"file,omitempty"` // of one that needs a name: its base name

	Result  bool    `json:"result"` // there is a result to look at
	Differs bool    `json:"differs,omitempty"`
	Share   float64 `json:"reachable_share"` // of the result; null without one
	Minutes float64 `json:"minutes"`

	Recording  bool    `json:"recording"`          // its recording is in the lab
	Same       string  `json:"same,omitempty"`     // another run with the same recording
	Covered    float64 `json:"covered_share"`      // these as Share
	DistanceM  float64 `json:"distance_m"`         //
	Redundancy float64 `json:"redundancy"`         //
	Lost       float64 `json:"lost_share"`         //
	Ended      string  `json:"ended,omitempty"`    // of the result
	Firmware   string  `json:"firmware,omitempty"` // conditions of the run
	Date       string  `json:"date,omitempty"`
}

// What of a run goes into the bin.
const (
	WholeRun   = "recording and result"
	OnlyResult = "result"
)

// Binned is something in the bin.
type Binned struct {
	ID    string   `json:"id"`
	Run   string   `json:"run"`
	What  string   `json:"what"`  // WholeRun or OnlyResult
	When  string   `json:"when"`  // local time, to the minute
	Files []string `json:"files"` // from the lab's folder, where they were
	Bytes int64    `json:"-"`
}

// Live is what is going on.
type Live struct {
	Version uint64   `json:"version"` // grows whenever Rows may have changed
	Setup   string   `json:"setup"`   // why the set-up cannot be used; empty if it can
	Active  []Active `json:"active"`
	Waiting []string `json:"waiting"` // runs, in turn
	Queue   Queue    `json:"queue"`
}

// Queue is what is known of the queue and of who works on it.
type Queue struct {
	Paused     bool     `json:"paused"`
	Trouble    string   `json:"trouble"` // why it does not work; empty if it does
	Workers    []Worker `json:"workers"`
	Elsewhere  int      `json:"waiting_for_other_versions"`
	PerMinute  float64  `json:"done_per_minute"`
	RemainingS float64  `json:"remaining_s"`
}

// Worker is a program that takes recordings from the queue.
type Worker struct {
	Name     string  `json:"name"`
	Jobs     int     `json:"jobs"` // at once
	Draining bool    `json:"draining"`
	Doing    []Doing `json:"doing"`
}

// Doing is a run that a worker has.
type Doing struct {
	Run   string  `json:"run"`
	Share float64 `json:"share"`
}

// Active is a run being measured.
type Active struct {
	Run     string   `json:"run"`
	Files   []string `json:"files"`  // <layout>/<name>
	Doing   string   `json:"doing"`  // what is being done, in words
	LeftS   float64  `json:"left_s"` // until it is done, about; null while that is not known
	Share   float64  `json:"share"`  // of the recording
	T       float64  `json:"t_s"`
	Speed   float64  `json:"speed"` // recording seconds a second
	Cleaned float64  `json:"reachable_share"`
	// Outline is where the robot shows in the frame at T, [column, row] in
	// pixels; empty if it was not seen there.
	Outline [][2]float64 `json:"outline,omitempty"`
	Frame   [2]int       `json:"frame,omitempty"` // size of its pictures
	Path    [][2]float64 `json:"path,omitempty"`  // thinned, m
}

// Naming says which run a recording is.
type Naming struct {
	Robot string `json:"robot"`
	Phase string `json:"phase"`
	Trial int    `json:"trial"`
}

// FrameAsk asks for a picture of a recording.
type FrameAsk struct {
	Files []string // <layout>/<name> under recordings/, checked to lie inside the lab
	T     float64  // s
	Width int      // pixels; 0: as recorded
	Empty bool     // not one frame, but the room without what moves in it
	Key   bool     // the key frame before T, which is at hand sooner
}

// CornersAsk asks for the corners of a chessboard in a frame of a recording.
type CornersAsk struct {
	File    string  // <layout>/<name> under recordings/, checked to lie inside the lab
	T       float64 // s
	Columns int     // inner corners along a row
	Rows    int
}

// Corners are the inner corners of a chessboard, [column, row] in pixels, row by
// row of the board from one of its outer corners.
type Corners struct {
	Corners [][2]float64 `json:"corners"`
}

// Setup is lab.yaml as the page edits it.
type Setup struct {
	Exists   bool            `json:"exists"`
	SHA      string          `json:"sha256"` // of the file; empty if there is none
	Doc      json.RawMessage `json:"doc"`    // its content, keys in its order; null if it is no YAML
	Problems []Problem       `json:"problems"`
}

// Problem is one thing that check refuses.
type Problem struct {
	File    string `json:"file"`
	Line    int    `json:"line"` // 0: the file as a whole
	Message string `json:"message"`
	Excerpt string `json:"excerpt"`
}

// Tried is what became of a set-up.
type Tried struct {
	Text     string              `json:"text"` // lab.yaml as it would be written
	SHA      string              `json:"sha256"`
	Saved    bool                `json:"saved"`
	Problems []Problem           `json:"problems"`
	Cameras  map[string]TriedCam `json:"cameras"` // those whose own entry is right
	Judged   json.RawMessage     `json:"judged"`  // what check says; null while anything is wrong
}

// TriedCam is a camera as solved.
type TriedCam struct {
	Problem string  `json:"problem,omitempty"`
	Camera  *Camera `json:"camera"`
	Judged  any     `json:"judged"`
}

// Camera is a solved camera in the form that the page's script projects with.
type Camera struct {
	Width  int           `json:"width"`
	Height int           `json:"height"`
	Model  string        `json:"model"`
	Focal  [2]float64    `json:"focal"`
	Centre [2]float64    `json:"centre"`
	Dist   [5]float64    `json:"distortion"`
	R      [3][3]float64 `json:"r"`
	Place  [3]float64    `json:"place"`
}

// MarshalJSON writes all digits: terms of a lens are small.
func (c Camera) MarshalJSON() ([]byte, error) {
	type plain Camera
	return json.Marshal(plain(c))
}

// RunView is a result as its page shows it.
type RunView struct {
	Run    *report.Run
	Sheet  sheet.Sheet // its tables and lists; pictures are fetched one by one
	Files  []string    // recordings under recordings/, in order; empty if they are gone
	Gaps   []float64   // s between them
	Plan   PlanView
	Path   [][4]float64 // t_s, x_m, y_m, heading_deg
	State  string
	Radius float64    // of the robot, m
	Tool   [3]float64 // of the headline figures: width, ahead, left, m
	Camera *Camera    // nil of a path, or where the lens is not at hand
}

// PlanView is a plan's picture with the place of its metres on it: pixel
// column = X0 + K x, row = Y0 - K y.
type PlanView struct {
	Width  int     `json:"width"`
	Height int     `json:"height"`
	K      float64 `json:"k"`
	X0     float64 `json:"x0"`
	Y0     float64 `json:"y0"`
}

// Notes is what a tester may correct about a recording.
type Notes struct {
	StartS  *float64     `json:"start_s"`
	EndS    *float64     `json:"end_s"`
	Carried [][2]float64 `json:"carried"` // stretches, s
}

// Judged is what would become of a comparison.
type Judged struct {
	Fit     int       `json:"fit"` // runs that can be compared
	Refused []Refused `json:"refused"`
	Notes   []string  `json:"notes"` // what bounds what it can say
}

// Refused is a run that cannot be compared with the others.
type Refused struct {
	Run    string `json:"run"`
	Reason string `json:"reason"`
}

// FilmAsk says which films to make of runs.
type FilmAsk struct {
	Each   bool    `json:"each"`   // one of each run
	Beside bool    `json:"beside"` // one of two runs side by side
	Clips  bool    `json:"clips"`  // one of each event
	Speed  float64 `json:"speed"`  // seconds of the run in one of film
	Aspect string  `json:"aspect"` // as overlay.FilmOptions
	Blur   bool    `json:"blur"`
}

// Wanted tells whether any film is asked for.
func (f FilmAsk) Wanted() bool { return f.Each || f.Beside || f.Clips }

// FilmStill is the kind of picture that shows a frame of a run's film.
const FilmStill = "film"

// Progress is how far one part of an export is.
type Progress struct {
	What    string  `json:"what"`
	Share   float64 `json:"share"`   // 1: it is over
	Written bool    `json:"written"` // it is a file that is there now
}

// ExportAsk says what to export.
type ExportAsk struct {
	Name      string   `json:"name"`
	Runs      []string `json:"runs"`
	Pictures  []string `json:"pictures"`
	Formats   []string `json:"formats"`
	Themes    []string `json:"themes"`
	Labels    string   `json:"labels"`
	Unit      string   `json:"unit"`
	Width     int      `json:"width"`
	Height    int      `json:"height"`
	DPI       int      `json:"dpi"`
	SameScale bool     `json:"same_scale"`
	Tables    bool     `json:"tables"`
	Page      bool     `json:"page"`
	Films     FilmAsk  `json:"films"`
	Replace   bool     `json:"replace"` // write into a folder that is there already
}

// Exported is what an export gave.
type Exported struct {
	Name  string   `json:"name"`
	Files []string `json:"files"`
	Notes []string `json:"notes"`
}
