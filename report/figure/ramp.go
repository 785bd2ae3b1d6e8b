package figure

import (
	"image/color"
	"math"
)

// The colours of the cells. They are the same for every run, robot and theme.
//
// Floor that was cleaned runs from pale to strong blue with the number of
// times: the four-class scheme "Blues" of ColorBrewer (M. Harrower and
// C. A. Brewer, "ColorBrewer.org: an online tool for selecting colour schemes
// for maps", The Cartographic Journal 40(1), 2003, pp. 27-37). Floor that was
// missed is another thing than a small number and must be found at a glance,
// also in a grey copy: it takes the darkest of the five-class "Reds", which is
// darker than any of the blues.
var (
	missedColour = hex(0xa50f15)
	// otherColour is of time that is neither new floor nor a fault: a pale neutral.
	otherColour = hex(0xd9ccae)
	passColours = [4]color.RGBA{hex(0xeff3ff), hex(0xbdd7e7), hex(0x6baed6), hex(0x2171b5)}
)

// Words for the classes of the pass map.
var passWords = [4]string{"cleaned once", "cleaned twice", "cleaned 3 times", "4 times or more"}

// cividis is every fifth of the 256 colours of the map of that name: J. R.
// Nunez, C. R. Anderton and R. S. Renslow, "Optimizing colormaps with
// consideration for color vision deficiency to enable accurate interpretation
// of scientific data", PLoS ONE 13(7), 2018, e0199239. It shows time and other
// quantities: its lightness rises evenly, and it looks alike with and without
// red-green blindness.
var cividis = [52]uint32{
	0x00224e, 0x002656, 0x002a5f, 0x002d68, 0x003070, 0x083370, 0x163770, 0x203a6f,
	0x273e6e, 0x2e416d, 0x34456c, 0x3a486c, 0x3f4c6c, 0x444f6c, 0x49536c, 0x4e566c,
	0x535a6d, 0x575d6d, 0x5c616e, 0x60646f, 0x656870, 0x696b71, 0x6d6f72, 0x727274,
	0x767676, 0x7a7a78, 0x7e7d78, 0x838179, 0x888578, 0x8d8878, 0x928c78, 0x969077,
	0x9b9476, 0xa09875, 0xa59c74, 0xaaa073, 0xafa471, 0xb5a86f, 0xbaac6d, 0xbfb06b,
	0xc4b468, 0xc9b965, 0xcfbd62, 0xd4c15f, 0xdac65b, 0xdfca57, 0xe5cf52, 0xead34c,
	0xf0d846, 0xf6dd3f, 0xfce236, 0xfee838,
}

func hex(v uint32) color.RGBA {
	return color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

// ramp returns the colour of cividis at t from 0 to 1.
func ramp(t float64) color.RGBA {
	if math.IsNaN(t) {
		t = 0
	}
	t = math.Min(1, math.Max(0, t)) * float64(len(cividis)-1)
	i := min(int(t), len(cividis)-2)
	return mix(hex(cividis[i]), hex(cividis[i+1]), t-float64(i))
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
	from, to           float64    // the part of cividis that stands out from the floor
}

var palettes = map[Theme]palette{
	Light: {
		page: hex(0xffffff), text: hex(0x1a1a1a), faint: hex(0x595959),
		room: hex(0x1a1a1a), grid: hex(0xd9d9d9), floor: hex(0xf7f7f7),
		obstacle: hex(0x8c8c8c), edge: hex(0x404040), over: hex(0x404040),
		hatch: hex(0x969696), hatchGround: hex(0xe6e6e6),
		dots: hex(0x636363), dotsGround: hex(0xffffff),
		mark: hex(0x000000), from: 0, to: 0.58,
	},
	Dark: {
		page: hex(0x141414), text: hex(0xf0f0f0), faint: hex(0xb3b3b3),
		room: hex(0xf0f0f0), grid: hex(0x3d3d3d), floor: hex(0x242424),
		obstacle: hex(0x6e6e6e), edge: hex(0xd0d0d0), over: hex(0xf0f0f0),
		hatch: hex(0x8a8a8a), hatchGround: hex(0x474747),
		dots: hex(0xd0d0d0), dotsGround: hex(0x2b2b2b),
		mark: hex(0xffffff), from: 0.44, to: 1,
	},
	Print: {
		page: hex(0xffffff), text: hex(0x000000), faint: hex(0x333333),
		room: hex(0x000000), grid: hex(0xbfbfbf), floor: hex(0xffffff),
		obstacle: hex(0x808080), edge: hex(0x000000), over: hex(0x000000),
		hatch: hex(0x4d4d4d), hatchGround: hex(0xffffff),
		dots: hex(0x000000), dotsGround: hex(0xffffff),
		mark: hex(0x000000), from: 0, to: 0.6,
	},
}

// timeColour returns the colour of a share t of the run's time.
func (p palette) timeColour(t float64) color.RGBA { return ramp(p.from + (p.to-p.from)*t) }
