//go:build linux

package work

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"swathe/track"
)

// TestDamagedRecordings damages recordings of every container at random: what could
// be measured of each is, with a warning where frames are missing, or it is refused
// with a reason; swathe-eye neither hangs nor takes more than 600 MB. Always the same four;
// 200 others with SWATHE_LONG.
func TestDamagedRecordings(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("the eye is not named by SWATHE_EYE (bash cmd/test.sh builds it and names it)")
	}
	times, seed := 4, uint64(1)
	if os.Getenv("SWATHE_LONG") != "" {
		times, seed = 200, uint64(time.Now().UnixNano())
	}
	const limit = 2 * time.Minute // eight seconds of recording take two or three
	const most = 600              // MB
	t.Logf("seed %d, %d recordings", seed, times)
	rng := rand.New(rand.NewPCG(seed, 0))
	l := labCopy(t, odd)
	count := map[string]int{}
	for n := range times {
		trial := 1 + n%6
		items, err := List(l, []string{fmt.Sprintf("cluttered/siskin_mapped_%d", trial)})
		if err != nil {
			t.Fatal(err)
		}
		it := items[0]
		good, err := os.ReadFile(filepath.Join(odd, "recordings", "cluttered", filepath.Base(it.Run.Files[0])))
		if err != nil {
			t.Fatal(err)
		}
		bad, how := damaged(rng, good)
		must(t, os.WriteFile(it.Run.Files[0], bad, 0o644))
		what := fmt.Sprintf("%d, %s, %s", n, filepath.Base(it.Run.Files[0]), how)
		ctx, cancel := context.WithTimeout(context.Background(), limit)
		look := Eye{Measure: func(_ context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
			return track.Measure(ctx, eye, job, track.DefaultOptions(), tell)
		}}
		f, err := measure(ctx, l, it.Run, Options{Eye: look, Anyway: true}, nil)
		cancel()
		var failure *track.Failure
		switch {
		case errors.Is(err, context.DeadlineExceeded):
			t.Errorf("%s: not done after %v", what, limit)
		case errors.As(err, &failure):
			count["refused: "+string(failure.Kind)]++
			if failure.Message == "" {
				t.Errorf("%s: refused without a reason", what)
			}
			if failure.Kind == track.EyeCrashed || failure.Kind == track.ProgramFailed {
				t.Errorf("%s: %s\n%s", what, failure.Message, failure.Report)
			}
		case err != nil:
			t.Errorf("%s: %v", what, err)
		default:
			count["measured"]++
			rec := f.track.Recording
			if (rec.FramesBad > 0 || rec.Duration < 7.5) && len(f.warnings) == 0 {
				t.Errorf("%s: %d of %d frames to %.1f s, and no warning", what, rec.FramesBad, rec.Frames, rec.Duration)
			}
		}
		must(t, os.WriteFile(it.Run.Files[0], good, 0o644))
	}
	var u syscall.Rusage
	must(t, syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u))
	mb := float64(u.Maxrss) / 1024 // the largest of all
	t.Logf("%v; at most %.0f MB", count, mb)
	if mb > most {
		t.Errorf("swathe-eye took %.0f MB, %d are allowed", mb, most)
	}
}

// damaged returns a file with something done to it, and what.
func damaged(rng *rand.Rand, good []byte) ([]byte, string) {
	b := append([]byte(nil), good...)
	place := func() int { return rng.IntN(len(b)) }
	var how []string
	for range 1 + rng.IntN(3) {
		at := place()
		n := min(len(b)-at, 1<<rng.IntN(17))
		switch rng.IntN(5) {
		case 0:
			b = b[:max(1, at)]
			how = append(how, fmt.Sprintf("cut at %d", at))
		case 1:
			clear(b[at : at+n])
			how = append(how, fmt.Sprintf("%d zeros at %d", n, at))
		case 2:
			for i := at; i < at+n; i++ {
				b[i] = byte(rng.UintN(256))
			}
			how = append(how, fmt.Sprintf("%d bytes of noise at %d", n, at))
		case 3:
			b = append(b[:at], b[at+n:]...)
			if len(b) == 0 {
				b = []byte{0}
			}
			how = append(how, fmt.Sprintf("%d bytes left out at %d", n, at))
		default:
			for range 20 {
				b[place()] ^= 1 << rng.UintN(8)
			}
			how = append(how, "20 bits turned")
		}
	}
	return b, strings.Join(how, ", ")
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
