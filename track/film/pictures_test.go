package film

import (
	"bytes"
	"image"
	"image/png"
	"math/rand/v2"
	"testing"

	"swathe/track/paint"
)

// A frame comes back from the standard library's decoder to the bit, whatever of it
// has changed, and a frame that has not is known as such.
func TestPicturesComeBackToTheBit(t *testing.T) {
	seed := rand.Uint64()
	t.Log("seed", seed)
	r := rand.New(rand.NewPCG(seed, 0))
	for _, size := range [][2]int{{64, 64}, {101, bandRows}, {7, 3*bandRows + 1}, {320, 240}} {
		w, h := size[0], size[1]
		c := paint.New(w, h, make([]byte, 3*w*h))
		c.A = make([]byte, w*h)
		p := NewPictures(w, h)
		for k := range 12 {
			if k%3 > 0 { // a box of noise; every third frame is the one before
				x, y := r.IntN(w), r.IntN(h)
				for j := y; j < min(h, y+30); j++ {
					for i := x; i < min(w, x+30); i++ {
						c.Pix[3*(j*w+i)+r.IntN(3)], c.A[j*w+i] = byte(r.Uint32()), byte(r.Uint32())
					}
				}
				c.A[y*w+x]++
			}
			if same := p.Take(c); same != (k > 0 && k%3 == 0) {
				t.Errorf("%v, frame %d: told to be as before: %v", size, k, same)
			}
			img, err := png.Decode(bytes.NewReader(p.PNG(nil)))
			if err != nil {
				t.Fatal(size, k, err)
			}
			got := img.(*image.NRGBA).Pix
			for i, a := range c.A {
				if got[4*i] != c.Pix[3*i+2] || got[4*i+1] != c.Pix[3*i+1] || got[4*i+2] != c.Pix[3*i] || got[4*i+3] != a {
					t.Fatalf("%v, frame %d: pixel %d is %v", size, k, i, got[4*i:4*i+4])
				}
			}
		}
	}
}
