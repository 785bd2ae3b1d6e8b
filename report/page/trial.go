package page

import (
	"net/http"
	"slices"
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
}

// PlanState is a plan with what became of it.
type PlanState struct {
	Missing   string // how to make a plan, where there is none
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
	Values          []BenchValue
}

// BenchQuantity is what can be entered.
type BenchQuantity struct{ Name, Words, Unit string }

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

func (s *server) planPage(w http.ResponseWriter, _ *http.Request) {
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
