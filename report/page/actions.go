package page

import (
	"encoding/json"
	"errors"
	"net/http"
	"strings"
	"swathe/report"
	"sync"
)

func (s *server) measure(w http.ResponseWriter, r *http.Request) {
	s.act(w, r, func(id string) error { return s.lab.Measure(id, r.URL.Query().Has("again")) })
}

func (s *server) stop(w http.ResponseWriter, r *http.Request) { s.act(w, r, s.lab.Stop) }

// pause has workers take nothing new, or go on.
func (s *server) pause(w http.ResponseWriter, r *http.Request) {
	do := r.PathValue("do")
	if do != "pause" && do != "resume" {
		refuse(w, Refuse(http.StatusNotFound, "The queue can be paused and resumed."))
		return
	}
	if err := s.lab.Pause(do == "pause"); err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusAccepted, map[string]string{"queue": do})
}

func (s *server) act(w http.ResponseWriter, r *http.Request, do func(id string) error) {
	id, err := runName(r)
	if err == nil {
		err = do(id)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusAccepted, map[string]string{"run": id})
}

func (s *server) name(w http.ResponseWriter, r *http.Request) {
	layout, file := r.PathValue("layout"), r.PathValue("file")
	var n Naming
	err := errors.Join(plainName(layout, "a layout"), recordingName(file), s.inside("recordings/"+layout+"/"+file))
	if err == nil {
		err = ask(w, r, &n)
	}
	if err == nil {
		err = plainName(n.Robot, "a robot")
	}
	if err == nil {
		err = s.lab.Name(layout, file, n)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, n)
}

func (s *server) notes(w http.ResponseWriter, r *http.Request) {
	id, err := runName(r)
	var n Notes
	if err == nil {
		n, err = s.lab.Notes(id)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, n)
}

func (s *server) saveNotes(w http.ResponseWriter, r *http.Request) {
	s.act(w, r, func(id string) error {
		var n Notes
		if err := ask(w, r, &n); err != nil {
			return err
		}
		return s.lab.SaveNotes(id, n)
	})
}

func (s *server) setup(w http.ResponseWriter, _ *http.Request) {
	v, err := s.lab.Setup()
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, v)
}

func (s *server) try(w http.ResponseWriter, r *http.Request) {
	var a struct {
		Doc json.RawMessage `json:"doc"`
	}
	if err := ask(w, r, &a); err != nil {
		refuse(w, err)
		return
	}
	s.tried(w, func() (Tried, error) { return s.lab.Try(r.Context(), a.Doc) })
}

func (s *server) save(w http.ResponseWriter, r *http.Request) {
	var a struct {
		Doc json.RawMessage `json:"doc"`
		SHA string          `json:"sha256"`
	}
	if err := ask(w, r, &a); err != nil {
		refuse(w, err)
		return
	}
	s.tried(w, func() (Tried, error) { return s.lab.Save(r.Context(), a.Doc, a.SHA) })
}

func (s *server) tried(w http.ResponseWriter, do func() (Tried, error)) {
	t, err := do()
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, t)
}

// judge says what would become of a comparison; nothing is made.
func (s *server) judge(w http.ResponseWriter, r *http.Request) {
	var a struct {
		Runs []string `json:"runs"`
	}
	err := ask(w, r, &a)
	if err == nil {
		err = s.beside(a.Runs)
	}
	var j Judged
	if err == nil {
		j, err = s.lab.Judge(a.Runs)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, j)
}

// beside refuses what is not two to six runs.
func (s *server) beside(runs []string) error {
	if len(runs) < 2 || len(runs) > maxBeside {
		return Refuse(http.StatusBadRequest, "Choose two to %d runs; these are %d.", maxBeside, len(runs))
	}
	for _, id := range runs {
		layout, run, _ := strings.Cut(id, "/")
		if err := errors.Join(plainName(layout, "a layout"), plainName(run, "a run")); err != nil {
			return err
		}
	}
	return nil
}

func (s *server) compare(w http.ResponseWriter, r *http.Request) {
	var a struct {
		Name string   `json:"name"`
		Runs []string `json:"runs"`

		Replace bool `json:"replace"`
	}
	err := ask(w, r, &a)
	if err == nil && a.Name != "" {
		err = plainName(a.Name, "a comparison")
	}
	if err == nil {
		err = s.beside(a.Runs)
	}
	var name string
	if err == nil {
		name, err = s.lab.Compare(r.Context(), a.Name, a.Runs, a.Replace)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusCreated, map[string]string{"name": name})
}

// export answers with lines of JSON once there is something to tell: how far each
// part is, and last what was written, or why it ended. It ends with who asked.
func (s *server) export(w http.ResponseWriter, r *http.Request) {
	var a ExportAsk
	err := ask(w, r, &a)
	if err == nil {
		err = plainName(a.Name, "an export")
	}
	if err == nil && len(a.Runs) == 0 {
		err = Refuse(http.StatusBadRequest, "Choose at least one run.")
	}
	begun := false
	line := func(v any) {
		if !begun {
			begun = true
			w.Header().Set("Content-Type", "application/x-ndjson")
			w.WriteHeader(http.StatusCreated)
		}
		raw, _ := report.Marshal(v)
		_, _ = w.Write(append(raw, '\n'))
		_ = http.NewResponseController(w).Flush()
	}
	var out *Exported
	if err == nil {
		var mu sync.Mutex
		out, err = s.lab.Export(r.Context(), a, func(p Progress) { mu.Lock(); defer mu.Unlock(); line(p) })
	}
	switch {
	case err == nil:
		line(out)
	case begun:
		_, text := statusOf(err)
		line(map[string]string{"error": text})
	default:
		refuse(w, err)
	}
}

func (s *server) discard(w http.ResponseWriter, r *http.Request) {
	s.act(w, r, func(id string) error {
		var a struct {
			What string `json:"what"`
		}
		if err := ask(w, r, &a); err != nil {
			return err
		}
		if a.What != WholeRun && a.What != OnlyResult {
			return Refuse(http.StatusBadRequest, "%q is nothing that can be moved into the bin.", a.What)
		}
		return s.lab.Discard(id, a.What)
	})
}

func (s *server) rename(w http.ResponseWriter, r *http.Request) {
	s.act(w, r, func(id string) error {
		var n Naming
		err := ask(w, r, &n)
		if err == nil {
			err = plainName(n.Robot, "a robot")
		}
		if err == nil {
			err = s.lab.Rename(id, n)
		}
		return err
	})
}

func (s *server) binPage(w http.ResponseWriter, _ *http.Request) {
	list, err := s.lab.Bin()
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	total := int64(0)
	for _, b := range list {
		total += b.Bytes
	}
	s.page(w, "bin", "Bin", map[string]any{"List": list, "Total": total})
}

func (s *server) restore(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	err := plainName(id, "something in the bin")
	if err == nil {
		err = s.lab.Restore(id)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, map[string]string{"id": id})
}

func (s *server) emptyBin(w http.ResponseWriter, _ *http.Request) {
	if err := s.lab.EmptyBin(); err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, map[string]bool{"empty": true})
}
