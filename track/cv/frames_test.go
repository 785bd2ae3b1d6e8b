//go:build cgo && customenv

package cv

import (
	"bytes"
	"image"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"swathe/geom"
	"swathe/track"
	"swathe/track/paint"
)

// clockFilm writes n frames whose grey level and block tell their number.
func clockFilm(t testing.TB, file string, n, first int) {
	t.Helper()
	const w, h = 320, 240
	enc, err := Create(file, w, h, 20, DefaultWriterOptions())
	if err != nil {
		t.Fatal(err)
	}
	for k := first; k < first+n; k++ {
		if err := enc.Write(clockFrame(w, h, k)); err != nil {
			t.Fatal(err)
		}
	}
	if err := enc.Close(); err != nil {
		t.Fatal(err)
	}
}

// clockFrame shows a number in ten squares, white for a set bit.
func clockFrame(w, h, k int) []byte {
	b := bytes.Repeat([]byte{60}, w*h*3)
	for bit := 0; bit < 10; bit++ {
		if k>>bit&1 == 0 {
			continue
		}
		for y := 100; y < 130; y++ {
			for x := bit * 32; x < bit*32+32; x++ {
				for c := 0; c < 3; c++ {
					b[3*(y*w+x)+c] = 230
				}
			}
		}
	}
	return b
}

func readClock(bgr []byte, w int) int {
	k := 0
	for bit := 0; bit < 10; bit++ {
		if bgr[3*(115*w+bit*32+16)+1] > 140 {
			k |= 1 << bit
		}
	}
	return k
}

// Whatever the order of the questions, the frame nearest to the time comes, over
// the parts of a run as well.
func TestAlbumFindsTheFrame(t *testing.T) {
	dir := t.TempDir()
	one, two := filepath.Join(dir, "a.mp4"), filepath.Join(dir, "b.mp4")
	clockFilm(t, one, 120, 0)
	clockFilm(t, two, 60, 500)
	gap := 2.0
	a, err := OpenAlbum([]string{one, two}, []*float64{&gap})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	for _, c := range []struct {
		t    float64
		want int
		at   float64
	}{{0, 0, 0}, {3.01, 60, 3}, {3.01, 60, 3}, {3.06, 61, 3.05}, {2.99, 60, 3}, {0.26, 5, 0.25}, {5.9, 118, 5.9}, {-4, 0, 0}, {0.04, 1, 0.05},
		{6.9, 119, 5.95}, {7.2, 500, 7.95}, {7.97, 500, 7.95}, {9, 521, 9}, {99, 559, 10.9}, {1, 20, 1}, {4.5, 90, 4.5}} {
		for _, rough := range []bool{false, true} {
			bgr, at, err := a.at(c.t, rough, false)
			if err != nil {
				t.Fatal(err)
			}
			w, _ := a.Size()
			if got := readClock(bgr, w); got != c.want || math.Abs(at-c.at) > 1e-6 {
				t.Errorf("at %.2f s (rough: %v): frame %d of %.3f s, want %d of %.3f s", c.t, rough, got, at, c.want, c.at)
			}
		}
	}
}

// Frames that were hurried to are those that are read in turn, to the last
// pixel; rough ones are close, and leave nothing coarse behind.
func TestAlbumHurries(t *testing.T) {
	const file = "../../testdata/maple/recordings/cluttered/siskin_mapped_1.mp4"
	want := map[int][]byte{}
	r, err := Open(file, 2)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	w, h := r.Info().Width, r.Info().Height
	for i := 0; i <= 230; i++ {
		f, err := r.Next()
		if err != nil || f == nil {
			t.Fatal(err)
		}
		if i == 60 || i == 200 || i == 230 {
			want[i] = make([]byte, w*h*3)
			if err := f.BGR(want[i]); err != nil {
				t.Fatal(err)
			}
		}
		f.Free()
	}
	a, err := OpenAlbum([]string{file}, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	for _, c := range []struct {
		i     int
		rough bool
	}{{200, false}, {60, false}, {200, true}, {200, false}, {60, true}, {230, true}, {230, false}} {
		bgr, at, err := a.at(float64(c.i)/15, c.rough, false)
		if err != nil || math.Abs(at-float64(c.i)/15) > 1e-6 {
			t.Fatalf("frame %d: %v, at %.3f s", c.i, err, at)
		}
		sum := 0.0
		for k, v := range want[c.i] {
			sum += math.Pow(float64(v)-float64(bgr[k]), 2)
		}
		rms := math.Sqrt(sum / float64(len(bgr)))
		if !c.rough && rms != 0 || rms > 6 {
			t.Errorf("frame %d (rough: %v) is off by %.2f grey levels", c.i, c.rough, rms)
		} else if c.rough {
			t.Logf("frame %d hurried to roughly: off by %.2f grey levels (bound 6)", c.i, rms)
		}
	}
	// The key frame before is at hand at once; maple has one every 250 frames.
	for _, c := range []struct{ t, want float64 }{{30, 250.0 / 15}, {3, 0}, {40, 500.0 / 15}} {
		if _, at, err := a.at(c.t, true, true); err != nil || math.Abs(at-c.want) > 1e-6 {
			t.Errorf("the key frame before %.1f s: %v, at %.3f s, want %.3f", c.t, err, at, c.want)
		}
	}
}

func TestShoot(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "a.mp4")
	clockFilm(t, file, 30, 3)
	a, err := OpenAlbum([]string{file}, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	line := track.FrameLine{Points: []geom.Point2{{X: 20, Y: 200}, {X: 300, Y: 200}}, Width: 5, Colour: paint.Colour{255, 0, 0, 255}}
	for _, c := range []struct {
		shot track.Shot
		w, h int
	}{
		{track.Shot{T: 0, Format: "png"}, 320, 240},
		{track.Shot{T: 0, Format: "jpeg", Width: 160}, 160, 120},
		{track.Shot{T: 0.5, Format: "jpeg", Crop: &[4]int{-20, 10, 60, 60}, Width: 200}, 200, 300},
		{track.Shot{T: 0, Format: "png", Crop: &[4]int{100, 150, 400, 100}, Lines: []track.FrameLine{line}}, 220, 90},
	} {
		data, head, err := a.Shoot(c.shot)
		if err != nil {
			t.Fatal(err)
		}
		var img image.Image
		if c.shot.Format == "png" {
			img, err = png.Decode(bytes.NewReader(data))
		} else {
			img, err = jpeg.Decode(bytes.NewReader(data))
		}
		if err != nil {
			t.Fatal(err)
		}
		if b := img.Bounds(); b.Dx() != c.w || b.Dy() != c.h || head.Width != c.w || head.Height != c.h || head.Bytes != len(data) {
			t.Errorf("%+v: %v, %+v", c.shot, b, head)
		}
		if len(c.shot.Lines) > 0 {
			r, g, b, _ := img.At(60, 50).RGBA()
			if r>>8 != 255 || g != 0 || b != 0 {
				t.Errorf("the line is not there: %d %d %d", r>>8, g>>8, b>>8)
			}
			if r, _, _, _ := img.At(60, 60).RGBA(); r>>8 > 100 {
				t.Error("the line is too wide")
			}
		}
	}
	if _, _, err := a.Shoot(track.Shot{Format: "png", Crop: &[4]int{400, 0, 10, 10}}); err == nil || !strings.Contains(err.Error(), "outside") {
		t.Errorf("a part outside the frame: %v", err)
	}
}

func TestAlbumRefuses(t *testing.T) {
	dir := t.TempDir()
	a, b := filepath.Join(dir, "a.mp4"), filepath.Join(dir, "b.mp4")
	clockFilm(t, a, 5, 0)
	enc, err := Create(b, 160, 120, 20, DefaultWriterOptions())
	if err != nil {
		t.Fatal(err)
	}
	enc.Write(make([]byte, 160*120*3))
	enc.Close()
	text := filepath.Join(dir, "c.mp4")
	os.WriteFile(text, []byte("not a film"), 0o644)
	for _, files := range [][]string{nil, {text}, {a, b}, {filepath.Join(dir, "none.mp4")}} {
		if x, err := OpenAlbum(files, nil); err == nil {
			x.Close()
			t.Errorf("%v was opened", files)
		}
	}
}

// BenchmarkAlbumClick is one click on a time somewhere in a recording: set
// SWATHE_FILM to one. It reports the mean and the longest.
func BenchmarkAlbumClick(b *testing.B) {
	file := os.Getenv("SWATHE_FILM")
	if file == "" {
		b.Skip("set SWATHE_FILM to a recording")
	}
	longest := 0.0
	k := 0
	for b.Loop() {
		a, err := OpenAlbum([]string{file}, nil)
		if err != nil {
			b.Fatal(err)
		}
		k++
		from := b.Elapsed().Seconds()
		_, _, err = a.Shoot(track.Shot{T: math.Mod(float64(k)*0.618, 1) * a.parts[0].to, Format: "jpeg"})
		if err != nil {
			b.Fatal(err)
		}
		longest = math.Max(longest, b.Elapsed().Seconds()-from)
		a.Close()
	}
	b.ReportMetric(1000*longest, "ms-longest")
}
