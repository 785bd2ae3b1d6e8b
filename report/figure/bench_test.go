package figure

import (
	"io"
	"testing"
)

// BenchmarkPasses3000x2000 is a heat map of 3000 x 2000 pixels as PNG; it is to
// take 2 s at the most.
func BenchmarkPasses3000x2000(b *testing.B) {
	r := fixture(b)
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI = 3000, 2000, 300
	b.ResetTimer()
	for range b.N {
		p, err := Passes(r, opt)
		if err != nil {
			b.Fatal(err)
		}
		if err := p.Write(io.Discard, "png"); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkGallery is one picture of every kind, 1600 x 1200, as PNG, one after
// the other; all pictures of a run are to take 5 s at the most.
func BenchmarkGallery(b *testing.B) {
	for range b.N {
		for _, p := range gallery(b, DefaultOptions()) {
			if err := p.Write(io.Discard, "png"); err != nil {
				b.Fatal(err)
			}
		}
	}
}
