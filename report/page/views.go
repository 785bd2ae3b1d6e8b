package page

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"math"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"

	"swathe/coverage"
	"swathe/report"
	"swathe/report/compared"
	"swathe/report/figure"
	"swathe/report/sheet"
	"swathe/report/words"
)

// firstRows is how many lines of the list come with the page itself; the script
// fetches all of a longer list when these are on the screen.
const firstRows = 60

func (s *server) home(w http.ResponseWriter, _ *http.Request) {
	live := s.lab.Live() // before the rows: what changes meanwhile is then fetched, not missed
	rows, err := s.lab.Rows()
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	layouts, robots := s.lab.Names()
	more := len(rows) > firstRows
	if more {
		rows = rows[:firstRows]
	} else if rows == nil {
		rows = []Row{}
	}
	s.page(w, "home", "Runs", map[string]any{"Rows": rows, "More": more, "Layouts": layouts, "Robots": robots, "Live": live})
}

// rows is the whole list, for a page that is open already.
func (s *server) rows(w http.ResponseWriter, _ *http.Request) {
	rows, err := s.lab.Rows()
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, map[string]any{"rows": rows})
}

func (s *server) setupPage(w http.ResponseWriter, _ *http.Request) {
	s.page(w, "setup", "Room and camera", nil)
}

func (s *server) runPage(w http.ResponseWriter, r *http.Request) {
	id, err := runName(r)
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	v, err := s.lab.Run(id)
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	notes, err := s.lab.Notes(id)
	if err != nil {
		notes = Notes{}
	}
	var stated []Condition
	if t, err := s.trial(); err == nil {
		stated, _ = t.Conditions(id) // without its recording nothing can be stated
	}
	s.page(w, "run", v.Sheet.Title, map[string]any{"ID": id, "Conditions": stated, "View": v, "Notes": notes, "Player": s.player(id, v), "Files": s.resultFiles(id), "Stale": s.stale(id)})
}

// stale says why a result no longer fits; empty if it does.
func (s *server) stale(id string) string {
	rows, err := s.lab.Rows()
	if err != nil {
		return ""
	}
	i := slices.IndexFunc(rows, func(r Row) bool { return r.ID == id })
	switch {
	case i < 0:
		return ""
	case rows[i].State == Waiting || rows[i].State == Measuring:
		return "This result is out of date: the recording is measured again (" + rows[i].State + ")."
	case rows[i].State == Failed:
		return "This result is out of date. The recording could not be measured again: " + rows[i].Why
	case rows[i].Differs:
		return "This result belongs to an earlier set-up. Measure the recording again to use today's."
	}
	return ""
}

// player is what the script needs to play a run.
type player struct {
	ID     string         `json:"id"`
	Title  string         `json:"title"`
	Videos []string       `json:"videos"`
	Gaps   []float64      `json:"gaps"`
	Start  float64        `json:"start_s"`
	End    float64        `json:"end_s"`
	Length float64        `json:"length_s"`
	Plan   PlanView       `json:"plan"`
	Path   [][4]any       `json:"path"` // t_s, x_m, y_m, heading_deg; null where not known
	Events []report.Event `json:"events"`
	Radius float64        `json:"radius_m"`

	Tool   [3]float64       `json:"tool"` // of the headline: width, ahead, left, m
	FrameS float64          `json:"frame_s"`
	Missed []coverage.Patch `json:"missed"`
	Camera *Camera          `json:"camera"` // null of a path, or where the lens is not at hand
}

func (s *server) player(id string, v *RunView) player {
	p := player{ID: id, Title: v.Sheet.Title, Videos: []string{}, Gaps: v.Gaps, Start: v.Run.Run.StartS, End: v.Run.Run.EndS,
		Length: v.Run.Recording.DurationS, Plan: v.Plan, Events: v.Run.Events, Path: make([][4]any, 0, len(v.Path)), Radius: v.Radius,
		Tool: v.Tool, Missed: v.Run.Missed, Camera: v.Camera, FrameS: 0.04}
	if n := v.Run.Recording.Frames; n > 1 && v.Run.Recording.DurationS > 0 {
		p.FrameS = v.Run.Recording.DurationS / float64(n)
	}
	for _, f := range v.Files {
		if s.inside(path.Join("recordings", f)) == nil && !strings.EqualFold(path.Ext(f), ".csv") {
			p.Videos = append(p.Videos, f)
		}
	}
	for _, q := range v.Path {
		var row [4]any
		for i, x := range q {
			if report.Measured(x) {
				row[i] = math.Round(x*1000) / 1000
			}
		}
		p.Path = append(p.Path, row)
	}
	return p
}

// picture draws one of the pictures of a run.
func (s *server) picture(w http.ResponseWriter, r *http.Request) {
	id, err := runName(r)
	if err != nil {
		refuse(w, err)
		return
	}
	s.drawn(w, r, func(to io.Writer, o figure.Options) error {
		return s.lab.Picture(r.Context(), to, id, r.PathValue("kind"), o)
	})
}

// joint draws a picture of several runs: /joint/agreement?run=...&run=...
func (s *server) joint(w http.ResponseWriter, r *http.Request) {
	runs := r.URL.Query()["run"]
	for _, id := range runs {
		layout, run, _ := strings.Cut(id, "/")
		if err := errors.Join(plainName(layout, "a layout"), plainName(run, "a run")); err != nil {
			refuse(w, err)
			return
		}
	}
	s.drawn(w, r, func(to io.Writer, o figure.Options) error {
		return s.lab.Joint(r.Context(), to, r.PathValue("kind"), runs, o)
	})
}

// drawn sends a picture, drawn to the size and look that the request asks for.
func (s *server) drawn(w http.ResponseWriter, r *http.Request, draw func(to io.Writer, o figure.Options) error) {
	o, err := lookOf(r)
	if err != nil {
		refuse(w, err)
		return
	}
	// Drawn whole before the answer begins: what fails half-way is refused with a reason.
	var b bytes.Buffer
	if err := draw(&b, o); err != nil {
		refuse(w, err)
		return
	}
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "private, max-age=30")
	_, _ = b.WriteTo(w)
}

// lookOf reads how a picture should look.
func lookOf(r *http.Request) (o figure.Options, err error) {
	o = figure.DefaultOptions()
	o.Width, o.Height, o.DPI = 1200, 900, 150
	q := r.URL.Query()
	for name, into := range map[string]*int{"width": &o.Width, "height": &o.Height} {
		if t := q.Get(name); t != "" {
			n, err := strconv.Atoi(t)
			if err != nil || n > 4000 {
				return o, Refuse(http.StatusBadRequest, "%s is %q; it should be a number of pixels up to 4000.", name, t)
			}
			*into = n
		}
	}
	if t := q.Get("theme"); t != "" {
		o.Theme = figure.Theme(t)
	}
	if t := q.Get("labels"); t != "" {
		o.Labels = figure.Labels(t)
	}
	if t := q.Get("unit"); t != "" {
		o.Unit = words.Unit(t)
	}
	if t := q.Get("scale"); t != "" {
		if o.MPerPx, err = strconv.ParseFloat(t, 64); err != nil {
			return o, Refuse(http.StatusBadRequest, "scale is %q; it should be metres a pixel.", t)
		}
	}
	if err := o.Validate(); err != nil {
		return o, Refuse(http.StatusBadRequest, "%v.", err)
	}
	return o, nil
}

// frame sends a picture of a recording: /frame?file=<layout>/<name>&t=12.5
func (s *server) frame(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	a := FrameAsk{Empty: q.Has("empty"), Key: q.Has("key")}
	for _, f := range q["file"] {
		if err := s.footage(f); err != nil {
			refuse(w, err)
			return
		}
		a.Files = append(a.Files, f)
	}
	if len(a.Files) == 0 {
		refuse(w, Refuse(http.StatusBadRequest, "The request names no recording."))
		return
	}
	var err error
	if a.T, err = seconds(q.Get("t")); err != nil {
		refuse(w, err)
		return
	}
	if t := q.Get("width"); t != "" {
		if a.Width, err = strconv.Atoi(t); err != nil || a.Width < 0 || a.Width > 16384 {
			refuse(w, Refuse(http.StatusBadRequest, "width is %q; it should be a number of pixels.", t))
			return
		}
	}
	data, kind, err := s.lab.Frame(r.Context(), a)
	if err != nil {
		refuse(w, err)
		return
	}
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Cache-Control", "private, max-age=60")
	_, _ = w.Write(data)
}

// footage refuses what is no recording inside the lab; f is <layout>/<name>.
func (s *server) footage(f string) error {
	layout, name, _ := strings.Cut(f, "/")
	return errors.Join(plainName(layout, "a layout"), recordingName(name), s.inside(path.Join("recordings", layout, name)))
}

// seconds reads a time of a request; empty is 0.
func seconds(t string) (float64, error) {
	if t == "" {
		return 0, nil
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, Refuse(http.StatusBadRequest, "t is %q; it should be a time in seconds.", t)
	}
	return v, nil
}

// mostCorners bounds the corners of a board along one side.
const mostCorners = 100

// corners finds a chessboard: /corners?file=<layout>/<name>&t=3&columns=9&rows=6
func (s *server) corners(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	a := CornersAsk{File: q.Get("file")}
	err := s.footage(a.File)
	if err == nil {
		a.T, err = seconds(q.Get("t"))
	}
	for name, into := range map[string]*int{"columns": &a.Columns, "rows": &a.Rows} {
		if err != nil {
			break
		}
		n, bad := strconv.Atoi(q.Get(name))
		if bad != nil || n < 3 || n > mostCorners {
			err = Refuse(http.StatusBadRequest, "The board's inner corners are %q; there should be 3 to %d each way.", q.Get(name), mostCorners)
		}
		*into = n
	}
	var found Corners
	if err == nil {
		found, err = s.lab.Corners(r.Context(), a)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, found)
}

// recordingList names the videos that a frame can be taken from.
func (s *server) recordingList(w http.ResponseWriter, _ *http.Request) {
	out := []string{}
	layouts, _ := fs.ReadDir(s.root.FS(), "recordings")
	for _, l := range layouts {
		files, err := fs.ReadDir(s.root.FS(), path.Join("recordings", l.Name()))
		if err != nil || plainName(l.Name(), "") != nil {
			continue
		}
		for _, f := range files {
			name := l.Name() + "/" + f.Name()
			if recordingName(f.Name()) == nil && !strings.EqualFold(path.Ext(f.Name()), ".csv") && s.inside("recordings/"+name) == nil {
				out = append(out, name)
			}
		}
	}
	reply(w, http.StatusOK, out)
}

// comparison is a folder of comparisons/ as the page shows it.
type comparison struct {
	Name     string
	Players  []player
	Sheet    sheet.Sheet
	Pictures []madePicture
	Scale    float64 // m a pixel, of all the maps
}

func (s *server) sidePage(w http.ResponseWriter, r *http.Request) {
	name := r.URL.Query().Get("name")
	if name == "" {
		rows, err := s.lab.Rows()
		if err != nil {
			s.refusedPage(w, err)
			return
		}
		s.page(w, "side", "Side by side", map[string]any{"Rows": measured(rows), "Chosen": r.URL.Query()["run"], "Made": s.folders("comparisons", "comparison.json")})
		return
	}
	if err := plainName(name, "a comparison"); err != nil {
		s.refusedPage(w, err)
		return
	}
	c := comparison{Name: name}
	raw, err := s.root.ReadFile(path.Join("comparisons", name, compared.ComparisonFile))
	if err != nil {
		s.refusedPage(w, Refuse(http.StatusNotFound, "There is no comparison %q in this lab.", name))
		return
	}
	doc, sheet, err := compared.ComparisonSheet(raw, words.Metre)
	if err != nil {
		s.refusedPage(w, Refuse(http.StatusConflict, "%v.", err))
		return
	}
	c.Sheet = sheet
	for _, x := range doc.Runs {
		v, err := s.lab.Run(x.Run)
		if err != nil || len(c.Players) == maxBeside {
			continue
		}
		p := s.player(x.Run, v)
		c.Players = append(c.Players, p)
		if v.Plan.K > 0 {
			c.Scale = math.Max(c.Scale, 1/v.Plan.K)
		}
	}
	// One scale for all: the coarsest of them.
	for i := range c.Players {
		c.Players[i].Plan = rescale(c.Players[i].Plan, c.Scale)
	}
	list, _ := fs.ReadDir(s.root.FS(), path.Join("comparisons", name))
	for _, f := range list {
		if base, ok := strings.CutSuffix(f.Name(), ".png"); ok {
			c.Pictures = append(c.Pictures, madePicture{base, shows(base)})
		}
	}
	s.page(w, "side", "Side by side: "+name, map[string]any{"Comparison": c})
}

// madePicture is a picture in a comparison's folder.
type madePicture struct{ Name, Shows string }

// shows says in words what a comparison's picture shows.
func shows(name string) string {
	base, _, _ := strings.Cut(name, "-")
	switch base {
	case "curves":
		return "Share cleaned over time, one line for each run"
	case "maps":
		return "How often each spot was cleaned, all plans at one scale"
	case "agreement":
		return "In how many of the runs each spot was cleaned"
	case "together":
		return "Floor missed after several runs"
	case "difference":
		return "Floor cleaned by only one side"
	}
	return name
}

// maxBeside is how many runs are played beside each other.
const maxBeside = 6

// rescale is the view of the same picture at mPerPx metres a pixel: the plan
// stays in the middle.
func rescale(v PlanView, mPerPx float64) PlanView {
	if v.K <= 0 || mPerPx <= 0 {
		return v
	}
	f := 1 / mPerPx / v.K
	cx, cy := float64(v.Width)/2, float64(v.Height)/2
	v.X0, v.Y0, v.K = cx+(v.X0-cx)*f, cy+(v.Y0-cy)*f, v.K*f
	return v
}

func measured(rows []Row) []Row {
	return slices.DeleteFunc(slices.Clone(rows), func(r Row) bool { return !r.Result })
}

// folders lists the folders under dir that hold a file called mark.
func (s *server) folders(dir, mark string) []string {
	var out []string
	list, _ := fs.ReadDir(s.root.FS(), dir)
	for _, d := range list {
		if strings.HasPrefix(d.Name(), ".") {
			continue
		}
		if _, err := s.root.Stat(path.Join(dir, d.Name(), mark)); err == nil {
			out = append(out, d.Name())
		}
	}
	return out
}

// ofSeveral are the pictures of all chosen runs together.
var ofSeveral = map[string]bool{"agreement": true, "difference": true, "plate": true, "others": true, "test_objects": true}

// kindWords says in words what a picture that can be exported shows; one that is
// not known here is called by its name.
func kindWords(kind string) string {
	if w, ok := map[string]string{
		"passes": "How often each spot was cleaned", "path": "Path, coloured by time", "curve": "Share cleaned over time",
		"seconds": "Time spent at each spot", "minutes": "Time by activity", "missed": "Missed patches",
		"edges": "Along walls and obstacles", "events": "Events, on the plan", "test_objects": "Outcomes of the test objects",
		"agreement": "In how many of the runs each spot was cleaned", "difference": "Floor that only one of two runs cleaned",
		"plate": "Two to six runs side by side", "others": "The robot among all others in its layout",
	}[kind]; ok {
		return w
	}
	return kind
}

func (s *server) exportPage(w http.ResponseWriter, r *http.Request) {
	rows, err := s.lab.Rows()
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	s.page(w, "export", "Export", map[string]any{"Rows": measured(rows), "Chosen": r.URL.Query()["run"], "Kinds": s.lab.PictureKinds()})
}
