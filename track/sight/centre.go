package sight

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"swathe/geom"
)

// The picture of the top tells not only how the robot is turned but also where it
// is: unwrapped about a place beside its centre it is the same picture, shifted. So
// each look is shifted and turned until it is most like the picture of the top
// (least squares by Gauss and Newton, with the derivatives of the picture, which are
// worked out once: Baker and Matthews, "Lucas-Kanade 20 Years On", IJCV 56, 2004).
// What the outline may hold on to instead, a shadow's edge or the rim of a bevel, is
// not in it. Looks about the wrong place blur the picture, and so picture and places
// are solved in turn. One thing it cannot tell: which spot of the top is the robot's
// centre. That is what most outlines say.
const (
	centreAngles    = 64 // sampled round a ring
	centreHarmonics = 16 // of the picture that are compared: finer ones would be half a wave off
	centreSteps     = 16
	centreSettled   = 1e-3 // radii, the last step
	centreReach     = 0.3  // radii: an outline is no farther off
	centreRounds    = 3
	centreLooks     = 20 // fewer make no picture
	centreBlock     = 8  // px: what an encoder spoils it spoils by such blocks, each of which makes one independent sample
)

// ringPicture is a picture by ring and harmonic, 0 to centreHarmonics, weighted by
// the square root of the radius; rings is one by ring and angle, not weighted.
type (
	ringPicture [textureRings][centreHarmonics + 1]complex128
	rings       [textureRings][centreAngles]float64
)

// template is a picture on the robot and its derivatives by the shift along x and y, a
// radius, and by the turn, a radian; h and norm are the sums of the products of the
// latter, and of the squares of the former.
type template struct {
	b    ringPicture
	d    [3]ringPicture
	h    geom.Normal
	norm float64
}

// sums fills h and norm.
func (t *template) sums() {
	t.h, t.norm = geom.Normal{}, 0
	for r := range t.b {
		for k := 1; k <= centreHarmonics; k++ {
			x, y, h := t.d[0][r][k], t.d[1][r][k], t.d[2][r][k]
			t.h.Add(1, real(x), real(y), real(h), 0)
			t.h.Add(1, imag(x), imag(y), imag(h), 0)
			t.norm += norm2(t.b[r][k])
		}
	}
}

// centring finds the robot's centre in looks at its top.
type centring struct {
	all   template    // to come near
	unlit template    // to settle: without the slope of the light
	w     ringPicture // the picture on the room
	robot rings       // of that on the robot, and
	room  rings       // of w
	look  rings
	mask  *[textureRings]uint64 // what of the look does not show
	z     ringPicture           // the look about the centre so far
	fft   *fourier.FFT
	coef  []complex128
	row   []float64
}

// ringAt is the radius of a ring, of the robot's.
func ringAt(r int) float64 {
	return textureInner + (textureOuter-textureInner)*(2*float64(r)+0.5)/(textureRadii-1)
}

// ringStep is the distance between two rings.
const ringStep = 2 * (textureOuter - textureInner) / (textureRadii - 1)

func newCentring(m *topModel) *centring {
	c := &centring{fft: fourier.NewFFT(centreAngles), coef: make([]complex128, centreAngles/2+1), row: make([]float64, centreAngles)}
	t := &c.all
	for r := range t.b {
		t.b[r][0] = complex(m.mean[r], 0)
		for k := 1; k <= centreHarmonics; k++ {
			t.b[r][k], c.w[r][k] = m.b[r*textureHarmonics+k-1], m.w[r*textureHarmonics+k-1]
		}
	}
	// Across the rings, of the picture itself: what is kept is weighted by the square root of the radius.
	across := func(r, k int) complex128 {
		at := func(r int) complex128 { return t.b[r][k] / complex(math.Sqrt(ringAt(r)), 0) }
		lo, hi := max(0, r-1), min(textureRings-1, r+1)
		return (at(hi) - at(lo)) / complex(float64(hi-lo)*ringStep, 0)
	}
	for r := range t.b {
		q := ringAt(r)
		w := math.Sqrt(q)
		for k := 1; k <= centreHarmonics; k++ {
			// Of c exp(ikt) the shifts along x and y are of the harmonics k-1 and k+1.
			less := across(r, k-1) - complex(float64(k-1)/q/w, 0)*t.b[r][k-1]
			more := complex128(0)
			if k < centreHarmonics {
				more = across(r, k+1) + complex(float64(k+1)/q/w, 0)*t.b[r][k+1]
			}
			t.d[0][r][k] = complex(w/2, 0) * (less + more)
			t.d[1][r][k] = complex(w/2, 0) * (less - more) / 1i
			t.d[2][r][k] = complex(0, -float64(k)) * t.b[r][k]
		}
	}
	c.unroll(&t.b, &c.robot)
	c.unroll(&c.w, &c.room)
	c.unlit = c.all
	level(&c.unlit.b)
	for i := range c.unlit.d {
		level(&c.unlit.d[i])
	}
	c.all.sums()
	c.unlit.sums()
	return c
}

// level takes out of a picture what light that falls off across the top makes of it: a
// slope, which is of the first harmonic and grows with the radius. Near lamps and walls
// it draws the centre aside by half a pixel.
func level(z *ringPicture) {
	var sum complex128
	var all float64
	for r := range z {
		p := math.Pow(ringAt(r), 1.5)
		sum += complex(p, 0) * z[r][1]
		all += p * p
	}
	for r := range z {
		z[r][1] -= complex(math.Pow(ringAt(r), 1.5)/all, 0) * sum
	}
}

func norm2(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

// unroll fills rings with what their harmonics make.
func (c *centring) unroll(z *ringPicture, p *rings) {
	for r := range z {
		clear(c.coef)
		for k, v := range z[r] {
			c.coef[k] = v / complex(math.Sqrt(ringAt(r)), 0)
		}
		c.fft.Sequence(p[r][:], c.coef)
	}
}

// load takes in a look: its rings, and their harmonics.
func (c *centring) load(u *unwrapped) {
	g := float64(u.scale)
	c.mask = &u.mask
	for r := range c.z {
		c.z[r][0] = complex(float64(u.mean[r]), 0)
		w := 1 / math.Sqrt(ringAt(r))
		clear(c.coef)
		c.coef[0] = complex(float64(u.mean[r])*w, 0)
		for k := 1; k <= textureHarmonics && k < len(c.coef); k++ {
			j := r*textureHarmonics + k - 1
			v := complex(g*float64(u.z[2*j]), g*float64(u.z[2*j+1]))
			if k <= centreHarmonics {
				c.z[r][k] = v
			}
			c.coef[k] = v * complex(w, 0)
		}
		c.fft.Sequence(c.look[r][:], c.coef)
	}
}

// shift fills z with the look as it is about a centre that lies d radii beside its own.
// What does not show is as the picture of the top has it at heading h, so that it tells nothing.
func (c *centring) shift(d geom.Point2, h float64) {
	const perRad = centreAngles / (2 * math.Pi)
	for r := range c.look {
		q := ringAt(r)
		w := math.Sqrt(q) / centreAngles
		for j := range c.row {
			x, y := q*cosTable[j*textureAngles/centreAngles]+d.X, q*sinTable[j*textureAngles/centreAngles]+d.Y
			ring, a := (math.Hypot(x, y)-ringAt(0))/ringStep, math.Atan2(y, x)*perRad
			if c.masked(ring, a) {
				c.row[j] = w * (at(&c.robot, float64(r), float64(j)-h*perRad) + c.room[r][j])
			} else {
				c.row[j] = w * at(&c.look, ring, a)
			}
		}
		c.fft.Coefficients(c.coef, c.row)
		copy(c.z[r][:], c.coef[:centreHarmonics+1])
	}
}

// masked tells whether the look does not show about ring number r, angle number a.
func (c *centring) masked(r, a float64) bool {
	i := max(0, min(textureRings-1, int(math.Round(r))))
	return c.mask[i]>>(uint(int(math.Round(a)))&(centreAngles-1))&1 != 0
}

// at samples the rings at ring number r and angle number a: a cubic across them, a
// line along them.
func at(p *rings, r, a float64) float64 {
	r = math.Max(0, math.Min(textureRings-1, r))
	i := min(int(r), textureRings-2)
	f := r - float64(i)
	k := int(math.Floor(a))
	g := a - float64(k)
	k &= centreAngles - 1
	n := (k + 1) & (centreAngles - 1)
	v := func(i int) float64 {
		q := &p[max(0, min(textureRings-1, i))]
		return q[k] + g*(q[n]-q[k])
	}
	p0, p1, p2, p3 := v(i-1), v(i), v(i+1), v(i+2)
	return p1 + f/2*(p2-p0+f*(2*p0-5*p1+4*p2-p3+f*(3*(p1-p2)+p3-p0)))
}

// centred is where the robot's centre lies from the place that a look was unwrapped about.
type centred struct {
	geom.Point2         // radii
	variance    float64 // along each axis, radii^2
	heading     float64 // rad
	match       float64 // normalised correlation with the picture there
}

// centre finds the centre in a look, beginning at its own place and a heading; ok is
// false where it settles on none.
func (c *centring) centre(u *unwrapped, heading float64) (d centred, ok bool) {
	d.heading = heading
	t := &c.all
	c.load(u)
	for step := 0; step < centreSteps; step++ {
		if step > 0 || u.shown < 1 {
			c.shift(d.Point2, d.heading)
		}
		n, rest, match := c.differ(t, d.heading)
		if !(match > 0) {
			return d, false
		}
		x, settled := n.Solve()
		if settled < 3 {
			return d, false
		}
		sn, cs := math.Sincos(d.heading)
		d.X -= cs*x[0] - sn*x[1]
		d.Y -= sn*x[0] + cs*x[1]
		d.heading += x[2]
		if math.Hypot(d.X, d.Y) > centreReach {
			return d, false
		}
		if math.Hypot(x[0], x[1]) > centreSettled {
			continue
		}
		if t == &c.unlit {
			xy, _, ok := n.Variances()
			blocks := math.Pi * float64(u.px) * float64(u.px) * (textureOuter*textureOuter - textureInner*textureInner) / (centreBlock * centreBlock)
			d.variance, d.match = rest/(blocks*float64(u.shown))*(xy[0]+xy[2])/2, match
			return d, ok
		}
		t = &c.unlit
	}
	return d, false
}

// differ makes the normal equations of the shift and the turn, in the robot's frame,
// by which the look in z still differs from a template at a heading, whatever its
// contrast; rest is the sum of the squares of what differs.
func (c *centring) differ(t *template, heading float64) (n geom.Normal, rest, match float64) {
	var alike, all float64
	for r := range c.z {
		for k := range c.z[r] {
			c.z[r][k] -= c.w[r][k]
		}
	}
	if t == &c.unlit {
		level(&c.z)
	}
	turn := cmplx.Rect(1, heading)
	for r := range c.z {
		p := complex(1, 0)
		for k := 1; k <= centreHarmonics; k++ {
			p *= turn
			v, b := c.z[r][k]*p, t.b[r][k]
			c.z[r][k] = v
			alike += real(v)*real(b) + imag(v)*imag(b)
			all += norm2(v)
		}
	}
	if !(alike > 0) {
		return n, 0, 0
	}
	n = t.h
	for r := range c.z {
		for k := 1; k <= centreHarmonics; k++ {
			e := c.z[r][k]*complex(t.norm/alike, 0) - t.b[r][k]
			rest += norm2(e)
			for i := range n.G {
				g := t.d[i][r][k]
				n.G[i] += real(g)*real(e) + imag(g)*imag(e)
			}
		}
	}
	return n, rest, alike / math.Sqrt(all*t.norm)
}

// shifted returns a look as it is about a centre that lies d radii beside its own.
func (c *centring) shifted(u unwrapped, d geom.Point2) unwrapped {
	c.load(&u)
	c.shift(d, 0)
	peak := 0.0
	for r := range c.z {
		for _, v := range c.z[r][1:] {
			peak = math.Max(peak, math.Max(math.Abs(real(v)), math.Abs(imag(v))))
		}
	}
	u.scale = float32(peak / 127)
	for r := range c.z {
		u.mean[r] = float32(real(c.z[r][0]))
		for k := 0; k < centreHarmonics; k++ {
			v, j := c.z[r][k+1], r*textureHarmonics+k
			u.z[2*j], u.z[2*j+1] = int8(math.Round(real(v)/peak*127)), int8(math.Round(imag(v)/peak*127))
		}
	}
	return u
}

// recentred solves the picture of the top and the places of the looks that it is
// made from in turn.
func (s *topSolver) recentred(looks []unwrapped, m topModel) topModel {
	heads := make([]float64, len(looks))
	s.solve(looks, &m, heads, make([]float64, len(looks)))
	looks, _ = lively(looks, heads, fewStill)
	for round := 0; round < centreRounds; round++ {
		heads := make([]float64, len(looks))
		s.solve(looks, &m, heads, make([]float64, len(looks)))
		c := newCentring(&m)
		var moved []unwrapped
		var off []centred
		var ahead, aside []float64 // the former in the robot's frame
		for i := range looks {
			if math.IsNaN(heads[i]) || looks[i].shown < wholeTop {
				continue
			}
			d, ok := c.centre(&looks[i], heads[i])
			if !ok {
				continue
			}
			sn, cs := math.Sincos(d.heading)
			ahead, aside = append(ahead, cs*d.X+sn*d.Y), append(aside, cs*d.Y-sn*d.X)
			moved, off = append(moved, looks[i]), append(off, d)
		}
		if len(moved) < centreLooks {
			return m
		}
		a, b := median(ahead), median(aside)
		heads = heads[:len(moved)]
		for i, o := range off {
			sn, cs := math.Sincos(o.heading)
			moved[i] = c.shifted(moved[i], geom.Point2{X: o.X - (cs*a - sn*b), Y: o.Y - (sn*a + cs*b)})
			heads[i] = o.heading
		}
		m = s.model(moved, heads)
	}
	return m
}
