package sight

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"swathe/geom"
)

// The picture of the robot's top is unwrapped about its centre: rings of
// angles, each reduced to its first harmonics.
const (
	textureRings     = 8   // kept
	textureRadii     = 16  // sampled, two to a ring
	textureAngles    = 256 // sampled round a ring
	textureHarmonics = 32  // kept: 11 degrees a wave, 5 px at a radius of 28 px
	textureInner     = 0.16
	textureOuter     = 0.88 // of the radius: beyond it the rim's edge takes over
)

// minTextureRadius (px of the picture as recorded) is where the picture of the
// top stops giving a heading: below 25 px one in thirty angles is grossly
// wrong (own experiment with a rendered top under noise, cross-correlation of
// the unwrapped ring).
const minTextureRadius = 25

// clearTextureRadius is the same where the picture is beyond doubt (judges) and
// the turns are decided together: at 21 px it tells a turn on the spot that
// nothing else does (a start 0.2 s off, not 1.4 s), at 15 px its headings are
// worse than those from travel (2.2 degrees against 0.6, on encoded labs).
const clearTextureRadius = 20

// minJudgeRadius (px of the pictures looked at) is where the picture of the top
// stops telling a place beside the robot from its own.
const minJudgeRadius = 12

// leastShown is the share of the top that must show for its turn to be read.
const leastShown = 0.55

// wholeTop is the share above which all of it does.
const wholeTop = 0.98

// flatTop is the scatter (grey levels, squared, per sample) below which a top
// has no picture.
const flatTop = 0.25

// unwrapped is the picture of the top at one look: ring after ring, harmonic
// after harmonic, real and imaginary parts in units of Scale. Two thirds of a kilobyte,
// so that half an hour of looks stays in memory until they are solved together.
type unwrapped struct {
	t      float64
	pose   geom.Pose             // centre of the robot
	scale  float32               // grey levels
	shown  float32               // share of the top that showed
	px     float32               // radius of the top, px
	centre float32               // px, standard uncertainty of the centre
	mask   [textureRings]uint64  // what does not show, by ring and angle of centreAngles
	mean   [textureRings]float32 // of each ring, less that of all, grey levels
	z      [textureRings * textureHarmonics * 2]int8
}

// Texture collects the pictures of the robot's top and, once the run is over,
// tells how it was turned in each: see Turns.
type Texture struct {
	cam    *geom.Camera
	height float64 // of the top above the floor
	radius float64 // m, of the largest circle on the top about the turning centre
	large  bool    // the top shows large enough to tell its turn
	clear  bool    // it does if its picture is beyond doubt
	judges bool    // it shows large enough to tell the robot from what lies beside it
	turned bool    // the poses have a heading, by the outline

	looks []unwrapped // not yet settled
	turns []Turn      // of those that are
	model *topModel   // of the last block that was; nil: none yet
	soFar topSoFar    // what Match goes by
	fft   *fourier.FFT
	ring  []float64
	coef  []complex128
	mask  []bool
}

// NewTexture returns a Texture for a robot before a camera. Whether the top
// shows large enough is decided once, in the middle of the room: a heading
// that came and went with the place would be worse than none.
func NewTexture(set *Setup) *Texture {
	t := &Texture{cam: set.Cam, height: set.Robot.Height, radius: inner(set.Robot), turned: !set.Robot.Round(), fft: fourier.NewFFT(textureAngles)}
	mid := geom.Pose{X: (set.Lo.X + set.Hi.X) / 2, Y: (set.Lo.Y + set.Hi.Y) / 2}
	top := geom.TopRim(t.cam, geom.Robot{Diameter: 2 * t.radius, Height: t.height}, mid, 0, 64)
	px := math.Sqrt(math.Abs(top.Area()) / math.Pi)
	recorded := px * float64(int(1)<<set.Halved)
	t.large, t.clear = recorded >= minTextureRadius, recorded >= clearTextureRadius
	t.judges = t.large || px >= minJudgeRadius
	t.ring = make([]float64, textureAngles)
	t.coef = make([]complex128, textureAngles/2+1)
	t.mask = make([]bool, textureAngles)
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

// topAt is how the robot stands whose top is read.
type topAt struct {
	t      float64 // s
	pose   geom.Pose
	floor  float64                       // m, its height there
	gain   float64                       // the light there, of the background's
	centre float64                       // px, sigma of the pose
	warp   func(geom.Point2) geom.Point2 // the fitter's
	hidden func(geom.Point3) bool        // what of the top does not show; nil: all shows
}

// Read takes the picture of the top in plane p. ok is false where it shows too
// little or too small.
func (t *Texture) Read(p *Plane, s topAt) (u unwrapped, ok bool) {
	if !t.judges || !(s.gain > 0) {
		return u, false
	}
	at, z := s.pose, s.floor+t.height
	px := t.radius / t.cam.PixelSize(geom.Point3{X: at.X, Y: at.Y, Z: z})
	// Over one robot the projection is all but affine: a quadratic through
	// nine points of it is good to 0.02 px and forty times as fast.
	q, ok := newPatch(t.cam, at, z, t.radius)
	if !ok || !(px >= 6) {
		return u, false
	}
	u = unwrapped{t: s.t, pose: at, px: float32(px), centre: float32(s.centre)}
	var all [textureRings * textureHarmonics]complex128
	shown, peak := 0, 0.0
	for r := 0; r < textureRings; r++ {
		n, mean, ok := t.unwrap(p, &q, r, &s)
		if !ok {
			return u, false
		}
		shown += n
		if n < textureAngles {
			for j, hid := range t.mask {
				if hid {
					u.mask[r] |= 1 << (j * centreAngles / textureAngles)
				}
			}
		}
		u.mean[r] = float32(mean)
		t.coef = t.fft.Coefficients(t.coef, t.ring)
		for k := 0; k < textureHarmonics; k++ {
			c := t.coef[k+1] / textureAngles
			all[r*textureHarmonics+k] = c
			peak = math.Max(peak, math.Max(math.Abs(real(c)), math.Abs(imag(c))))
		}
	}
	level := 0.0
	for r := range u.mean {
		level += float64(u.mean[r]) / textureRings
	}
	for r := range u.mean {
		u.mean[r] = float32((float64(u.mean[r]) - level) * math.Sqrt(ringAt(r)))
	}
	u.shown = float32(shown) / (textureRings * textureAngles)
	if u.shown < leastShown || peak == 0 {
		return u, false
	}
	u.scale = float32(peak / 127)
	for i, c := range all {
		u.z[2*i] = int8(math.Round(real(c) / peak * 127))
		u.z[2*i+1] = int8(math.Round(imag(c) / peak * 127))
	}
	return u, true
}

// Add keeps what Read gave, for Turns.
func (t *Texture) Add(u unwrapped) {
	t.looks = append(t.looks, u)
	if t.soFar.seen++; t.soFar.seen >= t.soFar.next {
		t.learn()
	}
	if len(t.looks) >= lookBlock {
		t.settle()
	}
}

// unwrap fills t.ring with ring r: two radii averaged, its mean removed, as
// many pixels' worth as it is long, 0 where it is hidden. n is how many of its
// samples show; false where the picture ends.
func (t *Texture) unwrap(p *Plane, q *patch, r int, at *topAt) (n int, mean float64, ok bool) {
	ra := textureInner + (textureOuter-textureInner)*float64(2*r)/(textureRadii-1)
	rb := textureInner + (textureOuter-textureInner)*float64(2*r+1)/(textureRadii-1)
	sum, k := 0.0, 1/at.gain
	for j := range t.ring {
		t.mask[j] = false
		c, s := cosTable[j], sinTable[j]
		if at.hidden != nil {
			m := (ra + rb) / 2 * t.radius
			if at.hidden(geom.Point3{X: at.pose.X + m*c, Y: at.pose.Y + m*s, Z: at.floor + t.height}) {
				t.mask[j], t.ring[j] = true, 0
				continue
			}
		}
		v := 0.0
		for _, rad := range [2]float64{ra, rb} {
			x, y := q.at(rad*c, rad*s)
			if at.warp != nil {
				w := at.warp(geom.Point2{X: x, Y: y})
				x, y = w.X, w.Y
			}
			f, good := p.At(x, y)
			if !good {
				return n, 0, false
			}
			v += float64(f)
		}
		t.ring[j] = v * k / 2
		sum += t.ring[j]
		n++
	}
	mean = sum / float64(max(n, 1))
	w := math.Sqrt((ra + rb) / 2)
	for j := range t.ring {
		if !t.mask[j] {
			t.ring[j] = (t.ring[j] - mean) * w
		}
	}
	return n, mean, true
}

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
