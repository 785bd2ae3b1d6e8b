package words

import "math"

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
