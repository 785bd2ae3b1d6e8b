package page

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"time"

	"swathe/report"
	"swathe/report/words"
)

//go:embed assets templates
var embedded embed.FS

// Options says how the page is served.
type Options struct {
	Token     string // asked of every request; empty: only for a loopback address
	MaxUpload int64  // bytes of one recording
}

// DefaultOptions take recordings of up to 64 GB.
func DefaultOptions() Options { return Options{MaxUpload: 64 << 30} }

// Validate refuses what makes no sense.
func (o Options) Validate() error {
	if o.MaxUpload < 1 {
		return fmt.Errorf("the largest upload is %d bytes; it should be at least 1", o.MaxUpload)
	}
	return nil
}

type server struct {
	lab   Lab
	dir   string
	root  *os.Root
	opt   Options
	pages map[string]*template.Template

	senders senders
}

// New returns the handler of the page of the lab in dir. Close frees what it
// holds. The lab must be this program's alone: what an earlier one left of
// recordings that had not arrived whole is removed.
func New(dir string, lab Lab, opt Options) (http.Handler, io.Closer, error) {
	if err := opt.Validate(); err != nil {
		return nil, nil, err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("the lab's folder can't be opened: %w", err)
	}
	s := &server{lab: lab, dir: dir, root: root, opt: opt, pages: map[string]*template.Template{}}
	for _, name := range []string{"home", "setup", "run", "side", "export", "plan", "bench", "robots", "bin", "help", "refused"} {
		t, err := template.New("frame.html").Funcs(funcs).ParseFS(embedded, "templates/frame.html", "templates/parts.html", "templates/"+name+".html")
		if err != nil {
			root.Close()
			return nil, nil, err
		}
		s.pages[name] = t
	}
	s.tidyUploads()
	return newGuard(s.routes(), opt.Token), root, nil
}

var funcs = template.FuncMap{
	"share": func(v float64) string { return words.Share(v, report.NaN) },
	"bytes": byteWords,
	"kind":  kindWords,
	"ofOne": func(kind string) bool { return !ofSeveral[kind] },
	"json": func(v any) (template.JS, error) {
		raw, err := report.Marshal(v) // escapes <, > and & of its own accord
		return template.JS(raw), err
	},
}

// byteWords writes a size of files.
func byteWords(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.2f GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%d kB", (n+999)/1000)
}

func (s *server) routes() http.Handler {
	m := http.NewServeMux()
	assets, _ := fs.Sub(embedded, "assets")
	files := http.FileServerFS(assets)
	m.Handle("GET /assets/", http.StripPrefix("/assets/", files))
	m.HandleFunc("GET /{$}", s.home)
	m.HandleFunc("GET /rows", s.rows)
	m.HandleFunc("GET /live", s.live)
	m.HandleFunc("GET /setup", s.setupPage)
	m.HandleFunc("GET /runs/{layout}/{run}", s.runPage)
	m.HandleFunc("GET /side", s.sidePage)
	m.HandleFunc("GET /export", s.exportPage)
	m.HandleFunc("GET /plan", s.planPage)
	m.HandleFunc("POST /plan", s.newPlan)
	m.HandleFunc("PUT /days/{day}", s.saveDay)
	m.HandleFunc("PUT /runs/{layout}/{run}/conditions", s.saveConditions)
	m.HandleFunc("GET /robots", s.robotsPage)
	m.HandleFunc("GET /dossiers/{robot}", s.dossierPage)
	m.HandleFunc("GET /bench", s.benchPage)
	m.HandleFunc("POST /bench", s.addReading)
	m.HandleFunc("GET /help", s.helpPage)
	m.HandleFunc("GET /help/{topic}", s.helpPage)

	m.HandleFunc("GET /recordings/{layout}/{name}", s.recording)
	m.HandleFunc("PUT /recordings/{layout}/{name}", s.receive)
	m.HandleFunc("GET /recordings", s.recordingList)
	m.HandleFunc("GET /uploads", s.partList)
	m.HandleFunc("GET /uploads/{layout}/{name}", s.partState)
	m.HandleFunc("PATCH /uploads/{layout}/{name}", s.addToPart)
	m.HandleFunc("DELETE /uploads/{layout}/{name}", s.dropPart)
	m.HandleFunc("GET /frame", s.frame)
	m.HandleFunc("GET /corners", s.corners)
	m.HandleFunc("GET /pictures/{layout}/{run}/{kind}", s.picture)
	m.HandleFunc("GET /joint/{kind}", s.joint)
	m.HandleFunc("GET /comparisons/{name}/{file}", s.made("comparisons"))
	m.HandleFunc("GET /exports/{name}/{file}", s.made("exports"))
	m.HandleFunc("GET /zip/exports/{name}", s.zipped("exports"))
	m.HandleFunc("GET /zip/comparisons/{name}", s.zipped("comparisons"))
	m.HandleFunc("GET /results/{layout}/{run}/{file}", s.resultFile)
	m.HandleFunc("GET /zip/results/{layout}/{run}", s.zippedResult)

	m.HandleFunc("POST /runs/{layout}/{run}/measure", s.measure)
	m.HandleFunc("POST /runs/{layout}/{run}/stop", s.stop)
	m.HandleFunc("POST /queue/{do}", s.pause)
	m.HandleFunc("GET /runs/{layout}/{run}/notes", s.notes)
	m.HandleFunc("PUT /runs/{layout}/{run}/notes", s.saveNotes)
	m.HandleFunc("POST /name/{layout}/{file}", s.name)
	m.HandleFunc("POST /runs/{layout}/{run}/discard", s.discard)
	m.HandleFunc("POST /runs/{layout}/{run}/rename", s.rename)
	m.HandleFunc("GET /bin", s.binPage)
	m.HandleFunc("POST /bin/{id}/restore", s.restore)
	m.HandleFunc("DELETE /bin", s.emptyBin)
	m.HandleFunc("GET /setup/doc", s.setup)
	m.HandleFunc("POST /setup/try", s.try)
	m.HandleFunc("PUT /setup/doc", s.save)
	m.HandleFunc("POST /side", s.compare)
	m.HandleFunc("POST /side/try", s.judge)
	m.HandleFunc("POST /export", s.export)
	return m
}

// page writes one of the templates; data is what it shows.
func (s *server) page(w http.ResponseWriter, name, title string, data any) {
	s.write(w, http.StatusOK, name, title, data)
}

func (s *server) write(w http.ResponseWriter, status int, name, title string, data any) {
	var b bytes.Buffer
	err := s.pages[name].Execute(&b, map[string]any{"Title": title, "Lab": filepath.Base(s.dir), "Page": name, "Data": data})
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = b.WriteTo(w)
}

// refusedPage tells a reader why a page cannot be shown.
func (s *server) refusedPage(w http.ResponseWriter, err error) {
	status, text := statusOf(err)
	s.write(w, status, "refused", "This can't be shown", text)
}

func statusOf(err error) (int, string) {
	var e *Error
	if errors.As(err, &e) {
		return e.Status, e.Message
	}
	return http.StatusInternalServerError, err.Error()
}

// refuse answers a script's request with a reason.
func refuse(w http.ResponseWriter, err error) {
	status, text := statusOf(err)
	answer := map[string]string{"error": text}
	var e *Error
	if errors.As(err, &e) && e.Taken != "" {
		answer["taken"] = e.Taken
	}
	reply(w, status, answer)
}

func reply(w http.ResponseWriter, status int, v any) {
	raw, err := report.Marshal(v)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(raw)
}

// maxAsk bounds what a script may send besides recordings, bytes.
const maxAsk = 4 << 20

// ask reads a script's request.
func ask(w http.ResponseWriter, r *http.Request, into any) error {
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxAsk))
	d.DisallowUnknownFields()
	err := d.Decode(into)
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return Refuse(http.StatusRequestEntityTooLarge, "The request is larger than %d MB.", maxAsk>>20)
	}
	if err != nil {
		return Refuse(http.StatusBadRequest, "The request can't be read: %v.", err)
	}
	return nil
}

// live streams what is going on, one event whenever it changes.
func (s *server) live(w http.ResponseWriter, r *http.Request) {
	c := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	var last []byte
	quiet := time.Now()
	for {
		raw, err := report.Marshal(s.lab.Live())
		if err != nil {
			return
		}
		// A comment now and then finds out whether anybody still listens.
		if !bytes.Equal(raw, last) {
			last, quiet = raw, time.Now()
			_, err = fmt.Fprintf(w, "data: %s\n\n", raw)
		} else if time.Since(quiet) > 10*time.Second {
			quiet = time.Now()
			_, err = io.WriteString(w, ": still here\n\n")
		}
		if err != nil || c.Flush() != nil {
			return
		}
		select {
		case <-r.Context().Done():
			return
		case <-time.After(300 * time.Millisecond):
		}
	}
}
