//go:build cgo && customenv

package cv

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"swathe/track/sight"
)

type aheadLook struct {
	t     float64
	index int
	luma  []byte
}

// lookThrough takes all frames that a picker takes, in the plain way.
func lookThrough(t *testing.T, file string, rate float64) (looks []aheadLook, n int, last float64) {
	t.Helper()
	r, err := Open(file, 1)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	pick := sight.NewPicker(rate, r.Info().FPS)
	for {
		f, err := r.Next()
		if err != nil {
			t.Fatal(err)
		}
		if f == nil {
			n, last = r.Count()
			return looks, n, last
		}
		if pick.Take(f.T) {
			looks = append(looks, aheadLooked(t, f))
		}
		f.Free()
	}
}

func aheadLooked(t *testing.T, f *Frame) aheadLook {
	t.Helper()
	pic, err := f.Picture(0)
	if err != nil {
		t.Fatal(err)
	}
	return aheadLook{f.T, f.Index, bytes.Clone(pic.Y.Pix)}
}

// Reading ahead changes neither which frames are looked at, nor one pixel of them,
// nor how many there are said to be, not even where the container hides frames.
func TestAheadHandsOutTheSameFrames(t *testing.T) {
	const dir = "../../testdata/odd/recordings/cluttered/siskin_mapped_"
	const maple = "../../testdata/maple/recordings/cluttered/siskin_mapped_1.mp4"
	clock := filepath.Join(t.TempDir(), "clock.mp4")
	clockFilm(t, clock, 230, 0)
	type given struct {
		file  string
		rate  float64
		slack int // looks that may be missing: where times are uneven, a slot's first frame is not known ahead
	}
	cases := []given{
		{clock, 6, 0},
		{clock, 100, 0}, // every frame is looked at
		{maple, 2, 0},
		{dir + "1.mp4", 4, 0},
		{dir + "1.mp4", 100, 0},
		{dir + "3.mkv", 4, 0},
		{dir + "8.mp4", 4, 4},
		{dir + "9.mp4", 4, 0}, // interlaced
		{dir + "4.avi", 4, 0}, // another codec
		{dir + "6.mp4", 4, 0}, // H.265
	}
	if ffmpeg, err := exec.LookPath("ffmpeg"); err == nil {
		cut := filepath.Join(t.TempDir(), "cut.mp4")
		if out, err := exec.Command(ffmpeg, "-v", "error", "-ss", "1.1", "-i", dir+"1.mp4", "-c", "copy", cut).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		cases = append(cases, given{cut, 4, 0})
	}
	for _, c := range cases {
		want, n, last := lookThrough(t, c.file, c.rate)
		info, err := Open(c.file, 1)
		if err != nil {
			t.Fatal(err)
		}
		l, err := OpenAhead(c.file, 3, sight.NewPicker(c.rate, info.Info().FPS), nil)
		info.Close()
		if err != nil {
			t.Fatal(err)
		}
		k, wrong := 0, 0
		for f := l.Next(); f != nil; f = l.Next() {
			got := aheadLooked(t, f)
			f.Free()
			for c.slack > 0 && k < len(want) && want[k].t < got.t {
				k++
				wrong++
			}
			if k < len(want) {
				w := want[k]
				if got.t != w.t || got.index != w.index || !bytes.Equal(got.luma, w.luma) {
					wrong++
				}
			}
			k++
		}
		if l.Next() != nil {
			t.Errorf("%s: a frame behind the last", c.file)
		}
		m, bad, end := l.Count()
		t.Logf("%s at %g/s: %d frames, %d looks, damaged %v, %d looks different", c.file, c.rate, m, k, l.Damaged(), wrong)
		if k != len(want) || wrong > c.slack {
			t.Errorf("%s: %d looks, of the plain %d; %d are not the same", c.file, k, len(want), wrong)
		}
		if m != n || end != last || bad != 0 || l.Damaged() {
			t.Errorf("%s: %d frames to %.3f s, %d bad, of the plain %d to %.3f s", c.file, m, end, bad, n, last)
		}
		l.Close()
	}
}

// Read again from behind a frame, a recording gives the frames that came after it
// the first time, to the last pixel, and as many are counted.
func TestAheadGoesOnBehindAFrame(t *testing.T) {
	seed := uint64(time.Now().UnixNano())
	t.Log("seed", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	const dir = "../../testdata/odd/recordings/cluttered/siskin_mapped_"
	clock := filepath.Join(t.TempDir(), "clock.mp4")
	clockFilm(t, clock, 230, 0)
	for _, c := range []struct {
		file string
		rate float64
	}{
		{clock, 6}, {clock, 100}, {"../../testdata/maple/recordings/cluttered/siskin_mapped_1.mp4", 4}, {dir + "1.mp4", 4}, {dir + "1.mp4", 100},
		{dir + "3.mkv", 4}, {dir + "8.mp4", 4}, {dir + "9.mp4", 4}, {dir + "4.avi", 4}, {dir + "6.mp4", 4},
	} {
		info, err := Open(c.file, 1)
		if err != nil {
			t.Fatal(err)
		}
		pick := sight.NewPicker(c.rate, info.Info().FPS)
		info.Close()
		read := func(behind *Place) (looks []aheadLook, n, bad int, last float64) {
			l, err := OpenAhead(c.file, 3, pick, behind)
			if err != nil {
				t.Fatal(err)
			}
			defer l.Close()
			for f := l.Next(); f != nil; f = l.Next() {
				looks = append(looks, aheadLooked(t, f))
				f.Free()
			}
			if l.Damaged() {
				t.Errorf("%s behind %+v: not found again", c.file, behind)
			}
			n, bad, last = l.Count()
			return looks, n, bad, last
		}
		all, n, bad, last := read(nil)
		for _, k := range []int{0, rng.IntN(len(all)), rng.IntN(len(all)), rng.IntN(len(all)), len(all) - 1} {
			rest, m, worse, end := read(&Place{all[k].t, all[k].index})
			if m != n || worse != bad || end != last || len(rest) != len(all)-k-1 {
				t.Errorf("%s behind look %d of %d: %d looks, %d frames to %.3f s, whole %d to %.3f s", c.file, k, len(all), len(rest), m, end, n, last)
				continue
			}
			for i, got := range rest {
				if w := all[k+1+i]; got.t != w.t || got.index != w.index || !bytes.Equal(got.luma, w.luma) {
					t.Errorf("%s behind look %d of %d: look %d is frame %d at %.3f s, it was %d at %.3f s", c.file, k, len(all), k+1+i, got.index, got.t, w.index, w.t)
					break
				}
			}
		}
	}
}

// Whoever stops looking is not kept waiting, however much was read ahead.
func TestAheadEndsEarly(t *testing.T) {
	for _, looks := range []int{0, 1, 40} {
		l, err := OpenAhead("../../testdata/maple/recordings/cluttered/siskin_mapped_1.mp4", 3, sight.Picker{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		for range looks {
			l.Next().Free()
		}
		l.Close()
	}
}

// Damage ends the reading by several threads, and is marked by one.
func TestAheadOfADamagedRecording(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "clock.mp4")
	clockFilm(t, file, 200, 0)
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	at := len(b) / 2
	for i := at; i < at+400; i++ {
		b[i] = 0xff
	}
	if err := os.WriteFile(file, b, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, threads := range []int{3, 1} {
		l, err := OpenAhead(file, threads, sight.Picker{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		looks, marked := 0, 0
		for f := l.Next(); f != nil; f = l.Next() {
			looks++
			if f.Bad {
				marked++
			}
			f.Free()
		}
		_, bad, _ := l.Count()
		t.Logf("%d threads: %d looks, %d marked, %d bad, damaged %v", threads, looks, marked, bad, l.Damaged())
		if l.Damaged() != (threads > 1) {
			t.Errorf("%d threads: damaged %v", threads, l.Damaged())
		}
		if threads == 1 && (looks < 150 || marked == 0 || bad == 0) {
			t.Errorf("read in one go: %d looks, %d marked, %d bad", looks, marked, bad)
		}
		l.Close()
	}
}
