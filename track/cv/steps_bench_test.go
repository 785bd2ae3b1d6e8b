//go:build cgo && customenv

package cv

import (
	"encoding/binary"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"gocv.io/x/gocv"

	"swathe/track/residue"
)

// BenchmarkSteps times the calls of OpenCV that could take the place of steps of
// package residue, on the same planes as its own BenchmarkSteps.
func BenchmarkSteps(b *testing.B) {
	const w, h = 960, 720
	r := rand.New(rand.NewPCG(1, 2))
	plane := gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F)
	defer plane.Close()
	raw := make([]byte, 0, 12*w*h)
	for y := range h {
		for x := range w {
			plane.SetFloatAt(y, x, r.Float32()*255)
			for range 3 {
				raw = binary.LittleEndian.AppendUint32(raw, math.Float32bits(r.Float32()))
			}
		}
	}
	rgb, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV32FC3, raw)
	if err != nil {
		b.Fatal(err)
	}
	defer rgb.Close()
	soft, mask, out, labels := gocv.NewMat(), gocv.NewMat(), gocv.NewMat(), gocv.NewMat()
	for _, m := range []*gocv.Mat{&soft, &mask, &out, &labels} {
		defer m.Close()
	}
	gocv.GaussianBlur(plane, &soft, image.Point{}, 3, 3, gocv.BorderReplicate)
	gocv.Threshold(soft, &out, 135, 255, gocv.ThresholdBinary)
	out.ConvertTo(&mask, gocv.MatTypeCV8U)
	blur := func(sigma float64) func(b *testing.B) {
		return func(b *testing.B) {
			for b.Loop() {
				gocv.GaussianBlur(plane, &soft, image.Point{}, sigma, sigma, gocv.BorderReplicate)
			}
		}
	}
	b.Run("blur 1.5 px", blur(1.5))
	b.Run("blur 8 px", blur(8))
	b.Run("pieces", func(b *testing.B) {
		for b.Loop() {
			gocv.ConnectedComponents(mask, &labels)
		}
	})
	b.Run("distance", func(b *testing.B) {
		for b.Loop() {
			gocv.DistanceTransform(mask, &out, &labels, gocv.DistL2, gocv.DistanceMask5, gocv.DistanceLabelCComp)
		}
	})
	b.Run("to CIELAB", func(b *testing.B) {
		for b.Loop() {
			gocv.CvtColor(rgb, &out, gocv.ColorRGBToLab)
		}
	})
}

// TestLabOfBytes says what OpenCV's CIELAB of 8-bit pictures, which is rounded to
// whole steps, does to a colour difference: package residue keeps fractions.
func TestLabOfBytes(t *testing.T) {
	raw := make([]byte, 0, 3*512)
	r := rand.New(rand.NewPCG(3, 4))
	code := make([][3]float64, 512)
	for i := range code {
		for c := range 3 {
			v := uint8(40 + r.IntN(170))
			if i%2 == 1 { // a neighbour that differs by a few codes
				v = uint8(int(code[i-1][c]) + r.IntN(7) - 3)
			}
			code[i][c] = float64(v)
			raw = append(raw, v)
		}
	}
	m, err := gocv.NewMatFromBytes(1, len(code), gocv.MatTypeCV8UC3, raw)
	if err != nil {
		t.Fatal(err)
	}
	defer m.Close()
	out := gocv.NewMat()
	defer out.Close()
	gocv.CvtColor(m, &out, gocv.ColorRGBToLab)
	lab := out.ToBytes()
	at := func(i int) residue.Lab {
		return residue.Lab{L: float64(lab[3*i]) * 100 / 255, A: float64(lab[3*i+1]) - 128, B: float64(lab[3*i+2]) - 128}
	}
	lin := func(v float64) float64 {
		if v /= 255; v > 0.04045 {
			return math.Pow((v+0.055)/1.055, 2.4)
		}
		return v / 12.92
	}
	own := func(i int) residue.Lab {
		return residue.LabOf(lin(code[i][0]), lin(code[i][1]), lin(code[i][2]))
	}
	worst, square := 0.0, 0.0
	for i := 0; i < len(code); i += 2 {
		e := residue.CIEDE2000(at(i), at(i+1)) - residue.CIEDE2000(own(i), own(i+1))
		worst, square = math.Max(worst, math.Abs(e)), square+e*e/256
	}
	t.Logf("of differences of a few codes 8-bit CIELAB is off by %.2f (root mean square), %.2f at most; a stain counts from %.1f on", math.Sqrt(square), worst, residue.JustNoticeable)
	if worst < 0.3 {
		t.Error("8-bit CIELAB is as good as fractions now, so package residue need not keep its own")
	}
}
