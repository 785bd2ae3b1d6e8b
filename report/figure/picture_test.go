package figure

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"image"
	"image/png"
	"io"
	"math"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"swathe/geom"
)

func written(t *testing.T, p *Picture, format string) []byte {
	t.Helper()
	var buf bytes.Buffer
	if err := p.Write(&buf, format); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// A picture has exactly the pixels asked for, at odd sizes and resolutions too,
// and says its resolution (PNG specification, pHYs).
func TestExactSize(t *testing.T) {
	for _, c := range []struct{ w, h, dpi int }{{640, 480, 72}, {1001, 333, 97}, {2400, 1600, 300}, {161, 999, 1200}} {
		opt := DefaultOptions()
		opt.Width, opt.Height, opt.DPI = c.w, c.h, c.dpi
		p, err := Passes(fixture(t), opt)
		if err != nil {
			t.Fatal(err)
		}
		raw := written(t, p, "png")
		cfg, err := png.DecodeConfig(bytes.NewReader(raw))
		if err != nil || cfg.Width != c.w || cfg.Height != c.h {
			t.Errorf("%d x %d at %d: came out %d x %d, %v", c.w, c.h, c.dpi, cfg.Width, cfg.Height, err)
		}
		i := bytes.Index(raw, []byte("pHYs"))
		if i < 0 {
			t.Fatal("no pHYs chunk")
		}
		if got := float64(binary.BigEndian.Uint32(raw[i+4:])) * 0.0254; math.Abs(got-float64(c.dpi)) > 0.02 {
			t.Errorf("the file says %.2f dots per inch, not %d", got, c.dpi)
		}
		if _, err := png.Decode(bytes.NewReader(raw)); err != nil {
			t.Errorf("a reader that checks the chunks' sums fails: %v", err)
		}
	}
}

// Every kind is well-formed SVG of the right size with its description, and a
// PDF page of the right size in points.
func TestVectorFormats(t *testing.T) {
	opt := DefaultOptions()
	opt.Width, opt.Height, opt.DPI = 800, 600, 100
	for _, p := range gallery(t, opt) {
		raw := written(t, p, "svg")
		d := xml.NewDecoder(bytes.NewReader(raw))
		for {
			_, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v", p.Name, err)
			}
		}
		if !regexp.MustCompile(`<svg role="img" width="203.20mm" height="152.40mm" viewBox="0 0 576 432"`).Match(raw) {
			t.Errorf("%s: the SVG is not headed by its size: %.200s", p.Name, raw)
		}
		if !strings.Contains(string(raw), "<title>"+escape(p.Title)+"</title>\n<desc>"+escape(p.Alt)+"</desc>") || p.Title == "" {
			t.Errorf("%s: the SVG lacks its title or its description", p.Name)
		}
		pdf := written(t, p, "pdf")
		if !regexp.MustCompile(`/MediaBox ?\[0 0 576\.00 432\.00\]`).Match(pdf) {
			t.Errorf("%s: the PDF page is not 576 x 432 points", p.Name)
		}
		if tool, err := exec.LookPath("pdfinfo"); err == nil {
			cmd := exec.Command(tool, "-")
			cmd.Stdin = bytes.NewReader(pdf)
			said, err := cmd.CombinedOutput()
			if err != nil || !regexp.MustCompile(`Title: +`+regexp.QuoteMeta(p.Title)).Match(said) || strings.Contains(string(said), "Error") {
				t.Errorf("%s: another reader says of the PDF %s, %v; want the title %q", p.Name, said, err, p.Title)
			}
		}
	}
	p, err := Passes(fixture(t), opt)
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Write(io.Discard, "gif"); err == nil || !strings.Contains(err.Error(), "png, svg, pdf") {
		t.Errorf("an unknown format gives %v", err)
	}
}

func TestEveryPictureSaysWhatItShows(t *testing.T) {
	seen := map[string]bool{}
	for _, p := range gallery(t, DefaultOptions()) {
		if len(p.Alt) < 60 || strings.Contains(p.Alt, "NaN") || strings.Contains(p.Alt, "%!") || seen[p.Alt] {
			t.Errorf("%s: description %q", p.Name, p.Alt)
		}
		seen[p.Alt] = true
		for _, ours := range []string{"redundancy", "trace", "cell", "raster", "null"} {
			if strings.Contains(strings.ToLower(p.Alt), ours) {
				t.Errorf("%s: %q is our word, not the reader's: %s", p.Name, ours, p.Alt)
			}
		}
	}
}

// A transparent picture has no page; one that is not has no hole.
func TestTransparency(t *testing.T) {
	for _, transparent := range []bool{false, true} {
		opt := DefaultOptions()
		opt.Width, opt.Height, opt.Transparent = 640, 480, transparent
		p, err := Passes(fixture(t), opt)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(written(t, p, "png")))
		if err != nil {
			t.Fatal(err)
		}
		_, _, _, a := img.At(1, 1).RGBA()
		if (a == 0) != transparent {
			t.Errorf("transparent %v: the corner's alpha is %d", transparent, a)
		}
	}
}

// The cells lie where the room's coordinates say: the colour at the middle of a
// cell's pixel is that of its class, through a turned view too.
func TestCellsLieInPlace(t *testing.T) {
	r := fixture(t)
	class := passClass(r.Cover.Grid)
	for _, turn := range []float64{0, 90, 33, -140} {
		opt := DefaultOptions()
		opt.TurnDeg, opt.Labels, opt.Width, opt.Height = turn, None, 1500, 1500
		var v view
		var paint func(c uint8) tone
		p, err := newPicture("test", "test", opt, func(s *sheet) {
			var b box
			paint = s.passTone
			v, b = s.planSheet(planPart{corners(r.Plan.Room)}, "", "", "", "", nil)
			s.cellMap(v, b, r.Cover.Grid, class, s.passTone)
		})
		if err != nil {
			t.Fatal(err)
		}
		img := p.Image()
		wrong, n := 0, 0
		for k := 0; k < len(class); k += 37 {
			if class[k] < classPass1 && class[k] != classMissed {
				continue
			}
			q := v.px(r.Cover.Grid.Centre(k))
			x, y := int(math.Floor(q.x)), int(math.Floor(q.y))
			got, want := img.At(x, 1499-y), paint(class[k]).at(x, y)
			n++
			if got != want {
				wrong++
			}
		}
		if n < 500 || wrong > 0 {
			t.Errorf("turned by %v: %d of %d cells have another colour at their place", turn, wrong, n)
		}
	}
}

// view.floor is the inverse of view.px, y runs up the plan.
func TestView(t *testing.T) {
	room := []geom.Point2{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 3}, {X: 0, Y: 3}}
	for _, turn := range []float64{0, 17, 90, 200} {
		v, b := fit(room, turn, 0, box{10, 20, 500, 300})
		for _, p := range room {
			q := v.px(p)
			if q.x < b.x0-1e-6 || q.x > b.x1+1e-6 || q.y < b.y0-1e-6 || q.y > b.y1+1e-6 {
				t.Errorf("turned by %v: corner %v lies at %v outside %v", turn, p, q, b)
			}
			if back := v.floor(q); back.Dist(p) > 1e-9 {
				t.Errorf("turned by %v: %v comes back as %v", turn, p, back)
			}
		}
	}
	v, _ := fit(room, 0, 0, box{0, 0, 400, 300})
	if v.px(geom.Point2{X: 1, Y: 2}).y <= v.px(geom.Point2{X: 1, Y: 1}).y {
		t.Error("y does not run up the plan")
	}
	if _, b := fit(room, 0, 0.02, box{0, 0, 400, 300}); math.Abs(b.w()-200) > 1e-9 {
		t.Errorf("at 2 cm a pixel a room of 4 m is %v pixels wide, not 200", b.w())
	}
}

// A name in another alphabet draws its letters in every format; in a PDF it can be
// searched for, as another program reads it (poppler's pdftotext).
func TestOtherAlphabets(t *testing.T) {
	opt := DefaultOptions()
	opt.Width, opt.Height = 640, 480
	for _, name := range []string{"stra\u00dfe", "\u0434\u0440\u043e\u0437\u0434", "\u03ba\u03af\u03c7\u03bb\u03b7"} {
		r := fixture(t)
		r.Robot = name
		p, err := Passes(r, opt)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range Formats() {
			written(t, p, f)
		}
		r.Robot = ""
		q, err := Passes(r, opt)
		if err != nil {
			t.Fatal(err)
		}
		if share, _ := different(p.Image(), q.Image()); share == 0 {
			t.Errorf("%s leaves no trace on the picture", name)
		}
		tool, err := exec.LookPath("pdftotext")
		if err != nil {
			t.Skip("pdftotext is not installed")
		}
		cmd := exec.Command(tool, "-", "-")
		cmd.Stdin = bytes.NewReader(written(t, p, "pdf"))
		if text, err := cmd.Output(); err != nil || !bytes.Contains(text, []byte(name)) {
			t.Errorf("%s does not stand in the PDF, which says %q (%v)", name, text, err)
		}
	}
}

// The outlines of glyphs are as wide as the font says the text is.
func TestGlyphOutlines(t *testing.T) {
	opt := DefaultOptions()
	p, err := newPicture("test", "test", opt, func(s *sheet) {
		st := s.vstyle(style{size: 100})
		f := fonts().Lookup(st.Font, st.Font.Size)
		path, ok := glyphs(f, s.vpt(pt{0, 0}), "H\u0436")
		if !ok {
			t.Fatal("no outlines")
		}
		lo, hi, tall := math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, c := range path {
			lo, hi = math.Min(lo, float64(c.Pos.X)), math.Max(hi, float64(c.Pos.X))
			tall = math.Max(tall, float64(c.Pos.Y))
		}
		w := float64(f.Width("H\u0436"))
		if lo < 0 || hi > w || hi < 0.9*w {
			t.Errorf("the outlines span %.1f to %.1f of %.1f points", lo, hi, w)
		}
		if cap := tall / float64(st.Font.Size); math.Abs(cap-capHeight) > 0.05 {
			t.Errorf("a capital is %.3f of the size high, capHeight says %.3f", cap, capHeight)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	p.Image()
}

func TestOptionsAreRefusedInWords(t *testing.T) {
	for _, c := range []struct {
		change func(*Options)
		want   string
	}{
		{func(o *Options) { o.Width = 10 }, "too small"},
		{func(o *Options) { o.Width, o.Height = 20000, 20000 }, "too large"},
		{func(o *Options) { o.DPI = 0 }, "dots per inch"},
		{func(o *Options) { o.Theme = "sepia" }, "light, dark or print"},
		{func(o *Options) { o.Labels = "some" }, "none, short or full"},
		{func(o *Options) { o.Unit = "yd" }, "m or ft"},
		{func(o *Options) { o.TurnDeg = math.NaN() }, "turned"},
		{func(o *Options) { o.Slices = 99 }, "slices"},
		{func(o *Options) { o.MPerPx = -1 }, "metres a pixel"},
	} {
		opt := DefaultOptions()
		c.change(&opt)
		if _, err := Passes(fixture(t), opt); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: got %v, want an error with %q", opt, err, c.want)
		}
	}
	if err := DefaultOptions().Validate(); err != nil {
		t.Error(err)
	}
}

func TestRunsThatCannotBeDrawn(t *testing.T) {
	opt := DefaultOptions()
	for what, change := range map[string]func(*Run){
		"plan": func(r *Run) { r.Plan = nil }, "coverage": func(r *Run) { r.Cover = nil }, "path": func(r *Run) { r.Trace = nil },
	} {
		r := fixture(t)
		change(&r)
		if _, err := Passes(r, opt); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("without %s: %v", what, err)
		}
	}
	r := fixture(t)
	g := *r.Cover.Grid
	g.Dwell = nil
	r.Cover.Grid = &g
	if _, err := Seconds(r, opt); err == nil {
		t.Error("seconds that were not measured are drawn")
	}
	g.Nx++
	if _, err := Agreement([]Run{fixture(t), r}, opt); err == nil {
		t.Error("runs on other cells are laid over each other")
	}
	if _, err := Plate([]Run{r}, opt); err == nil {
		t.Error("a plate of one run is drawn")
	}
	if _, err := Minutes("x", []Spell{{Words: "a", Seconds: math.NaN()}}, opt); err == nil {
		t.Error("a ledger entry without time is drawn")
	}
	if _, err := Minutes("x", nil, opt); err == nil {
		t.Error("an empty ledger is drawn")
	}
	if _, err := Dots("x", "", nil, opt); err == nil {
		t.Error("no figures are drawn")
	}
	if _, err := TestObjects("x", nil, opt); err == nil {
		t.Error("no test objects are drawn")
	}
}

// Nothing is cut: no ink touches the border of any picture, at many shapes.
func TestNothingIsCut(t *testing.T) {
	for _, size := range [][2]int{{640, 480}, {1200, 400}, {400, 900}, {500, 500}} {
		for _, labels := range []Labels{Short, Full} {
			opt := DefaultOptions()
			opt.Width, opt.Height, opt.DPI, opt.Labels = size[0], size[1], 80, labels
			for _, p := range gallery(t, opt) {
				if at, cut := inkOnBorder(p.Image()); cut {
					t.Errorf("%s at %d x %d, labels %s: ink at the border, %v", p.Name, size[0], size[1], labels, at)
				}
			}
		}
	}
}

func inkOnBorder(img image.Image) (image.Point, bool) {
	b := img.Bounds()
	page := img.At(b.Min.X, b.Min.Y)
	for x := b.Min.X; x < b.Max.X; x++ {
		for _, y := range []int{b.Min.Y, b.Max.Y - 1} {
			if img.At(x, y) != page {
				return image.Pt(x, y), true
			}
		}
	}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for _, x := range []int{b.Min.X, b.Max.X - 1} {
			if img.At(x, y) != page {
				return image.Pt(x, y), true
			}
		}
	}
	return image.Point{}, false
}

// Runs drawn at the largest of their own scales share it, whatever their rooms.
func TestOneScale(t *testing.T) {
	opt := DefaultOptions()
	opt.Width, opt.Height = 800, 600
	small := fixture(t)
	plan := *small.Plan
	plan.Room = nil
	setRing(&plan.Room, 0, 0, 1.5, 0, 1.5, 1.2, 0, 1.2)
	small.Plan = &plan
	most := 0.0
	for _, r := range []Run{fixture(t), small} {
		p, err := Passes(r, opt)
		if err != nil {
			t.Fatal(err)
		}
		most = math.Max(most, p.MetresPerPixel())
	}
	opt.MPerPx = most
	for _, r := range []Run{fixture(t), small} {
		p, err := Passes(r, opt)
		if err != nil {
			t.Fatal(err)
		}
		if got := p.MetresPerPixel(); math.Abs(got-most) > 1e-12 || most == 0 {
			t.Errorf("%v metres a pixel, want %v", got, most)
		}
	}
	p, err := Curve(small, opt)
	if err != nil {
		t.Fatal(err)
	}
	if got := p.MetresPerPixel(); got != 0 {
		t.Errorf("a chart has a scale of %v metres a pixel", got)
	}
}
