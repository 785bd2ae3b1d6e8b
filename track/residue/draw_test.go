package residue

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"

	"swathe/geom"
)

// drawn is a soiled floor with known truth, drawn in linear light: colours are
// invented, not those that the model was developed on.
type drawn struct {
	name  string
	seed  uint64
	floor func(x, y float64) [3]float64 // linear, 0..1
	stain [3]float64                    // what it lets through
	grain [3]float64
	hair  [3]float64
	blur  float64 // px, of the lens
	noise float64 // codes
	quick bool    // fewer rays a pixel
	card  []Field
	tint  *[3]float64                 // of the light; nil: white
	shade func(p geom.Point2) float64 // how much of the light is left; nil: all
}

const (
	drawW, drawH = 1000, 760
	hairWidth    = 0.0024
)

var drawRoom = box(-0.2, -0.2, 1.35, 1.1)

func box(x0, y0, x1, y1 float64) []geom.Point2 {
	return []geom.Point2{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

var drawPatches = []Patch{
	{Name: "spill", Kind: Stain, Outline: box(0.05, 0.05, 0.55, 0.4)},
	{Name: "crumbs", Kind: Debris, Outline: box(0.62, 0.05, 1.05, 0.4)},
	{Name: "threads", Kind: Hair, Outline: box(0.05, 0.44, 0.62, 0.8)},
}

// hash is a random number 0..1 that belongs to a place.
func hash(x, y int, seed uint64) float64 {
	h := seed*0x9e3779b97f4a7c15 ^ uint64(int64(x))*0xbf58476d1ce4e5b9 ^ uint64(int64(y))*0x94d049bb133111eb
	h ^= h >> 31
	h *= 0xd6e8feb86659fd93
	h ^= h >> 32
	return float64(h>>11) / (1 << 53)
}

// value is smooth noise 0..1 with a grain of size m.
func value(x, y, size float64, seed uint64) float64 {
	x, y = x/size, y/size
	i, j := int(math.Floor(x)), int(math.Floor(y))
	fx, fy := x-float64(i), y-float64(j)
	fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
	a := hash(i, j, seed)*(1-fx) + hash(i+1, j, seed)*fx
	b := hash(i, j+1, seed)*(1-fx) + hash(i+1, j+1, seed)*fx
	return a*(1-fy) + b*fy
}

func times(c [3]float64, k float64) [3]float64 { return [3]float64{c[0] * k, c[1] * k, c[2] * k} }

// floors are a speckled cast floor, a striped one and a plain one.
func floors() []*drawn {
	return []*drawn{
		{name: "cast", seed: 11, stain: [3]float64{0.45, 0.2, 0.25}, grain: [3]float64{0.05, 0.04, 0.03}, hair: [3]float64{0.02, 0.015, 0.01}, blur: 0.6, noise: 1.5,
			floor: func(x, y float64) [3]float64 {
				c := times([3]float64{0.42, 0.4, 0.36}, 0.9+0.2*value(x, y, 0.03, 1))
				if v := value(x, y, 0.008, 2); v > 0.8 {
					return times([3]float64{0.25, 0.2, 0.18}, 0.8+v/2)
				}
				return c
			}},
		{name: "stripes", seed: 12, stain: [3]float64{0.6, 0.62, 0.35}, grain: [3]float64{0.75, 0.7, 0.62}, hair: [3]float64{0.6, 0.55, 0.5}, blur: 0.8, noise: 2,
			floor: func(x, y float64) [3]float64 {
				return times([3]float64{0.07, 0.12, 0.09}, 0.85+0.15*math.Sin(2*math.Pi*x/0.04)+0.25*value(x, y, 0.006, 3))
			}},
		{name: "plain", seed: 13, stain: [3]float64{0.7, 0.55, 0.75}, grain: [3]float64{0.2, 0.05, 0.03}, hair: [3]float64{0.1, 0.05, 0.03}, blur: 0.5, noise: 1.2,
			floor: func(x, y float64) [3]float64 {
				return times([3]float64{0.5, 0.45, 0.33}, 0.97+0.06*value(x, y, 0.2, 4))
			}},
	}
}

// soil lays out soil by the seed: before, and what is left after.
func (d *drawn) soil() (before, after soilSet) {
	r := rand.New(rand.NewPCG(d.seed, 7))
	for i := range 3 {
		c := geom.Point2{X: 0.14 + 0.16*float64(i), Y: 0.15 + 0.14*r.Float64()}
		var ring []geom.Point2
		a, p := r.Float64()*0.012, r.Float64()*6
		for k := range 90 {
			t := float64(k) / 90 * 2 * math.Pi
			q := 0.045 + a*math.Sin(3*t+p) + 0.006*math.Sin(5*t-p)
			ring = append(ring, geom.Point2{X: c.X + q*math.Cos(t), Y: c.Y + q*math.Sin(t)})
		}
		before.blobs = append(before.blobs, ring)
	}
	for range 60 {
		before.grains = append(before.grains, geom.Point3{X: 0.66 + 0.35*r.Float64(), Y: 0.09 + 0.27*r.Float64(), Z: 0.0022 + 0.0025*r.Float64()})
	}
	for range 12 {
		p := geom.Point2{X: 0.17 + 0.33*r.Float64(), Y: 0.55 + 0.14*r.Float64()}
		line := []geom.Point2{p}
		dir := r.Float64() * 2 * math.Pi
		for range 6 + r.IntN(4) {
			p = p.Add(geom.Point2{X: 0.011 * math.Cos(dir), Y: 0.011 * math.Sin(dir)})
			dir += r.NormFloat64() * 0.35
			line = append(line, p)
		}
		before.hairs = append(before.hairs, line)
	}
	// Of the first blob all is left, of the second two bands; every fifth grain,
	// every third hair.
	after.blobs = append(after.blobs, before.blobs[0])
	for _, y := range []float64{-0.02, 0.01} {
		c := geom.Centroid(before.blobs[1])
		after.blobs = append(after.blobs, box(c.X-0.03, c.Y+y, c.X+0.03, c.Y+y+0.009))
	}
	for i, g := range before.grains {
		if i%5 == 0 {
			after.grains = append(after.grains, g)
		}
	}
	for i, h := range before.hairs {
		if i%3 == 0 {
			after.hairs = append(after.hairs, h)
		}
	}
	before.lay()
	after.lay()
	return before, after
}

// spotless is no soil at all.
func spotless() *soilSet {
	s := &soilSet{}
	s.lay()
	return s
}

type soilSet struct {
	laid   []uint8 // at by squares of layM, once made
	blobs  [][]geom.Point2
	grains []geom.Point3
	hairs  [][]geom.Point2
}

// layM is the side of the squares that soil is laid out by, m: a fifth of a pixel.
const layM, layW, layH = 0.00025, 4600, 3600

// lay draws the soil: 0 nothing, 1 stain, 2 grain, 3 hair.
func (s *soilSet) lay() {
	s.laid = make([]uint8, layW*layH)
	draw := func(x0, y0, x1, y1 float64, what uint8, in func(p geom.Point2) bool) {
		for j := max(0, int(y0/layM)); j <= min(layH-1, int(y1/layM)); j++ {
			for i := max(0, int(x0/layM)); i <= min(layW-1, int(x1/layM)); i++ {
				if in(pt((float64(i)+0.5)*layM, (float64(j)+0.5)*layM)) {
					s.laid[j*layW+i] = what
				}
			}
		}
	}
	for _, b := range s.blobs {
		c := geom.Centroid(b)
		draw(c.X-0.08, c.Y-0.08, c.X+0.08, c.Y+0.08, 1, func(p geom.Point2) bool { return geom.InRing(b, p) })
	}
	for _, g := range s.grains {
		draw(g.X-g.Z, g.Y-g.Z, g.X+g.Z, g.Y+g.Z, 2, func(p geom.Point2) bool { return p.Dist(pt(g.X, g.Y)) < g.Z })
	}
	for _, h := range s.hairs {
		for k := 1; k < len(h); k++ {
			a, d := h[k-1], h[k].Sub(h[k-1])
			draw(min(a.X, h[k].X)-hairWidth, min(a.Y, h[k].Y)-hairWidth, max(a.X, h[k].X)+hairWidth, max(a.Y, h[k].Y)+hairWidth, 3, func(p geom.Point2) bool {
				t := min(max(((p.X-a.X)*d.X+(p.Y-a.Y)*d.Y)/(d.X*d.X+d.Y*d.Y), 0), 1)
				return p.Dist(a.Add(d.Scale(t))) < hairWidth/2
			})
		}
	}
}

func (s *soilSet) at(p geom.Point2) uint8 {
	i, j := int(math.Floor(p.X/layM)), int(math.Floor(p.Y/layM))
	if i < 0 || j < 0 || i >= layW || j >= layH {
		return 0
	}
	return s.laid[j*layW+i]
}

// truth of a set: areas as laid, lengths by sums.
func (s *soilSet) truth() (stain, debris, length float64) {
	for _, v := range s.laid {
		switch v {
		case 1:
			stain += layM * layM
		case 2:
			debris += layM * layM
		}
	}
	for _, l := range s.hairs {
		length += Strand(l).length()
	}
	return
}

// shoot draws a picture from a tilted camera, through light that is k times as
// strong and falls off by slope across the floor, as a JPEG of the given quality.
func (d *drawn) shoot(t *testing.T, g *Plane, s *soilSet, k, slope float64, quality int, seed uint64) *Picture {
	n := 3
	if d.quick {
		n = 2
	}
	l := newLight(drawW, drawH)
	for y := range drawH {
		for x := range drawW {
			var sum [3]float64
			for i := range n * n {
				px := geom.Point2{X: float64(x) + (float64(i%n)+0.5)/float64(n) - 0.5, Y: float64(y) + (float64(i/n)+0.5)/float64(n) - 0.5}
				p, ok := g.Floor(px)
				if !ok {
					t.Fatal("the camera looks past the floor")
				}
				c := d.floor(p.X, p.Y)
				switch s.at(p) {
				case 1:
					for b := range c {
						c[b] *= d.stain[b]
					}
				case 2:
					c = d.grain
				case 3:
					c = d.hair
				}
				for _, field := range d.card {
					if geom.InRing(field.Outline, p) {
						c = [3]float64{decode(field.SRGB[0] / 255), decode(field.SRGB[1] / 255), decode(field.SRGB[2] / 255)}
					}
				}
				f := k * (1 + slope*(p.X-0.5) + 0.4*slope*p.Y*p.Y)
				if d.shade != nil {
					f *= d.shade(p)
				}
				if d.tint != nil {
					for b := range c {
						c[b] *= d.tint[b]
					}
				}
				for b := range c {
					sum[b] += c[b] * f / float64(n*n)
				}
			}
			for b := range sum {
				l.c[b][y*drawW+x] = float32(sum[b])
			}
		}
	}
	r := rand.New(rand.NewPCG(seed, d.seed))
	img := image.NewRGBA(image.Rect(0, 0, drawW, drawH))
	for b := range l.c {
		l.c[b] = smooth(l.c[b], drawW, drawH, d.blur)
	}
	for i := range drawW * drawH {
		var v [3]uint8
		for b := range v {
			v[b] = uint8(min(max(255*encode(float64(l.c[b][i]))+d.noise*r.NormFloat64()+0.5, 0), 255))
		}
		img.SetRGBA(i%drawW, i/drawW, color.RGBA{v[0], v[1], v[2], 255})
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	if dir := os.Getenv("SWATHE_DRAW"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.jpg", d.name, seed)), buf.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	back, err := jpeg.Decode(&buf)
	if err != nil {
		t.Fatal(err)
	}
	p := &Picture{W: drawW, H: drawH, Pix: make([]uint8, 3*drawW*drawH)}
	for i := range drawW * drawH {
		c := color.RGBAModel.Convert(back.At(i%drawW, i/drawW)).(color.RGBA)
		p.Pix[3*i], p.Pix[3*i+1], p.Pix[3*i+2] = c.R, c.G, c.B
	}
	return p
}

// drawMarks are four marks seen by a camera tilted by some 25 degrees, with the
// noise of a hand that clicks on them.
func drawMarks() (Marks, *Plane) {
	cam := upright(geom.Point3{X: 1, Y: 0.05}, geom.Point3{X: 0.02, Y: -0.9, Z: -0.42})
	show := func(p geom.Point2) geom.Point2 {
		q := [3]float64{}
		for i := range q {
			q[i] = cam[i][0]*(p.X-0.55) + cam[i][1]*(p.Y-0.42)
		}
		f := 980 / (q[2] + 1.15)
		return geom.Point2{X: drawW/2 - 0.5 + f*q[0], Y: drawH/2 - 0.5 + f*q[1]}
	}
	m := Marks{Floor: box(0, 0, 1.1, 0.85)}
	for _, p := range m.Floor {
		m.Pixel = append(m.Pixel, show(p))
	}
	g, _, err := m.Solve(drawW, drawH)
	if err != nil {
		panic(err)
	}
	r := rand.New(rand.NewPCG(5, 6))
	for i := range m.Pixel {
		m.Pixel[i] = m.Pixel[i].Add(geom.Point2{X: 0.2 * r.NormFloat64(), Y: 0.2 * r.NormFloat64()})
	}
	return m, g
}

func pt(x, y float64) geom.Point2 { return geom.Point2{X: x, Y: y} }

// TestWriteDrawn writes the pictures of testdata/residue, with SWATHE_DRAW=DIR.
func TestWriteDrawn(t *testing.T) {
	dir := os.Getenv("SWATHE_DRAW")
	if dir == "" {
		t.Skip("writes testdata/residue with SWATHE_DRAW=DIR")
	}
	marks, eye := drawMarks()
	d := floors()[2]
	sb, sa := d.soil()
	d.shoot(t, eye, &sb, 1, 0.15, 90, 1)
	d.shoot(t, eye, spotless(), 1, 0.15, 90, 2)
	d.shoot(t, eye, &sa, 0.8, -0.2, 90, 3)
	type mark struct {
		Floor [2]float64 `json:"floor"`
		Pixel [2]float64 `json:"pixel"`
	}
	var list []mark
	for i, p := range marks.Floor {
		q := marks.Pixel[i]
		list = append(list, mark{[2]float64{p.X, p.Y}, [2]float64{math.Round(q.X*100) / 100, math.Round(q.Y*100) / 100}})
	}
	bs, bd, bl := sb.truth()
	as, ad, al := sa.truth()
	for name, v := range map[string]any{"marks.json": map[string]any{"marks": list}, "truth.json": map[string]float64{
		"stain_before_m2": bs, "stain_after_m2": as, "debris_before_m2": bd, "debris_after_m2": ad, "hair_before_m": bl, "hair_after_m": al,
		"grains_before": float64(len(sb.grains)), "grains_after": float64(len(sa.grains))}} {
		raw, err := json.MarshalIndent(v, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), append(raw, '\n'), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
