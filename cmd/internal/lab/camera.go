package lab

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"github.com/goccy/go-yaml/ast"

	"swathe/geom"
)

// camera reads one entry of cameras.
func (r *reader) camera(dir string, e entry) *Camera {
	what := "camera " + e.name
	c := &Camera{Spec: geom.CameraSpec{Name: e.name, LensHeight: math.NaN(), Model: geom.Brown}}
	line, column := at(e.key)
	c.where = Problem{File: r.file, Line: line, Column: column, Excerpt: excerpt(r.lines, line, column)}
	b, ok := r.block(e.value, e.key, what, "frame", "height", "marks", "lens", "board", "tapes", roomKey)
	if !ok {
		return c
	}
	s := &c.Spec
	if b.need("frame", "Write the size of its recordings, such as frame: [1280, 720].") {
		const want = "two whole numbers, [width, height] in pixels"
		if v, ok := r.list(b.val("frame"), b.label("frame"), want); ok {
			if len(v) != 2 {
				r.refuse(b.val("frame"), "%s should be %s.", b.label("frame"), want)
			} else {
				s.Width, _ = r.whole(v[0], b.label("frame width"), 16, 16384)
				s.Height, _ = r.whole(v[1], b.label("frame height"), 16, 16384)
			}
		}
	}
	if b.has("height") {
		// A lens lower than a robot sees nothing; a hall is rarely 30 m high.
		s.LensHeight, _ = r.between(b.val("height"), b.label("height"), "m", bounds{0.2, 30, false}, "Measure from the floor to the lens, in metres.")
	}
	if b.need("marks", "Survey 4 or more points of the floor and write each as {floor: [x, y], pixel: [column, row]}.") {
		r.marks(b, c)
		if line, column := at(b.key("marks")); line > 0 {
			c.where = Problem{File: r.file, Line: line, Column: column, Excerpt: excerpt(r.lines, line, column)}
		}
	}
	if b.has("lens") {
		r.lens(b, s)
	}
	if b.has("board") {
		r.board(dir, b, s)
		if s.Lens != nil {
			r.refuse(b.key("board"), "%s has both a lens and a board. Keep one.", what)
		}
	}
	if b.has("tapes") {
		r.tapes(b, s)
	}
	if b.has(roomKey) {
		c.Room, _ = r.text(b.val(roomKey), b.label(roomKey))
	}
	return c
}

// maxMarks bounds the marks of a camera: each is left out in turn, and far fewer
// settle one.
const maxMarks = 200

func (r *reader) marks(b *block, c *Camera) {
	s := &c.Spec
	list, ok := r.list(b.val("marks"), b.label("marks"), "a list of {floor: [x, y], pixel: [column, row]}")
	if !ok {
		return
	}
	if len(list) > maxMarks {
		r.refuse(b.key("marks"), "%s has %d marks; at most %d are allowed. Keep a few dozen, spread over the floor.", b.what, len(list), maxMarks)
		return
	}
	good := true
	for i, n := range list {
		line, column := at(n)
		c.marks = append(c.marks, Problem{File: r.file, Line: line, Column: column, Excerpt: excerpt(r.lines, line, column)})
		what := fmt.Sprintf("%s: mark %d", b.what, i+1)
		m, ok := r.block(n, n, what, "floor", "pixel", "sigma")
		if !ok {
			good = false
			continue
		}
		var mark geom.Mark
		one := false
		if m.need("floor", "Write its place: floor: [x, y] or [x, y, z] in metres.") {
			var v []float64
			if v, one = r.numbers(m.val("floor"), m.label("floor"), "[x, y] or [x, y, z] in metres", 2, 3); one {
				mark.Floor = geom.Point3{X: v[0], Y: v[1]}
				if len(v) == 3 {
					mark.Floor.Z = v[2]
				}
			}
		}
		good = good && one
		if one = m.need("pixel", "Write its pixel: pixel: [column, row]."); one {
			mark.Pixel, one = r.point(m.val("pixel"), m.label("pixel"), "[column, row] in pixels")
		}
		good = good && one
		if m.has("sigma") {
			mark.Sigma, _ = r.between(m.val("sigma"), m.label("sigma"), "m", bounds{0, 0.5, false}, "Write the standard uncertainty of the survey, in metres.")
		}
		s.Marks = append(s.Marks, mark)
	}
	switch {
	case !good:
	case len(list) < 4:
		r.refuse(b.key("marks"), "%s has %d marks; it needs 4 or more, spread over the floor.", b.what, len(list))
	case onOneLine(s.Marks):
		r.refuse(b.key("marks"), "%s: all its marks lie on one line, so the camera cannot be solved. Add marks on both sides of that line.", b.what)
	default:
		r.sameMark(list, s.Marks, b.what)
	}
}

// sameMark refuses two marks at one place of the floor or of the picture.
func (r *reader) sameMark(list []ast.Node, marks []geom.Mark, what string) {
	for i, m := range marks {
		for j, o := range marks[:i] {
			if m.Floor == o.Floor || m.Pixel == o.Pixel {
				which := "place of the floor"
				if m.Floor != o.Floor {
					which = "pixel"
				}
				r.refuse(list[i], "%s: mark %d has the same %s as mark %d. One of the two is mistyped, or written twice.", what, i+1, which, j+1)
			}
		}
	}
}

// onOneLine tells whether no mark lies farther from the line through the two
// that are farthest apart than 1 % of their distance: a camera solved from such
// marks errs by metres for a millimetre of survey.
func onOneLine(marks []geom.Mark) bool {
	sub := func(a, b geom.Point3) [3]float64 { return [3]float64{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }
	norm := func(v [3]float64) float64 { return math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) }
	var from geom.Point3
	var along [3]float64
	for i, m := range marks {
		for _, o := range marks[:i] {
			if d := sub(m.Floor, o.Floor); norm(d) > norm(along) {
				from, along = o.Floor, d
			}
		}
	}
	long := norm(along)
	if long == 0 {
		return true
	}
	for _, m := range marks {
		d := sub(m.Floor, from)
		off := norm([3]float64{d[1]*along[2] - d[2]*along[1], d[2]*along[0] - d[0]*along[2], d[0]*along[1] - d[1]*along[0]}) / long
		if off > 0.01*long {
			return false
		}
	}
	return true
}

func (r *reader) lens(b *block, s *geom.CameraSpec) {
	m, ok := r.block(b.val("lens"), b.key("lens"), b.label("lens"), "model", "focal", "centre", "distortion")
	if !ok {
		return
	}
	if m.has("model") {
		if word, ok := r.text(m.val("model"), m.label("model")); ok {
			models := []string{string(geom.Brown), string(geom.Fisheye)}
			if slices.Contains(models, word) {
				s.Model = geom.LensModel(word)
			} else {
				r.refuse(m.val("model"), "%s is %q; it should be brown or fisheye.", m.label("model"), word)
			}
		}
	}
	terms, names := 5, "[k1, k2, p1, p2, k3]"
	if s.Model == geom.Fisheye {
		terms, names = 4, "[k1, k2, k3, k4]"
	}
	if !m.has("focal") && !m.has("centre") && !m.has("distortion") {
		return // only the model is known; the marks settle the rest
	}
	l := geom.Lens{Model: s.Model}
	if m.need("focal", "Write focal: [fx, fy] in pixels, or leave out the lens; it is then solved from the marks.") {
		if v, ok := r.numbers(m.val("focal"), m.label("focal"), "[fx, fy] in pixels", 2, 2); ok {
			if v[0] <= 0 || v[1] <= 0 {
				r.refuse(m.val("focal"), "%s should be two numbers above 0, in pixels.", m.label("focal"))
			}
			l.Fx, l.Fy = v[0], v[1]
		}
	}
	if m.need("centre", "Write centre: [cx, cy] in pixels.") {
		p, _ := r.point(m.val("centre"), m.label("centre"), "[cx, cy] in pixels")
		l.Cx, l.Cy = p.X, p.Y
	}
	if m.has("distortion") {
		if v, ok := r.numbers(m.val("distortion"), m.label("distortion"), "up to "+fmt.Sprint(terms)+" numbers, "+names, 1, terms); ok {
			copy(l.Dist[:], v)
		}
	}
	s.Lens = &l
}

func (r *reader) board(dir string, b *block, s *geom.CameraSpec) {
	m, ok := r.block(b.val("board"), b.key("board"), b.label("board"), "pictures", "columns", "rows", "square")
	if !ok {
		return
	}
	out := &geom.Board{}
	if m.need("pictures", "Write the path of the pictures, such as pictures: boards/*.png.") {
		if pattern, ok := r.text(m.val("pictures"), m.label("pictures")); ok {
			full := pattern
			if !filepath.IsAbs(full) {
				full = filepath.Join(dir, filepath.FromSlash(pattern))
			}
			found, err := filepath.Glob(full)
			if err != nil || len(found) == 0 {
				r.refuse(m.val("pictures"), "%s: no file matches %s. The path starts at the lab's folder.", b.label("board"), pattern)
			}
			slices.Sort(found)
			out.Pictures = found
		}
	}
	if m.need("columns", "Count the inner corners along a row.") {
		out.Columns, _ = r.whole(m.val("columns"), m.label("columns"), 3, 100)
	}
	if m.need("rows", "Count the inner corners along a column.") {
		out.Rows, _ = r.whole(m.val("rows"), m.label("rows"), 3, 100)
	}
	if m.need("square", "Write the side of a square in metres.") {
		out.Square, _ = r.between(m.val("square"), m.label("square"), "m", bounds{0, 1, true}, "Write the side of one square, in metres.")
	}
	s.Board = out
}

func (r *reader) tapes(b *block, s *geom.CameraSpec) {
	list, ok := r.list(b.val("tapes"), b.label("tapes"), "a list of {pixels: [[c, r], [c, r]], length: L}")
	if !ok {
		return
	}
	for i, n := range list {
		m, ok := r.block(n, n, fmt.Sprintf("%s: tape %d", b.what, i+1), "pixels", "length")
		if !ok {
			continue
		}
		var tape geom.Tape
		const want = "its two ends: [[column, row], [column, row]]"
		if m.need("pixels", "Write "+want+".") {
			if ends, ok := r.list(m.val("pixels"), m.label("pixels"), want); ok {
				if len(ends) != 2 {
					r.refuse(m.val("pixels"), "%s should be %s.", m.label("pixels"), want)
				} else {
					tape.From, _ = r.point(ends[0], m.label("pixels"), "[column, row]")
					tape.To, _ = r.point(ends[1], m.label("pixels"), "[column, row]")
				}
			}
		}
		if m.need("length", "Write the distance measured with the tape, in metres.") {
			tape.Length, _ = r.between(m.val("length"), m.label("length"), "m", bounds{0, 1000, true}, "")
		}
		s.Tapes = append(s.Tapes, tape)
	}
}
