package track

import (
	"math"
	"testing"

	"swathe/geom"
)

// plain takes the picture off the robot's top.
func (c *course) plain() *course {
	for i := range c.s {
		c.s[i].Source, c.s[i].Turn, c.s[i].TurnSigma = "", 0, 0
	}
	return c
}

// outlined makes the outline tell the heading, off by a number of quarter turns.
func (c *course) outlined(quarters float64) *course {
	for i := range c.s {
		c.s[i].Source, c.s[i].Turn, c.s[i].TurnSigma = "outline", geom.WrapAngle(c.s[i].Turn-0.7+quarters*math.Pi/2), 0.02
	}
	return c
}

// covered takes the picture off the top from one time to another, s.
func (c *course) covered(from, to float64) *course {
	for i := range c.s {
		if c.s[i].T >= from && c.s[i].T < to {
			c.s[i].Source, c.s[i].Turn, c.s[i].TurnSigma = "", 0, 0
		}
	}
	return c
}

// What a heading rests on, where there is one and where there is none: span by
// span the heading wanted, degrees, NaN for none.
func TestHeadingsAreNotMadeUp(t *testing.T) {
	type want struct{ from, to, deg float64 }
	none := math.NaN()
	square := Job{Start: none, End: none, Robot: geom.Robot{Height: 0.09, Outline: []geom.Point2{{X: 0.15, Y: -0.15}, {X: 0.15, Y: 0.15}, {X: -0.15, Y: 0.15}, {X: -0.15, Y: -0.15}}},
		Camera: geom.NewCamera(1280, 720, geom.Lens{Fx: 700, Fy: 700, Cx: 640, Cy: 360}, [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, geom.Point3{X: 1, Y: 1, Z: 2.5})}
	cases := []struct {
		name   string
		c      *course
		job    Job
		source geom.HeadingSource
		wants  []want
		says   bool // that the front is not settled
	}{
		{"a plain robot that has not moved yet", newCourse(0.0005).leg(5, 0, 0).leg(5, 1.5, 0).leg(3, 0, 0).plain(), testJob(), geom.HeadingTravel,
			[]want{{0, 4.5, none}, {5.5, 13, 0}}, false},
		{"a plain robot that stands and goes on the same way", newCourse(0.0005).leg(2, 0, 0).leg(5, 1.5, 0).leg(8, 0, 0).leg(5, 1.5, 0).leg(2, 0, 0).plain(), testJob(), geom.HeadingTravel,
			[]want{{3, 22, 0}}, false},
		{"a plain robot that turns on the spot somewhen while it stands", newCourse(0.0005).leg(2, 0, 0).leg(5, 1.5, 0).leg(6, 0, 0).leg(2, 0, 1.8).leg(5, 1.5, 0).leg(2, 0, 0).plain(), testJob(), geom.HeadingTravel,
			[]want{{3, 6.5, 0}, {7.5, 14.5, none}, {15.5, 20, 1.8 / deg}}, false},
		{"to and fro in equal parts, with a picture on top", newCourse(0.0005).leg(2, 0, 0).leg(4, 1, 0).leg(4, -1, 0).leg(4, 1, 0).leg(4, -1, 0).leg(2, 0, 0), testJob(), geom.HeadingUnknown,
			[]want{{0, 20, none}}, true},
		{"a little astern now and then", newCourse(0.0005).leg(2, 0, 0).leg(4, 1, 0).leg(1, -0.2, 0).leg(4, 1, 0).leg(1, -0.2, 0).leg(2, 0, 0), testJob(), geom.HeadingTexture,
			[]want{{0, 14, 0}}, false},
		{"astern while a table hides most of its top", newCourse(0.0005).leg(2, 0, 0).leg(6, 2, 0).leg(2.5, -0.7, 0).leg(3, 0, 0).covered(7, 14), testJob(), geom.HeadingTravel,
			[]want{{8.3, 13.4, 0}}, false},
		{"a square whose outline was taken a quarter turn off", newCourse(0.0005).leg(2, 0, 0).leg(4, 1, 0).leg(2, 0, 1.5).leg(4, 1, 0).leg(2, 0, 0).outlined(1), square, geom.HeadingOutline,
			[]want{{0, 5.8, 0}, {8.2, 14, 1.5 / deg}}, false},
	}
	for _, k := range cases {
		tr, warnings, err := Link(k.c.s, k.job, k.c.t, DefaultOptions())
		if err != nil {
			t.Errorf("%s: %v", k.name, err)
			continue
		}
		if says := len(warnings) > 0; says != k.says {
			t.Errorf("%s: it says %q", k.name, warnings)
		}
		for _, w := range k.wants {
			for _, s := range tr.Samples {
				if s.T < w.from || s.T > w.to {
					continue
				}
				got := geom.Degrees(s.Heading)
				if math.IsNaN(w.deg) != math.IsNaN(got) || math.Abs(geom.Degrees(geom.WrapAngle(geom.Radians(got-w.deg)))) > 4 {
					t.Errorf("%s: at %.1f s the heading is %.1f degrees, want %.1f", k.name, s.T, got, w.deg)
					break
				}
				if want := k.source; math.IsNaN(got) && s.Source != geom.HeadingUnknown || !math.IsNaN(got) && s.Source != want {
					t.Errorf("%s: at %.1f s it rests on %q", k.name, s.T, s.Source)
					break
				}
			}
		}
	}
}

// A robot that stands does not turn, however its measured headings scatter; one
// that turns on the spot does.
func TestStandingRobotDoesNotTurn(t *testing.T) {
	c := newCourse(0.0005).leg(2, 0.6, 0).leg(20, 0, 0).leg(4, 0, 1.2).leg(20, 0, 0).leg(2, 0.6, 0)
	for i := range c.s {
		c.s[i].Turn += 0.035 * c.rng.NormFloat64()
		if i%37 == 0 && c.s[i].T > 3 {
			c.s[i].Turn += 1.7 // a wild one
		}
		c.s[i].TurnSigma = 0.035
	}
	tr := c.link(t)
	turned := func(from, to float64) (sum, net float64) {
		for i := 1; i < len(tr.Samples); i++ {
			a, b := tr.Samples[i-1], tr.Samples[i]
			if a.T >= from && b.T <= to {
				sum += math.Abs(b.Heading - a.Heading)
				net += b.Heading - a.Heading
			}
		}
		return sum, net
	}
	for _, w := range [][2]float64{{3.5, 20.5}, {27.5, 44.5}} {
		if sum, _ := turned(w[0], w[1]); sum > 2*deg {
			t.Errorf("it stands from %.1f to %.1f s and turns by %.1f degrees in sum", w[0], w[1], sum/deg)
		}
	}
	if _, net := turned(20.5, 27.5); math.Abs(net-1.2) > 3*deg {
		t.Errorf("it turned by %.1f degrees on the spot, want %.1f", net/deg, 1.2/deg)
	}
}
