package conduct

import (
	"math"

	"swathe/geom"
)

// Entries of a Ledger, in its order.
const (
	EntryNew       = "new floor"
	EntryLane      = "lane overlap"
	EntryLayer     = "second layer"
	EntryEdge      = "along edges"
	EntryAround    = "around obstacles"
	EntryTransit   = "transit over cleaned floor"
	EntryTurning   = "turning"
	EntryStanding  = "standing"
	EntryReversing = "reversing"
	EntryStuck     = "stuck"
	EntryReturning = "returning to dock"
	EntryDocked    = "docked"
	EntryLeaving   = "leaving dock"
	EntryHidden    = "hidden or lost"
	EntryCarried   = "carried"
)

// EntryNames lists the entries in the order of a Ledger.
var EntryNames = []string{EntryNew, EntryLane, EntryLayer, EntryEdge, EntryAround, EntryTransit, EntryTurning, EntryStanding, EntryReversing, EntryStuck, EntryReturning, EntryDocked, EntryLeaving, EntryHidden, EntryCarried}

// Entry is one line of a Ledger.
type Entry struct {
	Name       string  `json:"name"`
	TimeS      float64 `json:"time_s"`
	DistanceM  float64 `json:"distance_m"`
	NewM2      float64 `json:"new_m2"`     // floor swept for the first time
	AgainM2    float64 `json:"again_m2"`   // floor swept again
	Redundancy float64 `json:"redundancy"` // AgainM2 over all that the run covered; NaN if it covered nothing
}

// Ledger is where a run's time, distance and swept area went. Law: over the
// entries, TimeS sums to the run's duration, DistanceM to its distance, NewM2
// to the covered area, AgainM2 to swept less covered, Redundancy to the run's.
type Ledger struct {
	Entries   []Entry `json:"entries"`    // all of EntryNames, in order, those of no time too
	LeastS    float64 `json:"least_s"`    // in which this robot could have covered the same floor: covered / (width x speed); NaN if it never drove
	SpeedMPS  float64 `json:"speed_mps"`  // its own speed, the median while driving straight; NaN if it never did
	OverLeast float64 `json:"over_least"` // duration / LeastS

	pieces []piece
}

// piece is a stretch of time with the entries that share it.
type piece struct {
	from, to float64
	entry    int     // of EntryNames
	newShare float64 // of the time that belongs to EntryNew instead
}

var entryIndex = func() map[string]int {
	m := map[string]int{}
	for i, n := range EntryNames {
		m[n] = i
	}
	return m
}()

// ledger gives every interval of the run to its entry.
func (r *run) ledger(es []Event, rows Rows, stays []stay, dock *Docking) Ledger {
	l := Ledger{Entries: make([]Entry, len(EntryNames)), SpeedMPS: r.ownSpeed(rows)}
	// Half of its own speed parts a turn from driving on a curve: at a sudden
	// corner the clock's window shows just that.
	slow := r.opt.PivotSpeed
	if l.SpeedMPS/2 > slow {
		slow = l.SpeedMPS / 2
	}
	for i, n := range EntryNames {
		l.Entries[i].Name = n
	}
	run := r.trace.Run
	var stuck, to, back []geom.Span
	for _, e := range es {
		if e.Kind == Stuck {
			stuck = append(stuck, geom.Span{From: e.Start, To: e.End})
		}
	}
	if dock != nil {
		to, back = dock.to, dock.back
	}
	hidden := r.hiddenSpans(es)
	lane := 0
	for i := 0; i+1 < len(r.ss); i++ {
		from, end := math.Max(r.ss[i].T, run.From), math.Min(r.ss[i+1].T, run.To)
		if !(end > from) {
			continue
		}
		mid := (from + end) / 2
		for lane+1 < len(rows.Lanes) && rows.Lanes[lane].End < mid {
			lane++
		}
		var in *Lane
		if lane < len(rows.Lanes) && rows.Lanes[lane].Block >= 0 && mid >= rows.Lanes[lane].Start && mid <= rows.Lanes[lane].End {
			in = &rows.Lanes[lane]
		}
		s := r.cov.Steps[i]
		name := ""
		switch {
		case r.ss[i].State == geom.Carried || r.ss[i+1].State == geom.Carried:
			name = EntryCarried
		case r.ss[i+1].T-r.ss[i].T > breakTime && inStay(stays, mid):
			name = EntryDocked // a break between recordings, spent in the dock
		case !s.Known || holds(hidden, mid):
			name = EntryHidden
		case inStay(stays, mid):
			name = EntryDocked
		case holds(stuck, mid):
			name = EntryStuck
		case holds(to, mid):
			name = EntryReturning
		case holds(back, mid):
			name = EntryLeaving
		}
		p := piece{from: from, to: end}
		if name == "" {
			name, p.newShare = r.drives(r.tickAt(mid), slow, in, s.NewM2, s.PassM2)
		}
		p.entry = entryIndex[name]
		l.add(p, s.DistanceM, s.NewM2, s.PassM2-s.NewM2)
	}
	covered := 0.0
	for _, e := range l.Entries {
		covered += e.NewM2
	}
	for i := range l.Entries {
		l.Entries[i].Redundancy = math.NaN()
		if covered > 0 {
			l.Entries[i].Redundancy = l.Entries[i].AgainM2 / covered
		}
	}
	l.LeastS = covered / (r.robot.Tools[0].Width * l.SpeedMPS)
	l.OverLeast = (run.To - run.From) / l.LeastS
	if !(l.LeastS > 0) {
		l.LeastS, l.OverLeast = math.NaN(), math.NaN()
	}
	return l
}

// drives names what a robot that is at work and in sight does: the entry, and
// the share of the time that counts as new floor instead.
func (r *run) drives(i int, slow float64, in *Lane, newM2, passM2 float64) (string, float64) {
	k := r.ticks[i]
	if !k.known {
		return EntryHidden, 0
	}
	if k.ahead < 0 && k.v >= r.opt.PivotSpeed/2 {
		return EntryReversing, 0
	}
	if r.far[i] <= r.opt.EdgeDistance && k.v >= r.opt.StandSpeed && !r.pivots(k) {
		if name, ok := r.along(i); ok {
			return name, 0
		}
	}
	if k.v < slow && math.Abs(k.turning) >= r.opt.StandTurn {
		return EntryTurning, 0
	}
	if k.v < r.opt.StandSpeed {
		return EntryStanding, 0
	}
	share := 0.0
	if passM2 > 0 {
		share = newM2 / passM2
	}
	switch {
	case in == nil:
		return EntryTransit, share
	case in.NewShare < r.opt.SecondLayerShare:
		return EntryLayer, share
	}
	return EntryLane, share
}

// along tells whether the robot drives along a wall or round an obstacle: close
// to it, and within EdgeAngle of its direction.
func (r *run) along(i int) (string, bool) {
	if !(r.far[i] <= r.opt.EdgeDistance) {
		return "", false
	}
	s, c := math.Sincos(r.ticks[i].course)
	n := r.near[i]
	// About a corner the direction is that across the way to it.
	d := n.Point.Sub(r.ticks[i].at())
	if l := d.Norm(); l > 0 && math.Abs(d.X*s-d.Y*c)/l < math.Cos(r.opt.EdgeAngle) {
		return "", false
	}
	if n.Wall {
		return EntryEdge, true
	}
	return EntryAround, true
}

// add puts a stretch of time into its entries.
func (l *Ledger) add(p piece, dist, fresh, again float64) {
	e := &l.Entries[p.entry]
	n := &l.Entries[entryIndex[EntryNew]]
	t := p.to - p.from
	e.TimeS += t * (1 - p.newShare)
	e.DistanceM += dist * (1 - p.newShare)
	n.TimeS += t * p.newShare
	n.DistanceM += dist * p.newShare
	e.AgainM2 += again
	switch EntryNames[p.entry] {
	case EntryLane, EntryLayer, EntryTransit:
		n.NewM2 += fresh
	default:
		e.NewM2 += fresh
	}
	l.pieces = append(l.pieces, p)
}

// within returns how many seconds between two times belong to an entry.
func (l Ledger) within(name string, from, to float64) float64 {
	sum := 0.0
	for _, p := range l.pieces {
		t := math.Min(p.to, to) - math.Max(p.from, from)
		if t <= 0 {
			continue
		}
		if EntryNames[p.entry] == name {
			sum += t * (1 - p.newShare)
		}
		if name == EntryNew {
			sum += t * p.newShare
		}
	}
	return sum
}

// mostly returns the entry to which most of the time between belongs.
func (l Ledger) mostly(from, to float64) string {
	best, most := EntryNames[0], -1.0
	for _, n := range EntryNames {
		if t := l.within(n, from, to); t > most {
			best, most = n, t
		}
	}
	return best
}

// Get returns the entry of a name.
func (l Ledger) Get(name string) Entry { return l.Entries[entryIndex[name]] }

// hiddenSpans are the stretches out of sight that are events.
func (r *run) hiddenSpans(es []Event) []geom.Span {
	var out []geom.Span
	for _, e := range es {
		if e.Kind == Hidden {
			out = append(out, geom.Span{From: e.Start, To: e.End})
		}
	}
	return out
}

func holds(spans []geom.Span, t float64) bool {
	for _, s := range spans {
		if s.Contains(t) {
			return true
		}
	}
	return false
}

// ownSpeed is the median speed in the middle half of the straight stretches,
// where the robot neither starts nor brakes.
func (r *run) ownSpeed(rows Rows) float64 {
	var v []float64
	for _, l := range rows.Lanes {
		quarter := (l.last - l.first) / 4
		for k := l.first + quarter; k <= l.last-quarter; k++ {
			v = append(v, r.ticks[k].v)
		}
	}
	if len(v) == 0 {
		for _, k := range r.ticks {
			if k.known && k.v > r.opt.PivotSpeed {
				v = append(v, k.v)
			}
		}
	}
	if len(v) == 0 {
		return math.NaN()
	}
	return geom.Median(v)
}
