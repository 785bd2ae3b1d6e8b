// Package units knows the units in which a laboratory writes what it weighed,
// metered and timed. Values are kept in SI; a unit is a factor and, for
// temperatures, an offset. Factors are those of NIST Special Publication 811
// (2008), appendix B; the exact ones are written as the products they are
// defined by.
package units

import (
	"fmt"
	"strings"

	"gonum.org/v1/gonum/unit"
)

// Kind is what a unit measures. Kinds of one dimension, such as a share and a
// count, are kept apart.
type Kind string

// The kinds.
const (
	Mass        Kind = "mass"
	Length      Kind = "length"
	Area        Kind = "area"
	Volume      Kind = "volume"
	Time        Kind = "time"
	Flow        Kind = "flow"
	Pressure    Kind = "pressure"
	Power       Kind = "power"
	Energy      Kind = "energy"
	Charge      Kind = "charge"
	Temperature Kind = "temperature"
	Share       Kind = "share"
	Level       Kind = "level" // of sound, in decibels
	Count       Kind = "count"
	Colour      Kind = "colour difference"
)

// Unit is one way to write a value: SI = Factor * (v + Offset).
type Unit struct {
	Name           string // as tables have it
	Kind           Kind
	Factor, Offset float64
}

// Factors of NIST SP 811, appendix B.8, that others are built from; all exact.
const (
	inch  = 0.0254
	foot  = 0.3048
	pound = 0.45359237
	ounce = pound / 16
	grav  = 9.80665 // standard acceleration, m/s2
)

// Table holds every unit; the first of each kind is the SI unit that values are
// kept in.
var Table = []Unit{
	{"kg", Mass, 1, 0}, {"g", Mass, 1e-3, 0}, {"mg", Mass, 1e-6, 0}, {"lb", Mass, pound, 0}, {"oz", Mass, ounce, 0}, {"gr", Mass, pound / 7000, 0},
	{"m", Length, 1, 0}, {"cm", Length, 1e-2, 0}, {"mm", Length, 1e-3, 0}, {"in", Length, inch, 0}, {"ft", Length, foot, 0},
	{"m2", Area, 1, 0}, {"cm2", Area, 1e-4, 0}, {"mm2", Area, 1e-6, 0}, {"in2", Area, inch * inch, 0}, {"ft2", Area, foot * foot, 0},
	{"m3", Volume, 1, 0}, {"L", Volume, 1e-3, 0}, {"mL", Volume, 1e-6, 0}, {"in3", Volume, inch * inch * inch, 0}, {"ft3", Volume, foot * foot * foot, 0},
	{"US fl oz", Volume, 231 * inch * inch * inch / 128, 0},
	{"s", Time, 1, 0}, {"min", Time, 60, 0}, {"h", Time, 3600, 0},
	{"m3/s", Flow, 1, 0}, {"L/s", Flow, 1e-3, 0}, {"L/min", Flow, 1e-3 / 60, 0}, {"m3/h", Flow, 1. / 3600, 0}, {"ft3/min", Flow, foot * foot * foot / 60, 0},
	{"Pa", Pressure, 1, 0}, {"hPa", Pressure, 100, 0}, {"kPa", Pressure, 1000, 0}, {"mmH2O", Pressure, grav, 0}, {"inH2O", Pressure, 25.4 * grav, 0}, {"psi", Pressure, pound * grav / (inch * inch), 0},
	{"W", Power, 1, 0}, {"kW", Power, 1000, 0},
	{"J", Energy, 1, 0}, {"kJ", Energy, 1000, 0}, {"W h", Energy, 3600, 0}, {"kW h", Energy, 3.6e6, 0},
	{"C", Charge, 1, 0}, {"A h", Charge, 3600, 0}, {"mA h", Charge, 3.6, 0},
	{"K", Temperature, 1, 0}, {"degC", Temperature, 1, 273.15}, {"degF", Temperature, 1 / 1.8, 459.67},
	{"1", Share, 1, 0}, {"%", Share, 0.01, 0},
	{"dB", Level, 1, 0},
	{"count", Count, 1, 0},
	{"dE00", Colour, 1, 0},
}

// Dimensions of the kinds that have one; the others are numbers.
var dimensions = map[Kind]unit.Dimensions{
	Mass: {unit.MassDim: 1}, Length: {unit.LengthDim: 1}, Area: {unit.LengthDim: 2}, Volume: {unit.LengthDim: 3}, Time: {unit.TimeDim: 1},
	Flow: {unit.LengthDim: 3, unit.TimeDim: -1}, Pressure: {unit.MassDim: 1, unit.LengthDim: -1, unit.TimeDim: -2},
	Power: {unit.MassDim: 1, unit.LengthDim: 2, unit.TimeDim: -3}, Energy: {unit.MassDim: 1, unit.LengthDim: 2, unit.TimeDim: -2},
	Charge: {unit.CurrentDim: 1, unit.TimeDim: 1}, Temperature: {unit.TemperatureDim: 1},
}

// Find returns the unit of that name.
func Find(name string) (Unit, bool) {
	for _, u := range Table {
		if u.Name == name {
			return u, true
		}
	}
	return Unit{}, false
}

// Names lists the units of a kind.
func Names(k Kind) []string {
	var out []string
	for _, u := range Table {
		if u.Kind == k {
			out = append(out, u.Name)
		}
	}
	return out
}

// Must returns a unit of the table and panics if it is none: for units that the
// program itself names.
func Must(name string) Unit {
	u, ok := Find(name)
	if !ok {
		panic("units: no unit " + name)
	}
	return u
}

// ToSI returns a value in the SI unit of its kind.
func (u Unit) ToSI(v float64) float64 { return u.Factor * (v + u.Offset) }

// FromSI is the inverse of ToSI.
func (u Unit) FromSI(si float64) float64 { return si/u.Factor - u.Offset }

// WidthToSI returns a difference or an uncertainty in SI: no offset.
func (u Unit) WidthToSI(w float64) float64 { return u.Factor * w }

// Quantity returns a value in SI with its dimensions.
func Quantity(si float64, k Kind) *unit.Unit { return unit.New(si, dimensions[k]) }

// Product multiplies two values in SI and makes sure that the product is of kind
// want.
func Product(a float64, ka Kind, b float64, kb, want Kind) (float64, error) {
	p := Quantity(a, ka).Mul(Quantity(b, kb))
	if !unit.DimensionsMatch(p, Quantity(1, want)) {
		return 0, fmt.Errorf("a %s times a %s is not a %s", ka, kb, want)
	}
	return p.Value(), nil
}

// Choices lists the units of a kind for a sentence: "kg, g or oz".
func Choices(k Kind) string {
	names := Names(k)
	if len(names) == 1 {
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " or " + names[len(names)-1]
}
