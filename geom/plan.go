package geom

import (
	"github.com/paulmach/orb"
)

// Kinds of an area.
const (
	AreaSurface   = "surface"    // a rug, a kind of floor: reported apart
	AreaTarget    = "target"     // the part that the robot was asked to clean
	AreaOffLimits = "off_limits" // the part that it was asked to keep out of
)

// Piece is a named polygon on the floor with a height. Its ring is closed,
// simple and counter-clockwise once the Plan is validated.
type Piece struct {
	Name    string
	Outline orb.Ring // floor, m
	Height  float64  // m above the floor
	Kind    string   // of an area: one of the Area constants; empty otherwise
}

// Plan is a room as the tester surveyed it. Build it with NewPlan, which
// validates; treat it as read-only afterwards.
type Plan struct {
	Name        string
	Room        orb.Ring // floor, m; closed, simple, counter-clockwise
	Obstacles   []Piece  // stand on the floor; the robot goes round them
	Overhead    []Piece  // the robot passes beneath and is hidden
	Areas       []Piece
	TestObjects []Piece
	Dock        *Pose // where the robot stands when docked; nil if the layout has none
}
