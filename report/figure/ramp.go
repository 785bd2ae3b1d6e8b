package figure

import (
	"image/color"
	"math"
)

func hex(v uint32) color.RGBA {
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

// ramp returns the colour of inferno at t from 0 to 1.
func ramp(t float64) color.RGBA {
	if math.IsNaN(t) {
		t = 0
	}
	t = math.Min(1, math.Max(0, t)) * float64(len(inferno)-1)
	i := min(int(t), len(inferno)-2)
	return mix(hex(inferno[i]), hex(inferno[i+1]), t-float64(i))
}

// mix returns the colour a share t of the way from a to b.
func mix(a, b color.RGBA, t float64) color.RGBA {
	f := func(x, y uint8) uint8 { return uint8(math.Round(float64(x)*(1-t) + float64(y)*t)) }
	return color.RGBA{f(a.R, b.R), f(a.G, b.G), f(a.B, b.B), f(a.A, b.A)}
}

// palette is what a theme gives to all that is not a cell.
type palette struct {
	page, text, faint  color.RGBA // page, words, words of less weight
	room, grid         color.RGBA // outline of the room; rules of a chart
	floor              color.RGBA // open floor where a picture shows lines on it
	obstacle, edge     color.RGBA // what stands on the floor
	over               color.RGBA // outline of what the robot passes beneath
	hatch, hatchGround color.RGBA // floor outside the robot's reach
	dots, dotsGround   color.RGBA // floor of which nobody knows
	mark               color.RGBA // markers on the plan
	from, to           float64    // the part of inferno that stands out from the floor by 3 : 1
}

var palettes = map[Theme]palette{
	Light: {
		page: hex(0xffffff), text: hex(0x1a1a1a), faint: hex(0x595959),
		room: hex(0x1a1a1a), grid: hex(0xd9d9d9), floor: hex(0xfcfcfc),
		obstacle: hex(0x9f9f9f), edge: hex(0x404040), over: hex(0x404040),
		hatch: hex(0x8c8c8c), hatchGround: hex(0xffffff),
		dots: hex(0x636363), dotsGround: hex(0xffffff),
		mark: hex(0x000000), from: 0.08, to: 0.63,
	},
	Dark: {
		page: hex(0x141414), text: hex(0xf0f0f0), faint: hex(0xb3b3b3),
		room: hex(0xf0f0f0), grid: hex(0x3d3d3d), floor: hex(0x242424),
		obstacle: hex(0x363636), edge: hex(0xd0d0d0), over: hex(0xf0f0f0),
		hatch: hex(0x8a8a8a), hatchGround: hex(0x474747),
		dots: hex(0xd0d0d0), dotsGround: hex(0x2b2b2b),
		mark: hex(0xffffff), from: 0.56, to: 1,
	},
	Print: {
		page: hex(0xffffff), text: hex(0x000000), faint: hex(0x333333),
		room: hex(0x000000), grid: hex(0xbfbfbf), floor: hex(0xffffff),
		obstacle: hex(0x9f9f9f), edge: hex(0x000000), over: hex(0x000000),
		hatch: hex(0x4d4d4d), hatchGround: hex(0xffffff),
		dots: hex(0x000000), dotsGround: hex(0xffffff),
		mark: hex(0x000000), from: 0.08, to: 0.63,
	},
}

// timeColour returns the colour of a share t of the run's time.
func (p palette) timeColour(t float64) color.RGBA { return ramp(p.from + (p.to-p.from)*t) }
