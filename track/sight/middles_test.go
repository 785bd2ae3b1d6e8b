package sight

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"swathe/geom"
)

// The sorter gives what sorting every pixel's values by itself gives.
func TestMiddlesAgainstSorting(t *testing.T) {
	const seed = 7
	rng := rand.New(rand.NewSource(seed))
	for n := 1; n <= 40; n++ {
		lo, hi := third(n)
		part := newSorter(n, lo, hi)
		for round := range 50 {
			w := 1 + rng.Intn(11)
			rows := make([][]uint16, n)
			for k := range rows {
				rows[k] = make([]uint16, w)
				for x := range rows[k] {
					switch round % 3 {
					case 0:
						rows[k][x] = uint16(rng.Intn(largest + 1))
					case 1: // like a floor's
						rows[k][x] = uint16(1600 + 16*rng.Intn(5))
					default:
						rows[k][x] = []uint16{0, largest, 1}[rng.Intn(3)]
					}
				}
			}
			got := make([]uint8, w)
			part.middles(rows, got)
			for x := range got {
				var l []int32
				for k := range rows {
					l = append(l, int32(rows[k][x]))
				}
				slices.Sort(l)
				if want := middle(l); got[x] != want {
					t.Fatalf("seed %d, %d values, pixel %d of %d: %d, want %d of %v", seed, n, x, w, got[x], want, l)
				}
			}
		}
	}
}

func BenchmarkMergePlanes(b *testing.B) {
	const w, h, n = 640, 360, 25
	rng := rand.New(rand.NewSource(3))
	samples, lights := make([]*Picture, n), make([]light, n)
	for k := range samples {
		samples[k] = &Picture{Y: NewPlane(w, h)}
		for i := range samples[k].Y.Pix {
			samples[k].Y.Pix[i] = uint8(100 + 2*rng.NormFloat64())
		}
		small := samples[k].Y.Shrink(4, Plane{})
		lights[k] = relight(&small, &small)
	}
	for b.Loop() {
		mergePlanes(samples, lights, 4, func(p *Picture) *Plane { return &p.Y }, 1, true)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*w*h), "ns/pixel")
}

// Sampling both pictures at a go is sampling one after the other, to the bit.
func TestAlongIsAt(t *testing.T) {
	const seed = 11
	rng := rand.New(rand.NewSource(seed))
	noise := func(w, h, stride int) Plane {
		p := Plane{Pix: make([]uint8, stride*h), W: w, H: h, Stride: stride}
		rng.Read(p.Pix)
		return p
	}
	i, b := noise(60, 40, 64), noise(60, 40, 60)
	fast, slow := &Fitter{}, &Fitter{Warp: func(p geom.Point2) geom.Point2 { return p }}
	inside := 0
	for range 4000 {
		s, c := math.Sincos(rng.Float64() * 2 * math.Pi)
		p := geom.Point2{X: rng.Float64()*70 - 5, Y: rng.Float64()*50 - 5}
		if rng.Intn(4) == 0 { // on a pixel, and along a line of them
			p, s, c = geom.Point2{X: math.Round(p.X), Y: math.Round(p.Y)}, 0, 1
		}
		var vi, vd, wi, wd [21]float32
		got := fast.along(litPair{&i, &b, 0.9}, p, geom.Point2{X: c, Y: s}, 10, vi[:], vd[:])
		want := slow.along(litPair{&i, &b, 0.9}, p, geom.Point2{X: c, Y: s}, 10, wi[:], wd[:])
		if got != want || got && (vi != wi || vd != wd) {
			t.Fatalf("seed %d, at %v along (%g, %g): %v %v %v, one by one %v %v %v", seed, p, c, s, got, vi, vd, want, wi, wd)
		}
		if got {
			inside++
		}
	}
	if inside < 500 || inside > 3900 {
		t.Errorf("seed %d: %d of 4000 normals within the pictures", seed, inside)
	}
}
