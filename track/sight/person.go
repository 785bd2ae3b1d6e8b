package sight

import (
	"cmp"
	"math"
	"slices"

	"swathe/geom"
)

// A person is said to be in the picture only where something of a person's size
// is that nothing else explains: one connected thing that is not floor, not the
// robot, not the same floor in another light, and has not stood there unmoved for
// long. Its size is the floor that it covers as the lens sees it: shoulders of
// the smallest grown-ups at their height, magnified by the lens's; half of that
// where it goes on beyond the picture's edge.

const (
	// Shoulders 0.40 m by 0.20 m, 1.3 m above the floor: the 5th percentile of
	// women (value from memory of anthropometric tables), as an ellipse.
	shoulders       = math.Pi / 4 * 0.40 * 0.20 // m^2
	shouldersHeight = 1.3                       // m
	leastAbove      = 0.6                       // m, of a lens above shoulders, for the magnification

	// sameLight is the spread (90 % less 10 %) of the light over the background's
	// within a thing, as a share of its middle, up to which it is the floor in
	// another light, and sameColour the difference of its chroma, grey levels.
	sameLight  = 0.16
	sameColour = 4
	// unmoved is for how long a thing stands as it is until it is furniture, s.
	unmoved = 30
)

// Person is somebody as seen at one look.
type Person struct {
	Area float64 // m^2 of the floor that it covers
	Gap  float64 // m between it and the robot's outline, where that is or was last seen; 0: it covers it
}

// people finds persons in small pictures of what is not floor.
type people struct {
	area   []float32 // by pixel, m^2 of floor; 0 beyond the horizon
	x, y   []float32 // by pixel, m
	since  []float64 // s, since when the pixel has not been floor; NaN: it is
	w, h   int
	least  float64 // m^2
	seen   []int32 // by pixel, the thing that it belongs to; 0: none yet
	stack  []int32
	lights thingLights
}

// newPeople prepares for small pictures of w x h pixels, each factor pixels wide.
func newPeople(cam *geom.Camera, w, h, factor int) *people {
	k := shoulders
	above := math.Max(leastAbove, cam.Centre.Z-shouldersHeight)
	k *= math.Pow(cam.Centre.Z/above, 2)
	p := &people{w: w, h: h, least: k}
	n := w * h
	p.area, p.x, p.y, p.since, p.seen = make([]float32, n), make([]float32, n), make([]float32, n), make([]float64, n), make([]int32, n)
	f := float64(factor)
	for i := range p.area {
		p.since[i] = math.NaN()
		q, ok := cam.Floor(geom.Point2{X: (float64(i%w)+0.5)*f - 0.5, Y: (float64(i/w)+0.5)*f - 0.5}, 0)
		if !ok {
			continue
		}
		if _, j, ok := cam.ProjectJac(geom.Point3{X: q.X, Y: q.Y}); ok {
			p.x[i], p.y[i] = float32(q.X), float32(q.Y)
			// What lies far beyond the room is the size of nothing.
			p.area[i] = float32(math.Min(0.01*k, f*f/math.Abs(j[0][0]*j[1][1]-j[0][1]*j[1][0])))
		}
	}
	return p
}

// smallScene is what one look at the whole room gave: what is not floor, the picture
// and its background, small, and the light.
type smallScene struct {
	fg      *Plane
	now, bg room // the background in the colours of now
	lt      *light
}

// find returns the person nearest to a robot of the given reach (m) at a place;
// it takes robot off the things where it is known to stand there. ok is false
// where nobody is seen.
func (p *people) find(t float64, s smallScene, at geom.Pose, reach float64, found bool) (best Person, ok bool) {
	for i, v := range s.fg.Pix[:p.w*p.h] {
		p.seen[i] = 0
		switch {
		case v <= 127:
			p.since[i] = math.NaN()
		case math.IsNaN(p.since[i]):
			p.since[i] = t
		}
	}
	robot := 0.0
	if !found { // it may be among what is seen
		robot = math.Pi * reach * reach
	}
	least := p.least + robot
	isThing := func(i int32) bool {
		if s.fg.Pix[i] <= 127 || t-p.since[i] > unmoved {
			return false
		}
		return !found || math.Hypot(float64(p.x[i])-at.X, float64(p.y[i])-at.Y) > 1.2*reach
	}
	best.Gap = math.Inf(1)
	thing := int32(0)
	for i := range p.seen {
		if p.seen[i] != 0 || !isThing(int32(i)) {
			continue
		}
		thing++
		all := p.grow(int32(i), thing, isThing)
		area, gap, edge := 0.0, math.Inf(1), false
		for _, k := range all {
			area += float64(p.area[k])
			gap = math.Min(gap, math.Hypot(float64(p.x[k])-at.X, float64(p.y[k])-at.Y)-reach)
			x, y := int(k)%p.w, int(k)/p.w
			edge = edge || x == 0 || y == 0 || x == p.w-1 || y == p.h-1
		}
		if area < least && !(edge && area > least-p.least/2) || gap >= best.Gap || p.lit(all, s, robot/area) {
			continue
		}
		best, ok = Person{Area: area, Gap: math.Max(0, gap)}, true
	}
	return best, ok
}

// grow returns the pixels of the thing that pixel i belongs to, across gaps of a
// pixel, valid until the next call.
func (p *people) grow(i, thing int32, is func(int32) bool) []int32 {
	p.stack = append(p.stack[:0], i)
	p.seen[i] = thing
	for n := 0; n < len(p.stack); n++ {
		k := p.stack[n]
		x, y := int(k)%p.w, int(k)/p.w
		for dy := -2; dy <= 2; dy++ {
			for dx := -2; dx <= 2; dx++ {
				u, v := x+dx, y+dy
				if u < 0 || v < 0 || u >= p.w || v >= p.h {
					continue
				}
				if m := int32(v*p.w + u); p.seen[m] == 0 && is(m) {
					p.seen[m] = thing
					p.stack = append(p.stack, m)
				}
			}
		}
	}
	return p.stack
}

// lit tells whether a thing is but the floor in another light, with perhaps the
// robot, of the given share of the thing, in it.
func (p *people) lit(all []int32, s smallScene, robot float64) bool {
	p.lightsOf(all, s)
	n := len(p.lights)
	k := min(int(robot*float64(n)), n/2)
	for _, l := range []thingLights{p.lights, p.lights[k:], p.lights[:n-k]} {
		if l.even() || l.moved() {
			return true
		}
	}
	return false
}

// moved tells whether these are the lights of a shadow that has moved: dark where it
// went and as much brighter where it was, so that one undoes the other. Its border is
// soft; the half that is farthest from the floor's light has to do.
func (l thingLights) moved() bool {
	dark, _ := slices.BinarySearchFunc(l, 1, func(v thingLight, one float64) int { return cmp.Compare(v.light, one) })
	shade, left := l[:dark/2], l[(dark+len(l))/2:]
	return shade.even() && left.even() && math.Abs(math.Log(shade[len(shade)/2].light*left[len(left)/2].light)) < sameLight
}

// thingLight is the light on a pixel of a thing over the background's, and the
// difference of its chroma to the background's in that light, grey levels.
type thingLight struct{ light, du, dv float64 }

// thingLights are those of a thing, by light.
type thingLights []thingLight

// even tells whether the light is the same all over, without its tenth at either
// end (see sameLight), and changes no colour. Of fewer than 8 pixels nothing is told.
func (l thingLights) even() bool {
	n := len(l)
	if n < 8 || l[n*9/10].light-l[n/10].light >= sameLight*l[n/2].light {
		return false
	}
	du, dv := 0.0, 0.0
	for _, v := range l {
		du, dv = du+v.du, dv+v.dv
	}
	return math.Abs(du) < sameColour*float64(n) && math.Abs(dv) < sameColour*float64(n)
}

// lightsOf puts the lights of some 600 pixels of a thing into p.lights.
func (p *people) lightsOf(all []int32, s smallScene) {
	p.lights = p.lights[:0]
	step := 1 + len(all)/600
	for k := 0; k < len(all); k += step {
		i := int(all[k])
		x, y := i%p.w, i/p.w
		b := float64(s.bg.y.Pix[y*s.bg.y.Stride+x])
		if b < 12 {
			continue
		}
		now := float64(s.now.y.Pix[y*s.now.y.Stride+x]) / b
		// More light makes the chroma larger as it makes the picture brighter.
		p.lights = append(p.lights, thingLight{now / s.lt.at(float64(x), float64(y)),
			float64(s.now.u.Pix[y*s.now.u.Stride+x]) - 128 - now*(float64(s.bg.u.Pix[y*s.bg.u.Stride+x])-128),
			float64(s.now.v.Pix[y*s.now.v.Stride+x]) - 128 - now*(float64(s.bg.v.Pix[y*s.bg.v.Stride+x])-128)})
	}
	slices.SortFunc(p.lights, func(a, b thingLight) int { return cmp.Compare(a.light, b.light) })
}
