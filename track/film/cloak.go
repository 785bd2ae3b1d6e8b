package film

import (
	"math"

	"swathe/geom"
	"swathe/track/paint"
	"swathe/track/sight"
)

// Cloak makes people in the frames of one recording unrecognisable: all that is
// neither floor nor furniture nor the robot is veiled, as soon as it shows.
// Whoever stands or sits at a place for long would be learned as furniture: a
// place that some of the samples show otherwise is veiled all the time. Someone
// who is there from the first frame to the last and never stirs is not told
// from furniture.
type Cloak struct {
	watcher *sight.Watcher
	veil    *Veil
	cam     *geom.Camera
	plan    *geom.Plan
	robot   geom.Robot
	halved  int
	flood   []int32
	seen    []bool
}

// The measures of a cloak.
const (
	// CloakSamples is how many frames, spread over the recording, it should be
	// given: with so many, who is away for a twentieth of it is noticed.
	CloakSamples = 41
	// cloakOften is in how many samples a place must not be floor to be veiled
	// for good; one may be somebody who walks by, who is veiled in passing.
	cloakOften = 2
	// cloakHole is how much about the robot, in its radii, is its own: its
	// shadow goes with it.
	cloakHole = 1.5
	// cloakReach is what may show beyond that, as a share of the robot's own
	// area, and still be a shadow. More is somebody who reaches for it, and then
	// the robot is veiled too: hands and head are above it.
	cloakReach = 0.3
)

// NewCloak returns a cloak for the frames of a pane's recording. samples are
// frames spread over it, halved so often; pose says where the robot is at a
// time, ok false where nobody knows.
func NewCloak(p Pane, halved int, samples []*sight.Picture, pose func(t float64) (p geom.Pose, ok bool)) *Cloak {
	c := p.Camera
	k := &Cloak{cam: geom.NewCamera(c.Width, c.Height, c.Lens, c.R, c.Centre), plan: &p.Plan, robot: p.Robot, halved: halved, veil: NewVeil(c.Width, c.Height)}
	set := sight.NewSetup(k.cam, k.plan, k.robot, halved)
	k.watcher = sight.NewWatcher(set, sight.Learn(&set, samples, nil))
	often := make([]int, len(k.veil.until))
	for _, s := range samples {
		at, known := pose(s.T)
		if !known {
			continue // a robot in somebody's hands, or beneath a table
		}
		mask, factor := k.others(s, at, true)
		for i, on := range k.veil.squares(mask, factor) {
			if on {
				often[i]++
			}
		}
	}
	for i, n := range often {
		k.veil.always[i] = n >= cloakOften
	}
	return k
}

// Cover veils the frame c of time t. pic is the same frame as it is looked at;
// at is where the robot is, if known.
func (k *Cloak) Cover(c *paint.Canvas, pic *sight.Picture, at geom.Pose, known bool, t float64) {
	mask, factor := k.others(pic, at, known)
	k.veil.Note(mask, factor, t)
	k.veil.Draw(c, t)
}

// others is what is neither floor nor robot; each pixel is factor px wide.
func (k *Cloak) others(pic *sight.Picture, at geom.Pose, known bool) (mask *sight.Plane, factor int) {
	m, f := k.watcher.Others(pic, geom.Pose{}, false)
	factor = f << k.halved
	if !known {
		return &m, factor
	}
	mid := geom.Point3{X: at.X, Y: at.Y, Z: k.plan.FloorHeight(geom.Point2{X: at.X, Y: at.Y}) + k.robot.Height/2}
	c, ok := k.cam.Project(mid)
	if !ok {
		return &m, factor
	}
	s := float64(factor)
	r := k.robot.Reach() / k.cam.PixelSize(mid) / s
	cx, cy := (c.X+0.5)/s-0.5, (c.Y+0.5)/s-0.5
	if float64(k.beyond(&m, cx, cy, cloakHole*r)) > cloakReach*math.Pi*r*r {
		return &m, factor
	}
	h := cloakHole * r
	for y := max(0, int(cy-h)); y <= min(m.H-1, int(math.Ceil(cy+h))); y++ {
		for x := max(0, int(cx-h)); x <= min(m.W-1, int(math.Ceil(cx+h))); x++ {
			if math.Hypot(float64(x)-cx, float64(y)-cy) <= h {
				m.Pix[y*m.Stride+x] = 0
			}
		}
	}
	return &m, factor
}

// beyond is the number of pixels that are not floor, lie farther than r from
// (cx, cy) and hang together with the circle of that radius.
func (k *Cloak) beyond(m *sight.Plane, cx, cy, r float64) int {
	if len(k.seen) != m.W*m.H {
		k.seen = make([]bool, m.W*m.H)
	}
	clear(k.seen)
	k.flood = k.flood[:0]
	push := func(x, y int) {
		if x < 0 || y < 0 || x >= m.W || y >= m.H || k.seen[y*m.W+x] || m.Pix[y*m.Stride+x] <= 127 {
			return
		}
		if math.Hypot(float64(x)-cx, float64(y)-cy) > r {
			k.seen[y*m.W+x] = true
			k.flood = append(k.flood, int32(y*m.W+x))
		}
	}
	for y := int(cy - r - 2); y <= int(cy+r+3); y++ {
		for x := int(cx - r - 2); x <= int(cx+r+3); x++ {
			if math.Hypot(float64(x)-cx, float64(y)-cy) <= r+2 {
				push(x, y)
			}
		}
	}
	for i := 0; i < len(k.flood); i++ {
		x, y := int(k.flood[i])%m.W, int(k.flood[i])/m.W
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				push(x+dx, y+dy)
			}
		}
	}
	return len(k.flood)
}
