package sight

import (
	"math"
	"slices"

	"swathe/geom"
)

// Persons tells where persons may be in a picture: a thing of a person's size that
// nothing else explains (see person.go), what touches the picture's edge and may be
// the first of somebody, and what lies within an arm's length of either. How long a
// thing has stood still does not count: somebody may. at is where the robot stands,
// which with its shadow is nobody unless somebody reaches for it; known false: nobody
// knows where it is, and what is only as large as it is nobody. twice, if given, is the
// luminance that a place has shown again and again besides the background's, 0 where
// there is none: what looks like that reaches for nothing. Pixels of the mask, valid
// until the next call, are one of those below or 0, and each is factor x factor pixels
// of the picture. doubt tells that something was left out that is nearly as large as a
// person.
func (w *Watcher) Persons(p *Picture, at geom.Pose, known bool, twice *Plane) (mask Plane, factor int, doubt bool) {
	w.whole(p)
	if w.persons.W == 0 {
		w.persons = NewPlane(w.bg.Small.W, w.bg.Small.H)
	}
	s := smallScene{&w.finder.Foreground, w.smallRoom(), w.bgRoom, &w.lt}
	before := func(i int32) bool { return false }
	if twice != nil {
		before = func(i int32) bool {
			x, y := int(i)%w.persons.W, int(i)/w.persons.W
			a, b := w.small.Pix[y*w.small.Stride+x], twice.Pix[y*twice.Stride+x]
			return b != 0 && max(a, b)-min(a, b) <= SameAgain
		}
	}
	doubt = w.people.cover(s, at, w.set.Robot.Reach(), known, before, &w.persons)
	return w.persons, w.bg.Factor, doubt
}

// Pixels of the mask of Persons.
const (
	Somebody   = 255 // may be of a person
	Again      = 160 // likewise, and looks as the place has before
	RobotAlone = 64  // at the robot, neither background nor what has been there before, and nobody reaches for it
)

// SameAgain is how much a place may differ between two frames, grey levels, and be the
// same thing: who walks by does not look the same twice.
const SameAgain = 8

// Small is the luminance of the picture that Persons looked at last, small, valid
// until the next call.
func (w *Watcher) Small() *Plane { return &w.small }

const (
	// robotAndShadow is how much about the robot's middle, in its reach, is its own.
	robotAndShadow = 1.5
	// firstOf is the share of a person that is enough at the picture's edge.
	firstOf = 0.1
	// nearly is the share of a person above which what is no person is doubtful.
	nearly = 0.5
	// armsLength is how far from a person what is seen may be theirs, m.
	armsLength = 0.5
)

// cover sets out's pixels (see Persons); before tells what has looked like that before.
func (p *people) cover(s smallScene, at geom.Pose, reach float64, known bool, before func(i int32) bool, out *Plane) (doubt bool) {
	clear(p.seen)
	for y := range out.H {
		clear(out.Pix[y*out.Stride : y*out.Stride+out.W])
	}
	least := p.least
	if !known {
		least += math.Pi * reach * reach
	}
	own := func(i int32) bool {
		return known && math.Hypot(float64(p.x[i])-at.X, float64(p.y[i])-at.Y) <= robotAndShadow*reach
	}
	is := func(i int32) bool { return s.fg.Pix[i] > 127 && !own(i) }
	type thing struct {
		pix            []int32
		x0, y0, x1, y1 float64 // m
		person         bool
	}
	var things []thing
	k := int32(0)
	for i := range p.seen {
		if p.seen[i] != 0 || !is(int32(i)) {
			continue
		}
		k++
		all := p.grow(int32(i), k, is)
		area, edge := 0.0, false
		t := thing{pix: append([]int32(nil), all...), x0: math.Inf(1), y0: math.Inf(1), x1: math.Inf(-1), y1: math.Inf(-1)}
		for _, q := range all {
			area += float64(p.area[q])
			x, y := int(q)%p.w, int(q)/p.w
			edge = edge || x == 0 || y == 0 || x == p.w-1 || y == p.h-1
			t.x0, t.y0 = math.Min(t.x0, float64(p.x[q])), math.Min(t.y0, float64(p.y[q]))
			t.x1, t.y1 = math.Max(t.x1, float64(p.x[q])), math.Max(t.y1, float64(p.y[q]))
		}
		size := area / least
		if edge {
			size = math.Max(size, area/(firstOf*p.least))
		}
		lit := size >= nearly && p.lit(all, s, 0)
		t.person = size >= 1 && !lit
		doubt = doubt || size >= nearly && size < 1 && !lit
		things = append(things, t)
	}
	ofRobot := func(v uint8) {
		for i := range p.seen {
			if k := int32(i); s.fg.Pix[i] > 127 && own(k) && (v == Somebody || !before(k)) {
				out.Pix[i/p.w*out.Stride+i%p.w] = v
			}
		}
	}
	ofRobot(RobotAlone)
	paint := func(t thing) {
		for _, q := range t.pix {
			v := uint8(Somebody)
			if before(q) {
				v = Again
			}
			out.Pix[int(q)/p.w*out.Stride+int(q)%p.w] = v
		}
	}
	for _, t := range things {
		if !t.person {
			continue
		}
		paint(t)
		for _, u := range things {
			if !u.person && u.x0 < t.x1+armsLength && t.x0 < u.x1+armsLength && u.y0 < t.y1+armsLength && t.y0 < u.y1+armsLength {
				paint(u)
			}
		}
		if r := robotAndShadow*reach + 0.05; known && t.x0 < at.X+r && t.x1 > at.X-r && t.y0 < at.Y+r && t.y1 > at.Y-r &&
			slices.ContainsFunc(t.pix, func(q int32) bool {
				return math.Hypot(float64(p.x[q])-at.X, float64(p.y[q])-at.Y) <= r && !before(q)
			}) {
			ofRobot(Somebody) // hands and head are above the robot that somebody reaches for
		}
	}
	return doubt
}
