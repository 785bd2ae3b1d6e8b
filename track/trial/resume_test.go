package trial

import (
	"bytes"
	"math/rand/v2"
	"os"
	"reflect"
	"testing"
	"time"

	"swathe/track/scene"
	"swathe/track/scene/scenetest"
	"swathe/track/sight"
)

// TestGoesOn stops watching at random looks, takes the state over into a Watcher
// that has seen nothing, and holds that from there on both see the same, to the last bit.
func TestGoesOn(t *testing.T) {
	names := []string{"plain"}
	if os.Getenv("SWATHE_LONG") != "" {
		names = append(names, "square_front", "person_middle", "nudged_a_little")
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			tr, ok := scenetest.FindTrait(name)
			if !ok {
				t.Fatal("there is no such trait")
			}
			s := tr.Scene
			r, err := scene.NewRenderer(&s)
			if err != nil {
				t.Fatal(err)
			}
			seed := uint64(time.Now().UnixNano())
			t.Log("seed", seed)
			rng := rand.New(rand.NewPCG(seed, 0))
			times := r.Times()
			draw := newPool(r, s.Camera.Width, s.Camera.Height, sight.Halvings(s.Camera.Width))
			var at []int
			for k := range 12 {
				at = append(at, k*len(times)/12)
			}
			var samples []*sight.Picture
			draw.each(at, times, func(_ int, p *sight.Picture) bool { samples = append(samples, p.Clone()); return true })
			fresh := func() *sight.Watcher {
				set := sight.NewSetup(s.Camera, s.Plan, s.Robot, sight.Halvings(s.Camera.Width))
				return sight.NewWatcher(set, sight.Learn(&set, samples, nil))
			}
			// Some seconds from somewhere, at ten looks a second.
			begin, step := rng.IntN(max(1, len(times)*2/3)), max(1, int(s.Timing.FPS/10+0.5))
			at = at[:0]
			for i := begin; i < len(times) && len(at) < 90; i += step {
				at = append(at, i)
			}
			a, stop := fresh(), map[int]bool{0: true, len(at) / 3: true, rng.IntN(len(at)): true, rng.IntN(len(at)): true}
			b, found, bytesOf := a, 0, 0
			draw.each(at, times, func(i int, p *sight.Picture) bool {
				if stop[i] {
					var state bytes.Buffer
					if err := b.Save(&state); err != nil {
						t.Error(err)
						return false
					}
					bytesOf = state.Len()
					b = fresh()
					if err := b.Load(&state); err != nil {
						t.Error(err)
						return false
					}
				}
				q := p.Clone()
				q.T = p.T
				if one, two := a.Look(p), b.Look(q); !reflect.DeepEqual(one, two) {
					t.Errorf("look %d, stopped at %v:\n%+v\n%+v", i, stop, one, two)
					return false
				} else if one.Found {
					found++
				}
				if one, two := a.Revised(false), b.Revised(false); !reflect.DeepEqual(one, two) {
					t.Errorf("look %d is revised otherwise", i)
				}
				return true
			})
			t.Logf("%d looks, found in %d, a state of %.1f MB", len(at), found, float64(bytesOf)/1e6)
			if t.Failed() {
				return
			}
			if !reflect.DeepEqual(a.Revised(true), b.Revised(true)) || !reflect.DeepEqual(a.Turns(), b.Turns()) || !reflect.DeepEqual(a.TestObjects(), b.TestObjects()) {
				t.Error("what is decided at the end differs")
			}
		})
	}
}
