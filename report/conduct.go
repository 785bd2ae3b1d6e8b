package report

import (
	"sort"

	"swathe/coverage/conduct"
	"swathe/geom"
)

// Rows is how the run drove.
type Rows struct {
	Pattern   string            `json:"pattern"`
	RowsM     float64           `json:"rows_m"`
	StraightM float64           `json:"straight_m"`
	Spread    float64           `json:"direction_spread"`
	Blocks    []RowBlock        `json:"blocks"`
	Changes   []RowChange       `json:"changes"`
	Lanes     []RowLane         `json:"lanes"`
	Erratic   []conduct.Erratic `json:"erratic"`
}

// RowBlock is a group of neighbouring parallel lanes.
type RowBlock struct {
	StartS       float64 `json:"start_s"`
	EndS         float64 `json:"end_s"`
	DirectionDeg float64 `json:"direction_deg"`
	Lanes        int     `json:"lanes"`
	LengthM      float64 `json:"length_m"`
	SpacingM     float64 `json:"spacing_m"`
	SpacingSDM   float64 `json:"spacing_sd_m"`
	OverlapM     float64 `json:"overlap_m"`
	RMSM         float64 `json:"straightness_rms_m"`
	NewShare     float64 `json:"new_share"`
	SecondLayer  bool    `json:"second_layer"`
}

// RowChange is one from a direction of rows to another.
type RowChange struct {
	TimeS   float64 `json:"time_s"`
	FromDeg float64 `json:"from_deg"`
	ToDeg   float64 `json:"to_deg"`
}

// RowLane is a straight stretch of the path; Block is null if it is no part of
// rows.
type RowLane struct {
	StartS       float64 `json:"start_s"`
	EndS         float64 `json:"end_s"`
	FromX        float64 `json:"from_x_m"`
	FromY        float64 `json:"from_y_m"`
	ToX          float64 `json:"to_x_m"`
	ToY          float64 `json:"to_y_m"`
	DirectionDeg float64 `json:"direction_deg"`
	RMSM         float64 `json:"straightness_rms_m"`
	NewShare     float64 `json:"new_share"`
	Block        *int    `json:"block"`
}

// addConduct adds what the robot did.
func (r *Run) addConduct(c *conduct.Result) {
	if c == nil {
		return
	}
	es := append([]Event{}, r.Events...)
	for _, e := range c.Events {
		es = append(es, Event{Kind: e.Kind, StartS: e.Start, EndS: e.End, X: e.X, Y: e.Y,
			Size: e.Size, Unit: e.Unit, More: e.Figures, Words: e.Words})
	}
	sort.SliceStable(es, func(i, j int) bool { return es[i].StartS < es[j].StartS })
	r.Events = es
	r.Ledger, r.Rows, r.Docking, r.Active = &c.Ledger, rows(c), c.Docking, &c.Active
}

// addContacts adds an event for each test object that the robot met, at its first
// contact: a title, a film or a table that speaks of events must not leave them out.
func (r *Run) addContacts() {
	for _, o := range r.TestObjects {
		if o.Outcome == nil || len(o.Contacts) == 0 || !Measured(o.FirstContactS) {
			continue
		}
		first, last := o.Contacts[0], o.Contacts[len(o.Contacts)-1]
		r.Events = append(r.Events, Event{Kind: conduct.Contact, StartS: o.FirstContactS, EndS: last.End, X: first.X, Y: first.Y,
			Size: first.SpeedMPS, Unit: "m/s", More: map[string]float64{"moved_m": o.MovedM}, Words: map[string]string{"with": o.Name, "outcome": *o.Outcome}})
	}
	sort.SliceStable(r.Events, func(i, j int) bool { return r.Events[i].StartS < r.Events[j].StartS })
}

func rows(c *conduct.Result) *Rows {
	s := c.Rows
	out := &Rows{Pattern: s.Pattern, RowsM: s.RowsM, StraightM: s.StraightM, Spread: s.Spread,
		Blocks: []RowBlock{}, Changes: []RowChange{}, Lanes: []RowLane{}, Erratic: append([]conduct.Erratic{}, c.Erratic...)}
	deg := func(rad float64) float64 { return geom.Degrees(rad) }
	for _, b := range s.Blocks {
		out.Blocks = append(out.Blocks, RowBlock{b.Start, b.End, deg(b.Direction), b.Lanes, b.LengthM,
			b.SpacingM, b.SpacingSD, b.OverlapM, b.RMSM, b.NewShare, b.SecondLayer})
	}
	for _, k := range s.Changes {
		out.Changes = append(out.Changes, RowChange{k.T, deg(k.From), deg(k.To)})
	}
	for _, l := range s.Lanes {
		o := RowLane{l.Start, l.End, l.From.X, l.From.Y, l.To.X, l.To.Y, deg(l.Direction), l.RMSM, l.NewShare, nil}
		if l.Block >= 0 {
			k := l.Block
			o.Block = &k
		}
		out.Lanes = append(out.Lanes, o)
	}
	return out
}

// TestObjects returns what became of test objects as run.json has it.
func TestObjects(ps []conduct.ObjectResult) []TestObject {
	out := make([]TestObject, 0, len(ps))
	for _, p := range ps {
		o := TestObject{Name: p.Name, Reason: p.Reason, ClearanceM: p.ClearanceM, ClearanceLo: p.ClearanceLo, ClearanceHi: p.ClearanceHi, MovedM: p.MovedM, FirstContactS: p.FirstS,
			ReactionM: p.ReactionM, Reaction: p.Reaction, FromX: p.From.X, FromY: p.From.Y, ToX: p.To.X, ToY: p.To.Y,
			Contacts: p.Contacts, UncleanedM2: p.UncleanedM2, RoundM2: p.RoundM2}
		if p.Outcome != "" {
			outcome := p.Outcome
			o.Outcome = &outcome
			o.Contacts = append([]conduct.ObjectContact{}, o.Contacts...)
			o.ByHandS = [][2]float64{}
		}
		for _, h := range p.ByHand {
			o.ByHandS = append(o.ByHandS, [2]float64{h.From, h.To})
		}
		out = append(out, o)
	}
	return out
}
