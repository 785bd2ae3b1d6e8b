package preflight

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"swathe/geom"
	"swathe/track/sight"
)

// Finding is what a few frames of a recording say before it is measured.
type Finding struct {
	Frames int        `json:"frames"`              // in which the robot was looked for
	Cut    string     `json:"cut_short,omitempty"` // how far it got where time ran out
	Light  Light      `json:"light"`
	Noise  *float64   `json:"noise_grey"` // standard deviation of a pixel from frame to frame
	Robot  Robot      `json:"robot"`
	Size   Size       `json:"size"`
	Camera Moved      `json:"camera"`
	Looks  Appearance `json:"looks"`

	Warnings []string `json:"warnings"` // sentences for the tester

	Room *sight.Background `json:"-"` // as it shows without the robot
}

// Light is how the open floor is lit, in grey levels of 0 to 255.
type Light struct {
	FloorGrey    *float64 `json:"floor_grey"`    // median over the open floor that shows
	DarkShare    *float64 `json:"dark_share"`    // of it, darker than darkLevel
	ClippedShare *float64 `json:"clipped_share"` // of it, brighter than clipLevel
	UnevenRatio  *float64 `json:"uneven_ratio"`  // bright parts over dark ones: 95th over 5th of a hundred, half a metre averaged
	ChangeRatio  *float64 `json:"change_ratio"`  // brightest frame over darkest
}

// Robot is how well the robot stands out.
type Robot struct {
	Found    int      `json:"found"`         // in how many of the frames
	RadiusPx *float64 `json:"radius_px"`     // as it shows where it was found, median
	TopGrey  *float64 `json:"top_grey"`      // of its top
	Around   *float64 `json:"around_grey"`   // of the floor right round it
	Edge     *float64 `json:"edge_grey_px"`  // strength of its outline, grey levels a pixel, median
	Outline  *float64 `json:"outline_share"` // of its outline, on which an edge sits, median
	Texture  *float64 `json:"top_texture_grey"`
}

// Size is the diameter that fits the outline best, against the robot's entry.
type Size struct {
	Frames int       `json:"frames"` // that told
	Ratio  *float64  `json:"ratio"`  // as it shows over as entered
	Sigma  *float64  `json:"ratio_sigma"`
	Best   *BestSize `json:"best"` // where the entry fits too few frames; nil: it fits, or nothing of about its size shows
}

// Moved is how the camera hangs against the day of its survey.
type Moved struct {
	Px     *float64 `json:"moved_px"`        // since the survey; nil: no picture of that day was kept
	M      *float64 `json:"moved_m"`         // the same on the floor in the middle of the room
	During *float64 `json:"moved_during_px"` // between the frames looked at
}

// Levels at which a pixel says nothing more, grey levels: common practice is to
// keep clear of both ends, where the sensor's curve bends.
const (
	darkLevel = 16
	clipLevel = 250
)

// floorStep is how densely the floor is sampled, m.
const floorStep = 0.04

// Judge looks at pictures spread over a recording, in their order, against the
// room's picture of the day when the camera was surveyed (nil: none was kept).
// It needs three or more; they are not changed. It answers by the given time,
// give or take a second, with what it has: half of the time may go into
// learning the room. A zero time is none.
func Judge(set sight.Setup, plan *geom.Plan, samples []*sight.Picture, reference *sight.Plane, until time.Time) (*Finding, error) {
	if len(samples) < 3 {
		return nil, fmt.Errorf("only %d frames could be read; a recording of some seconds is needed to judge it", len(samples))
	}
	f := &Finding{Frames: len(samples), Warnings: []string{}}
	entry := set.Robot
	// Learning brings samples to each other's colours: what changes is to be told.
	own := make([]*sight.Picture, len(samples))
	for i, p := range samples {
		own[i] = p.Clone()
	}
	all, half := clock{until: until}, clock{}
	if !until.IsZero() {
		half.until = time.Now().Add(time.Until(until) / 2)
	}
	bg := sight.LearnPaced(&set, own, reference, func(string) bool { return half.left() })
	f.Room = bg
	set.Robot = entry // what the entry does is what is to be told
	f.Noise = known(bg.Noise)
	floor := floorPixels(&set, plan)
	f.light(floor, bg, samples)
	found, scale := f.search(set, bg, samples, &all)
	f.robot(&set, bg, found)
	f.size(set, bg, found, scale, &all)
	f.Cut = f.cutShort(&all, len(samples))
	f.moved(&set, bg, reference, found)
	f.Looks = looks(&set, plan, bg, floor, f)
	f.warn(&set, reference != nil)
	return f, nil
}

// spot is a point of the open floor and where it shows.
type spot struct{ at, px geom.Point2 }

// floorPixels returns where the open floor shows, clear of walls and things by
// a hand's width.
func floorPixels(set *sight.Setup, plan *geom.Plan) []spot {
	var out []spot
	low, high := plan.Bounds()
	step := math.Max(floorStep, math.Sqrt((high.X-low.X)*(high.Y-low.Y)/20000))
	for x := low.X + step/2; x < high.X; x += step {
		for y := low.Y + step/2; y < high.Y; y += step {
			q := geom.Point2{X: x, Y: y}
			if !plan.Open(q) || plan.Nearest(q, 0).Distance < 0.1 {
				continue
			}
			p := geom.Point3{X: x, Y: y, Z: plan.FloorHeight(q)}
			px, ok := set.Cam.Project(p)
			if hid, _ := geom.Hidden(set.Cam, plan, p); !ok || hid || !set.Cam.InFrame(px) {
				continue
			}
			out = append(out, spot{q, px})
		}
	}
	return out
}

func (f *Finding) light(floor []spot, bg *sight.Background, samples []*sight.Picture) {
	v := values(&bg.Y, floor)
	if len(v) < 20 {
		return
	}
	dark, clipped := 0.0, 0.0
	for _, x := range v {
		if x < darkLevel {
			dark++
		}
		if x > clipLevel {
			clipped++
		}
	}
	f.Light.DarkShare, f.Light.ClippedShare = known(dark/float64(len(v))), known(clipped/float64(len(v)))
	f.Light.FloorGrey = known(middle(v))
	lo, hi := math.Inf(1), 0.0
	for _, s := range samples {
		if m := middle(values(&s.Y, floor)); m > 0 {
			lo, hi = math.Min(lo, m), math.Max(hi, m)
		}
	}
	if lo > 0 {
		f.Light.ChangeRatio = known(hi / lo)
	}
	blocks := map[[2]int][]float64{}
	for _, s := range floor {
		if g, ok := bg.Y.At(s.px.X, s.px.Y); ok {
			k := [2]int{int(math.Floor(s.at.X / 0.5)), int(math.Floor(s.at.Y / 0.5))}
			blocks[k] = append(blocks[k], float64(g))
		}
	}
	var means []float64
	for _, b := range blocks {
		if len(b) >= 8 {
			means = append(means, middle(b))
		}
	}
	if len(means) >= 4 {
		middle(means) // sorts
		if low := means[len(means)*5/100]; low > 0 {
			f.Light.UnevenRatio = known(means[(len(means)-1)*95/100] / low)
		}
	}
}

// values are a plane's values where the spots show.
func values(p *sight.Plane, spots []spot) []float64 {
	var out []float64
	for _, s := range spots {
		if v, ok := p.At(s.px.X, s.px.Y); ok {
			out = append(out, float64(v))
		}
	}
	return out
}

// disc returns pixels of the robot's top, or of the floor round it: between
// shares a and b of its reach, at height z above the floor.
func disc(set *sight.Setup, h hit, a, b, z float64) []geom.Point2 {
	var out []geom.Point2
	r := set.Robot.Reach()
	ground := set.Floor(geom.Point2{X: h.s.X, Y: h.s.Y})
	for k := 0; k < 240; k++ {
		// Vogel's spiral spreads points evenly over a ring.
		q := r * math.Sqrt(a*a+(b*b-a*a)*(float64(k)+0.5)/240)
		s, c := math.Sincos(2.399963 * float64(k))
		p := geom.Point3{X: h.s.X + q*c, Y: h.s.Y + q*s, Z: ground + z}
		if px, ok := set.Cam.Project(p); ok && set.Cam.InFrame(px) && (set.Hidden == nil || !set.Hidden(p)) {
			out = append(out, px)
		}
	}
	return out
}

func sample(p *sight.Plane, px []geom.Point2) []float64 {
	var out []float64
	for _, q := range px {
		if v, ok := p.At(q.X, q.Y); ok {
			out = append(out, float64(v))
		}
	}
	return out
}

// topShare of the body keeps clear of its outline.
const topShare = 0.75

func (f *Finding) robot(set *sight.Setup, bg *sight.Background, found []hit) {
	f.Robot.Found = len(found)
	var top, around, edge, outline, radius, texture []float64
	for _, h := range found {
		edge, outline = append(edge, h.s.Edge), append(outline, h.s.Support)
		z := set.Robot.Height
		if mpp := set.Cam.PixelSize(geom.Point3{X: h.s.X, Y: h.s.Y, Z: z}); mpp > 0 {
			radius = append(radius, set.Robot.Radius()/mpp)
		}
		if h.s.Shift > 0.5 {
			continue // where things show would be off
		}
		if v := sample(&h.pic.Y, disc(set, h, 0, topShare, z)); len(v) > 50 {
			sd := stat.StdDev(v, nil)
			if !math.IsNaN(bg.Noise) {
				sd = math.Sqrt(math.Max(0, sd*sd-bg.Noise*bg.Noise))
			}
			top, texture = append(top, middle(v)), append(texture, sd)
		}
		if v := sample(&h.pic.Y, disc(set, h, 1.3, 1.7, 0)); len(v) > 50 {
			around = append(around, middle(v))
		}
	}
	one := func(v []float64) *float64 {
		if len(v) == 0 {
			return nil
		}
		return known(middle(v))
	}
	f.Robot.TopGrey, f.Robot.Around, f.Robot.Edge, f.Robot.Outline = one(top), one(around), one(edge), one(outline)
	f.Robot.RadiusPx, f.Robot.Texture = one(radius), one(texture)
}

func (f *Finding) moved(set *sight.Setup, bg *sight.Background, reference *sight.Plane, found []hit) {
	f.Camera.During = known(bg.Moved)
	if reference == nil {
		return
	}
	var shift []float64
	for _, h := range found {
		shift = append(shift, h.s.Shift)
	}
	if len(shift) == 0 {
		return
	}
	px := middle(shift)
	f.Camera.Px = known(px)
	mid := geom.Point3{X: (set.Lo.X + set.Hi.X) / 2, Y: (set.Lo.Y + set.Hi.Y) / 2}
	f.Camera.M = known(px * set.Cam.PixelSize(mid))
}

// looks puts together what the recording looks like.
func looks(set *sight.Setup, plan *geom.Plan, bg *sight.Background, floor []spot, f *Finding) Appearance {
	a := Appearance{Noise: known(bg.Noise), TopTexture: f.Robot.Texture, Pieces: map[string]Tone{}}
	var px []geom.Point2
	for _, s := range floor {
		px = append(px, s.px)
	}
	if t, ok := tone(&bg.Y, &bg.U, &bg.V, px); ok {
		a.Floor = &t
	}
	a.FloorTexture = texture(&bg.Y, floor)
	if f.Robot.TopGrey != nil {
		// Household robots are grey, near enough: the tone is what matters.
		g := *f.Robot.TopGrey
		a.Top = &Tone{g, g, g}
	}
	for _, list := range [][]geom.Piece{plan.Obstacles, plan.Overhead} {
		for _, p := range list {
			if t, ok := tone(&bg.Y, &bg.U, &bg.V, topOf(set, p)); ok {
				a.Pieces[p.Name] = t
			}
		}
	}
	return a
}

// texture is the standard deviation over the floor about the mean of each
// third of a metre: the light changes more slowly than that, most floors faster.
func texture(p *sight.Plane, floor []spot) *float64 {
	type sum struct{ n, s, q float64 }
	blocks := map[[2]int]*sum{}
	for _, s := range floor {
		v, ok := p.At(s.px.X, s.px.Y)
		if !ok {
			continue
		}
		k := [2]int{int(math.Floor(s.at.X * 3)), int(math.Floor(s.at.Y * 3))}
		if blocks[k] == nil {
			blocks[k] = &sum{}
		}
		b := blocks[k]
		b.n, b.s, b.q = b.n+1, b.s+float64(v), b.q+float64(v)*float64(v)
	}
	var n, q float64
	for _, b := range blocks {
		if b.n >= 8 {
			n, q = n+b.n-1, q+b.q-b.s*b.s/b.n
		}
	}
	if n < 20 {
		return nil
	}
	return known(math.Sqrt(math.Max(0, q) / n))
}

// topOf returns where the top of a piece shows.
func topOf(set *sight.Setup, p geom.Piece) []geom.Point2 {
	var out []geom.Point2
	lo, hi := geom.Point2{X: math.Inf(1), Y: math.Inf(1)}, geom.Point2{X: math.Inf(-1), Y: math.Inf(-1)}
	for _, c := range p.Outline {
		lo = geom.Point2{X: math.Min(lo.X, c[0]), Y: math.Min(lo.Y, c[1])}
		hi = geom.Point2{X: math.Max(hi.X, c[0]), Y: math.Max(hi.Y, c[1])}
	}
	const n = 24
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			q := geom.Point2{X: lo.X + (hi.X-lo.X)*(float64(i)+0.5)/n, Y: lo.Y + (hi.Y-lo.Y)*(float64(j)+0.5)/n}
			if !p.Contains(q) {
				continue
			}
			if px, ok := set.Cam.Project(geom.Point3{X: q.X, Y: q.Y, Z: p.Height}); ok && set.Cam.InFrame(px) {
				out = append(out, px)
			}
		}
	}
	return out
}
