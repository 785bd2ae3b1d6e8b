package words

import (
	"math"
	"regexp"
	"strconv"
)

// Speed writes metres a second in the unit asked for, with two decimals.
func Speed(mps float64, unit Unit) string {
	if math.IsNaN(mps) || math.IsInf(mps, 0) {
		return NotMeasured
	}
	if unit == Foot {
		return Number(mps/MetresPerFoot, math.NaN(), 2) + NB + "ft/s"
	}
	return Number(mps, math.NaN(), 2) + NB + "m/s"
}

var (
	metricPlace = regexp.MustCompile(`\((-?[\d.]+),[ \x{a0}](-?[\d.]+)\)[ \x{a0}]m([\s.,;:)]|$)`)
	metric      = regexp.MustCompile(`(\d+(?:\.\d+)?)[ \x{a0}](mm|cm|m|m/s|cm²|m²)([\s.,;:)]|$)`)
)

// InUnit writes the lengths, areas, speeds and places of a sentence that was
// made in metric units in the unit asked for, each by itself as Length and its
// like do; all else stays as it is.
func InUnit(s string, unit Unit) string {
	if unit != Foot {
		return s
	}
	s = metricPlace.ReplaceAllStringFunc(s, func(t string) string {
		p := metricPlace.FindStringSubmatch(t)
		x, _ := strconv.ParseFloat(p[1], 64)
		y, _ := strconv.ParseFloat(p[2], 64)
		return "(" + Number(x/MetresPerFoot, math.NaN(), 1) + "," + NB + Number(y/MetresPerFoot, math.NaN(), 1) + ")" + NB + "ft" + p[3]
	})
	one := func(t string) string {
		p := metric.FindStringSubmatch(t)
		v, err := strconv.ParseFloat(p[1], 64)
		if err != nil {
			return t
		}
		switch p[2] {
		case "mm":
			return Length(v/1000, math.NaN(), unit) + p[3]
		case "cm":
			return Length(v/100, math.NaN(), unit) + p[3]
		case "m":
			return Length(v, math.NaN(), unit) + p[3]
		case "m/s":
			return Speed(v, unit) + p[3]
		case "cm²":
			return Area(v/1e4, math.NaN(), unit) + p[3]
		}
		return Area(v, math.NaN(), unit) + p[3]
	}
	return metric.ReplaceAllStringFunc(s, one)
}
