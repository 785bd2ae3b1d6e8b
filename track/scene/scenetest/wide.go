package scenetest

import (
	"fmt"
	"math"

	"swathe/geom"
	"swathe/track/scene"
)

// hardRate is the bit rate, kbit/s, below which a recording counts as compressed
// hard: of it half as much is asked.
const hardRate = 200

// ByChanceWide is ByChance with more left to chance: floors of checks and with
// stains, strong colours, bevelled and domed bodies, a height that is entered up to
// 10 mm wrong, exposure that the camera changes by itself, and 50 kbit/s to 8
// Mbit/s. It is held to what is asked of recordings of other hands: 3 mm or 0.4 of
// a floor pixel, 3 degrees, half a second, a hundredth lost in sight; compressed
// hard to twice these, and a twentieth.
func ByChanceWide(seed uint64) Trait {
	t := ByChance(seed)
	c := chance{scene.NewRand(seed, 0x31de)}
	s := &t.Scene
	s.Name = fmt.Sprintf("wide_%d", seed)
	t.Name, t.Why = s.Name, "all by chance, and more of it"
	c.colours(s)
	if r := s.Robot; r.Round() && c.one(0.6) {
		s.Look.Robot.Rim = scene.Rim{In: c.in(0.004, 0.02), Down: c.in(0.004, 0.02)}
		if c.one(0.3) { // all but a dome
			s.Look.Robot.Rim = scene.Rim{In: r.Radius() * c.in(0.3, 0.6), Down: r.Height * c.in(0.15, 0.3)}
		}
	}
	entry := s.Robot
	if c.one(0.5) {
		entry.Height += c.in(-0.01, 0.01)
	}
	if down := s.Look.Robot.Rim.Down; down > 0 {
		entry.Shoulder = entry.Height - down
	}
	t.Entry = &entry
	c.exposure(s)
	rate := math.Exp(c.in(math.Log(50), math.Log(8000)))
	t.Encode = []string{"-c:v", "libx264", "-preset", "veryfast", "-b:v", fmt.Sprintf("%.0fk", rate), "-maxrate", fmt.Sprintf("%.0fk", 1.5*rate),
		"-bufsize", fmt.Sprintf("%.0fk", 2*rate), "-pix_fmt", "yuv420p"}

	pixel := t.pixel(0)
	k, b := 1.0, &t.Bounds
	b.Lost = 0.01
	if rate < hardRate {
		k, b.Lost = 2, 0.05
	}
	b.PathRMS = k * max(b.PathRMS, 0.4*pixel)
	b.Path95 = k * max(b.Path95, pixel)
	b.HeadingRMS *= k * 1.5
	b.StartEnd *= k
	return t
}

// colours gives half of the rooms another floor, and half of them strong colours.
func (c chance) colours(s *scene.Scene) {
	if c.one(0.5) {
		s.Look.Floor.Kind = [...]string{scene.Checks, scene.Stains}[int(c.Float()*2)]
	}
	if c.one(0.5) {
		return
	}
	// The green of a colour stays as it was: it is most of its light.
	strong := func(b scene.BGR) scene.BGR {
		return scene.BGR{hold255(float64(b[1]) * c.in(0.5, 1.5)), b[1], hold255(float64(b[1]) * c.in(0.5, 1.5))}
	}
	l := &s.Look.Robot
	s.Look.Floor.Color = strong(s.Look.Floor.Color)
	l.Top, l.Side, l.Accent = strong(l.Top), strong(l.Side), strong(l.Accent)
}

// exposure lets the camera change its exposure by itself, in steps over a second, and back.
func (c chance) exposure(s *scene.Scene) {
	if !c.one(0.4) {
		return
	}
	const steps = 8
	from, gain := c.in(2, 30), c.in(0.75, 1.25)
	to := from + c.in(4, 20)
	step := func(from, to, share float64) {
		g := float32(1 + (gain-1)*share)
		s.Light.Balances = append(s.Light.Balances, scene.Balance{Span: geom.Span{From: from, To: to}, Gain: scene.BGR{g, g, g}})
	}
	for k := range steps {
		u := float64(k) / steps
		step(from+u, from+u+1.0/steps, u)
		step(to+u, to+u+1.0/steps, 1-u)
	}
	step(from+1, to, 1)
}
