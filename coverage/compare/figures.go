// Package compare lays runs of one layout side by side: which may be compared
// and which not and why, groups of runs made under the same circumstances,
// means with the statistics that few trials bear, differences, and what the
// runs together leave uncleaned.
//
// Scatter between trials and the uncertainty of measuring one trial are
// different things and are kept apart: the interval of a group's mean comes
// from the scatter alone, the measurement's standard uncertainty stands beside
// it. One run has no scatter, so its interval is that of its measurement; two
// have both values and no interval; three and more have mean, standard
// deviation and a Student interval.
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

// Figure is a figure that runs are compared by.
type Figure struct {
	Name   string // as run.json spells it; "time_to_s.90" is "90" in "time_to_s"
	Words  string // for a reader
	Unit   Unit
	Better int  // +1: more is better, -1: less is, 0: neither
	Time   bool // wrong where a run was cut short or its start was not seen
}

// Figures are the figures of a comparison, in the order of its tables.
var Figures = []Figure{
	{"reachable_share", "Cleaned, of the floor that it can reach", Share, 1, false},
	{"covered_share", "Cleaned, of all open floor", Share, 1, false},
	{"duration_s", "Time of the run", Seconds, 0, true},
	{"distance_m", "Distance driven", Metres, 0, true},
	{"redundancy", "Passes beyond the first, on average", Number, -1, false},
	{"mean_passes", "Times over a cleaned spot, on average", Number, 0, false},
	{"time_to_reachable_s.50", "Time to 50 % of the floor within reach", Seconds, -1, true},
	{"time_to_reachable_s.80", "Time to 80 % of the floor within reach", Seconds, -1, true},
	{"time_to_reachable_s.90", "Time to 90 % of the floor within reach", Seconds, -1, true},
	{"time_to_reachable_s.95", "Time to 95 % of the floor within reach", Seconds, -1, true},
	{"time_to_reachable_s.99", "Time to 99 % of the floor within reach", Seconds, -1, true},
	{"time_to_s.50", "Time to 50 % of all open floor", Seconds, -1, true},
	{"time_to_s.80", "Time to 80 % of all open floor", Seconds, -1, true},
	{"time_to_s.90", "Time to 90 % of all open floor", Seconds, -1, true},
	{"time_to_s.95", "Time to 95 % of all open floor", Seconds, -1, true},
	{"time_to_s.99", "Time to 99 % of all open floor", Seconds, -1, true},
	{"plateau_s", "Until almost nothing new came", Seconds, 0, true},
	{"tail_s", "From then to the end", Seconds, -1, true},
	{"rate_m2_per_min", "New floor a minute", SquareMPMin, 1, true},
	{"covered_m2", "Floor cleaned", SquareM, 1, false},
	{"swept_m2", "Floor swept, repeats counted", SquareM, 0, false},
	{"reachable_m2", "Floor that the tool can reach", SquareM, 0, false},
	{"moving_share", "Moving, share of the time", Share, 0, false},
	{"mean_speed_mps", "Speed while moving", MetresPerS, 0, false},
	{"events", "Things that happened", Whole, 0, false},
	{"rows", "Rows driven", Whole, 0, false},
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

// Levels of the counts of runs that reached a share of the floor within reach.
var Levels = []string{"80", "90", "95", "99"}
