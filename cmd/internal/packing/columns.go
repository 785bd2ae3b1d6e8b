package packing

// column describes a column of a table in the package.
type column struct {
	name, kind, unit, means string
}

const (
	text    = "string"
	number  = "number"
	integer = "integer"
)

// tables describes every table by the last part of its path.
var tables = map[string][]column{
	"figures.csv": {
		{"run", text, "", "<layout>/<robot>_<phase>_<trial>"},
		{"layout", text, "", "arrangement of the room"},
		{"robot", text, "", "name of the robot"},
		{"phase", text, "", "mapping: the robot learns the room; mapped: it knows it; single: it keeps no map"},
		{"trial", integer, "", "number of the trial, 1 or more"},
		{"started", text, "", "state of the robot in the first frame"},
		{"ended", text, "", "docked, stood still, carried, recording ended or lost; unless docked or stood still the times are cut short"},
		{"figure", text, "", "name of the figure, as definitions.md explains it"},
		{"value", number, "", "in the unit of the row; empty: not measured"},
		{"unit", text, "", "s, m, m2, m/s, m2/min; share: 0 to 1; 1: a plain number; count"},
		{"standard_uncertainty", number, "", "of measuring this run, in the same unit; empty: not calculated"},
		{"interval_95_low", number, "", "95 % interval of measuring this run"},
		{"interval_95_high", number, "", "95 % interval of measuring this run"},
	},
	"residue.csv": {
		{"run", text, "", "<layout>/<robot>_<phase>_<trial>"},
		{"patch", text, "", "patch of soiled floor, as the layout names it"},
		{"kind", text, "", "stain, debris or hair"},
		{"before_m2", number, "m2", "soiled before the run; empty: not measured"},
		{"before_length_m", number, "m", "hair before the run; empty: no hair, or not measured"},
		{"crossing", integer, "", "number of the crossing; empty: the patch was not measured"},
		{"t_s", number, "s", "time of the picture, from the run's start"},
		{"left_share", number, "1", "left after the crossing: share of the area, of hair the length; empty: not measured"},
		{"interval_95_low", number, "1", "95 % interval of left_share"},
		{"interval_95_high", number, "1", "95 % interval of left_share"},
		{"after_m2", number, "m2", "soiled after the crossing"},
		{"after_length_m", number, "m", "hair after the crossing"},
		{"difference_mean", number, "1", "CIEDE2000 of what is left to the clean floor"},
		{"reason", text, "", "why figures are missing"},
	},
	"conditions.csv": {
		{"run", text, "", "<layout>/<robot>_<phase>_<trial>"},
		{"condition", text, "", "condition of the test, as the lab names it"},
		{"value", text, "", "as the tester stated it"},
		{"unit", text, "", "empty: none"},
	},
	"recordings.csv": {
		{"run", text, "", "<layout>/<robot>_<phase>_<trial>"},
		{"file", text, "", "name from the lab's folder; the recording itself is not in the package"},
		{"bytes", integer, "byte", "size of the recording"},
		{"sha256", text, "", "SHA-256 of the recording, hexadecimal"},
	},
	"bench.csv": {
		{"robot", text, "", "name of the robot"},
		{"sample", text, "", "which specimen of it"},
		{"firmware", text, "", "its firmware"},
		{"layout", text, "", "with phase and trial: the recorded run that the reading belongs to; empty: none"},
		{"phase", text, "", "mapping, mapped or single; empty: the reading is of no recorded run"},
		{"trial", integer, "", "number of the trial, 1 or more"},
		{"surface", text, "", "what was cleaned"},
		{"pass", integer, "", "number of the pass, 1 or more; empty: all passes together"},
		{"quantity", text, "", "name of the quantity, as definitions.md explains it"},
		{"value", number, "", "as entered, in the unit of the row"},
		{"unit", text, "", "SI or customary, factors of NIST SP 811"},
		{"uncertainty", number, "", "standard uncertainty in the unit of the row; empty: not known"},
		{"date", text, "", "day, or day and time"},
		{"operator", text, "", "who measured"},
		{"note", text, "", "remarks"},
	},
	"bench_figures.csv": {
		{"robot", text, "", "name of the robot"},
		{"sample", text, "", "which specimen of it"},
		{"firmware", text, "", "its firmware"},
		{"layout", text, "", "with phase and trial: the recorded run; empty: none"},
		{"phase", text, "", "mapping, mapped or single; empty: of no recorded run"},
		{"trial", integer, "", "number of the trial, 1 or more"},
		{"surface", text, "", "what was cleaned"},
		{"quantity", text, "", "name of the quantity, as definitions.md explains it"},
		{"value", number, "", "in the unit of the row; empty: could not be calculated"},
		{"unit", text, "", "unit of value and uncertainty"},
		{"standard_uncertainty", number, "", "propagated from the readings; empty: not known"},
		{"reason", text, "", "why there is no value"},
	},
	"trace.csv": {
		{"t_s", number, "s", "time from the first frame"},
		{"x_m", number, "m", "position of the robot's turning centre on the floor, to the right; empty: not known"},
		{"y_m", number, "m", "the same, up the plan"},
		{"heading_deg", number, "degree", "counter-clockwise from +x; empty: not known"},
		{"speed_mps", number, "m/s", "speed"},
		{"state", text, "", "seen, bridged, carried or lost"},
		{"sigma_m", number, "m", "standard uncertainty of the position along one axis; empty: not known"},
		{"heading_source", text, "", "source of the heading; given: from the recording"},
	},
	"curve.csv": {
		{"t_s", number, "s", "time from the first frame"},
		{"covered_share", number, "1", "covered open floor / open floor, so far"},
		{"reachable_share", number, "1", "covered reachable floor / reachable floor, so far"},
		{"swept_m2", number, "m2", "floor swept so far, repeats counted"},
		{"distance_m", number, "m", "distance driven so far"},
	},
	"events.csv": {
		{"kind", text, "", "kind of the event"},
		{"start_s", number, "s", "when it began, from the first frame"},
		{"end_s", number, "s", "when it ended"},
		{"x_m", number, "m", "where, to the right"},
		{"y_m", number, "m", "where, up the plan"},
		{"size", number, "", "its size in the unit of the next column"},
		{"unit", text, "", "unit of the size"},
		{"sentence", text, "", "the event in words"},
	},
}
