// Package compare lays runs of one room side by side: which may be compared and
// which not and why, groups of runs made under the same circumstances, means
// with the statistics that few trials bear, differences with a verdict each, and
// what the runs together leave uncleaned.
//
// Three things are kept apart. How runs scatter is seen from the runs and
// averages out over them. What the runs share (the brush's width, the survey,
// the camera) does not: it is drawn alike for all that share it, and what it
// changes in a mean or a difference is added in squares. What is a run's own in
// measuring it is part of the scatter, and counts alone only where there is one
// run. One run has no scatter, so its interval is that of its measurement; two
// have both values and no interval; three and more have mean, standard deviation
// and interval.
//
// A run that did not finish (its recording ended, it was carried off, its start
// was not seen) is censored: its share is a lower bound, shown as one and in no
// mean, and a time that it did not reach ranks behind all that were reached, as
// does that of a run that finished without.
//
// Nothing here changes its arguments.
package compare

// Unit is what a figure is measured in.
type Unit string

// The units of figures; a share runs from 0 to 1.
const (
	Share       Unit = "share"
	Seconds     Unit = "s"
	Metres      Unit = "m"
	SquareM     Unit = "m2"
	MetresPerS  Unit = "m/s"
	SquareMPMin Unit = "m2/min"
	Number      Unit = "1"
	Whole       Unit = "count"
)

// Cut says what a figure is worth of a run that did not finish.
type Cut int

const (
	CutNone  Cut = iota // nothing: it would have come out otherwise
	CutLeast            // a lower bound: it only grows as the run goes on
	CutTime             // a time to a level: what was reached was reached
	CutSame             // the same as of a whole run
)

// Figure is a figure that runs are compared by.
type Figure struct {
	Name   string // as run.json spells it; "time_to_s.90" is "90" in "time_to_s"
	Words  string // for a reader
	Unit   Unit
	Better int // +1: more is better, -1: less is, 0: neither
	Cut    Cut
}

// Primary is the figure that a comparison is about unless it names another: of
// the floor that is the same for every robot, the share that was cleaned.
const Primary = "covered_share"

// Names are those of the figures, in their order.
func Names() []string {
	var out []string
	for _, f := range Figures {
		out = append(out, f.Name)
	}
	return out
}

// Figures are the figures of a comparison, in the order of its tables.
var Figures = []Figure{
	{"covered_share", "Share of open floor", Share, 1, CutLeast},
	{"reachable_share", "Share of reachable floor", Share, 1, CutLeast},
	{"duration_s", "Time of the run", Seconds, 0, CutLeast},
	{"distance_m", "Distance driven", Metres, 0, CutLeast},
	{"redundancy", "Redundancy (passes beyond the first)", Number, -1, CutNone},
	{"time_to_s.50", "Time to 50 % of open floor", Seconds, -1, CutTime},
	{"time_to_s.80", "Time to 80 % of open floor", Seconds, -1, CutTime},
	{"time_to_s.90", "Time to 90 % of open floor", Seconds, -1, CutTime},
	{"time_to_s.95", "Time to 95 % of open floor", Seconds, -1, CutTime},
	{"time_to_s.99", "Time to 99 % of open floor", Seconds, -1, CutTime},
	{"time_to_reachable_s.50", "Time to 50 % of reachable floor", Seconds, -1, CutTime},
	{"time_to_reachable_s.80", "Time to 80 % of reachable floor", Seconds, -1, CutTime},
	{"time_to_reachable_s.90", "Time to 90 % of reachable floor", Seconds, -1, CutTime},
	{"time_to_reachable_s.95", "Time to 95 % of reachable floor", Seconds, -1, CutTime},
	{"time_to_reachable_s.99", "Time to 99 % of reachable floor", Seconds, -1, CutTime},
	{"plateau_s", "Time to 99 % of final coverage", Seconds, 0, CutNone},
	{"tail_s", "Time from then to the end", Seconds, -1, CutNone},
	{"rate_m2_per_min", "New floor per minute", SquareMPMin, 1, CutNone},
	{"covered_m2", "Floor cleaned", SquareM, 1, CutLeast},
	{"swept_m2", "Floor swept, with repeats", SquareM, 0, CutLeast},
	{"reachable_m2", "Reachable floor", SquareM, 0, CutSame},
	{"swept_beyond_m2", "Swept beyond reach", SquareM, 0, CutLeast},
	{"moving_share", "Share of time moving", Share, 0, CutNone},
	{"mean_speed_mps", "Speed while moving", MetresPerS, 0, CutNone},
	{"events", "Events", Whole, 0, CutLeast},
	{"rows", "Lanes driven in rows", Whole, 0, CutLeast},
	{"active_s", "Time at work", Seconds, 0, CutLeast},
	{"docked_s", "Time in the dock", Seconds, 0, CutLeast},
	{"dock_trips", "Returns to the dock", Whole, 0, CutLeast},
}

// Find returns a figure by its name; ok is false if there is none.
func Find(name string) (f Figure, ok bool) {
	for _, f := range Figures {
		if f.Name == name {
			return f, true
		}
	}
	return Figure{}, false
}

// Levels of the counts of runs that reached a share of the floor.
var Levels = []string{"80", "90", "95", "99"}
