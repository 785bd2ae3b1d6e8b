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
		Doc:   "speed below which the robot stands; the noise of a still robot is a tenth of it",
		value: on(func(o *conduct.Options) *float64 { return &o.StandSpeed })},
	{Name: "stand_turn", Unit: "degrees/s", Low: 0.1, High: 57, degrees: true,
		Doc:   "turning rate below which a standing robot does not turn; three times the noise of the heading",
		value: on(func(o *conduct.Options) *float64 { return &o.StandTurn })},
	{Name: "pivot_speed", Unit: "m/s", Low: 0.001, High: 0.5,
		Doc:   "speed below which a turn is on the spot; a fifth of a usual driving speed",
		value: on(func(o *conduct.Options) *float64 { return &o.PivotSpeed })},
	{Name: "pivot_turn", Unit: "degrees/s", Low: 0.1, High: 170, degrees: true,
		Doc:   "turning rate above which the robot turns; a tenth of the usual rate on the spot",
		value: on(func(o *conduct.Options) *float64 { return &o.PivotTurn })},
	{Name: "spin_turn", Unit: "degrees", Low: 60, High: 5700, degrees: true,
		Doc:   "net turn in one direction that makes a spin; one full turn",
		value: on(func(o *conduct.Options) *float64 { return &o.SpinTurn })},
	{Name: "spin_drift", Unit: "diameters", Low: 0.01, High: 2,
		Doc:   "radius within which the centre stays during a spin; wheel slip is less",
		value: on(func(o *conduct.Options) *float64 { return &o.SpinDrift })},
	{Name: "pause_time", Unit: "s", Low: 0.5, High: 3600,
		Doc:   "shortest pause; stops while driving are shorter",
		value: on(func(o *conduct.Options) *float64 { return &o.PauseTime })},
	{Name: "pause_drift", Unit: "m", Low: 0.001, High: 0.5,
		Doc:   "radius within which the centre stays during a pause; well above the path's noise",
		value: on(func(o *conduct.Options) *float64 { return &o.PauseDrift })},
	{Name: "pause_turn", Unit: "degrees", Low: 0.6, High: 180, degrees: true,
		Doc:   "angle within which the heading stays during a pause; well above the heading's noise",
		value: on(func(o *conduct.Options) *float64 { return &o.PauseTurn })},
	{Name: "stuck_time", Unit: "s", Low: 1, High: 3600,
		Doc:   "shortest time stuck; driving around a chair leg takes less",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckTime })},
	{Name: "stuck_drift", Unit: "diameters", Low: 0.05, High: 5,
		Doc:   "radius within which the centre stays while stuck; moving less than half the robot's width counts as no progress",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckDrift })},
	{Name: "stuck_tries", Unit: "", Low: 2, High: 1000,
		Doc:   "least number of starts, turns and reverses in each stuck_time; a robot that leaves a corner by itself makes seven or eight",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckTries })},
	{Name: "stuck_pause", Unit: "s", Low: 0.5, High: 600,
		Doc:   "longest wait between two attempts; a longer one is a pause",
		value: on(func(o *conduct.Options) *float64 { return &o.StuckPause })},
	{Name: "hidden_time", Unit: "s", Low: 0, High: 3600,
		Doc:   "shortest time out of sight that is an event; shorter ones are safely bridged",
		value: on(func(o *conduct.Options) *float64 { return &o.HiddenTime })},
	{Name: "outside_time", Unit: "s", Low: 0, High: 3600,
		Doc:   "shortest time outside the room that is an event; shorter ones are noise",
		value: on(func(o *conduct.Options) *float64 { return &o.OutsideTime })},
	{Name: "contact_brake", Unit: "m/s2", Low: 0.1, High: 100,
		Doc:   "deceleration above which a stop is a contact if the robot then backs off; robots brake at 1 m/s2 or less, and a low frame rate blurs a stop",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactBrake })},
	{Name: "contact_speed", Unit: "m/s", Low: 0, High: 1,
		Doc:   "least speed of approach; a slower robot is creeping",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactSpeed })},
	{Name: "contact_from", Unit: "m", Low: 0, High: 1,
		Doc:   "least distance from which the body must approach; a robot that follows an edge wavers by less",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactFrom })},
	{Name: "contact_angle", Unit: "degrees", Low: 0, High: 90, degrees: true,
		Doc:   "least angle between travel and surface; at a smaller one the robot passes alongside",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactAngle })},
	{Name: "contact_slide", Unit: "m", Low: 0.001, High: 5,
		Doc:   "least distance driven along the surface to count as sliding",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactSlide })},
	{Name: "contact_turn", Unit: "degrees", Low: 0.6, High: 180, degrees: true,
		Doc:   "least turn within a second of contact to count as turning away",
		value: on(func(o *conduct.Options) *float64 { return &o.ContactTurn })},
	{Name: "revisit_time", Unit: "s", Low: 0.5, High: 3600,
		Doc:   "shortest revisit; crossing a cleaned lane takes less",
		value: on(func(o *conduct.Options) *float64 { return &o.RevisitTime })},
	{Name: "revisit_way", Unit: "m", Low: 0.1, High: 1000,
		Doc:   "shortest path of a revisit; about three diameters",
		value: on(func(o *conduct.Options) *float64 { return &o.RevisitWay })},
	{Name: "revisit_share", Unit: "", Low: 0, High: 1,
		Doc:   "largest new share of what a revisit sweeps; the ragged edge of a swept lane is as much",
		value: on(func(o *conduct.Options) *float64 { return &o.RevisitShare })},
	{Name: "edge_retry_times", Unit: "", Low: 2, High: 1000,
		Doc:   "visits to one clean stretch of boundary that make an edge retry; three may be chance",
		value: on(func(o *conduct.Options) *float64 { return &o.EdgeRetryTimes })},
	{Name: "edge_retry_time", Unit: "s", Low: 1, High: 3600,
		Doc:   "time within which these visits happen",
		value: on(func(o *conduct.Options) *float64 { return &o.EdgeRetryTime })},
	{Name: "edge_retry_distance", Unit: "m", Low: 0, High: 0.5,
		Doc:   "distance to a boundary at which the body visits it",
		value: on(func(o *conduct.Options) *float64 { return &o.EdgeRetryDistance })},
	{Name: "swerve_offset", Unit: "m", Low: 0.02, High: 5,
		Doc:   "least sideways distance from its line; robots stray by less",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveOffset })},
	{Name: "swerve_turn", Unit: "degrees", Low: 6, High: 90, degrees: true,
		Doc:   "least turn aside without turning back; a correction of course is less",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveTurn })},
	{Name: "swerve_ahead", Unit: "m", Low: 0.05, High: 5,
		Doc:   "distance that must be free ahead when it turns aside and not back; bumpers and short-range sensors reach less far",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveAhead })},
	{Name: "swerve_clear", Unit: "m", Low: 0, High: 1,
		Doc:   "distance that must be free on both sides of its straight path for a swerve; robots keep less from walls",
		value: on(func(o *conduct.Options) *float64 { return &o.SwerveClear })},
	{Name: "dock_distance", Unit: "diameters", Low: 0.05, High: 2,
		Doc:   "distance from the dock within which a standing robot is docked",
		value: on(func(o *conduct.Options) *float64 { return &o.DockDistance })},
	{Name: "lane_length", Unit: "m", Low: 0.2, High: 10,
		Doc:   "shortest lane of a row; the moves between lanes are shorter",
		value: on(func(o *conduct.Options) *float64 { return &o.LaneLength })},
	{Name: "lane_bend", Unit: "m", Low: 0.002, High: 0.5,
		Doc:   "distance that a lane may stray from its straight line; about a tenth of a tool's width",
		value: on(func(o *conduct.Options) *float64 { return &o.LaneBend })},
	{Name: "row_angle", Unit: "degrees", Low: 0.06, High: 28, degrees: true,
		Doc:   "largest angle between neighbouring lanes; more would open a gap of half a tool over 2 m",
		value: on(func(o *conduct.Options) *float64 { return &o.RowAngle })},
	{Name: "row_lanes", Unit: "", Low: 2, High: 100,
		Doc:   "least number of lanes side by side that make rows; random driving has made three",
		value: on(func(o *conduct.Options) *float64 { return &o.RowLanes })},
	{Name: "second_layer_share", Unit: "", Low: 0, High: 1,
		Doc:   "new share of a lane's sweep, below which the lane is a second layer",
		value: on(func(o *conduct.Options) *float64 { return &o.SecondLayerShare })},
	{Name: "erratic_time", Unit: "s", Low: 1, High: 3600,
		Doc:   "length of path over which turning per metre is calculated; a few lanes",
		value: on(func(o *conduct.Options) *float64 { return &o.ErraticTime })},
	{Name: "object_gap", Unit: "m", Low: 0, High: 0.1,
		Doc:   "distance from a test object at which the body is in contact; the noise of both positions",
		value: on(func(o *conduct.Options) *float64 { return &o.ObjectGap })},
	{Name: "moved_distance", Unit: "m", Low: 0, High: 1,
		Doc:   "distance moved below which a test object is grazed, not pushed",
		value: on(func(o *conduct.Options) *float64 { return &o.MovedDistance })},
	{Name: "caution_band", Unit: "m", Low: 0.01, High: 2,
		Doc:   "distance around a test object in which missed floor is the price of caution; about half a robot",
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
