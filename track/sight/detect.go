package sight

import (
	"math"
	"slices"

	"swathe/geom"
)

// place is one spot of the floor where the robot might be: the pixels of the
// small picture within its outline and in a ring round it.
type place struct {
	pose  geom.Pose
	in    []int32
	ring  []int32
	shown float64 // share of the inside that nothing known hides
}

// Finder looks for the robot anywhere on the floor in small pictures.
type Finder struct {
	Places     []place // all over the floor, Step apart
	Step       float64 // m
	Foreground Plane   // of the last picture: 0 floor .. 255 surely not floor
	w, h       int
}

// inRings and outRing place the sample points: radii in units of the robot's.
var inRings = []struct {
	r float64
	n int
}{{0, 1}, {0.35, 6}, {0.65, 11}, {0.9, 16}}

const outRing = 1.45

// NewFinder prepares a Finder for a set-up's floor in pictures of b's small size.
func NewFinder(set *Setup, b *Background) *Finder {
	f := &Finder{Foreground: NewPlane(b.Small.W, b.Small.H), w: b.Small.W, h: b.Small.H}
	r, lo, hi, factor := set.Robot.Radius(), set.Lo, set.Hi, float64(b.Factor)
	f.Step = r / 2.5
	// A room of 200 m2 still fits in a few megabytes.
	for (hi.X-lo.X)*(hi.Y-lo.Y)/(f.Step*f.Step) > 60000 {
		f.Step *= 1.3
	}
	index := func(x, y, z float64) int32 {
		px, ok := set.Cam.Project(geom.Point3{X: x, Y: y, Z: z})
		if !ok {
			return -1
		}
		ix, iy := int(math.Round((px.X+0.5)/factor-0.5)), int(math.Round((px.Y+0.5)/factor-0.5))
		if ix < 0 || iy < 0 || ix >= f.w || iy >= f.h {
			return -1
		}
		return int32(iy*f.w + ix)
	}
	for y := lo.Y; y <= hi.Y; y += f.Step {
		for x := lo.X; x <= hi.X; x += f.Step {
			if !set.May(geom.Point2{X: x, Y: y}) {
				continue
			}
			p := place{pose: geom.Pose{X: x, Y: y}}
			z := set.Floor(geom.Point2{X: x, Y: y}) + set.Robot.Height/2
			total := 0
			for _, ring := range inRings {
				for k := 0; k < ring.n; k++ {
					s, c := math.Sincos(2 * math.Pi * float64(k) / float64(ring.n))
					qx, qy := x+ring.r*r*c, y+ring.r*r*s
					total++
					i := index(qx, qy, z)
					if i < 0 || set.Hidden != nil && set.Hidden(geom.Point3{X: qx, Y: qy, Z: z}) {
						continue
					}
					p.in = append(p.in, i)
				}
			}
			p.shown = float64(len(p.in)) / float64(total)
			if p.shown < 0.3 {
				continue
			}
			for k := 0; k < 20; k++ {
				s, c := math.Sincos(2 * math.Pi * float64(k) / 20)
				if i := index(x+outRing*r*c, y+outRing*r*s, z-set.Robot.Height/2); i >= 0 {
					p.ring = append(p.ring, i)
				}
			}
			f.Places = append(f.Places, p)
		}
	}
	return f
}

// firstLevel is the difference (grey levels) at which a pixel begins to count,
// in units of the noise of a small pixel; fullLevel is where it counts wholly.
const (
	firstLevel = 2.5
	fullLevel  = 14
)

// Difference fills the map of what is not floor from a small picture, the
// background in its colours, a pixel's noise and the light over the background. It returns the share of the
// picture that is not floor.
func (f *Finder) Difference(s, b room, noise float64, l *light, buf []float32) (share float64, _ []float32) {
	lo := float32(firstLevel*noise/2) + 1
	k := 255 / (fullLevel - min(lo, fullLevel-4))
	n := 0
	for y := 0; y < f.h; y++ {
		g := l.line(y, f.w, buf)
		buf = g
		sy, by := s.y.Pix[y*s.y.Stride:][:f.w], b.y.Pix[y*b.y.Stride:][:f.w]
		su, bu := s.u.Pix[y*s.u.Stride:][:f.w], b.u.Pix[y*b.u.Stride:][:f.w]
		sv, bv := s.v.Pix[y*s.v.Stride:][:f.w], b.v.Pix[y*b.v.Stride:][:f.w]
		o := f.Foreground.Pix[y*f.w:][:f.w]
		for x := range o {
			d := float32(sy[x]) - g[x]*float32(by[x])
			if d < 0 {
				d = -d
			}
			c := int(su[x]) - int(bu[x])
			if c < 0 {
				c = -c
			}
			e := int(sv[x]) - int(bv[x])
			if e < 0 {
				e = -e
			}
			// Chroma is less noisy and more telling than light.
			d = max(d, 1.5*float32(max(c, e)))
			d = (d - lo) * k
			switch {
			case d <= 0:
				o[x] = 0
			case d >= 255:
				o[x] = 255
				n++
			default:
				o[x] = uint8(d)
				if d > 127 {
					n++
				}
			}
		}
	}
	return float64(n) / float64(f.w*f.h), buf
}

// Candidate is a place where something of about the robot's size stands.
type Candidate struct {
	Pose  geom.Pose
	Score float64 // 0..1
	In    float64 // how much of the outline's inside is not floor
}

// Candidates returns up to n places, best first, at least a radius apart.
func (f *Finder) Candidates(n int, radius float64) []Candidate {
	var all []Candidate
	pix := f.Foreground.Pix
	for k := range f.Places {
		p := &f.Places[k]
		sum := 0
		for _, i := range p.in {
			sum += int(pix[i])
		}
		in := float64(sum) / float64(255*len(p.in))
		if in < 0.25 {
			continue
		}
		sum = 0
		for _, i := range p.ring {
			sum += int(pix[i])
		}
		ring := 0.0
		if len(p.ring) > 0 {
			ring = float64(sum) / float64(255*len(p.ring))
		}
		if s := in - 0.6*ring; s > 0.15 {
			all = append(all, Candidate{p.pose, s, in})
		}
	}
	slices.SortFunc(all, func(a, b Candidate) int {
		switch {
		case a.Score > b.Score:
			return -1
		case a.Score < b.Score:
			return 1
		}
		return 0
	})
	var out []Candidate
	for _, c := range all {
		near := false
		for _, o := range out {
			if math.Hypot(o.Pose.X-c.Pose.X, o.Pose.Y-c.Pose.Y) < radius {
				near = true
				break
			}
		}
		if !near {
			out = append(out, c)
			if len(out) == n {
				break
			}
		}
	}
	return out
}

// Crowd is the share of the ring round a pose, one to 1.7 radii beyond the
// outline, that is not floor, as the last Difference saw it.
func (f *Finder) Crowd(cam *geom.Camera, robot geom.Robot, factor int, at geom.Pose, z float64) float64 {
	r := robot.Reach()
	sum, n := 0, 0
	for k := 0; k < 48; k++ {
		s, c := math.Sincos(2 * math.Pi * float64(k) / 48)
		q := r * (1.35 + 0.6*float64(k%3)/2)
		px, ok := cam.Project(geom.Point3{X: at.X + q*c, Y: at.Y + q*s, Z: z})
		if !ok {
			continue
		}
		ix, iy := int(px.X)/factor, int(px.Y)/factor
		if ix < 0 || iy < 0 || ix >= f.w || iy >= f.h {
			continue
		}
		n++
		if f.Foreground.Pix[iy*f.w+ix] > 127 {
			sum++
		}
	}
	if n == 0 {
		return 0
	}
	return float64(sum) / float64(n)
}

// Inside is how much of the outline's visible inside is not floor, 0..1.
func (f *Finder) Inside(cam *geom.Camera, robot geom.Robot, factor int, at geom.Pose, z float64, hidden func(geom.Point3) bool) float64 {
	r := robot.Radius()
	sum, n := 0, 0
	for _, ring := range inRings {
		for k := 0; k < ring.n; k++ {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(ring.n))
			p := geom.Point3{X: at.X + ring.r*r*c, Y: at.Y + ring.r*r*s, Z: z + robot.Height/2}
			if hidden != nil && hidden(p) {
				continue
			}
			px, ok := cam.Project(p)
			if !ok {
				continue
			}
			ix, iy := int(px.X)/factor, int(px.Y)/factor
			if ix < 0 || iy < 0 || ix >= f.w || iy >= f.h {
				continue
			}
			n++
			sum += int(f.Foreground.Pix[iy*f.w+ix])
		}
	}
	if n == 0 {
		return math.NaN()
	}
	return float64(sum) / float64(255*n)
}
