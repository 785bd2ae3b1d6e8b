package track

import (
	"bufio"
	"bytes"
	"math"
	"os"
	"testing"
	"time"
)

func kept(f *testing.F, name string) {
	f.Helper()
	if seeds, err := os.ReadDir("testdata/fuzz/" + name); err != nil || len(seeds) == 0 {
		f.Fatalf("the seeds are gone: %v", err)
	}
}

// FuzzReplies: whatever swathe-eye says is refused, or gives frames in their
// order with places that are numbers; from those a path follows or a failure.
func FuzzReplies(f *testing.F) {
	kept(f, "FuzzReplies")
	f.Fuzz(func(t *testing.T, data []byte) {
		r := &reading{rec: Recording{}, touch: func() {}, begun: time.Now(), progress: func(Progress) {}}
		if r.read(bytes.NewReader(data)) != nil {
			return
		}
		last := math.Inf(-1)
		for i, s := range r.sightings {
			if !(s.T >= last) || s.T < 0 || s.T > longest || s.Found && math.Abs(s.X)+math.Abs(s.Y) > 2*farthest || s.Cov[0] < 0 || s.Cov[2] < 0 {
				t.Fatalf("frame %d let through: %+v after %g s", i, s, last)
			}
			last = s.T
		}
	})
}

// FuzzFrames: pictures that swathe-eye sends are taken whole or not at all, and no
// more memory is asked for than came.
func FuzzFrames(f *testing.F) {
	kept(f, "FuzzFrames")
	f.Fuzz(func(t *testing.T, data []byte) {
		pictures, err := readFrames(bufio.NewReader(bytes.NewReader(data)), 2)
		if err == nil && len(pictures) > 2 {
			t.Fatalf("%d pictures of 2", len(pictures))
		}
	})
}
