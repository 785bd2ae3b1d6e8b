package sight

import (
	"fmt"
	"math"
	"sort"

	"swathe/geom"
)

// Width is how wide the robot shows, over the width that was entered.
type Width struct {
	Ratio float64 // NaN if it could not be found out
	Sigma float64 // standard uncertainty
	Fits  int     // pictures that it rests on
	Used  bool    // the robot is looked for at this width, for the entry is wrong
}

// Warning says that an entry is wrong; empty if it is not.
func (w Width) Warning(entry geom.Robot) string {
	if !w.Used {
		return ""
	}
	return fmt.Sprintf("measure the robot's width and height again and correct its entry: it appears %.3f m (+- %.3f m) wide in %[4]d frames, lab.yaml has %.3[3]f m. It was tracked at the width that appears; its tools and the reachable floor are calculated as entered",
		2*entry.Radius()*w.Ratio, math.Max(0.001, 4*entry.Radius()*w.Sigma), 2*entry.Radius(), w.Fits)
}

// The outline is held to a fifth of a pixel, so that an entry which is 2 % off
// hides the robot. Other widths are tried in steps that one refinement bridges.
const (
	widthSpan  = 0.085 // how far off an entry is taken for a slip, share
	widthStep  = 1.2   // px of radius between the widths tried
	widthFits  = 20    // fits are enough
	widthLeast = 4     // fits are needed
	widthOff   = 0.012 // what an entry may be off without a word, share
	widthOffPx = 0.4   // the same in pixels of radius: light and lens bend an edge by as much
	widthSigma = 4     // and in sigmas
	widthSure  = 0.6   // quality of a fit at which no other width need be tried: at a wrong one edges of shadows fit as well
)

// measureWidth finds the robot in samples before a background and how wide it
// shows there. A body fitted too wide has all its edges inside the outline by
// the same share, which no move takes away: place and width are solved together.
//
// Height and width are one to this: a top 10 mm higher than entered shows
// 0.4 % wider under a lens 2.5 m above the floor.
func measureWidth(set *Setup, samples []*Picture, b *Background, pace Pace) Width {
	none := Width{Ratio: math.NaN(), Sigma: math.NaN()}
	places := make([][]Candidate, len(samples))
	any := 0
	eachSample(set, samples, b, pace, func(k int, finder *Finder) {
		if places[k] = finder.Candidates(3, set.Robot.Radius()); len(places[k]) > 0 {
			any++
		}
	})
	if !set.Robot.Round() {
		head(set, samples, b, places, pace)
	}
	fits := widths(set, samples, b, places, 1, pace)
	if m := summary(fits); len(fits) < widthLeast || 2*len(fits) < any || math.Abs(m.Ratio-1)*set.robotPx() > widthOffPx || worth(fits) < widthSure*float64(len(fits)) {
		// Not beyond doubt: is there a width at which more of it fits?
		step := widthStep / set.robotPx()
		for k := 1; float64(k)*step < widthSpan; k++ {
			for _, w := range [2]float64{1 + float64(k)*step, 1 - float64(k)*step} {
				if other := widths(set, samples, b, places, w, pace); worth(other) > 1.2*worth(fits) {
					fits = other
				}
			}
		}
	}
	if len(fits) < widthLeast || !apart(fits, set.Robot.Radius()) {
		return none
	}
	m := summary(fits)
	limit := math.Max(widthOff, math.Max(widthOffPx/set.robotPx(), widthSigma*m.Sigma))
	m.Used = math.Abs(m.Ratio-1) > limit && math.Abs(m.Ratio-1) < widthSpan
	return m
}

const measuringWidth = "measuring how wide the robot shows"

// head gives places the heading at which the outline of a robot that is not round
// sits best there, however badly: its width may be wrong.
func head(set *Setup, samples []*Picture, b *Background, places [][]Candidate, pace Pace) {
	f := NewFitter(set.Cam, set.Robot, set.Floor, set.Hidden)
	for k, s := range samples {
		if !pace.on(measuringWidth) {
			return
		}
		for i := range places[k] {
			at := places[k][i].Pose
			best, q := at, -1.0
			for h := range headingSteps {
				at.Heading = 2 * math.Pi * float64(h) / headingSteps
				if fit, ok := f.At(&s.Y, &b.Y, at, searchReach(set)); ok && fit.Quality() > q {
					best, q = fit.Pose, fit.Quality()
				}
			}
			places[k][i].Pose = best
		}
	}
}

// widthFit is the width that sits best in one picture.
type widthFit struct {
	pose  geom.Pose
	ratio float64
	worth float64
}

// widths fits the robot at a share of its width in every sample and keeps those
// fits that are beyond doubt, with the width at which each sits best.
func widths(set *Setup, samples []*Picture, b *Background, places [][]Candidate, share float64, pace Pace) (out []widthFit) {
	f := NewFitter(set.Cam, Resized(set.Robot, share), set.Floor, set.Hidden)
	for k, s := range samples {
		if !pace.on(measuringWidth) {
			return nil // of some samples alone it would be another width's
		}
		best := widthFit{}
		for _, c := range places[k] {
			if w, ok := f.width(set.Robot, s, b, c.Pose, share, searchReach(set)); ok && w.worth > best.worth {
				best = w
			}
		}
		if best.worth > 0 {
			out = append(out, best)
		}
		if len(out) == widthFits {
			break
		}
	}
	return out
}

// width fits place and width of a robot near a guess, begun at a share of the
// entered width; ok is false where the outline does not sit beyond doubt.
func (f *Fitter) width(robot geom.Robot, s *Picture, b *Background, guess geom.Pose, share, reach float64) (w widthFit, ok bool) {
	f.Robot = Resized(robot, share)
	defer func() { f.Robot = Resized(robot, share) }()
	fit, ok := f.At(&s.Y, &b.Y, guess, reach)
	if ok { // once more, for the rays to be those of the best place
		fit, ok = f.At(&s.Y, &b.Y, fit.Pose, 0)
	}
	if !ok {
		return w, false
	}
	w.ratio = share
	for round := 0; round < 3; round++ {
		d, good := f.spread(fit.Pose)
		if !good || math.Abs(d) > 0.06 {
			return w, false
		}
		w.ratio *= 1 + d
		f.Robot = Resized(robot, w.ratio)
		if fit, ok = f.At(&s.Y, &b.Y, fit.Pose, 0); !ok {
			return w, false
		}
		if math.Abs(d) < 5e-4 {
			break
		}
	}
	w.pose, w.worth = fit.Pose, fit.Quality()
	return w, stood(&fit) && fit.Visible > 0.85 && fit.Support > 0.75
}

// WidthAt is how many times its entry a robot shows wide in a picture in which
// it was found, begun at a share of the entry; ok is false where its outline
// does not sit beyond doubt.
func WidthAt(set *Setup, s *Picture, b *Background, at geom.Pose, share float64) (ratio float64, ok bool) {
	w, ok := NewFitter(set.Cam, set.Robot, set.Floor, set.Hidden).width(set.Robot, s, b, at, share, 0)
	return w.ratio, ok
}

// spread is by what share the body must grow for its outline to lie on the
// edges that the last fit, which gave at, found, place and width solved together.
func (f *Fitter) spread(at geom.Pose) (share float64, ok bool) {
	const scale = 2.5 // px
	var x [3]float64
	for round := 0; round < 3; round++ {
		var eq geom.Normal
		n := 0
		for k := range f.rays {
			r := &f.rays[k]
			if r.w == 0 || r.s == 0 {
				continue
			}
			p := &f.outl.Points[k]
			// A wider body moves each of its points away from its centre.
			j := [3]float64{r.jx, r.jy, r.jx*(p.Source.X-at.X) + r.jy*(p.Source.Y-at.Y)}
			e := r.e - (j[0]*x[0] + j[1]*x[1] + j[2]*x[2])
			u := e / scale
			if math.Abs(u) >= 1 {
				continue
			}
			n++
			eq.Add((1-u*u)*(1-u*u)*r.s/(r.s+softness), j[0], j[1], j[2], e)
		}
		if n < 20 {
			return 0, false
		}
		d, settled := eq.Solve()
		if settled < 3 {
			return 0, false
		}
		for a := range x {
			x[a] += d[a]
		}
	}
	return x[2], true
}

// summary is the median width of fits with its uncertainty.
func summary(fits []widthFit) Width {
	v := make([]float64, len(fits))
	for i, f := range fits {
		v[i] = f.ratio
	}
	m := Width{Ratio: median(v), Fits: len(fits)}
	for i := range v {
		v[i] = math.Abs(v[i] - m.Ratio)
	}
	// 1.4826 sigmas to a median deviation, 1.2533 to a median's scatter, of a
	// normal distribution.
	m.Sigma = 1.4826 * 1.2533 * median(v) / math.Sqrt(float64(len(fits)))
	return m
}

func worth(fits []widthFit) (sum float64) {
	for _, f := range fits {
		sum += f.worth
	}
	return sum
}

// apart tells whether fits stem from different places: one place alone may
// have a shadow, or a fault of the survey, that makes the robot look wider.
func apart(fits []widthFit, radius float64) bool {
	x, y := make([]float64, len(fits)), make([]float64, len(fits))
	for i, f := range fits {
		x[i], y[i] = f.pose.X, f.pose.Y
	}
	sort.Float64s(x)
	sort.Float64s(y)
	n := len(fits)
	a, b := n/8, n-1-n/8
	return math.Hypot(x[b]-x[a], y[b]-y[a]) > 2*radius
}

// Resized returns the robot with its body k times as wide; its tools keep their
// places.
func Resized(r geom.Robot, k float64) geom.Robot {
	r.Diameter *= k
	if len(r.Outline) > 0 {
		out := make([]geom.Point2, len(r.Outline))
		for i, p := range r.Outline {
			out[i] = p.Scale(k)
		}
		r.Outline = out
	}
	return r
}
