package trial

import (
	"testing"

	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
)

// Pictures of every stage can be asked for at any look, whatever the fitter
// looked at last, as after a search that found nothing or before any: asking
// breaks nothing and changes nothing.
func TestDebugAtAnyLook(t *testing.T) {
	tr, _ := scenetest.FindTrait("plain")
	s := tr.Scene
	r, err := scene.NewRenderer(&s)
	if err != nil {
		t.Fatal(err)
	}
	times := r.Times()
	bgr := make([]byte, 3*s.Camera.Width*s.Camera.Height)
	var samples []*sight.Picture
	for k := range 5 {
		i := k * len(times) / 5
		r.Draw(i, bgr)
		samples = append(samples, sight.FromBGR(bgr, s.Camera.Width, s.Camera.Height, times[i], nil).Clone())
	}
	set := sight.NewSetup(s.Camera, s.Plan, s.Robot, 0)
	bg := sight.Learn(&set, samples, nil)
	with, without := sight.NewWatcher(set, bg), sight.NewWatcher(set, bg)
	found := 0
	for k, p := range samples { // far apart in time, so that each is searched for anew
		a, b := with.Look(p), without.Look(p)
		if a != b {
			t.Errorf("look %d: asking for pictures changed what was seen", k)
		}
		if !a.Found {
			continue
		}
		found++
		for name, w := range map[string]*sight.Watcher{"that found it": with, "that has looked at nothing yet": sight.NewWatcher(set, bg)} {
			if n := len(w.Debug(p, a)); n < 5 {
				t.Errorf("look %d, a watcher %s: %d pictures, there are 5 stages", k, name, n)
			}
		}
	}
	if found < 3 {
		t.Errorf("found in %d of %d looks only", found, len(samples))
	}
}
