package sight

import (
	"math"
	"sort"
)

// AgainPast is how far beyond the looks that are made again frames are looked at,
// s: what comes after a frame decides on it too.
const AgainPast = 2

// Again tells whether the run's beginning is to be looked at once more, up to a
// time, s, and if so makes the Watcher ready for it; it is asked once, when all
// frames were looked at and before Turns. The robot's colours are learned from
// looks at it. Where looks before they were known did not settle where it is, all up
// to the last of these are made again with what is known now, as in a second turn of
// expectation and maximisation: frames from the first to AgainPast beyond the time. What is found
// in those up to the time counts where nothing was found before, or what was found was in
// doubt; the rest stays, for while an encoder has not settled yet the colours may be others.
func (w *Watcher) Again() (until float64, ok bool) {
	c := w.choices
	if w.again || len(c.open) == 0 || c.reg.hist == nil {
		return 0, false
	}
	w.again = true
	c.anew()
	w.people = newPeople(w.set.Cam, w.bg.Small.W, w.bg.Small.H, w.bg.Factor)
	w.fresh()
	return c.open[len(c.open)-1], true
}

// fresh is the state before the first frame, of all but what is learned.
func (w *Watcher) fresh() {
	w.have, w.ever, w.motion = false, false, Motion{}
	w.lastWhole, w.lastSteer, w.shakeEnd, w.adrift = math.Inf(-1), math.Inf(-1), math.Inf(-1), math.NaN()
	w.learned.X, w.top.t, w.mark.t = math.NaN(), math.NaN(), math.NaN()
}

// insert keeps what Read gave of a look that was made again and gave nothing before,
// or settles it, in the order of time; half an hour of looks that was settled is not opened again.
func (t *Texture) insert(u unwrapped, settles bool) {
	if t.model != nil {
		return
	}
	i := sort.Search(len(t.looks), func(i int) bool { return t.looks[i].t >= u.t })
	if i < len(t.looks) && t.looks[i].t == u.t {
		if settles {
			t.looks[i] = u
		}
		return
	}
	t.looks = append(t.looks, unwrapped{})
	copy(t.looks[i+1:], t.looks[i:])
	t.looks[i] = u
}
