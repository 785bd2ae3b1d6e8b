package conduct

import (
	"fmt"
	"math"

	"swathe/coverage"
	"swathe/geom"
)

// Options are the thresholds of Find. For each a 0 is a value, never "the
// default": start from DefaultOptions.
type Options struct {
	// What counts as standing and as turning on the spot.
	StandSpeed float64 // m/s, below it the robot stands
	StandTurn  float64 // rad/s, below it a standing robot does not turn
	PivotSpeed float64 // m/s, below it a turn is one on the spot
	PivotTurn  float64 // rad/s, above it

	// spin and pause: the figures' definitions, not tastes.
	SpinTurn    float64 // rad, net in one sense
	SpinDrift   float64 // share of the diameter within which the centre stays
	PauseTime   float64 // s
	PauseDrift  float64 // m, within which the centre stays
	PauseTurn   float64 // rad, within which the heading stays
	StuckTime   float64 // s, that it struggles
	StuckDrift  float64 // share of the diameter within which the centre stays
	StuckTries  float64 // starts of a turn or move in every StuckTime, at the least
	StuckPause  float64 // s between two tries, at the most
	HiddenTime  float64 // s out of sight that is an event
	OutsideTime float64 // s outside the room that is an event

	ContactBrake float64 // m/s2, a stop before something that is faster than this is none by braking
	ContactFrom  float64 // m, from this far or farther it must have come
	ContactSpeed float64 // m/s towards it, at the least
	ContactAngle float64 // rad between travel and what it touches, at the least
	ContactSlide float64 // m along it while touching, at the least, to slide
	ContactTurn  float64 // rad after touching, at the least, to turn

	RevisitTime  float64 // s, shortest revisit
	RevisitWay   float64 // m, shortest revisit
	RevisitShare float64 // of what it sweeps that is new, at the most

	EdgeRetryTimes    float64 // visits to one stretch of boundary, at the least
	EdgeRetryTime     float64 // s from the first to the last of EdgeRetryTimes visits, at the most
	EdgeRetryDistance float64 // m, the body this near to the boundary visits it

	SwerveOffset float64 // m to the side, at the least
	SwerveTurn   float64 // rad, a turn aside for good, at the least
	SwerveAhead  float64 // m ahead that must be free where it turned aside for good
	SwerveClear  float64 // m beside the body's straight way that must be free

	DockDistance float64 // share of the diameter: nearer to the dock's place the robot is docked

	LaneLength float64 // m, shortest lane of a row
	LaneBend   float64 // m, that a lane may stray from its straight line
	RowAngle   float64 // rad, between neighbouring lanes, at the most
	RowLanes   float64 // lanes that make rows, at the least

	EdgeDistance     float64 // m, the body this near to an edge and parallel drives along it; coverage's FollowDistance
	EdgeAngle        float64 // rad, between travel and edge that counts as parallel; coverage's FollowAngle
	SecondLayerShare float64 // of a lane's sweep that is new: below it the lane is a second layer
	ErraticTime      float64 // s, stretches over which turning per metre is taken

	// How well the distance of a body from a boundary is known: the survey's
	// corners (standard uncertainty, m), a path that states none, and the
	// half-width of the robot's diameter. They are those of the figures.
	OutlineSigma, PathSigma, BodyTol float64

	ObjectGap     float64 // m, the body this near to a test object touches it
	MovedDistance float64 // m, a test object moved by less is only grazed
	CautionBand   float64 // m round a test object, in which uncleaned floor is the price of caution
}

// DefaultOptions returns the thresholds that events are published with; the
// package's page gives the reason for each.
func DefaultOptions() Options {
	edge := coverage.DefaultOptions() // what is along an edge is defined once
	return Options{
		StandSpeed: 0.02, StandTurn: geom.Radians(6), PivotSpeed: 0.06, PivotTurn: geom.Radians(10),
		SpinTurn: 2 * math.Pi, SpinDrift: 0.15,
		PauseTime: 5, PauseDrift: 0.02, PauseTurn: geom.Radians(10),
		StuckTime: 10, StuckDrift: 0.5, StuckTries: 9, StuckPause: 4,
		HiddenTime: 1, OutsideTime: 1,
		ContactBrake: 2.5, ContactFrom: 0.03, ContactSpeed: 0.03, ContactAngle: geom.Radians(12), ContactSlide: 0.03, ContactTurn: geom.Radians(15),
		RevisitTime: 5, RevisitWay: 1, RevisitShare: 0.05,
		EdgeRetryTimes: 4, EdgeRetryTime: 90, EdgeRetryDistance: 0.05,
		SwerveOffset: 0.10, SwerveTurn: geom.Radians(30), SwerveAhead: 0.5, SwerveClear: 0.03,
		DockDistance: 1.0 / 3,
		LaneLength:   0.5, LaneBend: 0.02, RowAngle: geom.Radians(3), RowLanes: 4,
		EdgeDistance: edge.FollowDistance, EdgeAngle: edge.FollowAngle, SecondLayerShare: 0.3, ErraticTime: 30,
		OutlineSigma: 0.005, PathSigma: 0.005, BodyTol: 0.002,
		ObjectGap: 0.003, MovedDistance: 0.010, CautionBand: 0.15,
	}
}

// Validate returns an error that names the threshold and says what it may be.
func (o Options) Validate() error {
	rules := []struct {
		name      string
		v         float64
		low, high float64
		unit      string
	}{
		{"StandSpeed", o.StandSpeed, 0.001, 0.2, "m/s"},
		{"StandTurn", o.StandTurn, 0.001, 1, "rad/s"},
		{"PivotSpeed", o.PivotSpeed, 0.001, 0.5, "m/s"},
		{"PivotTurn", o.PivotTurn, 0.001, 3, "rad/s"},
		{"SpinTurn", o.SpinTurn, 1, 100, "rad"},
		{"SpinDrift", o.SpinDrift, 0.01, 2, "of the diameter"},
		{"PauseTime", o.PauseTime, 0.5, 3600, "s"},
		{"PauseDrift", o.PauseDrift, 0.001, 0.5, "m"},
		{"PauseTurn", o.PauseTurn, 0.01, math.Pi, "rad"},
		{"StuckTime", o.StuckTime, 1, 3600, "s"},
		{"StuckDrift", o.StuckDrift, 0.05, 5, "of the diameter"},
		{"StuckTries", o.StuckTries, 2, 1000, ""},
		{"StuckPause", o.StuckPause, 0.5, 600, "s"},
		{"HiddenTime", o.HiddenTime, 0, 3600, "s"},
		{"OutsideTime", o.OutsideTime, 0, 3600, "s"},
		{"ContactBrake", o.ContactBrake, 0.1, 100, "m/s2"},
		{"ContactSpeed", o.ContactSpeed, 0, 1, "m/s"},
		{"ContactFrom", o.ContactFrom, 0, 1, "m"},
		{"ContactAngle", o.ContactAngle, 0, math.Pi / 2, "rad"},
		{"ContactSlide", o.ContactSlide, 0.001, 5, "m"},
		{"ContactTurn", o.ContactTurn, 0.01, math.Pi, "rad"},
		{"RevisitTime", o.RevisitTime, 0.5, 3600, "s"},
		{"RevisitWay", o.RevisitWay, 0.1, 1000, "m"},
		{"RevisitShare", o.RevisitShare, 0, 1, ""},
		{"EdgeRetryTimes", o.EdgeRetryTimes, 2, 1000, ""},
		{"EdgeRetryTime", o.EdgeRetryTime, 1, 3600, "s"},
		{"EdgeRetryDistance", o.EdgeRetryDistance, 0, 0.5, "m"},
		{"SwerveOffset", o.SwerveOffset, 0.02, 5, "m"},
		{"SwerveTurn", o.SwerveTurn, 0.1, math.Pi / 2, "rad"},
		{"SwerveAhead", o.SwerveAhead, 0.05, 5, "m"},
		{"SwerveClear", o.SwerveClear, 0, 1, "m"},
		{"DockDistance", o.DockDistance, 0.05, 2, "of the diameter"},
		{"LaneLength", o.LaneLength, 0.2, 10, "m"},
		{"LaneBend", o.LaneBend, 0.002, 0.5, "m"},
		{"RowAngle", o.RowAngle, 0.001, 0.5, "rad"},
		{"RowLanes", o.RowLanes, 2, 100, ""},
		{"EdgeDistance", o.EdgeDistance, 0, 0.5, "m"},
		{"EdgeAngle", o.EdgeAngle, 0, math.Pi / 2, "rad"},
		{"SecondLayerShare", o.SecondLayerShare, 0, 1, ""},
		{"ErraticTime", o.ErraticTime, 1, 3600, "s"},
		{"OutlineSigma", o.OutlineSigma, 0, 0.1, "m"},
		{"PathSigma", o.PathSigma, 0, 1, "m"},
		{"BodyTol", o.BodyTol, 0, 0.1, "m"},
		{"ObjectGap", o.ObjectGap, 0, 0.1, "m"},
		{"MovedDistance", o.MovedDistance, 0, 1, "m"},
		{"CautionBand", o.CautionBand, 0.01, 2, "m"},
	}
	for _, r := range rules {
		if !(r.v >= r.low && r.v <= r.high) {
			return fmt.Errorf("conduct setting %s is %g: it must be from %g to %g %s", r.name, r.v, r.low, r.high, r.unit)
		}
	}
	return nil
}
