package doubt

import (
	"math"
	"math/rand"

	"swathe/geom"
)

// pathError is what is not known of a path, in two parts.
//
// Where the robot was seen, neighbouring places are off alike: a first-order
// autoregression of unit variance goes on with the travel (noiseClock), at knots
// a quarter of its correlation time apart, and each knot has one standard
// uncertainty, that of the samples about it. The sigma of single samples differs
// from look to look; multiplied into the noise it would move a robot that
// stands, and add travel to every stretch, that no path has.
//
// In a bridged gap the error is that of the filling: nothing at either end, and
// so much more than that of its neighbours between as the sigma says. One number
// an axis bends the whole gap, as a robot that leaves the straight way does. Sigma
// in a gap is half of how far the robot can have strayed at its usual speed; most
// drive straight on. Of drawn runs with four gaps of 0.3 to 1 s the distance as
// filled is true to some 30 mm, where the bends would add 100 to 600 mm; so they
// say where floor may have been swept, and nothing of the distance.
type pathError struct {
	clock  []float64 // of the noise, s, by sample
	knot   float64   // s of the clock
	sigma  []float64 // m, by knot
	sigmaH []float64 // rad, by knot
	run    geom.Span
	gaps   []gap
	extra  []float64 // m, by sample; nil: no gaps
	extraH []float64 // rad
}

// gap is a stretch of bridged samples, and the seen ones at its ends.
type gap struct{ first, last int }

// newPathError looks at a path once, for all its draws. camera: the path's sigma
// holds the camera's own share, which is drawn by itself and taken off here;
// height: of the robot's top, m.
func newPathError(t *geom.Trace, o Options, pace float64, camera *geom.Solution, height float64) *pathError {
	e := &pathError{clock: noiseClock(t, pace), knot: o.PathTime / 4, run: t.Run}
	n := len(t.Samples)
	own, ownH := make([]float64, n), make([]float64, n)
	for i := range t.Samples {
		own[i], ownH[i] = ownSigma(&t.Samples[i], o, camera, height)
	}
	is := func(i int, s geom.State) bool { return i >= 0 && i < n && t.Samples[i].State == s }
	seen := func(i int) bool { return is(i, geom.Seen) }
	e.sigma, e.sigmaH = e.byKnot(own, seen, o.PathSigma), e.byKnot(ownH, seen, o.HeadingSigma)
	for i := 0; i < n; i++ {
		g := gap{i - 1, i}
		for is(g.last, geom.Bridged) {
			g.last++
		}
		if g.last > i && seen(g.first) && seen(g.last) {
			e.gaps = append(e.gaps, g)
		}
		i = g.last
	}
	if len(e.gaps) == 0 {
		return e
	}
	e.extra, e.extraH = make([]float64, n), make([]float64, n)
	for _, g := range e.gaps {
		for i := g.first + 1; i < g.last; i++ {
			e.extra[i] = less(own[i], e.at(e.sigma, e.clock[i]))
			e.extraH[i] = less(ownH[i], e.at(e.sigmaH, e.clock[i]))
		}
	}
	return e
}

// ownSigma returns how well the path itself knows a place and heading: the
// sample's sigma without what the camera adds to it.
func ownSigma(s *geom.Sample, o Options, camera *geom.Solution, height float64) (m, rad float64) {
	m, rad = s.Sigma, s.SigmaH
	switch {
	case math.IsNaN(m):
		m = o.PathSigma
	case camera != nil && !math.IsNaN(s.X):
		if c := camera.FloorSigma(geom.Point3{X: s.X, Y: s.Y, Z: height}); c > 0 {
			m = less(m, c)
		}
	}
	if math.IsNaN(rad) {
		rad = o.HeadingSigma
	}
	return m, rad
}

// less takes one standard uncertainty out of another that holds it.
func less(whole, part float64) float64 { return math.Sqrt(math.Max(0, whole*whole-part*part)) }

// byKnot returns the root mean square of the seen samples nearest to each knot; a
// knot without any has that of the one before it, the first ones otherwise.
func (e *pathError) byKnot(v []float64, seen func(int) bool, otherwise float64) []float64 {
	k := int(e.clock[len(e.clock)-1]/e.knot) + 3
	sum, n := make([]float64, k), make([]float64, k)
	for i, x := range v {
		if seen(i) {
			j := int(e.clock[i]/e.knot + 0.5)
			sum[j], n[j] = sum[j]+x*x, n[j]+1
		}
	}
	out, last := make([]float64, k), otherwise
	for j := range out {
		if n[j] > 0 {
			last = math.Sqrt(sum[j] / n[j])
		}
		out[j] = last
	}
	return out
}

// at returns what lies between the knots' values at a time of the clock.
func (e *pathError) at(knots []float64, clock float64) float64 {
	x := clock / e.knot
	i := min(int(x), len(knots)-2)
	u := x - float64(i)
	return (1-u)*knots[i] + u*knots[i+1]
}

// noise draws a first-order autoregression with the given standard deviation at each knot.
func (e *pathError) noise(sigma []float64, rng *rand.Rand) []float64 {
	const r = 0.7788007830714049 // exp(-1/4): knots are a quarter of the correlation time apart
	out := make([]float64, len(sigma))
	z := rng.NormFloat64()
	for i, s := range sigma {
		if i > 0 {
			z = r*z + math.Sqrt(1-r*r)*rng.NormFloat64()
		}
		out[i] = s * z
	}
	return out
}

// draw adds a drawn error to the samples and returns by how much longer the
// gaps became, m: of each, the way along it over that from one end to the other.
func (e *pathError) draw(ss []geom.Sample, rng *rand.Rand) float64 {
	x, y, h := e.noise(e.sigma, rng), e.noise(e.sigma, rng), e.noise(e.sigmaH, rng)
	before := e.bends(ss)
	for i := range ss {
		s, c := &ss[i], e.clock[i]
		s.X, s.Y, s.Heading = s.X+e.at(x, c), s.Y+e.at(y, c), s.Heading+e.at(h, c)
	}
	for _, g := range e.gaps {
		zx, zy, zh := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		for i := g.first + 1; i < g.last; i++ {
			s := &ss[i]
			s.X, s.Y, s.Heading = s.X+e.extra[i]*zx, s.Y+e.extra[i]*zy, s.Heading+e.extraH[i]*zh
		}
	}
	return e.bends(ss) - before
}

// bends returns by how much the way through the gaps is longer than straight,
// as far as they are of the run: nothing else counts as travel.
func (e *pathError) bends(ss []geom.Sample) float64 {
	sum := 0.0
	for _, g := range e.gaps {
		for g.first < g.last && !e.run.Contains(ss[g.first].T) {
			g.first++
		}
		for g.last > g.first && !e.run.Contains(ss[g.last].T) {
			g.last--
		}
		for i := g.first; i < g.last; i++ {
			sum += math.Hypot(ss[i+1].X-ss[i].X, ss[i+1].Y-ss[i].Y)
		}
		sum -= math.Hypot(ss[g.last].X-ss[g.first].X, ss[g.last].Y-ss[g.first].Y)
	}
	return sum
}

// noiseClock returns for every sample how far the noise has gone on, s: with
// the travel, as fast as time does at the run's own pace (m/s). What is known of
// where a robot stands or turns does not change with time, so its error does not
// either; a noise that went on would add travel there that no smoothed path has.
// Where nothing is known of the travel, time goes on.
func noiseClock(t *geom.Trace, pace float64) []float64 {
	out := make([]float64, len(t.Samples))
	for i := 1; i < len(out); i++ {
		a, b := &t.Samples[i-1], &t.Samples[i]
		d := math.Hypot(b.X-a.X, b.Y-a.Y) / pace
		if math.IsNaN(d) || math.IsInf(d, 0) {
			d = b.T - a.T
		}
		out[i] = out[i-1] + d
	}
	return out
}
