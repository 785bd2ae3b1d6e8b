package paint

import (
	"bytes"
	"math"
	"testing"

	"swathe/geom"
)

var white = Colour{255, 255, 255, 255}

// light is the sum of the first channel over 255: an area in pixels.
func light(c *Canvas) float64 {
	sum := 0.0
	for i := 0; i < len(c.Pix); i += 3 {
		sum += float64(c.Pix[i])
	}
	return sum / 255
}

func blank(w, h int) *Canvas { return New(w, h, make([]uint8, w*h*3)) }

// A line of width d and length l with round ends covers l d + pi d^2/4 (closed
// form), whichever way it runs, and once only where it crosses itself.
func TestLineCoversItsArea(t *testing.T) {
	for _, a := range []float64{0, 0.3, math.Pi / 4, 1.2, math.Pi / 2, 2.5} {
		for _, d := range []float64{2, 5, 9} {
			c := blank(200, 200)
			s, co := math.Sincos(a)
			p, q := geom.Point2{X: 100.3 - 60*co, Y: 99.8 - 60*s}, geom.Point2{X: 100.3 + 60*co, Y: 99.8 + 60*s}
			c.Line([]geom.Point2{p, q}, false, d, white)
			want := 120*d + math.Pi*d*d/4
			if got := light(c); math.Abs(got/want-1) > 0.03 {
				t.Errorf("angle %.1f, width %g: %.1f px, want %.1f", a, d, got, want)
			}
			once := append([]uint8(nil), c.Pix...)
			c2 := blank(200, 200)
			c2.Line([]geom.Point2{p, q, p, q}, false, d, Colour{255, 255, 255, 128})
			for i := range once {
				if once[i] == 255 && (c2.Pix[i] < 126 || c2.Pix[i] > 130) {
					t.Fatalf("a line drawn over itself is %d, want 128", c2.Pix[i])
				}
			}
		}
	}
}

func TestFillAndSpans(t *testing.T) {
	c := blank(100, 80)
	c.Fill([]geom.Point2{{X: 9.5, Y: 9.5}, {X: 59.5, Y: 9.5}, {X: 59.5, Y: 39.5}, {X: 9.5, Y: 39.5}}, white)
	if got := light(c); got != 50*30 {
		t.Errorf("a rectangle covers %g px, want 1500", got)
	}
	c = blank(100, 80)
	var disc []geom.Point2
	for k := 0; k < 90; k++ {
		s, co := math.Sincos(2 * math.Pi * float64(k) / 90)
		disc = append(disc, geom.Point2{X: 50 + 30*co, Y: 40 + 30*s})
	}
	c.Fill(disc, white)
	if got, want := light(c), math.Pi*900; math.Abs(got/want-1) > 0.01 {
		t.Errorf("a disc covers %g px, want %.0f", got, want)
	}
}

// Whatever lies outside, or is no number, changes nothing and breaks nothing.
func TestOutside(t *testing.T) {
	c := blank(20, 10)
	nan := math.NaN()
	for _, pts := range [][]geom.Point2{nil, {{X: -100, Y: -100}, {X: -50, Y: -60}}, {{X: nan, Y: 3}, {X: 4, Y: nan}}, {{X: 1e12, Y: 1e12}, {X: 2e12, Y: 1e12}, {X: 1e12, Y: 3e12}}} {
		c.Line(pts, true, 3, white)
		c.Fill(pts, white)
	}
	c.Box(-5, -5, 0, 0, white)
	c.Box(20, 10, 40, 40, white)
	c.Dot(-1, 0, white, 255)
	c.Dot(0, 10, white, 255)
	c.Line([]geom.Point2{{X: 5, Y: 5}}, false, 0, white)
	if light(c) != 0 {
		t.Error("something was drawn")
	}
	c.Box(-5, -5, 3, 2, white)
	if light(c) != 6 {
		t.Errorf("a box over the corner covers %g px, want 6", light(c))
	}
	// A line right through, from far outside to far outside.
	c = blank(20, 10)
	c.Line([]geom.Point2{{X: -1e6, Y: 5}, {X: 1e6, Y: 5}}, false, 1, white)
	if got := light(c); math.Abs(got-20) > 0.5 {
		t.Errorf("a line right through covers %g px, want 20", got)
	}
}

// Over a transparent canvas the colour stays what it is, and cover adds up as
// "source over" says (Porter and Duff, 1984: a + b - a b; from memory).
func TestTransparentCanvas(t *testing.T) {
	c := blank(2, 1)
	c.A = make([]uint8, 2)
	half := Colour{200, 100, 50, 128}
	c.Box(0, 0, 1, 1, half)
	if c.A[0] != 128 || !bytes.Equal(c.Pix[:3], []uint8{50, 100, 200}) || c.A[1] != 0 {
		t.Errorf("once: %v %v", c.Pix[:3], c.A)
	}
	c.Box(0, 0, 1, 1, half)
	if want := 255 * (1 - math.Pow(1-128.0/255, 2)); math.Abs(float64(c.A[0])-want) > 1.5 || !bytes.Equal(c.Pix[:3], []uint8{50, 100, 200}) {
		t.Errorf("twice: %v %v, want a cover of %.0f", c.Pix[:3], c.A, want)
	}
}

func TestText(t *testing.T) {
	f, err := NewFace(20, false)
	if err != nil {
		t.Fatal(err)
	}
	if w := f.Width("HH"); math.Abs(w-2*f.Width("H")) > 1e-9 || w < 20 || w > 40 {
		t.Errorf("two capitals are %g px wide", w)
	}
	c := blank(200, 40)
	c.Text(f, 10, 30, "Äh, 12 %", white)
	if got := light(c); got < 150 || got > 1200 {
		t.Errorf("words cover %g px", got)
	}
	for y := 36; y < 40; y++ {
		for x := 0; x < 200; x++ {
			if c.Pix[3*(y*200+x)] != 0 {
				t.Fatal("letters reach too far down")
			}
		}
	}
	for _, size := range []float64{0, 3, 1000, math.NaN()} {
		if _, err := NewFace(size, true); err == nil {
			t.Errorf("letters of %g px", size)
		}
	}
}
