package sight

import (
	"math"
	"math/rand/v2"
	"testing"

	"swathe/geom"
)

// TestCentreByTheTop reads the top of a drawn robot about places beside its centre, every
// fifth by up to an eighth of its radius: whole, with a third of it hidden, and in light
// that slopes. The picture must lead back to the centre, with an error that its own variance covers.
func TestCentreByTheTop(t *testing.T) {
	const seed = 11
	s, set, times, draw := drawn(t, "plain")
	tex := NewTexture(&set)
	rng := rand.New(rand.NewPCG(seed, 1))
	var looks, part []unwrapped
	var off []geom.Point2 // of the place read about, m
	var heads []float64
	mpp := 0.0
	for i, at := range times {
		if i%4 != 0 {
			continue
		}
		p := draw(i)
		truth := s.Path.At(at).Pose
		a, q := 2*math.Pi*rng.Float64(), s.Robot.Radius()/60
		if len(looks)%5 == 0 { // to where an outline hops
			q = s.Robot.Radius() / 8 * math.Sqrt(rng.Float64())
		}
		o := geom.Point2{X: q * math.Cos(a), Y: q * math.Sin(a)}
		pose := geom.Pose{X: truth.X + o.X, Y: truth.Y + o.Y}
		from := topAt{t: at, pose: pose, gain: 1}
		u, ok := tex.Read(&p.Y, from)
		if !ok {
			continue
		}
		from.hidden = func(g geom.Point3) bool { return g.X > pose.X+0.25*s.Robot.Radius() }
		v, ok := tex.Read(&p.Y, from)
		if !ok {
			t.Fatalf("at %.1f s a third of the top is too much", at)
		}
		mpp = s.Robot.Radius() / float64(u.px)
		looks, part, off, heads = append(looks, u), append(part, v), append(off, o), append(heads, truth.Heading)
	}
	solver := newSolver()
	begun := make([]float64, len(looks))
	for i := range begun { // as from a direction of travel
		begun[i] = heads[i] + 0.05*rng.NormFloat64()
	}
	m, match := solver.top(looks, begun)
	if !m.judges(match) {
		t.Fatalf("the top has no picture: %d looks match by %.2f to %.2f, ways %.2f", len(looks), match[0], match[len(match)-1], m.ways)
	}
	m = solver.recentred(looks, m)
	c := newCentring(&m)
	sloped := make([]unwrapped, len(looks))
	for i := range looks {
		sloped[i] = inSlopingLight(looks[i], 25, 2*math.Pi*rng.Float64())
	}
	for name, some := range map[string][]unwrapped{"whole": looks, "a third hidden": part, "light that slopes by 25 grey levels a radius": sloped} {
		var sum, within, n, before float64
		for i := range some {
			d, ok := c.centre(&some[i], heads[i])
			if !ok {
				continue
			}
			n++
			before += off[i].X*off[i].X + off[i].Y*off[i].Y
			for _, e := range [2]float64{d.X*tex.radius + off[i].X, d.Y*tex.radius + off[i].Y} {
				sum += e * e
				if math.Abs(e) < 2*math.Sqrt(d.variance)*tex.radius {
					within++
				}
			}
		}
		rms := math.Sqrt(sum/n) / mpp
		t.Logf("seed %d, %s: %.0f of %d looks told, off by %.2f px RMS (bound 0.25; before %.1f px), %.2f of the coordinates within two sigma (bound 0.8)", seed, name, n, len(some), rms, math.Sqrt(before/n)/mpp, within/(2*n))
		if n < 0.95*float64(len(some)) || rms > 0.25 || within < 0.8*2*n {
			t.Errorf("%s: off its bounds", name)
		}
	}
}

// inSlopingLight is a look in light that grows by so many grey levels a radius toward an angle.
func inSlopingLight(u unwrapped, grey, toward float64) unwrapped {
	u.scale *= 2
	for i := range u.z {
		u.z[i] /= 2
	}
	for r := range textureRings {
		c := grey / 2 * math.Pow(ringAt(r), 1.5) / float64(u.scale)
		re, im := float64(u.z[2*r*textureHarmonics])+c*math.Cos(toward), float64(u.z[2*r*textureHarmonics+1])-c*math.Sin(toward)
		u.z[2*r*textureHarmonics] = int8(math.Max(-127, math.Min(127, math.Round(re))))
		u.z[2*r*textureHarmonics+1] = int8(math.Max(-127, math.Min(127, math.Round(im))))
	}
	return u
}

// A top with nothing on it tells no place, and neither does one with rings alone its heading.
func TestNoCentreByAPlainTop(t *testing.T) {
	var m topModel
	u := unwrapped{shown: 1, px: 30, scale: 0.1}
	for j := range u.z {
		u.z[j] = int8(j%7) - 3
	}
	if _, ok := newCentring(&m).centre(&u, 0); ok {
		t.Error("a plain top tells the centre")
	}
	m.mean = [textureRings]float64{5, 4, -2, -6, -1, 3, 2, -4}
	u.z = [len(u.z)]int8{}
	if _, ok := newCentring(&m).centre(&u, 0); ok {
		t.Error("a top with rings alone tells centre and heading")
	}
}
