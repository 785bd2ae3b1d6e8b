package figure

import "image/color"

// The colour key: what each colour means, the same in every picture, film and
// theme. A hue has one meaning.
//
//   - blue: floor that was cleaned, from pale to strong with the number of times:
//     four of the nine-class scheme "Blues" of ColorBrewer (M. Harrower and C. A.
//     Brewer, "ColorBrewer.org: an online tool for selecting colour schemes for
//     maps", The Cartographic Journal 40(1), 2003, pp. 27-37). The palest stands
//     out from white paper by 1.8 : 1, each from the next by 1.5 or more. As that
//     is less than 3 : 1, "twice" has dots and "3 times" lines as well.
//   - red with pale lines: floor that was missed. In a grey copy it is as dark as
//     the strongest blue; the lines tell it apart there.
//   - green: in how many of several runs, "Greens" of ColorBrewer.
//   - purple, orange: by one side alone, of a comparison; "PuOr" of ColorBrewer.
//   - pale grey: nothing to remark, such as floor that both cleaned.
//   - brown, from pale to strong with the difference: colour that differs from the
//     clean floor's, the browns of "BrBG" of ColorBrewer.
//   - black through purple to orange or yellow: time along a path ("inferno" of
//     S. van der Walt and N. Smith, 2015, given to the public domain).
//   - what time was spent on (see Minutes): colours of P. Tol's schemes
//     "muted" and "light" (SRON technical note EPS/TN/09-002).
//
// track/film has the blues again, for it may not import this package; a test of
// cmd/internal/overlay holds the two equal.
var (
	missedColour  = hex(0xa50f15)
	missedLine    = hex(0xf4a582)
	PassColours   = [4]color.RGBA{hex(0x9ecae1), hex(0x4292c6), hex(0x2171b5), hex(0x08519c)}
	neutralColour = hex(0xe0e0e0)

	// differenceColours: by both, by the first alone, by the second alone, by neither.
	differenceColours = [4]color.RGBA{neutralColour, hex(0x8073ac), hex(0xfdb863), missedColour}

	// agreementScale is run through from one run to all.
	agreementScale = [3]color.RGBA{hex(0xc7e9c0), hex(0x74c476), hex(0x238b45)}

	// soilColours: difference not noticeable, then ever larger.
	soilColours = [5]color.RGBA{neutralColour, hex(0xdfc27d), hex(0xbf812d), hex(0x8c510a), hex(0x543005)}

	useNewColour   = hex(0x117733)
	useEdgesColour = hex(0x44aa99)
	useAgainColour = hex(0xbbcc33)
	useOtherColour = hex(0xefe6cf) // ways, turns, standing: no verdict, so a pale neutral
)

// PassWords name the classes of PassColours.
var PassWords = [4]string{"cleaned once", "cleaned twice", "cleaned 3 times", "4 times or more"}

// told paints colour c of the key, with its pattern if it has one.
func (s *sheet) told(c color.RGBA) tone {
	if c == missedColour {
		return s.missed()
	}
	return plain(c)
}

// toldSwatch is the legend's entry of a colour of the key.
func (s *sheet) toldSwatch(label string, c color.RGBA) entry {
	return pattern(label, s.told(c))
}

// inferno is every tenth of the colour map of that name.
var inferno = [11]uint32{
	0x000004, 0x160b39, 0x420a68, 0x6a176e, 0x932667, 0xbc3754,
	0xdd513a, 0xf37819, 0xfca50a, 0xf6d746, 0xfcffa4,
}
