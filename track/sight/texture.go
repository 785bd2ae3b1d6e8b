package sight

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"swathe/geom"
)

// Turn is the turn of the robot's top against the reference picture of it.
type Turn struct {
	Angle float64 // rad, counter-clockwise on the floor, since the reference
	Sigma float64 // rad, standard uncertainty
	Match float64 // normalised correlation with the reference, -1..1
}

// textureAngles is the number of steps round the centre: 1.4 degrees, at a
// radius of 40 px one pixel; the peak is interpolated between them.
const textureAngles = 256

// minTextureRadius (px of the picture as recorded) is where the picture of the
// top stops giving a heading: below 25 px one in thirty angles is grossly
// wrong (own experiment with a rendered top under noise, cross-correlation of
// the unwrapped ring).
const minTextureRadius = 25

// Texture follows the turn of the robot's top. The top is unwrapped about the
// robot's centre, ring by ring, and correlated with a running mean of itself:
// plain correlation, which on so few features does better than phase
// correlation (Stone, Tao and McGuire, "Analysis of image registration noise
// due to rotationally dependent aliasing", explains why).
type Texture struct {
	cam    *geom.Camera
	height float64 // of the top above the floor
	radius float64 // m, of the largest circle on the top about the turning centre

	rings int
	cur   []float32 // rings x angles
	ref   []float64 // running mean, turned to the reference's heading
	count float64
	fft   *fourier.FFT
	spec  [][]complex128 // of the reference
	buf   []float64
	cbuf  []complex128
	acc   []complex128
	corr  []float64
	norm  float64 // of the reference
	curN  float64
	mask  []float32      // 1 where the top shows, 0 where something hides it
	part  bool           // the mask has holes
	spec2 [][]complex128 // of the squared reference
	under []float64      // energy of the reference under the mask, by turn
	has   bool
	large bool // the top shows large enough to have a picture
}

// NewTexture returns a Texture for a robot before a camera scaled to pictures
// that were halved `halved` times. Whether the top shows large enough is
// decided once, in the middle of the room: a heading that came and went with
// the place would be worse than none.
func NewTexture(set *Setup) *Texture {
	t := &Texture{cam: set.Cam, height: set.Robot.Height, radius: inner(set.Robot), fft: fourier.NewFFT(textureAngles)}
	mid := geom.Point3{X: (set.Lo.X + set.Hi.X) / 2, Y: (set.Lo.Y + set.Hi.Y) / 2, Z: set.Robot.Height}
	t.large = t.radius/t.cam.PixelSize(mid)*float64(int(1)<<set.Halved) >= minTextureRadius
	t.buf = make([]float64, textureAngles)
	t.acc = make([]complex128, textureAngles/2+1)
	t.cbuf = make([]complex128, textureAngles/2+1)
	t.corr = make([]float64, textureAngles)
	return t
}

// inner is the radius of the largest circle about the turning centre within
// the body.
func inner(r geom.Robot) float64 {
	if r.Round() {
		return r.Diameter / 2
	}
	best := math.Inf(1)
	n := len(r.Outline)
	for i, a := range r.Outline {
		b := r.Outline[(i+1)%n]
		d := b.Sub(a)
		u := 0.0
		if l := d.X*d.X + d.Y*d.Y; l > 0 {
			u = math.Max(0, math.Min(1, -(a.X*d.X+a.Y*d.Y)/l))
		}
		best = math.Min(best, a.Add(d.Scale(u)).Norm())
	}
	return best
}

// unwrap samples the top round the robot's place at, in the picture's light
// over gain; false if it does not show whole or is too small.
func (t *Texture) unwrap(p *Plane, at geom.Pose, floor, gain float64, warp func(geom.Point2) geom.Point2, hidden func(geom.Point3) bool) bool {
	z := floor + t.height
	if !t.large {
		return false
	}
	px := t.radius / t.cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: z})
	if !(px >= 6) {
		return false
	}
	if t.rings == 0 {
		t.rings = max(6, min(24, int(px*0.7/1.4)))
		t.cur = make([]float32, t.rings*textureAngles)
		t.ref = make([]float64, t.rings*textureAngles)
		t.mask = make([]float32, t.rings*textureAngles)
		t.under = make([]float64, textureAngles)
		t.spec, t.spec2 = make([][]complex128, t.rings), make([][]complex128, t.rings)
		for i := range t.spec {
			t.spec[i], t.spec2[i] = make([]complex128, textureAngles/2+1), make([]complex128, textureAngles/2+1)
		}
	}
	// Over one robot the projection is all but affine: a quadratic through
	// nine points of it is good to 0.02 px and forty times as fast.
	q, ok := newPatch(t.cam, at, z, t.radius)
	if !ok {
		return false
	}
	if !t.maskOut(at, z, hidden) {
		return false
	}
	k := float32(1 / gain)
	t.curN = 0
	for i := 0; i < t.rings; i++ {
		mask := t.mask[i*textureAngles : (i+1)*textureAngles]
		var count float32
		r := ringRadius(i, t.rings)
		row := t.cur[i*textureAngles : (i+1)*textureAngles]
		var sum float32
		for j := range row {
			x, y := q.at(r*cosTable[j], r*sinTable[j])
			if warp != nil {
				w := warp(geom.Point2{X: x, Y: y})
				x, y = w.X, w.Y
			}
			v, ok := p.At(x, y)
			if !ok {
				return false
			}
			row[j] = v * k
			sum += row[j] * mask[j]
			count += mask[j]
		}
		mean := sum / max(count, 1)
		w := float32(math.Sqrt(r)) // as many pixels as the ring is long
		for j := range row {
			row[j] = (row[j] - mean) * w * mask[j]
			t.curN += float64(row[j] * row[j])
		}
	}
	return true
}

// leastShown is the share of the top that must show for its turn to be read.
const leastShown = 0.55

// maskOut marks what of the top is hidden; false if too much is.
func (t *Texture) maskOut(at geom.Pose, z float64, hidden func(geom.Point3) bool) bool {
	t.part = hidden != nil
	for j := range t.mask {
		t.mask[j] = 1
	}
	if hidden == nil {
		return true
	}
	shown := 0
	for i := 0; i < t.rings; i++ {
		r := ringRadius(i, t.rings) * t.radius
		for j := 0; j < textureAngles; j++ {
			if hidden(geom.Point3{X: at.X + r*cosTable[j], Y: at.Y + r*sinTable[j], Z: z}) {
				t.mask[i*textureAngles+j] = 0
			} else {
				shown++
			}
		}
	}
	return float64(shown) >= leastShown*float64(len(t.mask))
}

// ringRadius is the radius of ring i of n, in radii of the top.
func ringRadius(i, n int) float64 { return 0.16 + (0.88-0.16)*float64(i)/float64(n-1) }

var cosTable, sinTable = func() (c, s [textureAngles]float64) {
	for i := range c {
		s[i], c[i] = math.Sincos(2 * math.Pi * float64(i) / textureAngles)
	}
	return c, s
}()

// patch is a quadratic map from floor offsets (in units of a radius) to pixels.
type patch struct{ cx, cy [6]float64 }

func newPatch(cam *geom.Camera, at geom.Pose, z, r float64) (q patch, ok bool) {
	get := func(a, b float64) geom.Point2 {
		p, good := cam.Project(geom.Point3{X: at.X + a*r, Y: at.Y + b*r, Z: z})
		ok = ok && good
		return p
	}
	ok = true
	o, e, w, n, s := get(0, 0), get(1, 0), get(-1, 0), get(0, 1), get(0, -1)
	ne, nw, se, sw := get(.7, .7), get(-.7, .7), get(.7, -.7), get(-.7, -.7)
	fill := func(o, e, w, n, s, ne, nw, se, sw float64) [6]float64 {
		return [6]float64{o, (e - w) / 2, (n - s) / 2, (e+w)/2 - o, (n+s)/2 - o, (ne - nw - se + sw) / (4 * .49)}
	}
	q.cx = fill(o.X, e.X, w.X, n.X, s.X, ne.X, nw.X, se.X, sw.X)
	q.cy = fill(o.Y, e.Y, w.Y, n.Y, s.Y, ne.Y, nw.Y, se.Y, sw.Y)
	return q, ok
}

func (q *patch) at(a, b float64) (x, y float64) {
	return q.cx[0] + a*q.cx[1] + b*q.cx[2] + a*a*q.cx[3] + b*b*q.cx[4] + a*b*q.cx[5],
		q.cy[0] + a*q.cy[1] + b*q.cy[2] + a*a*q.cy[3] + b*b*q.cy[4] + a*b*q.cy[5]
}

// Measure returns the turn of the top in picture plane p with the robot at a
// pose; hidden, if not nil, tells what of the top does not show; predicted is where the turn is expected, NaN if nothing is known. ok
// is false where the top does not show whole, is too small or has no picture.
func (t *Texture) Measure(p *Plane, at geom.Pose, floor, gain, centreSigmaPx, predicted float64, warp func(geom.Point2) geom.Point2, hidden func(geom.Point3) bool) (turn Turn, ok bool) {
	if gain <= 0 || !t.unwrap(p, at, floor, gain, warp, hidden) {
		return turn, false
	}
	perSample := t.curN / float64(t.rings*textureAngles)
	if perSample < 1 { // flatter than one grey level: nothing to see
		return turn, false
	}
	if !t.has {
		if t.part { // the reference wants a whole top
			return turn, false
		}
		t.has = true
		t.add(0)
		return Turn{Angle: 0, Sigma: 0.01, Match: 1}, true
	}
	t.correlate()
	at0, best := t.peak(-1, 0)
	if !math.IsNaN(predicted) {
		c := int(math.Round(predicted / (2 * math.Pi) * textureAngles))
		if l, v := t.peak(c, textureAngles/10); v > 0.85*best {
			at0, best = l, v
		}
	}
	a, b, c := t.corr[mod(at0-1)], t.corr[at0], t.corr[mod(at0+1)]
	off, curve := 0.0, 0.0
	if den := a - 2*b + c; den < 0 {
		off = math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/den))
		curve = -den
	}
	turn.Angle = (float64(at0) + off) * 2 * math.Pi / textureAngles
	turn.Match = best
	if !math.IsNaN(predicted) {
		turn.Angle = predicted + geom.WrapAngle(turn.Angle-predicted)
	} else {
		turn.Angle = geom.WrapAngle(turn.Angle)
	}
	turn.Sigma = t.sigma(best, curve, floor, at, centreSigmaPx)
	if best < 0.5 || curve <= 0 {
		return turn, false
	}
	if best > 0.7 && !t.part {
		t.add(turn.Angle)
	}
	return turn, true
}

// sigma is the uncertainty of a turn from the noise that the correlation's
// height tells of and its curvature (as many independent samples as there are
// pixels), and from the centre: an error e of the centre at radius R turns the
// picture by about e/R.
func (t *Texture) sigma(match, curve, floor float64, at geom.Pose, centrePx float64) float64 {
	mpp := t.cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: floor + t.height})
	r := t.radius / mpp
	pixels := math.Pi * r * r * (0.88*0.88 - 0.16*0.16)
	step := 2 * math.Pi / textureAngles
	slope := math.Max(curve, 1e-6) / (step * step) // -d2(match)/d(angle)2
	noise := math.Max(0, 1-match*match) / math.Max(match*match, 0.05)
	v := noise / (slope * pixels / 4)
	c := centrePx / r
	return math.Sqrt(v + c*c + 1e-5)
}

// correlate fills corr with the normalised correlation at every turn.
func (t *Texture) correlate() {
	for k := range t.acc {
		t.acc[k] = 0
	}
	for i := 0; i < t.rings; i++ {
		for j := range t.buf {
			t.buf[j] = float64(t.cur[i*textureAngles+j])
		}
		t.cbuf = t.fft.Coefficients(t.cbuf, t.buf)
		for k, r := range t.spec[i] {
			t.acc[k] += t.cbuf[k] * complex(real(r), -imag(r))
		}
	}
	t.corr = t.fft.Sequence(t.corr, t.acc)
	if t.part {
		t.correlateMask()
		return
	}
	s := 1 / (textureAngles * math.Sqrt(t.curN*t.norm))
	for i := range t.corr {
		t.corr[i] *= s
	}
}

// correlateMask normalises by what of the reference lies under the mask.
func (t *Texture) correlateMask() {
	for k := range t.acc {
		t.acc[k] = 0
	}
	for i := 0; i < t.rings; i++ {
		for j := range t.buf {
			t.buf[j] = float64(t.mask[i*textureAngles+j])
		}
		t.cbuf = t.fft.Coefficients(t.cbuf, t.buf)
		for k, r := range t.spec2[i] {
			t.acc[k] += t.cbuf[k] * complex(real(r), -imag(r))
		}
	}
	t.under = t.fft.Sequence(t.under, t.acc)
	for i := range t.corr {
		u := math.Max(t.under[i]/textureAngles, 0.2*t.norm)
		t.corr[i] /= textureAngles * math.Sqrt(t.curN*u)
	}
}

func mod(i int) int { return ((i % textureAngles) + textureAngles) % textureAngles }

// peak finds the highest correlation, anywhere (c < 0 with w 0) or within w
// steps of c.
func (t *Texture) peak(c, w int) (at int, v float64) {
	v = math.Inf(-1)
	if w == 0 {
		for i, x := range t.corr {
			if x > v {
				at, v = i, x
			}
		}
		return at, v
	}
	for d := -w; d <= w; d++ {
		i := mod(c + d)
		if t.corr[i] > v {
			at, v = i, t.corr[i]
		}
	}
	return at, v
}

// longMemory is how many looks the running mean remembers at most.
const longMemory = 400

// add turns the current picture back by angle and takes it into the mean.
func (t *Texture) add(angle float64) {
	t.count = math.Min(t.count+1, longMemory)
	w := 1 / t.count
	shift := angle / (2 * math.Pi) * textureAngles
	base := math.Floor(shift)
	fr := shift - base
	b := int(base)
	t.norm = 0
	for i := 0; i < t.rings; i++ {
		row := t.cur[i*textureAngles : (i+1)*textureAngles]
		ref := t.ref[i*textureAngles : (i+1)*textureAngles]
		for j := range ref {
			v := float64(row[mod(j+b)])*(1-fr) + float64(row[mod(j+b+1)])*fr
			ref[j] += (v - ref[j]) * w
			t.norm += ref[j] * ref[j]
		}
		t.spec[i] = t.fft.Coefficients(t.spec[i], ref)
		for j := range ref {
			t.buf[j] = ref[j] * ref[j]
		}
		t.spec2[i] = t.fft.Coefficients(t.spec2[i], t.buf)
	}
}
