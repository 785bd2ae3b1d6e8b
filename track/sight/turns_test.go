package sight

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"swathe/geom"
)

// A top bears its picture out if it turns with the robot: one off from its travel, ahead or
// astern, for a round one, its outline's heading for another. The lamps' reflection stays.
func TestBorneOut(t *testing.T) {
	const n = 60
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		turned bool
		travel func(i int) float64 // rad, NaN: it does not drive straight
		head   func(i int) float64 // rad, by the top
		want   bool
	}{
		{"it turns with it, with an offset", false, func(i int) float64 { return 0.1 * float64(i) }, func(i int) float64 { return 0.1*float64(i) + 2 }, true},
		{"a third of the way astern", false, func(i int) float64 { return 0.1*float64(i) + math.Pi*float64(i%3/2) }, func(i int) float64 { return 0.1 * float64(i) }, true},
		{"it stays while it turns", false, func(i int) float64 { return 0.1 * float64(i) }, func(int) float64 { return 0.5 }, false},
		{"too little travel to say", false, func(i int) float64 {
			if i < leastTravel-1 {
				return 0
			}
			return nan
		}, func(i int) float64 { return 0.1 * float64(i) }, true},
		{"the outline bears it out", true, nil, func(i int) float64 { return 0.1*float64(i) + 0.02 }, true},
		{"a quarter turn from the outline", true, nil, func(i int) float64 { return 0.1*float64(i) + math.Pi/2 }, false},
	} {
		looks, first, heads := make([]unwrapped, n), make([]float64, n), make([]float64, n)
		for i := range looks {
			looks[i].pose.Heading, heads[i] = 0.1*float64(i), c.head(i)
			if c.travel != nil {
				first[i] = c.travel(i)
			}
		}
		tex := Texture{turned: c.turned}
		if got := tex.borneOut(looks, first, heads); got != c.want {
			t.Errorf("%s: borne out %v, want %v", c.name, got, c.want)
		}
	}
}

// A run that is solved block by block tells one heading throughout, also in a
// block in which the robot does not drive and so no direction of travel helps.
func TestTurnsAgreeFromBlockToBlock(t *testing.T) {
	const seed, block, blocks, every = 7, 600, 4, 0.1
	rng := rand.New(rand.NewPCG(seed, 1))
	var w, b [textureRings * textureHarmonics]complex128
	for j := range b {
		k := float64(j%textureHarmonics + 1)
		b[j] = cmplx.Rect(6/k, 2*math.Pi*rng.Float64())
		w[j] = cmplx.Rect(2/k, 2*math.Pi*rng.Float64())
	}
	look := func(at float64, pose geom.Pose) unwrapped {
		u := unwrapped{t: at, pose: pose, shown: 1, px: 40, centre: 0.05, scale: 0.1}
		for j := range b {
			k := float64(j%textureHarmonics + 1)
			c := w[j] + b[j]*cmplx.Rect(1, -k*pose.Heading) + complex(0.3*rng.NormFloat64(), 0.3*rng.NormFloat64())
			for i, v := range [2]float64{real(c), imag(c)} {
				u.z[2*j+i] = int8(math.Round(math.Max(-127, math.Min(127, v/float64(u.scale)))))
			}
		}
		return u
	}
	tex := &Texture{large: true}
	truth := map[float64]float64{}
	pose := geom.Pose{Heading: 1}
	for i := 0; i < block*blocks; i++ {
		at := float64(i) * every
		switch {
		case i/block == 2: // turns on the spot now and then, a minute long
			if i%150 > 100 {
				pose.Heading += 0.05
			}
		case i%100 < 80:
			pose.X += 0.03 * math.Cos(pose.Heading)
			pose.Y += 0.03 * math.Sin(pose.Heading)
		default:
			pose.Heading += math.Pi / 2 / 20
		}
		truth[at] = pose.Heading
		tex.looks = append(tex.looks, look(at, pose))
		if (i+1)%block == 0 {
			tex.settle()
		}
	}
	turns := tex.Turns()
	if len(turns) != block*blocks {
		t.Fatalf("%d turns of %d looks", len(turns), block*blocks)
	}
	var worst [blocks]float64
	for i, u := range turns {
		if u.Match <= goodMatch {
			t.Errorf("the look at %.1f s is not told (match %.2f)", u.T, u.Match)
			continue
		}
		worst[i/block] = math.Max(worst[i/block], math.Abs(geom.WrapAngle(u.Angle-truth[u.T])))
	}
	for k, e := range worst {
		t.Logf("seed %d, block %d: at most %.2f degrees off (bound 1.5)", seed, k, geom.Degrees(e))
		if geom.Degrees(e) > 1.5 {
			t.Errorf("block %d: %.2f degrees off", k, geom.Degrees(e))
		}
	}
	if len(tex.looks) != 0 {
		t.Errorf("%d looks are still kept", len(tex.looks))
	}
}

// A top that looks much the same from behind is turned on the spot, and for half
// a second a poor picture (an encoder's, in which the old one shines through)
// matches better the wrong way round. The robot does not turn round for that.
func TestPoorPicturesDoNotTurnTheRobotRound(t *testing.T) {
	const seed = 3
	rng := rand.New(rand.NewPCG(seed, 9))
	var b [textureRings * textureHarmonics]complex128
	for j := range b {
		k := float64(j%textureHarmonics + 1)
		b[j] = cmplx.Rect(4/k, 2*math.Pi*rng.Float64())
		if j%2 == 1 { // harmonics 2, 4, ... are the same half a turn on
			b[j] *= 2.5
		}
	}
	tex := &Texture{large: true}
	var truth []float64
	pose := geom.Pose{}
	for i := range 500 {
		at := float64(i) * 0.1
		turning := i%100 >= 70
		if turning {
			pose.Heading += 2 * math.Pi / 30
		} else {
			pose.X += 0.03 * math.Cos(pose.Heading)
			pose.Y += 0.03 * math.Sin(pose.Heading)
		}
		u := unwrapped{t: at, pose: pose, shown: 1, px: 30, centre: 0.05, scale: 0.1}
		for j := range b {
			k := float64(j%textureHarmonics + 1)
			c := b[j] * cmplx.Rect(1, -k*pose.Heading)
			if turning && i%100 >= 80 && i%100 < 85 { // half of it is there, and half as of before the turn
				c = 0.35*c + 0.65*b[j]*cmplx.Rect(1, -k*(pose.Heading+math.Pi))
			}
			c += complex(0.3*rng.NormFloat64(), 0.3*rng.NormFloat64())
			for n, v := range [2]float64{real(c), imag(c)} {
				u.z[2*j+n] = int8(math.Round(math.Max(-127, math.Min(127, v/float64(u.scale)))))
			}
		}
		truth = append(truth, pose.Heading)
		tex.looks = append(tex.looks, u)
	}
	wrong, worst := 0, 0.0
	for i, u := range tex.Turns() {
		if u.Match <= goodMatch {
			continue
		}
		e := math.Abs(geom.WrapAngle(u.Angle - truth[i]))
		worst = math.Max(worst, e)
		if e > math.Pi/4 {
			wrong++
		}
	}
	t.Logf("seed %d: %d of 500 turns are off by more than 45 degrees, the worst by %.0f (none may)", seed, wrong, geom.Degrees(worst))
	if wrong > 0 {
		t.Error("the robot was turned round")
	}
}
