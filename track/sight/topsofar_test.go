package sight

import (
	"math"
	"testing"

	"swathe/geom"
)

// TestRivalsAreToldByTheTop drives a drawn robot until its top is known and then
// offers the watcher outlines that lie beside it, as a shadow's edge does, or the
// wrong way round: it must come back to the robot from each, and stay where it
// already was right.
func TestRivalsAreToldByTheTop(t *testing.T) {
	aside := []geom.Pose{{X: 0.03}, {X: -0.025, Y: 0.02}, {Y: -0.035}}
	for name, off := range map[string][]geom.Pose{
		"plain":        aside,
		"square_front": append(aside, geom.Pose{Heading: math.Pi / 2}, geom.Pose{X: 0.01, Heading: math.Pi}),
	} {
		t.Run(name, func(t *testing.T) { toldByTheTop(t, name, off) })
	}
}

func toldByTheTop(t *testing.T, name string, offs []geom.Pose) {
	s, set, times, draw := drawn(t, name)
	if w := s.Camera.Width; w > WorkWidth {
		t.Fatalf("a picture of %d px would have to be halved", w)
	}
	var samples []*Picture
	for k := 0; k < 15; k++ {
		samples = append(samples, draw(k*len(times)/15))
	}
	wt := NewWatcher(set, Learn(&set, samples, nil))
	tried := 0
	for i, at := range times {
		if tried >= 24 {
			break
		}
		p := draw(i)
		if !wt.Look(p).Found || wt.tex.soFar.model == nil || i%12 != 0 {
			continue
		}
		truth := s.Path.At(at)
		from := func(off geom.Pose) (m, rad float64) {
			// By its outline alone it is as good as a robot's.
			fit := Fit{Pose: wt.last, Visible: 1, Gain: 1, Support: 0.9, Edges: 0.8, RMS: 0.3, Edge: 20, Rim: 1}
			fit.Pose.X += off.X
			fit.Pose.Y += off.Y
			fit.Pose.Heading += off.Heading
			got := likeliest(wt, p, fit).Pose
			if !s.Robot.Round() {
				rad = math.Abs(geom.WrapAngle(got.Heading - truth.Heading))
			}
			return math.Hypot(got.X-truth.X, got.Y-truth.Y), rad
		}
		for _, off := range append([]geom.Pose{{}}, offs...) {
			tried++
			if m, rad := from(off); m > 0.003 || rad > 0.035 {
				t.Errorf("%.1f s: from %.0f mm and %.0f degrees beside it to %.1f mm and %.1f degrees off (bounds 3 and 2)",
					at, 1e3*math.Hypot(off.X, off.Y), geom.Degrees(off.Heading), 1e3*m, geom.Degrees(rad))
			}
		}
	}
	if tried < 20 {
		t.Fatalf("the top was known in too few pictures: %d tries", tried)
	}
	t.Logf("%d tries", tried)
}

// likeliest is, of the places that are proposed where a fit was found, the one of the
// highest gain.
func likeliest(w *Watcher, p *Picture, fit Fit) Fit {
	w.whole(p)
	w.aim(fit.Pose)
	best, most := fit, math.Inf(-1)
	top, turn := w.told(p, &fit)
	w.propose(p, fit, true, top, turn, func(f Fit, plain, top float64) {
		if plain+top > most {
			best, most = f, plain+top
		}
	})
	return best
}

// TestMergeOutline: the way round of an outline is the top's to say where it is
// sure, and an outline whose top is another's is doubted.
func TestMergeOutline(t *testing.T) {
	const usual = 0.96
	for _, c := range []struct {
		name  string
		turn  Turn
		want  float64 // heading, rad
		doubt bool
		sigma float64 // rad, at least
	}{
		{"borne out", Turn{Angle: 1.01, Match: 0.97, Held: 0.96}, 1, false, 0.02},
		{"a quarter turn on", Turn{Angle: 1 + math.Pi/2, Match: 0.95, Held: -0.2}, 1 + math.Pi/2, false, outlineSlip},
		{"half told", Turn{Angle: 3, Match: 0.7, Held: 0.65}, 1, false, unbacked},
		{"another's", Turn{Match: goodMatch, Held: 0.3}, 1, true, unbacked},
	} {
		s := Sighting{Found: true, Visible: 1, Source: "outline", Turn: 1, TurnSigma: 0.02}
		mergeOutline(&s, c.turn, usual)
		if s.Turn != c.want || s.Doubt != c.doubt || s.TurnSigma < c.sigma {
			t.Errorf("%s: heading %.2f +- %.3f, doubt %v; want %.2f +- at least %.3f, %v", c.name, s.Turn, s.TurnSigma, s.Doubt, c.want, c.sigma, c.doubt)
		}
	}
}
