package lab

import (
	"slices"

	"swathe/coverage/conduct"
	"swathe/report"
)

// conductSettings are the thresholds by which it is told what a robot did. Each
// says why it is what it is.
var conductSettings = []Setting{
	{Name: "stand_speed", Unit: "m/s", Low: 0.001, High: 0.2,
		Doc:   "below it the robot stands; a still robot seems to move by a tenth of that",
		value: on(func(o *conduct.Options) *float64 { return &o.StandSpeed })},
	{Name: "stand_turn", Unit: "degrees/s", Low: 0.1, High: 57, degrees: true,
		Doc:   "below it a standing robot does not turn; three times what the heading's noise shows",
		value: on(func(o *conduct.Options) *float64 { return &o.StandTurn })},
	{Name: "pivot_speed", Unit: "m/s", Low: 0.001, High: 0.5,
		Doc:   "below it a turn is one on the spot; a fifth of a usual driving speed",
		value: on(func(o *conduct.Options) *float64 { return &o.PivotSpeed })},
	{Name: "pivot_turn", Unit: "degrees/s", Low: 0.1, High: 170, degrees: true,
		Doc:   "above it the robot turns; a tenth of the rate at which robots turn on the spot",
		value: on(func(o *conduct.Options) *float64 { return &o.PivotTurn })},
	{Name: "spin_turn", Unit: "degrees", Low: 60, High: 5700, degrees: true,
		Doc:   "net turn in one sense that makes a spin; a whole one",
		value: on(func(o *conduct.Options) *float64 { return &o.SpinTurn })},
	{Name: "spin_drift", Unit: "diameters", Low: 0.01, High: 2,
		Doc:   "within which the centre stays in a spin; the wheels of a robot that turns slip by less",
		value: on(func(o *conduct.Options) *float64 { return &o.SpinDrift })},
	{Name: "pause_time", Unit: "s", Low: 0.5, High: 3600,
		Doc:   "shortest pause; a pause to think is shorter",
		value: on(func(o *conduct.Options) *float64 { return &o.PauseTime })},
	{Name: "pause_drift", Unit: "m", Low: 0.001, High: 0.5,
		Doc:   "within which the centre stays in a pause; well above a path's noise",
		value: on(func(o *conduct.Options) *float64 { return &o.PauseDrift })},
	{Name: "pause_turn", Unit: "degrees", Low: 0.6, High: 180, degrees: true,
		Doc:   "within which the heading stays in a pause; well above a heading's noise",
		value: on(func(o *conduct.Options) *float64 { return &o.PauseTurn })},
	{Name: "stuck_time", Unit: "s", Low: 1, High: 3600,
		Doc:   "shortest struggle; getting round a chair's leg takes less",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckTime })},
	{Name: "stuck_drift", Unit: "diameters", Low: 0.05, High: 5,
		Doc:   "from the middle of a struggle, how far the centre gets; less than half the robot's width is not progress",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckDrift })},
	{Name: "stuck_tries", Unit: "", Low: 2, High: 1000,
		Doc:   "turns, jerks and reverses in every stuck_time of a struggle, at the least; a robot that finds its way out of a corner by chance makes seven or eight",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckTries })},
	{Name: "stuck_pause", Unit: "s", Low: 0.5, High: 600,
		Doc:   "between two tries, at the most; who waits longer has paused",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckPause })},
	{Name: "hidden_time", Unit: "s", Low: 0, High: 3600,
		Doc:   "shortest time out of sight that is an event; shorter ones are bridged without doubt",
		value: on(func(o *conduct.Options) *float64 { return &o.HiddenTime })},
	{Name: "outside_time", Unit: "s", Low: 0, High: 3600,
		Doc:   "shortest time outside the room that is an event",
		value: on(func(o *conduct.Options) *float64 { return &o.OutsideTime })},
	{Name: "contact_brake", Unit: "m/s2", Low: 0.1, High: 100,
		Doc:   "a stop faster than this is a contact if the robot then backs off; robots brake at 1 m/s2 or less, and a few frames a second blur a stop",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactBrake })},
	{Name: "contact_speed", Unit: "m/s", Low: 0, High: 1,
		Doc:   "towards it, at the least; slower it creeps along",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactSpeed })},
	{Name: "contact_from", Unit: "m", Low: 0, High: 1,
		Doc:   "from this far or farther the body must have come; a robot that follows an edge wavers by less",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactFrom })},
	{Name: "contact_angle", Unit: "degrees", Low: 0, High: 90, degrees: true,
		Doc:   "between travel and what it touches, at the least; flatter it passes alongside",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactAngle })},
	{Name: "contact_slide", Unit: "m", Low: 0.001, High: 5,
		Doc:   "driven along what it touches, at the least, to slide",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactSlide })},
	{Name: "contact_turn", Unit: "degrees", Low: 0.6, High: 180, degrees: true,
		Doc:   "turned within a second of touching, at the least, to turn away",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactTurn })},
	{Name: "revisit_time", Unit: "s", Low: 0.5, High: 3600,
		Doc:   "shortest revisit; crossing a cleaned lane takes less",
		value: on(func(o *conduct.Options) *float64 { return &o.RevisitTime })},
	{Name: "revisit_way", Unit: "m", Low: 0.1, High: 1000,
		Doc:   "shortest revisit; three diameters or so",
		value: on(func(o *conduct.Options) *float64 { return &o.RevisitWay })},
	{Name: "revisit_share", Unit: "", Low: 0, High: 1,
		Doc:   "of what a revisit sweeps that is new, at the most; the ragged edge of a swept lane is as much",
		value: on(func(o *conduct.Options) *float64 { return &o.RevisitShare })},
	{Name: "edge_retry_times", Unit: "", Low: 2, High: 1000,
		Doc:   "visits to one clean stretch of boundary that make a probe; three may be chance",
		value: on(func(o *conduct.Options) *float64 { return &o.EdgeRetryTimes })},
	{Name: "edge_retry_time", Unit: "s", Low: 1, High: 3600,
		Doc:   "within which so many visits come",
		value: on(func(o *conduct.Options) *float64 { return &o.EdgeRetryTime })},
	{Name: "edge_retry_distance", Unit: "m", Low: 0, High: 0.5,
		Doc:   "the body this near to a boundary visits it",
		value: on(func(o *conduct.Options) *float64 { return &o.EdgeRetryDistance })},
	{Name: "swerve_offset", Unit: "m", Low: 0.02, High: 5,
		Doc:   "to the side of its line, at the least; robots stray from a line by less",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveOffset })},
	{Name: "swerve_turn", Unit: "degrees", Low: 6, High: 90, degrees: true,
		Doc:   "turned aside and not back, at the least; a correction of course is less",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveTurn })},
	{Name: "swerve_ahead", Unit: "m", Low: 0.05, High: 5,
		Doc:   "that must be free ahead where it turned aside and not back; bumpers and near sensors see less far",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveAhead })},
	{Name: "swerve_clear", Unit: "m", Low: 0, High: 1,
		Doc:   "beside the body's straight way that must be free for a swerve; what robots keep from walls is less",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveClear })},
	{Name: "dock_distance", Unit: "diameters", Low: 0.05, High: 2,
		Doc:   "a robot that stands nearer to the dock's place is docked; as for how a run ended",
		value: on(func(o *conduct.Options) *float64 { return &o.DockDistance })},
	{Name: "lane_length", Unit: "m", Low: 0.2, High: 10,
		Doc:   "shortest lane of a row; the hops between lanes are shorter",
		value: on(func(o *conduct.Options) *float64 { return &o.LaneLength })},
	{Name: "lane_bend", Unit: "m", Low: 0.002, High: 0.5,
		Doc:   "that a lane may stray from its straight line; about a tenth of a tool's width",
		value: on(func(o *conduct.Options) *float64 { return &o.LaneBend })},
	{Name: "row_angle", Unit: "degrees", Low: 0.06, High: 28, degrees: true,
		Doc:   "between neighbouring lanes, at the most; more would open a gap of half a tool over 2 m",
		value: on(func(o *conduct.Options) *float64 { return &o.RowAngle })},
	{Name: "row_lanes", Unit: "", Low: 2, High: 100,
		Doc:   "lanes side by side that make rows, at the least; random driving has made three",
		value: on(func(o *conduct.Options) *float64 { return &o.RowLanes })},
	{Name: "second_layer_share", Unit: "", Low: 0, High: 1,
		Doc:   "of a lane's sweep that is new; below it the lane is a second layer",
		value: on(func(o *conduct.Options) *float64 { return &o.SecondLayerShare })},
	{Name: "erratic_time", Unit: "s", Low: 1, High: 3600,
		Doc:   "stretches over which turning per metre is taken; a few lanes",
		value: on(func(o *conduct.Options) *float64 { return &o.ErraticTime })},
	{Name: "object_gap", Unit: "m", Low: 0, High: 0.1,
		Doc:   "the body this near to a test object touches it; the noise of both their places",
		value: on(func(o *conduct.Options) *float64 { return &o.ObjectGap })},
	{Name: "moved_distance", Unit: "m", Low: 0, High: 1,
		Doc:   "a test object that a touch moved by less is grazed, not pushed",
		value: on(func(o *conduct.Options) *float64 { return &o.MovedDistance })},
	{Name: "caution_band", Unit: "m", Low: 0.01, High: 2,
		Doc:   "round a test object, in which uncleaned floor is the price of caution; near half a robot",
		value: on(func(o *conduct.Options) *float64 { return &o.CautionBand })},
}

// ConductOptions are the thresholds of what a robot did, with those that are
// defined elsewhere: what is along an edge, and how well the distance of a body
// from a boundary is known.
func (s Settings) ConductOptions() conduct.Options {
	o := s.Conduct
	o.EdgeDistance, o.EdgeAngle = s.Coverage.FollowDistance, s.Coverage.FollowAngle
	o.OutlineSigma, o.PathSigma, o.BodyTol = s.Uncertainty.OutlineSigma, s.Uncertainty.PathSigma, s.Uncertainty.DiameterTol
	return o
}

// Thresholds lists what events and the ledger rest on, with the values of this lab.
func (s Settings) Thresholds() []report.Threshold {
	var out []report.Threshold
	for _, d := range SettingList {
		if slices.ContainsFunc(conductSettings, func(c Setting) bool { return c.Name == d.Name }) || slices.Contains(linkedSettings, d.Name) {
			out = append(out, report.Threshold{Name: d.Name, Value: d.text(&s), Unit: d.Unit, Meaning: d.Doc})
		}
	}
	return out
}

// linkedSettings are those of other packages that ConductOptions takes over.
var linkedSettings = []string{"follow_distance", "follow_angle", "outline_sigma", "path_sigma", "diameter_tolerance"}

// on reaches into the settings' conduct options.
func on(field func(*conduct.Options) *float64) func(*Settings) *float64 {
	return func(s *Settings) *float64 { return field(&s.Conduct) }
}
