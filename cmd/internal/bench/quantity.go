// Package bench keeps what a laboratory weighs, meters and times beside its
// recordings: readings with unit, uncertainty and trial, held in LAB/bench.sqlite,
// taken in from CSV and given out as CSV without loss, and the figures that
// follow from them. Nothing that contradicts itself gets in.
package bench

import (
	"math"
	"slices"

	"swathe/cmd/internal/lab"
	"swathe/cmd/internal/units"
)

// Quantity is one thing that the bench measures, or a figure that follows from
// such.
type Quantity struct {
	Name, Words string
	Unit        units.Unit // that tables show it in; its kind is what a reading must have
	OfRobot     bool       // of the robot as such; else of a trial
	Better      int        // +1: more is better, -1: less is, 0: neither
	Low, High   float64    // SI; what lies outside is a slip
	Follows     string     // from what it is worked out; empty: it is read
}

func q(name, words, unit string, better int, low, high float64) Quantity {
	return Quantity{Name: name, Words: words, Unit: units.Must(unit), Better: better, Low: low, High: high}
}

func ofRobot(x Quantity) Quantity {
	x.OfRobot = true
	return x
}

func follows(x Quantity, from string) Quantity {
	x.Follows = from
	return x
}

// Catalogue holds the quantities that every lab has. Their ranges only catch slips
// such as grams written as kilograms; they say nothing of what is good.
var Catalogue = []Quantity{
	q("mass_laid_out", "Soil laid out", "g", 0, 1e-6, 10),
	q("mass_picked_up", "Soil picked up", "g", 0, 0, 10),
	q("mass_left", "Soil left on the floor", "g", 0, 0, 10),
	q("hair_laid_out", "Hair laid out", "g", 0, 1e-6, 1),
	q("hair_picked_up", "Hair in the bin", "g", 0, 0, 1),
	q("hair_wrapped", "Hair wrapped on the brush", "g", 0, 0, 1),
	q("hair_clear_time", "Time to clear the brush of hair", "min", -1, 0, 7200),
	q("stain_left", "Stain left, share of its area", "%", -1, 0, 2),
	q("debris_left", "Debris left, share of its area", "%", -1, 0, 2),
	q("hair_left", "Hair left, share of its length", "%", -1, 0, 2),
	q("air_flow", "Air flow", "L/s", 1, 0, 0.2),
	q("suction", "Suction (negative pressure)", "kPa", 1, 0, 100e3),
	q("sound_pressure", "Sound pressure level, A-weighted", "dB", -1, 0, 140),
	q("sound_power", "Sound power level, A-weighted", "dB", -1, 0, 140),
	q("run_time", "Run time on a charge", "min", 1, 0, 86400),
	q("charge_time", "Time to charge", "min", -1, 0, 172800),
	q("energy", "Energy drawn", "W h", -1, 0, 7.2e6),
	q("charge", "Charge drawn", "A h", 0, 0, 3.6e5),
	ofRobot(q("bin_volume", "Volume of the bin", "mL", 1, 0, 0.02)),
	ofRobot(q("body_diameter", "Diameter, as measured", "mm", 0, 0.05, 1)),
	ofRobot(q("body_height", "Height, as measured", "mm", -1, 0.01, 0.5)),
	ofRobot(q("body_mass", "Mass of the robot", "kg", 0, 0.1, 50)),
	q("edge_gap", "Strip left along a wall", "mm", -1, 0, 0.5),
	q("edge_share", "Picked up along a wall", "%", 1, 0, 1),
	q("crevice_share", "Picked up from a crevice", "%", 1, 0, 1),
	follows(q("pickup_share", "Soil picked up, share of soil laid out", "%", 1, 0, 1.5), "mass_picked_up and mass_laid_out"),
	follows(q("pickup_limit", "Soil picked up in the limit of many passes", "%", 1, 0, 1.5), "mass_picked_up pass by pass, at least three"),
	follows(q("pickup_per_pass", "Share of the remaining soil that one pass picks up", "%", 1, 0, 1), "mass_picked_up pass by pass, at least three"),
	follows(q("hair_wrapped_share", "Hair wrapped on the brush, share of hair laid out", "%", -1, 0, 1.5), "hair_wrapped and hair_laid_out"),
	follows(q("hair_pickup_share", "Hair in the bin, share of hair laid out", "%", 1, 0, 1.5), "hair_picked_up and hair_laid_out"),
	follows(q("air_power", "Air power, flow times suction", "W", 1, 0, 1e4), "air_flow and suction of one trial"),
}

// Quantities returns the standing quantities and those that the lab declares.
func Quantities(l *lab.Lab) []Quantity {
	out := slices.Clone(Catalogue)
	for _, d := range l.Quantities {
		low, high := math.Inf(-1), math.Inf(1)
		if !math.IsInf(d.Low, 0) {
			low, high = d.Unit.ToSI(d.Low), d.Unit.ToSI(d.High)
		}
		own := Quantity{Name: d.Name, Words: d.Words, Unit: d.Unit, OfRobot: d.OfRobot, Better: d.Better, Low: low, High: high}
		if i := slices.IndexFunc(out, func(x Quantity) bool { return x.Name == d.Name }); i >= 0 {
			out[i] = own
		} else {
			out = append(out, own)
		}
	}
	return out
}

func names(qs []Quantity) []string {
	var out []string
	for _, x := range qs {
		if x.Follows == "" {
			out = append(out, x.Name)
		}
	}
	return out
}

// Named is a standing quantity.
func Named(name string) Quantity {
	q, _ := find(Catalogue, name)
	return q
}

func find(qs []Quantity, name string) (Quantity, bool) {
	for _, x := range qs {
		if x.Name == name {
			return x, true
		}
	}
	return Quantity{}, false
}
