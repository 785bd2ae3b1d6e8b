package report

import (
	"sort"

	"swathe/coverage/conduct"
	"swathe/geom"
)

// Ledger is where the run's time, distance and swept area went: the entries sum
// to the run.
type Ledger struct {
	Entries   []LedgerEntry `json:"entries"`
	LeastS    Float         `json:"least_s"` // in which the same robot could have covered the same floor
	SpeedMPS  Float         `json:"speed_mps"`
	OverLeast Float         `json:"over_least"`
}

// LedgerEntry is one line of it.
type LedgerEntry struct {
	Name       string `json:"name"`
	TimeS      Float  `json:"time_s"`
	DistanceM  Float  `json:"distance_m"`
	NewM2      Float  `json:"new_m2"`
	AgainM2    Float  `json:"again_m2"`
	Redundancy Float  `json:"redundancy"`
}

// Rows is how the run drove.
type Rows struct {
	Pattern   string      `json:"pattern"`
	RowsM     Float       `json:"rows_m"`
	StraightM Float       `json:"straight_m"`
	Spread    Float       `json:"direction_spread"`
	Blocks    []RowBlock  `json:"blocks"`
	Changes   []RowChange `json:"changes"`
	Lanes     []RowLane   `json:"lanes"`
	Erratic   []Erratic   `json:"erratic"`
}

// RowBlock is a group of neighbouring parallel lanes.
type RowBlock struct {
	StartS       Float `json:"start_s"`
	EndS         Float `json:"end_s"`
	DirectionDeg Float `json:"direction_deg"`
	Lanes        int   `json:"lanes"`
	LengthM      Float `json:"length_m"`
	SpacingM     Float `json:"spacing_m"`
	SpacingSDM   Float `json:"spacing_sd_m"`
	OverlapM     Float `json:"overlap_m"`
	RMSM         Float `json:"straightness_rms_m"`
	NewShare     Float `json:"new_share"`
	SecondLayer  bool  `json:"second_layer"`
}

// RowChange is one from a direction of rows to another.
type RowChange struct {
	TimeS   Float `json:"time_s"`
	FromDeg Float `json:"from_deg"`
	ToDeg   Float `json:"to_deg"`
}

// RowLane is a straight stretch of the path; Block is null if it is no part of
// rows.
type RowLane struct {
	StartS       Float `json:"start_s"`
	EndS         Float `json:"end_s"`
	FromX        Float `json:"from_x_m"`
	FromY        Float `json:"from_y_m"`
	ToX          Float `json:"to_x_m"`
	ToY          Float `json:"to_y_m"`
	DirectionDeg Float `json:"direction_deg"`
	RMSM         Float `json:"straightness_rms_m"`
	NewShare     Float `json:"new_share"`
	Block        *int  `json:"block"`
}

// Erratic is the turning of a stretch of the run.
type Erratic struct {
	StartS     Float `json:"start_s"`
	EndS       Float `json:"end_s"`
	DistanceM  Float `json:"distance_m"`
	TurnDeg    Float `json:"turn_deg"`
	TurnDegPer Float `json:"turn_deg_per_m"`
}

// Docking is what the dock cost.
type Docking struct {
	Trips             int   `json:"trips"`
	DockedS           Float `json:"docked_s"`
	ToDockS           Float `json:"to_dock_s"`
	ToDockM           Float `json:"to_dock_m"`
	BackS             Float `json:"back_s"`
	BackM             Float `json:"back_m"`
	WithoutS          Float `json:"without_s"`
	WithoutM          Float `json:"without_m"`
	WithoutRatePerMin Float `json:"without_rate_m2_per_min"`
	WithoutTimeTo     Times `json:"without_time_to_reachable_s"`
}

// Active sets the time at work apart from all of it.
type Active struct {
	TotalS  Float `json:"total_s"`
	ActiveS Float `json:"active_s"`
	PausedS Float `json:"paused_s"`
}

// addConduct adds what the robot did.
func (r *Run) addConduct(c *conduct.Result) {
	if c == nil {
		return
	}
	es := append([]Event{}, r.Events...)
	for _, e := range c.Events {
		es = append(es, Event{Kind: e.Kind, StartS: Float(e.Start), EndS: Float(e.End), X: Float(e.X), Y: Float(e.Y),
			Size: Float(e.Size), Unit: e.Unit, More: e.Figures, Words: e.Words})
	}
	sort.SliceStable(es, func(i, j int) bool { return es[i].StartS < es[j].StartS })
	r.Events = es
	l := &Ledger{LeastS: Float(c.Ledger.LeastS), SpeedMPS: Float(c.Ledger.SpeedMPS), OverLeast: Float(c.Ledger.OverLeast)}
	for _, e := range c.Ledger.Entries {
		l.Entries = append(l.Entries, LedgerEntry{e.Name, Float(e.Seconds), Float(e.DistanceM), Float(e.NewM2), Float(e.AgainM2), Float(e.Redundancy)})
	}
	r.Ledger = l
	r.Rows = rows(c)
	if d := c.Docking; d != nil {
		r.Docking = &Docking{d.Trips, Float(d.DockedS), Float(d.ToDockS), Float(d.ToDockM), Float(d.BackS), Float(d.BackM), Float(d.WithoutS), Float(d.WithoutM), Float(d.RateM2PerMin), times(d.TimeToReachable)}
	}
	r.Active = &Active{Float(c.Active.TotalS), Float(c.Active.ActiveS), Float(c.Active.PausedS)}
}

// addContacts adds an event for each test object that the robot met, at its first
// contact: a title, a film or a table that speaks of events must not leave them out.
func (r *Run) addContacts() {
	for _, o := range r.TestObjects {
		if o.Outcome == nil || len(o.Contacts) == 0 || !o.FirstContactS.Known() {
			continue
		}
		first, last := o.Contacts[0], o.Contacts[len(o.Contacts)-1]
		r.Events = append(r.Events, Event{Kind: conduct.Contact, StartS: o.FirstContactS, EndS: last.EndS, X: first.X, Y: first.Y,
			Size: first.SpeedMPS, Unit: "m/s", More: map[string]float64{"moved_m": float64(o.MovedM)}, Words: map[string]string{"with": o.Name, "outcome": *o.Outcome}})
	}
	sort.SliceStable(r.Events, func(i, j int) bool { return r.Events[i].StartS < r.Events[j].StartS })
}

func rows(c *conduct.Result) *Rows {
	s := c.Rows
	out := &Rows{Pattern: s.Pattern, RowsM: Float(s.RowsM), StraightM: Float(s.StraightM), Spread: Float(s.Spread),
		Blocks: []RowBlock{}, Changes: []RowChange{}, Lanes: []RowLane{}, Erratic: []Erratic{}}
	deg := func(rad float64) Float { return Float(geom.Degrees(rad)) }
	for _, b := range s.Blocks {
		out.Blocks = append(out.Blocks, RowBlock{Float(b.Start), Float(b.End), deg(b.Direction), b.Lanes, Float(b.LengthM),
			Float(b.SpacingM), Float(b.SpacingSD), Float(b.OverlapM), Float(b.RMSM), Float(b.NewShare), b.SecondLayer})
	}
	for _, k := range s.Changes {
		out.Changes = append(out.Changes, RowChange{Float(k.T), deg(k.From), deg(k.To)})
	}
	for _, l := range s.Lanes {
		o := RowLane{Float(l.Start), Float(l.End), Float(l.From.X), Float(l.From.Y), Float(l.To.X), Float(l.To.Y), deg(l.Direction), Float(l.RMSM), Float(l.NewShare), nil}
		if l.Block >= 0 {
			k := l.Block
			o.Block = &k
		}
		out.Lanes = append(out.Lanes, o)
	}
	for _, e := range c.Erratic {
		out.Erratic = append(out.Erratic, Erratic{Float(e.Start), Float(e.End), Float(e.DistanceM), Float(e.TurnDeg), Float(e.TurnPerMetre)})
	}
	return out
}

// TestObjects returns what became of test objects as run.json has it.
func TestObjects(ps []conduct.ObjectResult) []TestObject {
	out := make([]TestObject, 0, len(ps))
	for _, p := range ps {
		o := TestObject{Name: p.Name, Reason: p.Reason, ClearanceM: Float(p.ClearanceM), ClearanceLo: Float(p.ClearanceLo), ClearanceHi: Float(p.ClearanceHi), MovedM: Float(p.MovedM), FirstContactS: Float(p.FirstS),
			ReactionM: Float(p.ReactionM), Reaction: p.Reaction, FromX: Float(p.From.X), FromY: Float(p.From.Y), ToX: Float(p.To.X), ToY: Float(p.To.Y),
			UncleanedM2: Float(p.UncleanedM2), RoundM2: Float(p.RoundM2)}
		if p.Outcome != "" {
			outcome := p.Outcome
			o.Outcome = &outcome
			o.Contacts = []ObjectContact{}
			o.ByHandS = [][2]Float{}
		}
		for _, c := range p.Contacts {
			o.Contacts = append(o.Contacts, ObjectContact{Float(c.Start), Float(c.End), Float(c.X), Float(c.Y), Float(c.SpeedMPS)})
		}
		for _, h := range p.ByHand {
			o.ByHandS = append(o.ByHandS, [2]Float{Float(h.From), Float(h.To)})
		}
		out = append(out, o)
	}
	return out
}
