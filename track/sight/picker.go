package sight

// Picker chooses the frames to look at: the last one before a look would come
// later than Every after the one before. So there are 1/Every looks a second
// or more, however uneven the frames.
type Picker struct {
	Every                 float64 // s
	lastLook, lastT, step float64
	begun                 bool
}

// Take tells whether to look at the frame at time t; times must rise.
func (k *Picker) Take(t float64) bool {
	if !k.begun {
		k.begun, k.lastLook, k.lastT = true, t, t
		return true
	}
	if d := t - k.lastT; d > 0 {
		k.step = d
	}
	k.lastT = t
	if t-k.lastLook+k.step > k.Every*1.001 {
		k.lastLook = t
		return true
	}
	return false
}
