//go:build cgo && customenv

package cv

import (
	"bytes"
	"testing"

	"swathe/track/sight"
)

// What is left out undecoded changes neither which frames are looked at, nor
// one pixel of them, nor how many there are said to be.
func TestThinChangesNothingThatIsLookedAt(t *testing.T) {
	const dir = "../../testdata/odd/recordings/cluttered/siskin_mapped_"
	for _, c := range []struct {
		file  string
		saves bool // frames are left out indeed
		slack int  // looks that may be missing: where times are uneven, a slot's first frame is not known ahead
	}{
		{dir + "1.mp4", true, 0},  // length-prefixed units
		{dir + "3.mkv", true, 0},  // times in thousandths
		{dir + "8.mp4", true, 4},  // uneven times
		{dir + "9.mp4", false, 0}, // interlaced
		{dir + "4.avi", false, 0}, // another codec
		{dir + "6.mp4", false, 0}, // H.265
	} {
		type look struct {
			t     float64
			index int
			luma  []byte
		}
		read := func(thin bool) (looks []look, n int, last float64, decoded int) {
			r, err := Open(c.file, 2)
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			pick := sight.NewPicker(4, r.Info().FPS)
			if thin {
				r.Thin(pick)
			}
			for {
				f, err := r.Next()
				if err != nil {
					t.Fatal(err)
				}
				if f == nil {
					break
				}
				decoded++
				if pick.Take(f.T) {
					pic, err := f.Picture(0)
					if err != nil {
						t.Fatal(err)
					}
					looks = append(looks, look{f.T, f.Index, bytes.Clone(pic.Y.Pix)})
				}
				f.Free()
			}
			n, last = r.Count()
			return looks, n, last, decoded
		}
		whole, n, last, all := read(false)
		thin, m, end, some := read(true)
		t.Logf("%s: %d of %d frames decoded for %d looks", c.file, some, all, len(thin))
		if n != m || last != end || n != all {
			t.Errorf("%s: %d frames to %.3f s, of the whole %d to %.3f s", c.file, m, end, n, last)
		}
		if (some < all) != c.saves {
			t.Errorf("%s: %d of %d frames decoded", c.file, some, all)
		}
		if c.slack > 0 && len(thin) >= len(whole)-c.slack {
			continue
		}
		if len(whole) != len(thin) {
			t.Errorf("%s: %d looks, of the whole %d", c.file, len(thin), len(whole))
			continue
		}
		for i := range whole {
			a, b := whole[i], thin[i]
			if a.t != b.t || a.index != b.index || !bytes.Equal(a.luma, b.luma) {
				t.Errorf("%s: look %d at %.3f s, frame %d; of the whole %.3f s, frame %d; same picture: %v", c.file, i, b.t, b.index, a.t, a.index, bytes.Equal(a.luma, b.luma))
				break
			}
		}
	}
}
