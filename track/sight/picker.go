package sight

import "math"

// Picker chooses the frames to look at: the first in each slot of Every
// seconds, a whole number of frames. So there are as many looks a second as
// were asked for or more, evenly spread however the frames come.
type Picker struct {
	Every float64 // s; 0: every frame
	Step  float64 // s between frames
	slot  int64
	begun bool
}

// NewPicker returns a Picker of at least rate looks a second for a recording of
// fps frames a second, 0 if that is not known: then every frame is looked at.
// The rate may be missed by a hundredth, as with 29.97 frames for 30.
func NewPicker(rate, fps float64) Picker {
	n := math.Floor(1.01 * fps / rate)
	if !(n > 1) || math.IsInf(n, 0) {
		return Picker{}
	}
	return Picker{Every: n / fps, Step: 1 / fps}
}

// Take tells whether to look at the frame at time t, s from the first; times
// must rise.
func (k *Picker) Take(t float64) bool {
	if k.Every == 0 {
		return true
	}
	s := int64(math.Floor((t + k.Step/2) / k.Every))
	if k.begun && s == k.slot {
		return false
	}
	k.begun, k.slot = true, s
	return true
}
