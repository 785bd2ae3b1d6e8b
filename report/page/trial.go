package page

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"slices"
	"time"

	"swathe/report/sheet"
)

// Trial is what the page asks of a lab that plans its runs and keeps a bench. A
// Lab may have it.
type Trial interface {
	// Plan says what is due, done and failed.
	Plan() (*PlanState, error)
	// Bench lists what was weighed, metered and timed, and what can be.
	Bench() (*BenchState, error)
	// AddReading enters one; Replace takes it although another stands there.
	AddReading(BenchReading) (said string, err error)

	// NewPlan writes a plan for the lab's robots and layouts where there is none.
	NewPlan(NewPlan) error
	// Conditions are what can be stated of a run, each with what its notes or its
	// day state.
	Conditions(run string) ([]Condition, error)
	// SaveConditions writes some of them into the run's notes; empty: takes it out.
	SaveConditions(run string, c map[string]string) error
	// Day is what holds for all runs of a day, and SaveDay writes some of it.
	Day(day string) ([]Condition, error)
	SaveDay(day string, c map[string]string) error
	// Robots sets every robot against all others.
	Robots() (*RobotsState, error)
	// Dossier writes the page on a robot.
	Dossier(ctx context.Context, robot string, w io.Writer) error
}

// NewPlan is what a plan begins with.
type NewPlan struct {
	Trials int    `json:"trials"`
	Phases string `json:"phases"` // "mapping, mapped" or "single"
}

// Condition is something that the notes of a run may state.
type Condition struct {
	Name, Heading, Unit, Value string
	Choices                    []string // nil: any value
}

// RobotsState is every robot beside all others.
type RobotsState struct {
	Robots []string // that have a result: each has a dossier
	Sheet  sheet.Sheet
}

// PlanState is a plan with what became of it.
type PlanState struct {
	Missing   bool   // there is no plan yet
	Today     string // the day that is shown: today, or the one asked for
	Day       []Condition
	Stop      string // when the trials end
	Counts    []PlanCount
	Entries   []PlanEntry
	Unplanned []string // recordings and results that the plan does not name
}

// PlanCount is how many entries are in a state.
type PlanCount struct {
	State string
	Count int
}

// PlanEntry is one run of a plan.
type PlanEntry struct {
	Number                    int
	Run, Layout, Robot, Phase string
	Trial                     int
	State                     string
	Why                       []string
	File                      string   // the name that its recording should have
	Answers                   []string // recordings of the layout that have no name yet: one of them may be it
}

// BenchState is the bench of a lab.
type BenchState struct {
	Robots, Layouts []string
	Quantities      []BenchQuantity
	Groups          []BenchGroup // by robot
}

// BenchQuantity is what can be entered.
type BenchQuantity struct{ Name, Words, Unit string }

// BenchGroup is what was read of a robot.
type BenchGroup struct {
	Robot  string
	Open   bool // shown at once: the only one
	Values []BenchValue
}

// BenchValue is a reading, or a figure that follows from readings.
type BenchValue struct{ Of, Words, Value string }

// BenchReading is one reading as typed.
type BenchReading struct {
	Robot       string `json:"robot"`
	Quantity    string `json:"quantity"`
	Value       string `json:"value"`
	Unit        string `json:"unit"`
	Uncertainty string `json:"uncertainty"`
	Trial       int    `json:"trial"`
	Pass        int    `json:"pass"`
	Surface     string `json:"surface"`
	Layout      string `json:"layout"`
	Phase       string `json:"phase"`
	Sample      string `json:"sample"`
	Firmware    string `json:"firmware"`
	Date        string `json:"date"`
	Operator    string `json:"operator"`
	Note        string `json:"note"`
	Replace     bool   `json:"replace"`
}

// trial is the lab's, or a refusal.
func (s *server) trial() (Trial, error) {
	if t, ok := s.lab.(Trial); ok {
		return t, nil
	}
	return nil, Refuse(http.StatusNotFound, "This lab keeps neither plan nor bench.")
}

func (s *server) planPage(w http.ResponseWriter, r *http.Request) {
	t, err := s.trial()
	var p *PlanState
	if err == nil {
		p, err = t.Plan()
	}
	var rows []Row
	if err == nil {
		rows, err = s.lab.Rows()
	}
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	// A recording without a name may be any run that is due in its layout.
	for i, e := range p.Entries {
		for _, r := range rows {
			if e.State == "due" && r.State == Unnamed && r.Layout == e.Layout && !slices.Contains(p.Entries[i].Answers, r.File) {
				p.Entries[i].Answers = append(p.Entries[i].Answers, r.File)
			}
		}
	}
	p.Today = r.URL.Query().Get("day")
	if p.Today == "" {
		p.Today = time.Now().Format(time.DateOnly)
	}
	if p.Day, err = t.Day(p.Today); err != nil {
		s.refusedPage(w, err)
		return
	}
	s.page(w, "plan", "Plan", p)
}

func (s *server) benchPage(w http.ResponseWriter, _ *http.Request) {
	t, err := s.trial()
	var b *BenchState
	if err == nil {
		b, err = t.Bench()
	}
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	s.page(w, "bench", "Bench", b)
}

func (s *server) addReading(w http.ResponseWriter, r *http.Request) {
	var a BenchReading
	t, err := s.trial()
	if err == nil {
		err = ask(w, r, &a)
	}
	var said string
	if err == nil {
		said, err = t.AddReading(a)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusCreated, map[string]string{"said": said})
}

func (s *server) newPlan(w http.ResponseWriter, r *http.Request) {
	var a NewPlan
	t, err := s.trial()
	if err == nil {
		err = ask(w, r, &a)
	}
	if err == nil {
		err = t.NewPlan(a)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusCreated, map[string]string{"said": "The plan is written."})
}

func (s *server) saveConditions(w http.ResponseWriter, r *http.Request) {
	s.act(w, r, func(id string) error {
		c := map[string]string{}
		t, err := s.trial()
		if err == nil {
			err = ask(w, r, &c)
		}
		if err == nil {
			err = t.SaveConditions(id, c)
		}
		return err
	})
}

func (s *server) saveDay(w http.ResponseWriter, r *http.Request) {
	c := map[string]string{}
	t, err := s.trial()
	if err == nil {
		err = ask(w, r, &c)
	}
	if err == nil {
		err = t.SaveDay(r.PathValue("day"), c)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	reply(w, http.StatusOK, map[string]string{"day": r.PathValue("day")})
}

func (s *server) robotsPage(w http.ResponseWriter, _ *http.Request) {
	t, err := s.trial()
	var v *RobotsState
	if err == nil {
		v, err = t.Robots()
	}
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	s.page(w, "robots", "Robots", v)
}

// dossierPage is made anew each time, so that it never shows figures of yesterday.
func (s *server) dossierPage(w http.ResponseWriter, r *http.Request) {
	var b bytes.Buffer
	t, err := s.trial()
	if err == nil {
		err = plainName(r.PathValue("robot"), "a robot")
	}
	if err == nil {
		err = t.Dossier(r.Context(), r.PathValue("robot"), &b)
	}
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	// It is made here and now: unlike a file that lies in the lab it needs no sandbox.
	w.Header().Set("Content-Security-Policy", "default-src 'none'; img-src data:; style-src 'unsafe-inline'; frame-ancestors 'none'")
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = b.WriteTo(w)
}
