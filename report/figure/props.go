package figure

import (
	"errors"
	"fmt"
	"image"
	"math"

	"golang.org/x/image/draw"
)

// Shot is what became of one test object in one trial, with the pictures before and
// after, either of which may be missing.
type Shot struct {
	TestObject    string
	Trial         int
	Outcome       string // a reader's words: "pushed 12 cm"
	Bad           bool   // the test object was touched: the outcome is set in bold
	Before, After image.Image
}

// TestObjects draws a contact sheet: a row for each test object, a column for each trial.
func TestObjects(title string, shots []Shot, opt Options) (*Picture, error) {
	if len(shots) == 0 {
		return nil, errors.New(title + ": a contact sheet needs a test object")
	}
	var names []string
	var trials []int
	at := map[string]map[int]Shot{}
	alt := "Contact sheet of the test objects in " + title + "."
	for _, s := range shots {
		if at[s.TestObject] == nil {
			at[s.TestObject] = map[int]Shot{}
			names = append(names, s.TestObject)
		}
		at[s.TestObject][s.Trial] = s
		known := false
		for _, t := range trials {
			known = known || t == s.Trial
		}
		if !known {
			trials = append(trials, s.Trial)
		}
		alt += fmt.Sprintf(" %s, trial %d: %s.", s.TestObject, s.Trial, s.Outcome)
	}
	return newPicture("test_objects", alt, opt, func(s *sheet) {
		b := s.header(box{0, 0, s.w, s.h}.inset(s.margin()), "", title, "Each test object before and after the run")
		side := 0.0
		for _, n := range names {
			side = math.Max(side, s.width(style{bold: true}, n)+1.2*s.em)
		}
		side = math.Min(side, 0.25*b.w())
		top := 1.7 * s.em
		if s.opt.Labels == None {
			side, top = 0, 0
		}
		cw := (b.w() - side) / float64(len(trials))
		ch := math.Min((b.h()-top)/float64(len(names)), cw/2+2.2*s.em)
		pitch := math.Min((b.h()-top)/float64(len(names)), 1.35*ch)
		for j, t := range trials {
			s.text(style{c: s.pal.faint, alignY: middle}, pt{b.x0 + side + float64(j)*cw, b.y1 - top/2}, fmt.Sprintf("trial %d", t))
		}
		for i, n := range names {
			y1 := b.y1 - top - float64(i)*pitch
			s.paragraph(style{bold: true}, box{b.x0, y1 - ch, b.x0 + side, y1}, n)
			for j, t := range trials {
				if shot, ok := at[n][t]; ok {
					x := b.x0 + side + float64(j)*cw
					s.shot(shot, box{x, y1 - ch + 0.4*s.em, x + cw - 0.8*s.em, y1})
				}
			}
		}
	})
}

// shot draws one cell of the contact sheet.
func (s *sheet) shot(shot Shot, b box) {
	wordsH := 1.6 * s.em
	if s.opt.Labels == None {
		wordsH = 0
	}
	gap := 0.3 * s.em
	side := math.Min((b.w()-gap)/2, b.h()-wordsH)
	for i, img := range []image.Image{shot.Before, shot.After} {
		x := math.Round(b.x0 + float64(i)*(side+gap))
		q := box{x, math.Round(b.y1 - side), x + math.Round(side), math.Round(b.y1)}
		if img == nil {
			s.fill(s.pal.hatchGround, q.corners())
			s.text(style{size: s.small(), alignX: centre, alignY: middle}, pt{(q.x0 + q.x1) / 2, (q.y0 + q.y1) / 2}, "no picture")
		} else {
			whole := scaled(img, int(q.w()), int(q.h()))
			free := q.h() - float64(whole.Bounds().Dy())
			s.image(q.x0+math.Floor((q.w()-float64(whole.Bounds().Dx()))/2), q.y0+math.Floor(free/2), whole)
		}
		if s.opt.Labels != None {
			when, st := []string{"before", "after"}[i], style{size: s.small()}
			w := s.width(st, when) + 0.5*s.em
			s.fill(s.pal.page, box{q.x0, q.y1 - 1.25*st.size, q.x0 + w, q.y1}.corners())
			s.text(st, pt{q.x0 + 0.25*s.em, q.y1 - 0.95*st.size}, when)
		}
		s.line(stroke{c: s.pal.edge, width: math.Max(1, 0.05*s.em)}, q.corners(), true)
	}
	s.paragraph(style{bold: shot.Bad}, box{b.x0, b.y0, b.x1, b.y1 - side - 0.2*s.em}, shot.Outcome)
}

// scaled returns all of img as large as fits into w x h pixels.
func scaled(img image.Image, w, h int) image.Image {
	src := img.Bounds()
	if w < 1 || h < 1 || src.Empty() {
		return image.NewRGBA(image.Rectangle{})
	}
	k := math.Max(float64(src.Dx())/float64(w), float64(src.Dy())/float64(h))
	out := image.NewRGBA(image.Rect(0, 0, int(math.Round(float64(src.Dx())/k)), int(math.Round(float64(src.Dy())/k))))
	draw.CatmullRom.Scale(out, out.Bounds(), img, src, draw.Src, nil)
	return out
}
