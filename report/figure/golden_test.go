package figure

import (
	"bytes"
	"flag"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the golden pictures anew; look at them before you commit them")

// Letters and slanted edges may come out a shade apart on another machine
// (fused multiply-adds), so a picture is held equal if few pixels differ by
// much. The test of the comparison below shows that a moved line is caught.
const (
	shade     = 24     // levels of 255 in any channel
	fewPixels = 0.0001 // share of the picture
)

// different returns the share of pixels that differ and a picture of them, red
// on the pale first picture.
func different(a, b image.Image) (float64, image.Image) {
	if a.Bounds() != b.Bounds() {
		return 1, a
	}
	out := image.NewRGBA(a.Bounds())
	n := 0
	for y := a.Bounds().Min.Y; y < a.Bounds().Max.Y; y++ {
		for x := a.Bounds().Min.X; x < a.Bounds().Max.X; x++ {
			p, q := color.RGBAModel.Convert(a.At(x, y)).(color.RGBA), color.RGBAModel.Convert(b.At(x, y)).(color.RGBA)
			far := func(u, v uint8) bool { return max(u, v)-min(u, v) > shade }
			if far(p.R, q.R) || far(p.G, q.G) || far(p.B, q.B) || far(p.A, q.A) {
				n++
				out.SetRGBA(x, y, color.RGBA{220, 0, 0, 255})
			} else {
				out.SetRGBA(x, y, mix(p, color.RGBA{255, 255, 255, 255}, 0.75))
			}
		}
	}
	return float64(n) / float64(a.Bounds().Dx()*a.Bounds().Dy()), out
}

// golden holds a picture against the one in testdata/golden.
func golden(t *testing.T, name string, p *Picture) {
	t.Helper()
	var buf bytes.Buffer
	if err := p.Write(&buf, "png"); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join("testdata", "golden", name+".png")
	if *update {
		write(t, file, p.Image())
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v: run go test ./report/figure -update, look at the picture, commit it", err)
	}
	want, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(&buf)
	if err != nil {
		t.Fatal(err)
	}
	if share, diff := different(want, got); share > fewPixels {
		at := filepath.Join(os.TempDir(), "swathe-golden-"+name)
		write(t, at+"-is.png", got)
		write(t, at+"-differs.png", diff)
		t.Errorf("%s: %.2f %% of the pixels differ (bound %.2f %%): see %s-differs.png and %s-is.png", file, share*100, fewPixels*100, at, at)
	}
}

func write(t *testing.T, file string, img image.Image) {
	t.Helper()
	f, err := os.Create(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	if err := enc.Encode(f, img); err != nil {
		t.Fatal(err)
	}
}

func TestGolden(t *testing.T) {
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI = 640, 480, 80
	for _, p := range gallery(t, opt) {
		golden(t, p.Name, p)
	}
	for name, change := range map[string]func(*Options){
		"dark":        func(o *Options) { o.Theme = Dark },
		"print":       func(o *Options) { o.Theme = Print },
		"none":        func(o *Options) { o.Labels = None },
		"short":       func(o *Options) { o.Labels = Short },
		"feet":        func(o *Options) { o.Unit = "ft" },
		"transparent": func(o *Options) { o.Transparent = true },
		"turned":      func(o *Options) { o.TurnDeg = 100 },
		"upright":     func(o *Options) { o.Width, o.Height = 420, 640 },
		"wide":        func(o *Options) { o.Width, o.Height = 900, 360 },
		"scale":       func(o *Options) { o.MPerPx = 0.015 },
	} {
		o := opt
		change(&o)
		p, err := Passes(fixture(t), o)
		if err != nil {
			t.Fatal(err)
		}
		golden(t, "passes_"+name, p)
	}
}

// A line moved by two pixels, a colour of the scale exchanged, a letter more:
// each is seen as a difference.
func TestComparisonSeesSmallChanges(t *testing.T) {
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI = 640, 480, 80
	base, err := Passes(fixture(t), opt)
	if err != nil {
		t.Fatal(err)
	}
	r := fixture(t)
	plan := *r.Plan
	plan.Overhead = nil
	r.Plan = &plan
	moved, err := Passes(r, opt)
	if err != nil {
		t.Fatal(err)
	}
	r = fixture(t)
	r.Cover.Coverage.ReachableShare += 0.11
	figure, err := Passes(r, opt)
	if err != nil {
		t.Fatal(err)
	}
	for what, p := range map[string]*Picture{"an outline left out": moved, "another figure in the title": figure} {
		share, _ := different(base.Image(), p.Image())
		t.Logf("%s changes %.3f %% of the pixels", what, share*100)
		if share <= fewPixels {
			t.Errorf("%s changes only %.4f %% of the pixels, which the comparison overlooks", what, share*100)
		}
	}
	if share, _ := different(base.Image(), base.Image()); share != 0 {
		t.Errorf("a picture differs from itself by %v", share)
	}
}
