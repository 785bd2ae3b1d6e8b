package trial

import (
	"context"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"swathe/track"
	"swathe/track/scene"
	"swathe/track/scene/scenetest"
)

// Scenes by chance give the same paths each time they are measured: drawn and
// looked at within this process, one short one; with SWATHE_LONG, ten through
// encoded files and the eye, alone and two at once.
func TestChanceGivesTheSameTwice(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if os.Getenv("SWATHE_LONG") == "" || eye == "" {
		tr := scenetest.ByChance(3)
		tr.Scene.Length, tr.Encode = min(tr.Scene.Length, 12), nil
		sol := solve(t, tr)
		var print [2]string
		for i := range print {
			trace, s, err := measured(t, tr, sol)
			print[i] = fmt.Sprintf("%v %+v %v", err, s, trace)
			if trace != nil {
				print[i] = fmt.Sprintf("%v %+v %+v", err, s, *trace)
			}
		}
		if print[0] != print[1] {
			t.Error("the same scene was measured in two ways")
		}
		return
	}
	for seed := uint64(1); seed <= 10; seed++ {
		t.Run(fmt.Sprint(seed), func(t *testing.T) {
			tr := scenetest.ByChance(seed)
			tr.Scene.Length = min(tr.Scene.Length, 30)
			file := filepath.Join(t.TempDir(), "chance.mp4")
			if err := scene.RenderTo(context.Background(), &tr.Scene, scene.EyeEncoder{Path: eye}, file, func(int, int) {}); err != nil {
				t.Fatal(err)
			}
			d := Drawing{Scene: tr.Scene, Drive: tr.Drive, Survey: solve(t, tr)}
			job := d.job()
			job.Files = []string{file}
			measure := func() string {
				r, err := track.Measure(context.Background(), eye, job, track.DefaultOptions(), nil)
				if err != nil {
					return err.Error()
				}
				return fmt.Sprintf("%x", sha256.Sum256(fmt.Appendf(nil, "%+v %+v %q %+v", *r.Trace, r.Recording, r.Warnings, r.TestObjects)))
			}
			alone := measure()
			var both [2]string
			var wait sync.WaitGroup
			for i := range both {
				wait.Add(1)
				go func() { defer wait.Done(); both[i] = measure() }()
			}
			wait.Wait()
			if both[0] != alone || both[1] != alone {
				t.Errorf("alone %s, two at once %s and %s", alone, both[0], both[1])
			}
		})
	}
}
