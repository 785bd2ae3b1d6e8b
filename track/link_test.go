package track

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"swathe/geom"
	"swathe/track/sight"
)

// course makes sightings of a robot: each leg lasts some time and moves or
// turns it evenly. They come 15 times a second with noise (m, one axis).
type course struct {
	t, x, y, h float64
	s          []sight.Sighting
	rng        *rand.Rand
	noise      float64
}

func newCourse(noise float64) *course {
	return &course{x: 1, y: 1, rng: rand.New(rand.NewPCG(11, 13)), noise: noise}
}

const courseFPS = 15.0

func (c *course) leg(seconds, ahead, turn float64) *course {
	n := int(math.Round(seconds * courseFPS))
	for i := 0; i < n; i++ {
		c.s = append(c.s, sight.Sighting{T: c.t, Found: true, X: c.x + c.noise*c.rng.NormFloat64(), Y: c.y + c.noise*c.rng.NormFloat64(),
			Cov: [3]float64{c.noise * c.noise, 0, c.noise * c.noise}, Visible: 1, Support: 1, RMS: 0.2,
			Source: "texture", Turn: geom.WrapAngle(c.h + 0.7), TurnSigma: 0.01, Match: 0.9})
		c.t += 1 / courseFPS
		c.x += ahead / float64(n) * math.Cos(c.h)
		c.y += ahead / float64(n) * math.Sin(c.h)
		c.h += turn / float64(n)
	}
	return c
}

// miss makes the robot unseen for a while, moving on all the same.
func (c *course) miss(seconds, ahead float64, why string, crowd float64) *course {
	k := len(c.s)
	c.leg(seconds, ahead, 0)
	for i := k; i < len(c.s); i++ {
		c.s[i] = sight.Sighting{T: c.s[i].T, Why: why, Crowd: crowd}
	}
	return c
}

// somebody puts a person at the robot in the looks that missed it.
func (c *course) somebody() *course {
	for i := range c.s {
		if !c.s[i].Found {
			c.s[i].Person = &sight.Person{Area: 0.6}
		}
	}
	return c
}

func (c *course) link(t *testing.T) *geom.Trace {
	t.Helper()
	tr, _, err := Link(c.s, testJob(), c.t, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

func testJob() Job {
	return Job{Robot: geom.Robot{Diameter: 0.34, Height: 0.09}, Start: math.NaN(), End: math.NaN()}
}

func length(tr *geom.Trace, from, to float64) float64 {
	d := 0.0
	for i := 1; i < len(tr.Samples); i++ {
		a, b := tr.Samples[i-1], tr.Samples[i]
		if a.T >= from && b.T <= to {
			d += math.Hypot(b.X-a.X, b.Y-a.Y)
		}
	}
	return d
}

// Noise of 2 mm on each axis makes a standing robot travel sigma*sqrt(pi) a
// frame (Rice's mean, computed from the closed form), 6.38 m a minute at 30
// frames a second; the smoothed path must stand.
func TestStandingRobotDoesNotTravel(t *testing.T) {
	c := newCourse(0.002).leg(2, 0.6, 0).leg(60, 0, 0).leg(2, 0.6, 0)
	raw := 0.0
	for i := 1; i < len(c.s); i++ {
		if c.s[i].T > 3 && c.s[i].T < 61 {
			raw += math.Hypot(c.s[i].X-c.s[i-1].X, c.s[i].Y-c.s[i-1].Y)
		}
	}
	step := 0.002 * math.Sqrt(math.Pi)
	if want := step * 58 * courseFPS; math.Abs(raw/want-1) > 0.05 {
		t.Fatalf("the raw path is %.3f m long, the noise should make it %.3f m", raw, want)
	}
	tr := c.link(t)
	if d := length(tr, 3, 61); d > 0.02 {
		t.Errorf("the smoothed path of a standing robot is %.3f m long in 58 s (raw %.2f m)", d, raw)
	}
}

// A path's length must not grow by its noise while the robot drives either.
func TestDrivenLength(t *testing.T) {
	tr := newCourse(0.0005).leg(3, 0, 0).leg(20, 6, 0).leg(3, 0, 0).link(t)
	if d := length(tr, 0, 26); math.Abs(d-6) > 0.006 {
		t.Errorf("6 m driven with 0.5 mm of noise measure %.4f m", d)
	}
}

// What lies between the parts of a recording, or where the camera paused, nobody
// saw: neither a robot that came back elsewhere nor one that stands where it
// stood, and the way between adds nothing. A second or two is bridged.
func TestNothingRecordedIsNotSeen(t *testing.T) {
	for _, ahead := range []float64{0, 0.8} {
		for _, gap := range []float64{0.5, 1.5, 5, 100, 3600} {
			c := newCourse(0.0005).leg(2, 0.5, 0).leg(2, ahead, 0)
			end := c.t - 1/courseFPS
			c.t += gap
			c.x += math.Min(gap, 1) * ahead / 2
			tr := c.leg(2, ahead, 0).leg(2, 0.5, 0).link(t)
			by, all := tr.Times()
			want, state := gap+1/courseFPS, geom.Lost
			switch {
			case gap < 1:
				want = 0
			case gap < 2:
				state = geom.Bridged
			}
			if math.Abs(by[state]-want) > 0.01 || math.Abs(by[geom.Seen]-(all-want)) > 0.01 {
				t.Errorf("%g s without frames, driving on at %.1f m/s: seen %.2f, bridged %.2f, lost %.2f s of %.2f", gap, ahead/2, by[geom.Seen], by[geom.Bridged], by[geom.Lost], all)
			}
			if gap > 1 && (len(tr.Reasons) != 1 || tr.Reasons[0].Reason != sight.WhyNoFrame) {
				t.Errorf("%g s without frames: reasons %v", gap, tr.Reasons)
			}
			if gap > 2 && !math.IsNaN(length(tr, end-1, end+gap+1)) {
				t.Errorf("%g s without frames have a path of %.3f m", gap, length(tr, end-1, end+gap+1))
			}
		}
	}
}

func TestRunBounds(t *testing.T) {
	cases := []struct {
		name           string
		c              *course
		from, to       float64
		started, ended string
	}{
		{"rest, drive, rest", newCourse(0.0005).leg(4, 0, 0).leg(6, 1.8, 0).leg(5, 0, 0), 4, 10, geom.StartedAtRest, geom.EndedStood},
		{"already moving", newCourse(0.0005).leg(6, 1.8, 0).leg(5, 0, 0), 0, 6, geom.StartedMoving, geom.EndedStood},
		{"still going at the end", newCourse(0.0005).leg(4, 0, 0).leg(6, 1.8, 0), 4, 10, geom.StartedAtRest, geom.EndedRecording},
		{"turns on the spot first", newCourse(0.0005).leg(4, 0, 0).leg(3, 0, 4).leg(5, 1.5, 0).leg(4, 0, 0), 4, 12, geom.StartedAtRest, geom.EndedStood},
	}
	for _, k := range cases {
		tr := k.c.link(t)
		if math.Abs(tr.Run.From-k.from) > 0.25 || math.Abs(tr.Run.To-k.to) > 0.25 || tr.Started != k.started || tr.Ended != k.ended {
			t.Errorf("%s: %.2f to %.2f s, %s, %s; want %.0f to %.0f s, %s, %s", k.name, tr.Run.From, tr.Run.To, tr.Started, tr.Ended, k.from, k.to, k.started, k.ended)
		}
	}
}

// An outline that hops to and fro between two edges while the robot stands is no
// start of the run; as long a way that it drives, and then rests, is one.
func TestHopIsNoStart(t *testing.T) {
	job := testJob()
	down := [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}
	job.Camera = geom.NewCamera(640, 480, geom.Lens{Model: geom.Brown, Fx: 250, Fy: 250, Cx: 320, Cy: 240}, down, geom.Point3{X: 1, Y: 1, Z: 3})
	run := func(c *course) geom.Span {
		for i := range c.s {
			c.s[i].RMS, c.s[i].Source = 0.45, "" // edges that lie badly, and a plain top
		}
		tr, _, err := Link(c.s, job, c.t, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		return tr.Run
	}
	hops := newCourse(0.0005).leg(10, 0, 0).leg(6, 1.8, 0).leg(10, 0, 0)
	for i := range hops.s {
		if at := hops.s[i].T; at > 2 && at < 5 || at > 20 && at < 22 {
			hops.s[i].X += 0.015
		}
	}
	if got := run(hops); math.Abs(got.From-10) > 0.25 || math.Abs(got.To-16) > 0.25 {
		t.Errorf("with an outline that hops the run is %.2f to %.2f s, want 10 to 16 s", got.From, got.To)
	}
	drives := newCourse(0.0005).leg(4, 0, 0).leg(0.5, 0.06, 0).leg(5, 0, 0).leg(6, 1.8, 0).leg(4, 0, 0)
	if got := run(drives); math.Abs(got.From-4) > 0.25 {
		t.Errorf("6 cm driven before a rest: the run starts at %.2f s, want 4 s", got.From)
	}
}

// A robot that had docked when a person fetched it ended docked; one that was
// fetched while it drove was carried, beside the dock or not.
func TestDockedThenCarried(t *testing.T) {
	dock := func(x float64) *geom.Plan { return &geom.Plan{Dock: &geom.Pose{X: x, Y: 1}} }
	for _, k := range []struct {
		name   string
		stands float64 // s, at the place from which it is fetched
		plan   *geom.Plan
		want   string
	}{
		{"docked, then fetched", 5, dock(2.5), geom.EndedDocked},
		{"stood elsewhere, then fetched", 5, dock(0), geom.EndedCarried},
		{"fetched in passing the dock", 0, dock(2.5), geom.EndedCarried},
		{"no dock", 5, nil, geom.EndedCarried},
	} {
		c := newCourse(0.0005).leg(3, 0, 0).leg(5, 1.5, 0).leg(k.stands, 0, 0).miss(4, 1, sight.WhyCovered, 0.6).somebody().leg(3, 0, 0)
		job := testJob()
		job.Plan = k.plan
		tr, _, err := Link(c.s, job, c.t, DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		if tr.Ended != k.want || math.Abs(tr.Run.To-8) > 0.3 {
			t.Errorf("%s: ended %q at %.2f s, want %q at 8 s; gaps %v", k.name, tr.Ended, tr.Run.To, k.want, tr.Reasons)
		}
	}
}

// What a gap means depends on what hid the robot, for how long, and whether it
// can have driven to where it came back.
func TestGaps(t *testing.T) {
	cases := []struct {
		name    string
		seconds float64
		ahead   float64
		why     string
		crowd   float64
		want    geom.State
	}{
		{"a second under a table", 1, 0.3, sight.WhyHidden + "table", 0, geom.Bridged},
		{"nine seconds under a table", 9, 0.4, sight.WhyHidden + "table", 0, geom.Bridged},
		{"a minute under a table", 60, 0.4, sight.WhyHidden + "table", 0, geom.Lost},
		{"missed for a second", 1, 0.3, sight.WhyNothing, 0, geom.Bridged},
		{"missed for five", 5, 0.3, sight.WhyNothing, 0, geom.Lost},
		{"farther than it can drive", 0.5, 2, sight.WhyHidden + "table", 0, geom.Lost},
	}
	for _, k := range cases {
		tr := newCourse(0.0005).leg(3, 0, 0).leg(5, 1.5, 0).miss(k.seconds, k.ahead, k.why, k.crowd).leg(5, 1.5, 0).leg(3, 0, 0).link(t)
		if len(tr.Reasons) != 1 {
			t.Errorf("%s: %d gaps", k.name, len(tr.Reasons))
			continue
		}
		if g := tr.Reasons[0]; g.State != k.want || g.Reason == "" {
			t.Errorf("%s: %v (%s), want %v", k.name, g.State, g.Reason, k.want)
		}
	}
}

// A person carries only who was seen at the robot, and a robot that somebody
// merely walks past drives on.
func TestWhoCarries(t *testing.T) {
	drive := func() *course { return newCourse(0.0005).leg(3, 0, 0).leg(5, 1.5, 0) }
	on := func(c *course) *course { return c.leg(5, 1.5, 0).leg(3, 0, 0) }
	cases := []struct {
		name string
		c    *course
		want geom.State
	}{
		{"somebody walks past while it drives on", on(drive().miss(1.4, 0.42, sight.WhyCovered, 0.6).somebody()), geom.Bridged},
		{"somebody stands before it for long while it drives on", on(drive().miss(6, 1.8, sight.WhyCovered, 0.6).somebody()), geom.Bridged},
		{"it is taken while it drives and put down far off", on(drive().miss(2, 2, sight.WhyCovered, 0.6).somebody()), geom.Carried},
		{"it is taken where it stands and put down", on(drive().leg(2, 0, 0).miss(4, 1, sight.WhyCovered, 0.6).somebody().leg(2, 0, 0)), geom.Carried},
		{"the same, but nobody was seen", on(drive().leg(2, 0, 0).miss(4, 1, sight.WhyCovered, 0.6).leg(2, 0, 0)), geom.Lost},
		{"somebody leans over it", on(drive().leg(2, 0, 0).miss(4, 0, sight.WhyCovered, 0.6).somebody().leg(2, 0, 0)), geom.Bridged},
	}
	for _, k := range cases {
		tr := k.c.link(t)
		if len(tr.Reasons) != 1 {
			t.Errorf("%s: %d gaps", k.name, len(tr.Reasons))
			continue
		}
		g := tr.Reasons[0]
		if g.State != k.want || g.Reason == "" {
			t.Errorf("%s: %v (%s), want %v", k.name, g.State, g.Reason, k.want)
		}
		if shows := g.Shows >= g.From-1 && g.Shows <= g.To+1 && g.Shows > 0; shows != (g.State == geom.Carried) {
			t.Errorf("%s: the frame at %.1f s is said to show the person", k.name, g.Shows)
		}
	}
}

// The offset of the top's picture follows from the direction of travel, and a
// stretch in reverse does not turn the robot round.
func TestHeadingKeepsThroughReverse(t *testing.T) {
	c := newCourse(0.0005).leg(3, 0, 0).leg(6, 1.8, 0).leg(3, -0.6, 0).leg(2, 0, 1.5).leg(6, 1.8, 0).leg(2, 0, 0)
	for i, s := range c.link(t).Samples {
		want := 0.0
		if s.T > 14.1 {
			want = 1.5
		}
		if s.T > 11.9 && s.T < 14.1 {
			continue
		}
		if d := geom.WrapAngle(s.Heading - want); math.Abs(d) > 0.035 {
			t.Fatalf("sample %d at %.2f s: heading %.3f, want %.1f", i, s.T, s.Heading, want)
		}
	}
}

func TestNothingSeen(t *testing.T) {
	c := newCourse(0.001)
	c.miss(10, 0, sight.WhyNothing, 0)
	_, _, err := Link(c.s, testJob(), 10, DefaultOptions())
	f, ok := err.(*Failure)
	if !ok || f.Kind != NoRobot || !strings.Contains(f.Message, "diameter") {
		t.Errorf("have %v", err)
	}
	c = newCourse(0.001).leg(10, 0, 0)
	if _, _, err = Link(c.s, testJob(), 10, DefaultOptions()); err == nil || err.(*Failure).Kind != NeverMoved {
		t.Errorf("a robot that stands: have %v", err)
	}
}

// A camera that does not fit its survey from the first frame on was moved at 0 s,
// not before.
func TestMovedFromTheFirstFrame(t *testing.T) {
	c := newCourse(0.001).leg(10, 1, 0)
	for i := range c.s {
		c.s[i].Adrift = c.s[i].T + 0.04
	}
	_, _, err := Link(c.s, testJob(), 10, DefaultOptions())
	f, ok := err.(*Failure)
	if !ok || f.Kind != CameraMoved || f.T != 0 || !strings.Contains(f.Message, " 0.0 s") || strings.Contains(f.Message, "-0.0") {
		t.Errorf("have %v", err)
	}
}

// What a recording shows before the first and after the last sighting: lost,
// unless the robot shows to have stood there. Loss counts over the recording.
func TestLossCountsOverTheRecording(t *testing.T) {
	const shows = 0.02 // of the picture, while the robot is in it
	begin := func() *course { return newCourse(0.0005) }
	// there marks the looks that differ from the empty room by as much as a robot does.
	there := func(c *course, from, to float64) *course {
		for i := range c.s {
			if c.s[i].T >= from-1e-9 && c.s[i].T < to-1e-9 {
				c.s[i].Changed = shows
			}
		}
		return c
	}
	for _, c := range []struct {
		name           string
		c              *course
		lost           float64 // s
		started, ended string
	}{
		{"four looks of many", begin().miss(30, 0, sight.WhyNothing, 0).leg(4.0/courseFPS, 0.1, 0).miss(21, 0, sight.WhyNothing, 0), 51, geom.StartedUnseen, geom.EndedLost},
		{"first seen on the move", there(begin().miss(10, 0, sight.WhyNothing, 0).leg(20, 6, 0).leg(6, 0, 0), 10, 36), 10, geom.StartedUnseen, geom.EndedStood},
		{"last seen on the move", there(begin().leg(4, 0, 0).leg(20, 6, 0).miss(10, 0, sight.WhyNothing, 0), 0, 24), 10, geom.StartedAtRest, geom.EndedLost},
		{"it stood there unrecognised before", there(begin().miss(10, 0, sight.WhyNothing, 0).leg(5, 0, 0).leg(20, 6, 0).leg(6, 0, 0), 0, 41), 0, geom.StartedAtRest, geom.EndedStood},
		{"and behind", there(begin().leg(5, 0, 0).leg(20, 6, 0).leg(6, 0, 0).miss(10, 0, sight.WhyNothing, 0), 0, 41), 0, geom.StartedAtRest, geom.EndedStood},
		{"put down, and stood only then", there(begin().miss(10, 0, sight.WhyNothing, 0).leg(5, 0, 0).leg(20, 6, 0).leg(6, 0, 0), 10, 41), 10, geom.StartedAtRest, geom.EndedStood},
		{"stood a moment and was gone", there(begin().leg(5, 0, 0).leg(20, 6, 0).leg(2, 0, 0).miss(10, 0, sight.WhyNothing, 0), 0, 27), 10, geom.StartedAtRest, geom.EndedLost},
	} {
		tr := c.c.link(t)
		by, all := tr.Times()
		if math.Abs(all-c.c.t) > 0.2 {
			t.Errorf("%s: %.1f s are accounted for, the recording has %.1f s", c.name, all, c.c.t)
		}
		if math.Abs(by[geom.Lost]-c.lost) > 0.3 {
			t.Errorf("%s: lost for %.1f s, should be %.1f s", c.name, by[geom.Lost], c.lost)
		}
		if tr.Started != c.started || tr.Ended != c.ended {
			t.Errorf("%s: started %q and ended %q, should be %q and %q", c.name, tr.Started, tr.Ended, c.started, c.ended)
		}
	}
}
