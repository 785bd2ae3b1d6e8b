package scene

import "math"

// Kinds of a floor's surface.
const (
	Plain  = "plain"  // one colour with faint mottling: lino, poured floor
	Planks = "planks" // boards with a grain and seams
	Tiles  = "tiles"  // squares with grout
	Carpet = "carpet" // a fine pile
	Checks = "checks" // squares, light and dark by turns
	Stains = "stains" // one colour with large blotches
)

// Surface is what a floor looks like.
type Surface struct {
	Kind     string  // one of the kinds above
	Color    BGR     // on average
	Contrast float64 // 0..1: how strong the pattern is
	Seed     uint64
}

// at returns the surface's colour at floor point x, y, m.
func (s Surface) at(x, y float64) BGR {
	k := s.Contrast
	switch s.Kind {
	case Planks:
		const width, length = 0.13, 1.1
		row := int(math.Floor(y / width))
		off := hash2(row, 77, s.Seed) * length
		col := int(math.Floor((x + off) / length))
		tone := hash2(row, col, s.Seed+1) - 0.5
		grain := field(x*4+float64(row)*31, y*140, s.Seed+2) + 0.6*field(x*11+float64(row)*17, y*420, s.Seed+3)
		v := 1 + k*(0.22*tone+0.16*grain)
		seam := min(frac(y/width)*width, (1-frac(y/width))*width)
		end := min(frac((x+off)/length)*length, (1-frac((x+off)/length))*length)
		if min(seam, end) < 0.0012 {
			v *= 1 - 0.35*k
		}
		warm := float32(0.03 * k * tone)
		c := s.Color.Scale(float32(v))
		return BGR{c[0] * (1 - warm), c[1], c[2] * (1 + warm)}
	case Tiles:
		const side, grout = 0.33, 0.004
		i, j := int(math.Floor(x/side)), int(math.Floor(y/side))
		u, v := frac(x/side)*side, frac(y/side)*side
		if min(min(u, side-u), min(v, side-v)) < grout/2 {
			return s.Color.Scale(float32(1 - 0.5*k))
		}
		tone := hash2(i, j, s.Seed) - 0.5
		marble := field(x*7+40*tone, y*7-31*tone, s.Seed+1) + 0.5*field(x*23, y*23, s.Seed+2)
		return s.Color.Scale(float32(1 + k*(0.08*tone+0.14*marble)))
	case Carpet:
		pile := field(x*260, y*260, s.Seed) + 0.8*field(x*90, y*90, s.Seed+1) + 0.5*field(x*6, y*6, s.Seed+2)
		return s.Color.Scale(float32(1 + 0.3*k*pile))
	case Checks:
		const side = 0.24
		sign := 1 - 2*float64((int(math.Floor(x/side))+int(math.Floor(y/side)))&1)
		return s.Color.Scale(float32(1 + k*(0.22*sign+0.04*field(x*30, y*30, s.Seed))))
	case Stains:
		blot := clamp(6*(field(x*2.2, y*2.2, s.Seed)-0.15), 0, 1) + 0.5*clamp(6*(field(x*7, y*7, s.Seed+1)-0.2), 0, 1)
		return s.Color.Scale(float32(1 - k*(0.25*blot-0.05*field(x*40, y*40, s.Seed+2))))
	default:
		m := 0.6*field(x*3, y*3, s.Seed) + 0.4*field(x*40, y*40, s.Seed+1)
		return s.Color.Scale(float32(1 + 0.08*k*m))
	}
}

func frac(x float64) float64 { return x - math.Floor(x) }

// top returns the colour of the robot's top at a point of it: u ahead and v
// left of the turning centre in units of the robot's radius.
//
// The pattern is a laser turret behind the middle, a seam along the front half
// of the rim, a lid, three buttons and a word, as flat shapes: no symmetry
// under any turn, so that a heading can be told from it.
func (l RobotLook) top(u, v float64) BGR {
	if l.Contrast <= 0 {
		return l.Top
	}
	k := float32(l.Contrast)
	c := l.Top
	r := hypot(u, v)
	// Seam of the bumper along the front.
	if u > -0.1 && r > 0.87 && r < 0.915 {
		c = c.mix(l.Accent, 0.55*k)
	}
	// Lid: the outline of a rounded box.
	if d := max(math.Abs(u+0.05)-0.62, math.Abs(v)-0.5); d > -0.03 && d < 0 && r < 0.85 {
		c = c.mix(l.Accent, 0.35*k)
	}
	// Turret: ring and cap.
	if d := hypot(u+0.36, v-0.04); d < 0.27 {
		if d > 0.21 {
			c = l.Top.mix(l.Accent, 0.9*k)
		} else {
			c = l.Top.mix(l.Accent, 0.25*k)
		}
		if hypot(u+0.36, v-0.16) < 0.05 {
			c = l.Top.mix(l.Accent, 0.7*k)
		}
	}
	for i, b := range [...]float64{-0.2, 0, 0.2} {
		if d := hypot(u-0.42, v-b); d < 0.065 {
			c = l.Top.mix(l.Accent, k*[...]float32{0.8, 1, 0.6}[i])
		}
	}
	// A word along the left side.
	if v > 0.28 && v < 0.38 && u > -0.02 && u < 0.34 && int(math.Floor((u+0.02)*25))%3 != 2 {
		c = c.mix(l.Accent, 0.85*k)
	}
	return c
}
