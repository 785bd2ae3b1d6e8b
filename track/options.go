package track

import (
	"fmt"
	"time"
)

// Options are the thresholds of linking and smoothing. All are in SI units and
// radians; 0 is a value, so start from DefaultOptions.
type Options struct {
	Rate    float64       // looks a second at least, 1/s
	Threads int           // decoding threads
	Limit   time.Duration // after this long without a word from the eye it is ended
	Debug   *Debug        // pictures of what each stage saw; nil: none
	halve   int           // see Request.Halve

	KeepEvery time.Duration // of work between what is kept in Job.Unfinished; 0: as the eye thinks best

	MaxSpeed   float64 // m/s, faster steps are errors: IEC 62849:2025, on the performance of household robots, ends its scope there
	Accel      float64 // m/s^2/sqrt(Hz), spectral density of the acceleration
	TurnAccel  float64 // rad/s^2/sqrt(Hz), of the turning
	BridgeSeen float64 // s, a gap without a known reason is bridged up to this long
	BridgeHid  float64 // s, a gap under or behind a known thing is bridged up to this long
	Still      float64 // m, the robot stands while it stays within this
	StillTime  float64 // s, and for at least this long
	StartMove  float64 // m, a run starts when the centre has moved by more than this (contract)
	StartTurn  float64 // rad, or the heading by more than this
	Crowd      float64 // share of the ring round the robot that a person must fill to be one who touches it
}

// Debug asks for one picture of every stage of the looks nearest to some times.
type Debug struct {
	Dir string    `json:"dir"` // a folder that is there
	At  []float64 `json:"at"`  // s in the run, rising
}

// DefaultOptions returns the values used throughout.
func DefaultOptions() Options {
	return Options{Rate: 10, Threads: 3, Limit: 60 * time.Second, MaxSpeed: 1.5, Accel: 0.8, TurnAccel: 6,
		BridgeSeen: 2, BridgeHid: 10, Still: 0.0025, StillTime: 0.6, StartMove: 0.005, StartTurn: 3 * deg, Crowd: 0.25}
}

const deg = 3.14159265358979323846 / 180

// Validate says what is wrong with options, nil if nothing is.
func (o Options) Validate() error {
	for _, c := range []struct {
		name string
		v    float64
	}{{"Rate", o.Rate}, {"MaxSpeed", o.MaxSpeed}, {"Accel", o.Accel}, {"TurnAccel", o.TurnAccel}, {"BridgeSeen", o.BridgeSeen},
		{"BridgeHid", o.BridgeHid}, {"Still", o.Still}, {"StillTime", o.StillTime}, {"StartMove", o.StartMove}, {"StartTurn", o.StartTurn}} {
		if !(c.v > 0) {
			return fmt.Errorf("option %s is %v; it should be above 0", c.name, c.v)
		}
	}
	if o.Threads < 1 {
		return fmt.Errorf("option Threads is %d; it should be 1 or more", o.Threads)
	}
	return nil
}
