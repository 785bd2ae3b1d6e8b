package film

import (
	"fmt"

	"swathe/geom"
	"swathe/track/paint"
	"swathe/track/sight"
)

// Cloak makes people in the frames of one recording unrecognisable, and nothing else:
// the robot, its surroundings, furniture and test objects stay as they are. What may
// be a person is said in track/sight/persons.go. Whoever stands or sits at a place for
// long is learned as furniture, and then the floor behind them looks like somebody: a
// place that shows the same two things again and again is veiled all the time, but for
// the robot that crosses it, which looks like neither. Someone who is there from the
// first frame to the last and never stirs is not told from furniture, and a chair that
// is moved for good not from somebody who sits down.
type Cloak struct {
	watcher *sight.Watcher
	veil    *Veil
	halved  int
	doubts  []float64 // s, of frames with something nearly as large as a person
	// twice is what places show again and again besides the background, 0: nothing
	twice sight.Plane
}

// The measures of a cloak.
const (
	// CloakSamples is how many frames, spread over the recording, it should be
	// given: with so many, who is away for a twentieth of it is noticed.
	CloakSamples = 41
)

// NewCloak returns a cloak for the frames of a pane's recording. samples are
// frames spread over it, halved so often; pose says where the robot is at a
// time, ok false where nobody knows.
func NewCloak(p Pane, halved int, samples []*sight.Picture, pose func(t float64) (p geom.Pose, ok bool)) *Cloak {
	c := p.Camera
	k := &Cloak{halved: halved, veil: NewVeil(c.Width, c.Height)}
	set := sight.NewSetup(geom.NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre), &p.Plan, p.Robot, halved)
	k.watcher = sight.NewWatcher(set, sight.Learn(&set, samples, nil))
	type shown struct{ mask, small sight.Plane }
	var before []shown
	factor := 1
	for _, s := range samples {
		at, known := pose(s.T)
		if !known {
			continue // a robot in somebody's hands, or beneath a table
		}
		m, f, _ := k.watcher.Persons(s, at, known, nil)
		factor = f << halved
		now := shown{m.Clone(), k.watcher.Small().Clone()}
		again := sight.NewPlane(m.W, m.H)
		if k.twice.W == 0 {
			k.twice = sight.NewPlane(m.W, m.H)
		}
		for _, b := range before {
			for y := range m.H {
				for x := range m.W {
					i, j := y*m.Stride+x, y*now.small.Stride+x
					if now.mask.Pix[i] == sight.Somebody && b.mask.Pix[i] == sight.Somebody && max(now.small.Pix[j], b.small.Pix[j])-min(now.small.Pix[j], b.small.Pix[j]) <= sight.SameAgain {
						again.Pix[y*again.Stride+x] = sight.Somebody
						k.twice.Pix[y*k.twice.Stride+x] = max(1, now.small.Pix[j])
					}
				}
			}
		}
		k.veil.Place(&again, factor)
		before = append(before, now)
	}
	k.veil.Region(p.Cover)
	return k
}

// Cover veils the frame c of time t. pic is the same frame as it is looked at;
// at is where the robot is, if known.
func (k *Cloak) Cover(c *paint.Canvas, pic *sight.Picture, at geom.Pose, known bool, t float64) {
	mask, f, doubt := k.watcher.Persons(pic, at, known, &k.twice)
	if doubt && (len(k.doubts) == 0 || t > k.doubts[len(k.doubts)-1]+1) {
		k.doubts = append(k.doubts, t)
	}
	k.veil.Note(&mask, f<<k.halved, t)
	k.veil.Draw(c, t)
}

// Look says, once the film is made, why somebody must look at it before it is
// published.
func (k *Cloak) Look(start float64) string {
	s := "somebody who is there from the first frame to the last and never moves is taken for furniture"
	if n := len(k.doubts); n > 0 {
		s += fmt.Sprintf("; at %s of the run something nearly as large as a person was left", Clock(k.doubts[0]-start))
		if n > 1 {
			s += fmt.Sprintf(", and in %d more seconds", n-1)
		}
	}
	return s + ". Cover them with --cover"
}
