package sight

import (
	"math"
	"slices"

	"swathe/geom"
)

// Setup is the world that the pictures show, the camera scaled to them.
type Setup struct {
	Cam         *geom.Camera
	Halved      int // how often the pictures were halved
	Robot       geom.Robot
	Lo, Hi      geom.Point2                               // bounds of the floor, m
	May         func(geom.Point2) bool                    // the robot's centre may be here
	Floor       func(geom.Point2) float64                 // height of the floor, m
	Hidden      func(geom.Point3) bool                    // the plan's things hide a point from the lens
	Hides       func(geom.Point3) (name string, hid bool) // the same exactly, with the thing's name
	TestObjects []geom.Piece                              // small things to be followed
}

// robotPx is the robot's radius in pixels of the pictures below the lens.
func (s *Setup) robotPx() float64 {
	mid := geom.Point3{X: (s.Lo.X + s.Hi.X) / 2, Y: (s.Lo.Y + s.Hi.Y) / 2}
	mpp := s.Cam.PixelSize(mid)
	if math.IsNaN(mpp) || mpp <= 0 {
		return 20
	}
	return s.Robot.Radius() / mpp
}

// Learn makes the background of samples spread over the recording. A robot
// that stood at one place in most of them has become floor there, and shows as
// a ghost in the others: a robot-shaped difference whose outline is in the
// background and not in the picture. There the background is taken from the
// samples that saw the ghost.
//
// reference, if not nil, is a background of the same camera taken when its
// marks were surveyed: the samples are brought to where the camera was then.
//
// Samples are changed: brought to the light and the colours of one of them.
//
// Where the robot shows wider or narrower than entered by more than the samples
// leave open, set.Robot is made as wide as it shows: see Background.Width.
func Learn(set *Setup, samples []*Picture, reference *Plane) *Background {
	return LearnPaced(set, samples, reference, nil)
}

// A Pace is told between units of work what is done next, and says whether there
// is time for what can be left out. nil: there is.
type Pace func(doing string) bool

func (p Pace) on(doing string) bool { return p == nil || p(doing) }

// LearnPaced is Learn at a pace. Where time runs out the robot's width is not
// measured, or a robot that stood has been left in the background.
func LearnPaced(set *Setup, samples []*Picture, reference *Plane, pace Pace) *Background {
	factor := shrinkFactor(samples[0].Y.W, set.robotPx())
	pace.on("laying the frames on each other")
	samples, moved, flat := steady(set, samples, reference, factor)
	pace.on("making the room's picture from the frames")
	b := stack(samples, factor)
	b.Moved, b.flat = moved, flat
	if b.Width = measureWidth(set, samples, b, pace); b.Width.Used {
		set.Robot = Resized(set.Robot, b.Width.Ratio)
	}
	for round := 0; round < 2; round++ {
		ghosts := findGhosts(set, samples, b, pace)
		if len(ghosts) == 0 {
			break
		}
		for _, g := range ghosts {
			b.heal(set, samples, g)
		}
		b.finish()
	}
	pace.on("learning the floor's colours")
	b.region = newRegion(set, b, samples)
	return b
}

// A ghost is a robot in the background: two cannot overlap, for at most one place
// of a pixel shows in most of the samples.
type ghost struct {
	fit Fit   // as it sits best
	saw []int // the samples without the robot there
}

// eachSample hands on, sample by sample and as long as there is time, a finder
// that has seen in what the sample differs from the background.
func eachSample(set *Setup, samples []*Picture, b *Background, pace Pace, see func(k int, finder *Finder)) {
	finder := NewFinder(set, b)
	var buf []float32
	for k, s := range samples {
		if !pace.on("looking for the robot in the frames") {
			return
		}
		small := shrunk(s, b.Factor)
		l := relight(&small.y, &b.Small)
		_, buf = finder.Difference(small.room(), b.room(), b.Noise, &l, buf)
		see(k, finder)
	}
}

func findGhosts(set *Setup, samples []*Picture, b *Background, pace Pace) []ghost {
	fitter := NewFitter(set.Cam, set.Robot, set.Floor, set.Hidden)
	var ghosts []ghost
	eachSample(set, samples, b, pace, func(k int, finder *Finder) {
		for _, c := range finder.Candidates(4, set.Robot.Radius()) {
			// The background plays the picture's part, and the other way round.
			f, ok := fitter.Turned(&b.Y, &samples[k].Y, c.Pose, set.robotPx()/2)
			if !ok || !stood(&f) {
				continue
			}
			// What stands in the sample differs from the background as well, and its
			// own edges and the floor's may make a ghost of it.
			if own, ok := fitter.Turned(&samples[k].Y, &b.Y, c.Pose, set.robotPx()/2); ok && own.Quality() > f.Quality() {
				continue
			}
			overlaps := func(p geom.Pose) bool { return math.Hypot(p.X-f.Pose.X, p.Y-f.Pose.Y) < set.Robot.Reach() }
			if slices.ContainsFunc(b.Healed, overlaps) {
				continue // that floor is from frames that show it
			}
			i := slices.IndexFunc(ghosts, func(g ghost) bool { return overlaps(g.fit.Pose) })
			if i < 0 {
				ghosts = append(ghosts, ghost{fit: f})
				i = len(ghosts) - 1
			} else if f.Quality() > ghosts[i].fit.Quality() {
				ghosts[i].fit = f
			}
			if s := ghosts[i].saw; len(s) == 0 || s[len(s)-1] != k {
				ghosts[i].saw = append(s, k)
			}
		}
	})
	return ghosts
}

// heal takes the background round a ghost from the samples that saw it.
func (b *Background) heal(set *Setup, samples []*Picture, g ghost) {
	b.Healed = append(b.Healed, g.fit.Pose)
	r := set.Robot.Reach() * 1.6
	z := set.Floor(geom.Point2{X: g.fit.Pose.X, Y: g.fit.Pose.Y})
	lo, hi := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for k := 0; k < 24; k++ {
		s, c := math.Sincos(2 * math.Pi * float64(k) / 24)
		for _, h := range []float64{z, z + set.Robot.Height} {
			px, ok := set.Cam.Project(geom.Point3{X: g.fit.Pose.X + r*c, Y: g.fit.Pose.Y + r*s, Z: h})
			if ok {
				lo.X, lo.Y = math.Min(lo.X, px.X), math.Min(lo.Y, px.Y)
				hi.X, hi.Y = math.Max(hi.X, px.X), math.Max(hi.Y, px.Y)
			}
		}
	}
	type take struct {
		p *Picture
		l light
	}
	var from []take
	for _, k := range g.saw {
		small := samples[k].Y.Shrink(b.Factor, Plane{})
		from = append(from, take{samples[k], relight(&small, &b.Small)})
	}
	v := make([]int32, 0, len(from))
	fill := func(dst *Plane, get func(*Picture) *Plane, scale int, gain bool) {
		for y := max(0, int(lo.Y)/scale); y <= min(dst.H-1, int(hi.Y)/scale); y++ {
			for x := max(0, int(lo.X)/scale); x <= min(dst.W-1, int(hi.X)/scale); x++ {
				v = v[:0]
				for i := range from {
					p := get(from[i].p)
					q := float64(p.Pix[y*p.Stride+x])
					if gain {
						q /= math.Max(0.05, from[i].l.at(float64(x*scale/b.Factor), float64(y*scale/b.Factor)))
					}
					v = insertSorted(v, int32(q*16))
				}
				dst.Pix[y*dst.Stride+x] = middle(v)
			}
		}
	}
	fill(&b.Y, func(p *Picture) *Plane { return &p.Y }, 1, true)
	fill(&b.U, func(p *Picture) *Plane { return &p.U }, 2, false)
	fill(&b.V, func(p *Picture) *Plane { return &p.V }, 2, false)
}

func insertSorted(v []int32, q int32) []int32 {
	i := len(v)
	v = append(v, q)
	for i > 0 && v[i-1] > q {
		v[i] = v[i-1]
		i--
	}
	v[i] = q
	return v
}
