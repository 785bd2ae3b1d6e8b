package work

import (
	"bytes"
	"context"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"swathe/cmd/internal/lab"
	"swathe/track"
)

// The same in gives the same out, byte for byte: from run to run, one recording
// at a time or two, in whatever order, and whatever was measured or failed
// before. The odd recordings are short and of every container; with SWATHE_LONG
// all of them and all of maple are measured.
func TestSameInSameOut(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("the eye is not named by SWATHE_EYE (bash cmd/test.sh builds it and names it)")
	}
	long := os.Getenv("SWATHE_LONG") != ""
	labs := map[string][]string{odd: {"cluttered/siskin_mapped_9", "cluttered/siskin_mapped_13", "cluttered/siskin_mapped_19"}}
	if long {
		labs = map[string][]string{odd: nil, maple: nil}
	}
	for from, names := range labs {
		t.Run(filepath.Base(from), func(t *testing.T) {
			first := measureCopy(t, eye, from, names, 1, false)
			second := measureCopy(t, eye, from, names, 2, true)
			if len(first) < 5 {
				t.Fatalf("only %d files came of it", len(first))
			}
			for name, a := range first {
				b, ok := second[name]
				switch {
				case !ok:
					t.Errorf("%s came of the first time only", name)
				case !bytes.Equal(a, b):
					t.Errorf("%s differs: %d and %d bytes", name, len(a), len(b))
				}
			}
			for name := range second {
				if _, ok := first[name]; !ok {
					t.Errorf("%s came of the second time only", name)
				}
			}
		})
	}
}

// A measurement that is stopped, at any moment, goes on where it was and comes to
// the same result, byte for byte; what it kept on the way is gone in the end.
// Recordings of other kinds with SWATHE_LONG.
func TestStoppedGoesOn(t *testing.T) {
	eye := os.Getenv("SWATHE_EYE")
	if eye == "" {
		t.Skip("the eye is not named by SWATHE_EYE (bash cmd/test.sh builds it and names it)")
	}
	seed := uint64(time.Now().UnixNano())
	t.Log("seed", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	runs := map[string][]string{odd: {"cluttered/siskin_mapped_1"}}
	if os.Getenv("SWATHE_LONG") != "" {
		runs = map[string][]string{maple: {"cluttered/siskin_mapped_1"}, odd: {"cluttered/siskin_mapped_4", "cluttered/siskin_mapped_8", "cluttered/siskin_mapped_13"}}
	}
	most := 3 // stops of one
	if os.Getenv("SWATHE_LONG") != "" {
		most = 8
	}
	for from, names := range runs {
		want := measureCopy(t, eye, from, names, 1, false)
		l := labCopy(t, from)
		wentOn := 0
		for _, name := range names {
			items, err := List(l, []string{name})
			if err != nil {
				t.Fatal(err)
			}
			stops, resumed := 0, 0
			for done := false; !done; {
				ctx, stop := context.WithCancel(context.Background())
				at, begun := 0.05+0.3*rng.Float64(), math.NaN() // by so much it gets on
				look := Eye{Measure: func(_ context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
					opt := track.DefaultOptions()
					opt.KeepEvery = 10 * time.Millisecond
					return track.Measure(ctx, eye, job, opt, tell)
				}}
				out := All(ctx, l, items, Options{Jobs: 1, Anyway: true, Eye: look}, Watcher{Progress: func(_ string, p track.Progress) {
					switch {
					case p.Doing == "going on where it was stopped":
						resumed++
						begun = p.Share
					case p.Doing == "" && math.IsNaN(begun):
						begun = p.Share
					case p.Share-begun > at && p.Share < 1 && stops < most:
						stop()
					}
				}})
				if done = out[0].Kind != Stopped; !done {
					stops++
				} else if out[0].Kind == Failed {
					t.Fatal(out[0].Reason)
				}
				stop()
			}
			t.Logf("%s: stopped %d times, went on %d times", name, stops, resumed)
			wentOn += resumed
		}
		if wentOn == 0 { // a short one may be stopped each time before anything is kept
			t.Errorf("%v never went on where they were stopped", names)
		}
		got := filesOf(t, l)
		for name := range want {
			if !bytes.Equal(got[name], want[name]) {
				t.Errorf("%s differs: %d and %d bytes", name, len(got[name]), len(want[name]))
			}
		}
		for name := range got {
			if _, ok := want[name]; !ok {
				t.Errorf("%s is left over", name)
			}
		}
	}
}

func labCopy(t *testing.T, from string) *lab.Lab {
	t.Helper()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	l, err := lab.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// measureCopy measures a copy of a lab from nothing and returns what lies in its
// results.
func measureCopy(t *testing.T, eye, from string, names []string, jobs int, backwards bool) map[string][]byte {
	t.Helper()
	l := labCopy(t, from)
	items, err := List(l, names)
	if err != nil {
		t.Fatal(err)
	}
	if backwards {
		slices.Reverse(items)
	}
	look := Eye{Measure: func(ctx context.Context, job track.Job, tell func(track.Progress)) (*track.Result, error) {
		return track.Measure(ctx, eye, job, track.DefaultOptions(), tell)
	}}
	All(context.Background(), l, items, Options{Jobs: jobs, Anyway: true, Eye: look}, Watcher{})
	return filesOf(t, l)
}

// filesOf returns what lies in a lab's results, by name. Left out is what says when
// something was done: the cache of hashes, the lock, and the time in the note of a failure.
func filesOf(t *testing.T, l *lab.Lab) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(l.ResultsDir(), func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, _ := filepath.Rel(l.ResultsDir(), p)
		if strings.HasPrefix(name, ".") && filepath.Dir(name) == "." {
			return nil
		}
		data, err := os.ReadFile(p)
		if strings.HasSuffix(name, ".failed.json") {
			lines := bytes.Split(data, []byte("\n"))
			data = bytes.Join(slices.DeleteFunc(lines, func(l []byte) bool { return bytes.Contains(l, []byte(`"when":`)) }), []byte("\n"))
		}
		out[name] = data
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(filepath.Join(l.ResultsDir(), ".rooms")); err == nil {
		t.Error("measuring left a picture of the room behind")
	}
	return out
}
