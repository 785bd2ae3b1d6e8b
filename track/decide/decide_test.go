package decide

import (
	"math"
	"math/rand"
	"testing"
)

// run decides frames of places, with all that is decided on the way, and
// returns the place chosen in each frame.
func run(t *testing.T, opt Options, frames [][]Place, dt float64) []int {
	t.Helper()
	d := New(opt)
	var got []Decision
	for i, f := range frames {
		d.Add(float64(i)*dt, miss, f)
		got = append(got, d.Decided(false)...)
	}
	got = append(got, d.Decided(true)...)
	if len(got) != len(frames) || d.Done() != len(frames) {
		t.Fatalf("%d decisions (%d done) of %d frames", len(got), d.Done(), len(frames))
	}
	out := make([]int, len(frames))
	for i, g := range got {
		if g.Frame != i {
			t.Fatalf("decision %d is of frame %d: they come in order, each once", i, g.Frame)
		}
		out[i] = g.Place
	}
	return out
}

const (
	sigma = 0.004 // m, of a place
	miss  = -3.0  // nats
)

// at is a place without a heading.
func at(x, y, v, gain float64) Place { return Place{X: x, Y: y, Var: v, Gain: gain} }

// drive is a robot's way: lanes with turns on the spot, s and m.
func drive(i int, dt float64) (x, y float64) {
	s := 0.25 * dt * float64(i)
	lane := math.Floor(s / 2)
	x = s - 2*lane
	if int(lane)%2 == 1 {
		x = 2 - x
	}
	return x, 0.2 * lane
}

// The weaker of two places that follow a robot's motion is chosen where the
// stronger one of each frame jumps about: no frame alone could tell.
func TestMotionDecides(t *testing.T) {
	const seed, n, dt = 7, 400, 0.1
	rng := rand.New(rand.NewSource(seed))
	frames := make([][]Place, n)
	for i := range frames {
		x, y := drive(i, dt)
		right := at(x+sigma*rng.NormFloat64(), y+sigma*rng.NormFloat64(), sigma*sigma, 2)
		a := 2 * math.Pi * rng.Float64()
		wrong := at(x+0.05*math.Cos(a), y+0.05*math.Sin(a), sigma*sigma, 3.5)
		frames[i] = []Place{wrong, right}
	}
	off := 0
	for _, k := range run(t, DefaultOptions(12), frames, dt) {
		if k != 1 {
			off++
		}
	}
	if off > n/20 { // it is 17, about the ends of the lanes, where it turns on the spot
		t.Errorf("seed %d: %d of %d frames are given to places that jump about", seed, off, n)
	}
}

// The way round is decided over the run as well: of a body that has more edges the wrong
// way round for a second, while it turns half hidden, the heading that goes on as it
// went is chosen, and the other way only where it stays.
func TestTurningDecides(t *testing.T) {
	const n, dt, turn = 120, 0.1, 1.2 // rad/s
	for _, c := range []struct {
		name     string
		from, to int // frames in which the other way round has more edges
		other    int // frames that are to be chosen the other way round
	}{
		{"for a second", 60, 70, 0},
		{"from there on", 60, n, n - 60},
	} {
		frames := make([][]Place, n)
		for i := range frames {
			h := turn * dt * float64(i)
			a, b := at(1, 1, sigma*sigma, 9), at(1.005, 1, sigma*sigma, 5)
			if i >= c.from && i < c.to {
				a.Gain, b.Gain = 8.5, 9.5
			}
			a.Heading, a.HeadingVar = h, 4e-4
			b.Heading, b.HeadingVar = h+math.Pi/2+0.3*math.Sin(float64(7*i)), 4e-4 // it slips
			if c.other > 0 {
				b.Heading = h + math.Pi/2
			}
			frames[i] = []Place{a, b}
		}
		other := 0
		for _, k := range run(t, DefaultOptions(12), frames, dt) {
			other += k
		}
		if d := other - c.other; d < -3 || d > 3 {
			t.Errorf("%s: %d of %d frames are chosen the other way round, want %d", c.name, other, n, c.other)
		}
	}
}

// What a frame was thought to be is mended once later frames tell: a false
// place that moves on smoothly for a second and then is gone.
func TestLaterFramesMend(t *testing.T) {
	const n, dt = 120, 0.1
	frames := make([][]Place, n)
	for i := range frames {
		x := 0.02 * float64(i)
		frames[i] = []Place{at(x, 0, sigma*sigma, 3)}
		if i >= 40 && i < 52 { // parts from it
			frames[i] = append(frames[i], at(x, 0.006*float64(i-39), sigma*sigma, 3.5))
		}
	}
	d := New(DefaultOptions(12))
	at := 0
	for i, f := range frames[:50] {
		at = d.Add(float64(i)*dt, miss, f)
	}
	if at != 1 {
		t.Error("the false place is not even taken for the robot at first: this tests nothing")
	}
	for i, k := range run(t, DefaultOptions(12), frames, dt) {
		if k != 0 && i > 43 { // before that the two are within 25 mm
			t.Errorf("frame %d is given to place %d", i, k)
		}
	}
}

// Where no place is likelier than none, none is chosen, and the robot is taken
// up again where it comes back.
func TestGap(t *testing.T) {
	const n, dt = 150, 0.1
	frames := make([][]Place, n)
	for i := range frames {
		x := 0.02 * float64(i)
		frames[i] = []Place{at(x, 1, sigma*sigma, 4)}
		if i >= 50 && i < 80 {
			frames[i] = []Place{at(3-x, 2, sigma*sigma, -8)}
		}
	}
	for i, k := range run(t, DefaultOptions(12), frames, dt) {
		want := 0
		if i >= 50 && i < 80 {
			want = -1
		}
		if k != want {
			t.Errorf("frame %d: place %d, want %d", i, k, want)
		}
	}
}

// Where no frame can be looked at for seconds or minutes, as behind damage, the
// robot is taken up again wherever it has got to, and what is known of it stays
// a covariance all the way.
func TestGapWithoutFrames(t *testing.T) {
	for seed := int64(1); seed <= 60; seed++ {
		rng := rand.New(rand.NewSource(seed))
		d := New(DefaultOptions(12))
		now, want := 0.0, 0
		for range 12 {
			for range 2 + rng.Intn(20) {
				y, x := math.Sincos(0.25 * now) // round the room, at 0.25 m/s
				d.Add(now, miss, []Place{at(x+sigma*rng.NormFloat64(), y+sigma*rng.NormFloat64(), sigma*sigma, 12)})
				want++
				now += 0.1
				for _, h := range d.hyp {
					if h.known && !(h.p > 0 && h.v > 0 && h.pv*h.pv <= h.p*h.v*(1+1e-9)) {
						t.Fatalf("seed %d: at %.1f s a hypothesis has variances %g and %g with covariance %g", seed, now, h.p, h.v, h.pv)
					}
				}
			}
			now += math.Pow(10, -1+3*rng.Float64()) // 0.1 to 100 s
		}
		for _, k := range d.Decided(true) {
			if k.Place == 0 {
				want--
			}
		}
		if want != 0 {
			t.Errorf("seed %d: %d frames behind gaps are left out", seed, want)
		}
	}
}

// With one place a frame, all likely, the decider takes them all, also where the
// robot is carried across the room meanwhile; so an ordinary recording is left as it is.
func TestSinglePlacesAreTaken(t *testing.T) {
	const n, dt = 200, 0.1
	frames := make([][]Place, n)
	for i := range frames {
		x, y := drive(i, dt)
		if i > 100 {
			x, y = x+1.5, y+1.2
		}
		frames[i] = []Place{at(x, y, sigma*sigma, 6)}
	}
	for i, k := range run(t, DefaultOptions(12), frames, dt) {
		if k != 0 {
			t.Errorf("frame %d is left out", i)
		}
	}
}

// The search over hypotheses finds what trying all paths finds.
func TestAgainstAllPaths(t *testing.T) {
	for seed := int64(1); seed <= 40; seed++ {
		rng := rand.New(rand.NewSource(seed))
		opt := DefaultOptions(4)
		const n = 6
		frames := make([][]Place, n)
		for i := range frames {
			for range 2 {
				frames[i] = append(frames[i], at(0.05*float64(i)+0.03*rng.NormFloat64(), 0.03*rng.NormFloat64(), 1e-4, 2*rng.NormFloat64()))
			}
		}
		best := math.Inf(-1)
		var all func(d *Decider, h hypothesis, i int)
		all = func(d *Decider, h hypothesis, i int) {
			if i == n {
				best = math.Max(best, h.score)
				return
			}
			if i > 0 {
				d.t = 0.1 * float64(i-1)
				d.predict(&h, 0.1)
			}
			m := h
			m.score += miss
			all(d, m, i+1)
			for k := range frames[i] {
				all(d, d.step(&h, &frames[i][k], k, 0.1*float64(i)), i+1)
			}
		}
		all(New(opt), hypothesis{since: math.Inf(-1)}, 0)
		d := New(opt)
		for i, f := range frames {
			d.Add(0.1*float64(i), miss, f)
		}
		// Hypotheses that end all but alike are one, which costs 0.6 nats at most here.
		if got := d.hyp[0].score; got < best-1 || got > best+1e-9 {
			t.Errorf("seed %d: the best path found has %.3f nats, the best there is %.3f", seed, got, best)
		}
	}
}

// Memory does not grow with the run: what is decided is forgotten.
func TestForgets(t *testing.T) {
	opt := DefaultOptions(12)
	d := New(opt)
	rng := rand.New(rand.NewSource(3))
	for i := 0; i < 20000; i++ {
		var f []Place
		for range 4 {
			f = append(f, at(4*rng.Float64(), 3*rng.Float64(), sigma*sigma, rng.NormFloat64()))
		}
		d.Add(0.1*float64(i), miss, f)
		d.Decided(false)
		longest := 0
		if i%500 == 499 {
			for n := d.hyp[0].path; n != nil; n = n.before {
				longest++
			}
			if longest > opt.Window+32 {
				t.Fatalf("after %d frames %d are undecided, the window is %d", i, longest, opt.Window)
			}
		}
	}
}

// Where nothing is in doubt a frame is said at once to show the robot where it
// will be decided to be, also in the frames after which decisions are handed out.
func TestPlainFramesAreSaidAtOnce(t *testing.T) {
	d := New(DefaultOptions(12))
	for i := range 100 {
		if k := d.Add(0.1*float64(i), miss, []Place{at(0.02*float64(i), 1, sigma*sigma, 18)}); k != 0 {
			t.Errorf("frame %d: place %d, the only one is 0", i, k)
		}
		d.Decided(false)
	}
}
